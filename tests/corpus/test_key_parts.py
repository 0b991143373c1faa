"""The parts of the key finder: phrases, features, modes, paths, and the file of weights."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.key_features import BASES, BLOCKS, SIZE, shares_of, shares_of_phrases
from corpus.key_hearing import heard, heard_together
from corpus.key_layout import Laid, laid_out, one_phrase
from corpus.key_model import Model, TonicWeights, log_chances, model_of_text, stored_model, text_of_model
from corpus.key_modes import chances_of_minor_third, modes_of, times_of
from corpus.key_paths import GAIN_FEATURES, PATH_FEATURES, path_features, proposed_paths, stretches
from corpus.key_phrases import KINDS, Heard, Phrase, Sound, kind_of, sounds_of
from corpus.ragged import Floats
from grammar.chart_text import write_chart
from grammar.charts import read_chart
from grammar.symbols import read_chord
from shared.chart import Chart
from shared.key import Mode
from shared.quality_names import QUALITIES
from tests.helpers.key_referee import plain_heard, plain_minor_third, plain_mode, plain_shares, plain_times
from tests.strategies.charts import charts


def chart_of(text: str) -> Chart:
    chart = read_chart(text).chart
    assert chart is not None
    return chart


def sounds(names: str) -> tuple[Sound, ...]:
    return sounds_of((read_chord(name), 4.0) for name in names.split())


LINES = "[A]\n| C | F | N.C. |\n| G7 | G7 | G | C |\n[B]\n|: Am | Dm :|\n"


def test_a_line_is_a_phrase_each_time_it_is_played() -> None:
    one = heard(chart_of(LINES))
    assert [(phrase.first, phrase.last, phrase.starts, phrase.ends) for phrase in one.phrases] == [
        (0, 2, True, False),
        (3, 6, False, True),
        (7, 8, True, False),
        (9, 10, False, True),
    ]
    assert (one.lined, one.sectioned) == (True, True)
    assert one.phrases[1].sounds == (Sound(7, 2, 0, 8.0), Sound(7, 0, 0, 4.0), Sound(0, 0, 0, 4.0))
    assert one.phrases[2].sounds == one.phrases[3].sounds


def test_groups_of_four_bars_where_a_line_is_too_long_for_a_phrase() -> None:
    one = heard(chart_of("| " + " | ".join("CFGADEBCFGADCFGADC") + " |\n"))
    assert not one.lined
    assert [phrase.last - phrase.first + 1 for phrase in one.phrases] == [4, 4, 4, 4, 2]


def test_bars_under_a_written_key_are_left_out() -> None:
    chart = chart_of("| C | F | G | C |\nkey: D\n| D | G | A | D |\n")
    assert [(phrase.first, phrase.last) for phrase in heard(chart).phrases] == [(0, 3)]
    keyed = chart_of("key: C\n\n| C | F | G | C |\nkey: D\n| D | G | A | D |\n")
    assert [(phrase.first, phrase.last) for phrase in heard(keyed).phrases] == [(0, 3), (4, 7)]
    silent = chart_of("| N.C. |\nkey: D\n| D | G | A | D |\n")
    assert [(phrase.first, phrase.last) for phrase in heard(silent).phrases] == [(1, 4)]


def test_silence_alone_is_no_phrase() -> None:
    assert [phrase.first for phrase in heard(chart_of("| N.C. | N.C. |\n| C | F |\n")).phrases] == [2]


@pytest.mark.parametrize("row", QUALITIES, ids=lambda row: row.name or "major")
def test_every_quality_has_a_kind(row: object) -> None:
    kind = kind_of(row.quality)  # type: ignore[attr-defined]
    assert 0 <= kind < len(KINDS)


@given(st.lists(charts(), min_size=1, max_size=4))
def test_charts_together_are_heard_as_each_is_bar_by_bar(made: list[Chart]) -> None:
    # Lines are known of those alone that are read.
    drawn = made + [chart_of(write_chart(chart)) for chart in made]
    plain = [plain_heard(chart) for chart in drawn]
    assert [heard(chart) for chart in drawn] == plain
    laid, sounding = heard_together(drawn)
    assert sounding == [bool(one.phrases) for one in plain]
    sounds = list(map(Sound, *(each.tolist() for each in (laid.root, laid.kind, laid.bass, laid.length))))
    phrases = [
        (tuple(sounds[laid.start[each] : laid.end[each] + 1]), *rest)
        for each, *rest in zip(
            *(each.tolist() for each in (laid.phrase, laid.first, laid.last, laid.starts, laid.ends)), strict=True
        )
    ]
    told = [one for one in plain if one.phrases]
    assert phrases == [tuple(phrase) for one in told for phrase in one.phrases]
    assert np.diff(laid.begin).tolist() == [len(one.phrases) for one in told]
    assert (laid.lined.tolist(), laid.sectioned.tolist()) == (
        [one.lined for one in told],
        [one.sectioned for one in told],
    )


SOUND = st.builds(Sound, st.integers(0, 11), st.integers(0, 8), st.integers(0, 11), st.sampled_from([1.0, 2.0, 4.0]))
PHRASES = st.lists(st.lists(SOUND, min_size=1, max_size=6), min_size=1, max_size=6)


def made(lines: list[list[Sound]], lined: bool = True) -> Heard:
    phrases = [
        Phrase(tuple(key for key, _ in groupby(line)), number, number, number == 0, number + 1 == len(lines))
        for number, line in enumerate(lines)
    ]
    return Heard(tuple(phrases), lined, lined)


Views = list[tuple[Heard, tuple[int, ...]]]


def shares_of_views(views: Views) -> list[dict[int, float]]:
    """The shares of each view by place."""
    made = shares_of(laid_out([one for one, _ in views]), [(at, shifts) for at, (_, shifts) in enumerate(views)])
    found: list[dict[int, float]] = [{} for _ in views]
    for view, place, value in zip(made.view.tolist(), made.place.tolist(), made.value.tolist(), strict=True):
        found[view][place] = value
    return found


def shares_of_one(one: Heard) -> dict[int, float]:
    return shares_of_views([(one, (0,) * len(one.phrases))])[0]


VIEW = st.tuples(PHRASES, st.booleans(), st.lists(st.sampled_from([0, 0, 1, 7]), min_size=6, max_size=6))


@given(st.lists(VIEW, min_size=1, max_size=4))
def test_many_views_together_have_the_shares_of_each_worked_out_chord_by_chord(
    drawn: list[tuple[list[list[Sound]], bool, list[int]]],
) -> None:
    views: Views = [(made(lines, lined), (0, *shifts)[: len(lines)]) for lines, lined, shifts in drawn]
    for found, (one, shifts) in zip(shares_of_views(views), views, strict=True):
        assert found == pytest.approx(dict(plain_shares(one, shifts)))


@given(PHRASES, st.booleans())
def test_the_shares_of_a_block_add_up_to_one(lines: list[list[Sound]], lined: bool) -> None:
    totals = dict.fromkeys(BLOCKS, 0.0)
    for place, value in shares_of_one(made(lines, lined)).items():
        name = max((each for each in BLOCKS if BASES[each] <= place), key=lambda each: BASES[each])
        totals[name] += value**2
    assert all(total == pytest.approx(1) or total == 0 for total in totals.values())


@given(PHRASES, st.integers(0, 11))
def test_moving_every_chord_turns_every_feature(lines: list[list[Sound]], step: int) -> None:
    moved = [[sound._replace(root=(sound.root + step) % 12) for sound in line] for line in lines]
    plain = shares_of_one(made(lines))
    turned = {place - place % 12 + (place + step) % 12: value for place, value in plain.items()}
    assert shares_of_one(made(moved)) == pytest.approx(turned)


@given(PHRASES, st.integers(1, 11))
def test_a_tune_that_is_played_again_higher_has_the_shares_of_one_that_stays(
    lines: list[list[Sound]], step: int
) -> None:
    """Counted from the tonic in force, a risen chorus is the chorus again (pairs across the change apart)."""
    moved = [[sound._replace(root=(sound.root + step) % 12) for sound in line] for line in lines]
    (risen,) = shares_of_views([(made(lines + moved), (0,) * len(lines) + (step,) * len(lines))])
    for place, value in shares_of_one(made(lines)).items():
        if place < BASES["line starts"]:
            assert risen[place] == pytest.approx(value)


MODES = [
    ("Am Dm E7 Am", "A", Mode.MINOR),
    ("Am G F G Am", "A", Mode.MINOR),
    ("Dm7 G7 Dm7 G7", "D", Mode.DORIAN),
    ("Am D Am G Am", "A", Mode.DORIAN),
    ("Am D Am E7 Am", "A", Mode.MINOR),
    ("Am D F G Am", "A", Mode.MINOR),
    ("D C G D", "D", Mode.MIXOLYDIAN),
    ("D C G A7 D", "D", Mode.MAJOR),
    ("A7 D7 E7 A7", "A", Mode.MAJOR),
    ("A7 D7 A7 D7", "A", Mode.MAJOR),
    ("Em F Em Dm Em", "E", Mode.PHRYGIAN),
    ("Em F B7 Em", "E", Mode.MINOR),
    ("C D C D C", "C", Mode.LYDIAN),
    ("C D7 G C", "C", Mode.MAJOR),
    ("C D F C", "C", Mode.MAJOR),
]


def settled(run: Sequence[Sound]) -> tuple[list[float], list[tuple[Mode, Mode]]]:
    """For each tonic the chance of a minor third, and the modes with either third."""
    laid = laid_out([one_phrase(run)])
    times = times_of(laid, laid.phrase, np.array([0]))
    return chances_of_minor_third(times)[0].tolist(), modes_of(times)[0]


@pytest.mark.parametrize(("names", "tonic", "mode"), MODES)
def test_modes(names: str, tonic: str, mode: Mode) -> None:
    """Common practice."""
    thirds, modes = settled(sounds(names))
    place = read_chord(tonic).root.pitch_class
    assert modes[place][thirds[place] > 0.5] is mode


@pytest.mark.parametrize(
    ("names", "minor"), [("Dm7 G7", False), ("F G", False), ("Fm G7", True), ("Ab Bb", True), ("C5 F C5", False)]
)
def test_the_third_where_the_tonic_does_not_say_it(names: str, minor: bool) -> None:
    assert (settled(sounds(names))[0][0] > 0.5) is minor


@given(st.lists(SOUND, min_size=1, max_size=12))
def test_modes_are_those_that_the_rules_give_chord_by_chord(run: list[Sound]) -> None:
    thirds, modes = settled(run)
    times, pairs = plain_times(run), set(pairwise(sound.root for sound in run))
    for tonic in range(12):
        assert thirds[tonic] == pytest.approx(plain_minor_third(times, tonic))
        assert modes[tonic] == tuple(plain_mode(times, pairs, tonic, minor) for minor in (False, True))


def logs_of(laid: Laid) -> Floats:
    return stored_model().phrase_logs(laid)[laid.phrase]


VERSE = "| C | Am | F | G |\n| C | Am | Dm G | C |\n"
RISEN = "| Db | Bbm | Gb | Ab |\n| Db | Bbm | Ebm Ab | Db |\n"


def test_a_risen_chorus_is_proposed_and_borne_out() -> None:
    laid = laid_out([heard(chart_of(f"[A]\n{VERSE}[B]\n{VERSE}[C]\n{RISEN}"))])
    path = (0, 0, 0, 0, 1, 1)
    logs = logs_of(laid)
    assert path in proposed_paths(laid, logs)[0]
    features, gains = path_features(laid, 0, path, logs)
    assert (*features, *gains) == PATH_FEATURES
    assert tuple(gains) == GAIN_FEATURES
    assert (features["changes"], features["up"], features["mostly moved"], features["unmoved"]) == (1, 1, 1, 0)
    assert features["away"] == pytest.approx(1 / 3)
    assert gains["gain"].max() == gains["gain"][0] > 0
    assert stretches(path) == [(0, 3, 0), (4, 5, 1)]


def test_where_nothing_speaks_for_a_change_the_tune_stays() -> None:
    laid = laid_out([heard(chart_of(VERSE)), heard(chart_of(RISEN))])
    assert proposed_paths(laid, logs_of(laid)) == [[(0, 0)], [(0, 0)]]


@given(st.lists(st.lists(SOUND, min_size=1, max_size=8), min_size=1, max_size=4), st.integers(0, 11))
def test_what_a_fragment_says_turns_with_it(runs: list[list[Sound]], step: int) -> None:
    model = stored_model()
    moved = [[sound._replace(root=(sound.root + step) % 12) for sound in run] for run in runs]
    laid = laid_out([one_phrase(run) for run in runs])
    plain = model.phrase_logs(laid)
    assert model.phrase_logs(laid_out([one_phrase(run) for run in moved])) == pytest.approx(
        np.roll(plain, step, axis=1)
    )
    assert plain == pytest.approx(log_chances(model.fragment.scores(shares_of_phrases(laid, laid.phrase))))


def test_weights_are_written_and_read_back() -> None:
    values = [0.0] * SIZE
    values[5], values[-1] = 1.25, -0.07
    model = Model(TonicWeights(tuple(values)), TonicWeights((0.5,) * SIZE), {"changes": -1.5})
    assert model_of_text(text_of_model(model, ["what it is"])) == model
    stored = stored_model()
    assert set(stored.path) == set(PATH_FEATURES)
    assert model_of_text(text_of_model(stored, [])) == stored
