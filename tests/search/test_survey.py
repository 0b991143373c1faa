"""Surveys of small libraries counted by hand, and of larger ones counted by a slow and plain referee."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from search.filters import Filters
from search.statistics import g_squared, wilson
from search.survey import FEW_TUNES, answer_survey, group_values, survey, survey_question
from search.survey_tables import BOOTSTRAPPED, cadence_name
from search.survey_tokens import ROMAN_ROOTS, Tokens
from shared.errors import ChoiceError, ReadingError, SamechangesError
from shared.pattern import Strength
from shared.tune import Tune
from tests.bench.generated import chart_texts
from tests.helpers.commands import library_of
from tests.helpers.survey_referee import cadences, family, root, root_and_family, sequences, tunes_of

CHARTS = Path(__file__).parents[1] / "contract" / "charts"
#: Charts with what is hard to count: keys that change inside and between sections, sections that share a chord.
HARD = (
    "title: Turns\nkey: C\n\n[A]\n| C | F | G | C |\n[B]\n| C | Am |\nkey: D\n| D | A7 |\n[C]\n| D | G | A | D |\n",
    "title: Borders\nkey: G\nform: A B B A\n\n[A]\n| G | D |\n[B]\n| D | D |\n",
    "title: One Chord\nkey: A\n\n[A]\n| A | A |\n[B]\n| D | N.C. | D |\n[C]\n| D | A |\n",
    "title: Held\nkey: F\nform: A B A\n\n[A]\n|: F | Bb | C | F :|\n[B]\n| F7 | Bb | Bbm | Bbm |\n",
    "title: Rare\nkey: Am\n\n| Am | Dm/F | E7(b9,#11) | C(no3) |\n| C/D | B7alt | Esus4 | E |\n",
    "title: Applied\nkey: C\n\n| I | V7/V | V7 | I |\n| ii | ii | V | vi |\n",
    "title: Silent Turn\nkey: C\n\n| C | G |\nkey: E\n| N.C. | N.C. |\nkey: F\n| F | C |\n",
)


@pytest.fixture(scope="module")
def texts() -> list[str]:
    own = [path.read_text(encoding="utf-8") for path in sorted(CHARTS.rglob("*.txt"))]
    return [*own, *HARD, *chart_texts(60)]


@pytest.fixture(scope="module")
def tunes(texts: list[str]) -> list[Tune]:
    return tunes_of(texts)


@pytest.fixture(scope="module")
def index(texts: list[str], tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenIndex]:
    folder = library_of(
        tmp_path_factory.mktemp("surveyed"), **{f"tune{number}": text for number, text in enumerate(texts)}
    )
    make_index(Library(folder))
    with OpenIndex(Library(folder)) as opened:
        yield opened


def tallies(table: pd.DataFrame, *columns: str) -> dict[str, tuple[int, int]]:
    names = [" ".join(each) if isinstance(each, list) else each for each in table[columns[0]]]
    for column in columns[1:]:
        names = [f"{first} {second}" for first, second in zip(names, table[column], strict=True)]
    return dict(zip(names, zip(table["times"], table["charts"], strict=True), strict=True))


@pytest.mark.parametrize("length", [1, 2, 3, 4, 5, 8])
@pytest.mark.parametrize(("strength", "name"), [("loose", root), ("family", root_and_family)])
def test_sequences_are_those_of_the_referee(
    index: OpenIndex, tunes: list[Tune], length: int, strength: str, name: object
) -> None:
    table = survey(index, "sequences", length=length, strength=strength)
    assert tallies(table, "numbers") == sequences(tunes, name, length)  # type: ignore[arg-type]


def test_very_chords_are_those_of_the_referee(index: OpenIndex, tunes: list[Tune]) -> None:
    tokens = Tokens(Strength.EXACT)
    known = {row[0] for row in survey(index, "sequences", length=1, strength="exact")["numbers"]}
    assert {"27", "4m/b6", "1"} <= known
    from corpus.codes import chord_code

    expected = sequences(tunes, lambda chord, tonic: tokens.name(chord_code(chord, tonic.pitch_class)), 3)
    assert tallies(survey(index, "sequences", length=3, strength="exact"), "numbers") == expected


def test_roots_and_families_are_those_of_the_referee(index: OpenIndex, tunes: list[Tune]) -> None:
    assert tallies(survey(index, "roots"), "root") == sequences(tunes, root, 1)
    by_family: dict[str, int] = {}
    for each, (times, _) in sequences(tunes, family, 1).items():
        title = each.split(" ", 1)[1]
        by_family[title] = by_family.get(title, 0) + times
    table = survey(index, "families")
    assert dict(zip(table["family"], table["times"], strict=True)) == by_family


@pytest.mark.parametrize(("strength", "name"), [("loose", root), ("family", root_and_family)])
def test_transitions_and_cadences_are_those_of_the_referee(
    index: OpenIndex, tunes: list[Tune], strength: str, name: object
) -> None:
    table = survey(index, "transitions", strength=strength)
    assert tallies(table, "from", "to") == sequences(tunes, name, 2)  # type: ignore[arg-type]
    found = {
        each: times for each, (times, _) in tallies(survey(index, "cadences", strength=strength), "from", "to").items()
    }
    assert found == dict(cadences(tunes, name))  # type: ignore[arg-type]


@pytest.mark.parametrize("label", ["A", "B", "Verse"])
def test_a_section_filter_counts_what_begins_there(index: OpenIndex, tunes: list[Tune], label: str) -> None:
    if label == "Verse":
        tunes = [tune for tune in tunes if any(bar.section == label for bar in tune.bars)]
    table = survey(index, "sequences", length=2, filters=Filters(section=label.lower()))
    assert tallies(table, "numbers") == sequences(tunes, root, 2, label)


def test_neighbours_are_the_rows_and_columns_of_the_transitions(index: OpenIndex) -> None:
    transitions = survey(index, "transitions")
    for what, here, there in (("before", "to", "from"), ("after", "from", "to")):
        rows = transitions[transitions[here] == "5"]
        table = survey(index, what, chord="5")
        assert tallies(table, "chord") == tallies(rows, there)
        assert table["share"].sum() == pytest.approx(1)


@pytest.mark.parametrize(
    ("chord", "expected"),
    [
        ("1", {"4": 1, "5": 1}),
        ("57", {"4maj": 1}),
        ("5", {"4": 2}),
        ("V", {"4maj": 2}),
        ("v", {}),
        ("4,6m", {"1maj": 2, "6m": 1, "5maj": 1}),
        ("1/3", {"57": 1}),
    ],
)
def test_what_comes_before(tmp_path: Path, chord: str, expected: dict[str, int]) -> None:
    folder = library_of(tmp_path, one="key: C\n\n| C | F | G7 | C/E |\n| Am | F | G | F |\n| C |\n")
    table = survey(folder, "before", chord=chord)
    assert dict(zip(table["chord"], table["times"], strict=True)) == expected


SMALL = {
    "one": "key: C\nstyle: Jazz Waltz\nlevel: 2\nyear: 1957\ntags: slow, spring\nmood: calm\n\n| C | F | G | C |\n",
    "two": "key: G\nstyle: jazz\nlevel: 10\nyear: 1962\ntags: spring\n\n| G | D | G | D |\n",
    "three": "key: Am\ntime: 3/4\nstyle: pop\nlevel: 2\nyear: 1968\nmood: Calm\n\n| Am | Dm | E7 | Am |\n| Am |\n",
    "four": "key: C\n\n| C | G |\n",
}


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return library_of(tmp_path, **SMALL)


def test_shares_and_intervals(small: Path) -> None:
    table = survey(small, "roots")
    assert list(table.columns) == [
        "root", "times", "share", "share_low", "share_high", "charts", "of_tunes", "low", "high",
    ]  # fmt: skip
    row = table.set_index("root").loc["4"]
    assert (row["times"], row["charts"]) == (2, 2)
    assert row["share"] == pytest.approx(2 / 14)
    assert (row["low"], row["high"]) == pytest.approx(wilson(2, 4))
    assert row["share_low"] <= row["share"] <= row["share_high"]
    assert table.attrs["charts"] == 4
    assert any("Few tunes (4)" in note and str(FEW_TUNES) in note for note in table.attrs["notes"])


@pytest.mark.parametrize(
    ("what", "column", "expected"),
    [
        ("keys", "key", {"C": 2, "G": 1, "Am": 1}),
        ("modes", "mode", {"major": 3, "minor": 1}),
        ("lengths", "bars", {4: 2, 5: 1, 2: 1}),
        ("metres", "metre", {"4/4": 3, "3/4": 1}),
    ],
)
def test_what_tunes_are(small: Path, what: str, column: str, expected: dict[object, int]) -> None:
    table = survey(small, what)
    assert dict(zip(table[column], table["charts"], strict=True)) == expected
    assert list(table["share"]) == [charts / 4 for charts in table["charts"]]
    assert "times" not in table


@pytest.mark.parametrize(
    ("by", "groups"),
    [
        ("style", {"jazz": 1, "jazz waltz": 1, "pop": 1}),
        ("level", {"2": 2, "10": 1}),
        ("decade", {"1950s": 1, "1960s": 2}),
        ("key", {"C": 2, "Am": 1, "G": 1}),
        ("mode", {"major": 3, "minor": 1}),
        ("metre", {"4/4": 3, "3/4": 1}),
        ("tag", {"spring": 2, "slow": 1}),
        ("mood", {"calm": 2}),
    ],
)
def test_groups(small: Path, by: str, groups: dict[str, int]) -> None:
    table = survey(small, "roots", by=by)
    assert table.attrs["groups"] == groups
    assert list(dict.fromkeys(table["group"])) == list(groups)
    for name, charts in groups.items():
        own = table[table["group"] == name]
        assert set(own["group_charts"]) == {charts}
        assert own["share"].sum() == pytest.approx(1)
    with OpenIndex(Library(small)) as opened:
        assert group_values(opened, by) == list(groups)


def test_tunes_without_a_group_are_told(small: Path) -> None:
    assert "1 of 4 tunes have no level and are left out." in survey(small, "roots", by="level").attrs["notes"]


def test_two_groups_are_compared(small: Path) -> None:
    table = survey(small, "roots", by="style", against=("jazz", "pop"))
    assert table.attrs["groups"] == {"jazz": 2, "pop": 1}
    row = table.set_index("root").loc["5"]
    assert (row["times_1"], row["times_2"], row["charts_1"], row["charts_2"]) == (3, 1, 2, 1)
    assert row["share_1"] - row["share_2"] == pytest.approx(row["difference"])
    assert row["g2"] == pytest.approx(g_squared(3, 5, 1, 3))
    assert row["difference_low"] <= row["difference"] <= row["difference_high"]
    assert list(table["g2"]) == sorted(table["g2"], reverse=True)
    assert (table["p"] <= table["q"]).all()
    assert any("bootstrap" in note and "Benjamini" in note for note in table.attrs["notes"])


def test_a_group_against_the_rest(small: Path) -> None:
    assert survey(small, "keys", by="decade", against=("1950s", "rest")).attrs["groups"] == {"1950s": 1, "rest": 2}
    assert survey(small, "keys", by="tag", against=("rest", "slow")).attrs["groups"] == {"rest": 1, "slow": 1}


def test_tunes_in_both_groups_are_left_out(small: Path) -> None:
    table = survey(small, "modes", by="tag", against=("slow", "spring"))
    assert table.attrs["groups"] == {"slow": 0, "spring": 1}
    assert any(note.startswith("1 tunes are both slow and spring") for note in table.attrs["notes"])


def test_an_interval_shrinks_with_the_number_of_tunes(tmp_path: Path) -> None:
    widths = []
    for number in (8, 80):
        folder = library_of(
            tmp_path / str(number), **{f"tune{each}": text for each, text in enumerate(chart_texts(number))}
        )
        row = survey(folder, "roots").iloc[0]
        widths.append(row["share_high"] - row["share_low"])
    assert widths[0] > 1.5 * widths[1] > 0


def test_rare_items_have_no_bootstrap(index: OpenIndex) -> None:
    table = survey(index, "sequences", length=8, strength="exact")
    assert len(table) > BOOTSTRAPPED
    assert table["share_low"].notna().sum() == BOOTSTRAPPED


def test_filters_narrow_a_survey(small: Path) -> None:
    assert survey(small, "keys", filters=Filters(mode="minor")).attrs["charts"] == 1
    assert survey(small, "keys", filters=Filters(where=(("mood", "calm"),))).attrs["charts"] == 2


def test_a_survey_of_nothing_is_empty(tmp_path: Path) -> None:
    for what in ("roots", "sequences", "transitions", "cadences", "keys"):
        table = survey(library_of(tmp_path / "empty"), what)
        assert len(table) == 0
        assert table.attrs["charts"] == 0
    folder = library_of(tmp_path / "one", **{"one": "key: C\n\n| C |\n"})
    assert len(survey(folder, "transitions")) == 0
    assert len(survey(folder, "roots", by="style")) == 0
    assert len(survey(folder, "transitions", by="key", against=("C", "rest"))) == 0


WRONG = [
    ({"what": "rots"}, "there is no survey of “rots”; nearest: roots"),
    ({"what": "sequences", "length": 9}, "a sequence has 1 to 8 chords, not 9; nearest: 8"),
    ({"what": "sequences", "length": 0}, "a sequence has 1 to 8 chords, not 0; nearest: 1"),
    ({"what": "roots", "length": 3}, "a length is for sequences, not for roots"),
    ({"what": "keys", "strength": "loose"}, "a strength is for sequences"),
    ({"what": "sequences", "strength": "lose"}, "there is no strength “lose”; nearest: loose"),
    ({"what": "roots", "chord": "5"}, "a chord is for before and after, not for roots"),
    ({"what": "before", "chord": "1 4"}, "“1 4” is not one chord; expected a number"),
    ({"what": "before", "chord": "G7"}, "“G7” is not one chord"),
    ({"what": "before", "chord": "_dim7"}, "“_dim7” names no root"),
    ({"what": "after", "chord": "5/7", "strength": "family"}, "a bass is looked at only at exact strength"),
    ({"what": "roots", "against": ("a", "b")}, "two groups are compared by something"),
    ({"what": "roots", "by": "styl"}, "no tune has a header “styl” to group by; nearest: style"),
    ({"what": "roots", "by": "decade", "against": ("1950s", "1860s")}, "no tune asked has the decade “1860s”"),
    ({"what": "roots", "by": "style", "against": ("pop", "Pop")}, "are one group; two are compared"),
]


@pytest.mark.parametrize(("asked", "message"), WRONG)
def test_what_cannot_be_asked_is_told(small: Path, asked: dict[str, object], message: str) -> None:
    with pytest.raises(SamechangesError) as caught:
        survey(small, **asked)  # type: ignore[arg-type]
    assert message in str(caught.value)


def test_a_chord_that_cannot_be_read_is_shown(small: Path) -> None:
    with pytest.raises(ReadingError):
        survey(small, "before", chord="57zork")
    with pytest.raises(ChoiceError):
        survey_question("befor")


def test_the_question_says_itself(small: Path) -> None:
    question = survey_question("before", chord="57", filters=Filters(style="jazz"))
    assert question.sentence == "Chords just before 57, by roots and families, style jazz"
    assert survey_question("sequences").sentence == "Sequences of 4 chords, by roots"
    make_index(Library(small))
    with OpenIndex(Library(small)) as opened:
        assert answer_survey(opened, question).question == question


@pytest.mark.parametrize(
    ("one_before", "final", "name"),
    [(7, 0, "authentic"), (5, 0, "plagal"), (10, 0, "backdoor"), (7, 9, "deceptive"), (7, 8, "deceptive"),
     (2, 7, "half"), (0, 7, "half"), (0, 5, "other")],
)  # fmt: skip
def test_cadences_have_names(one_before: int, final: int, name: str) -> None:
    assert cadence_name(one_before, final) == name


def test_roots_have_numerals() -> None:
    assert ROMAN_ROOTS == ("I", "bII", "II", "bIII", "III", "IV", "#IV", "V", "bVI", "VI", "bVII", "VII")
