"""The slow referee on playing order, keys, counts, rotations and bars: it must be right before it judges."""

from __future__ import annotations

from dataclasses import replace

import pytest

from grammar.keys import read_key
from grammar.patterns import read_pattern
from grammar.symbols import read_chord
from shared.chart import Bar, Cell, Chart, Ending, Repeat, Section
from shared.match import Count, Reach
from shared.pattern import Strength
from tests.helpers.asking import ask, spans
from tests.helpers.performance import perform
from tests.helpers.referee import RefereeAnswer, referee
from tests.helpers.small_charts import Scribe, changing, chart_of, labelled

TONIC, RELATIVE = Count.TONIC, Count.RELATIVE


def test_unfolding_repeats_endings_and_form() -> None:
    scribe = Scribe()
    head = Section(
        "A", (Repeat(scribe.bars("C|F"), 2, (Ending((1,), scribe.bars("G")), Ending((2,), scribe.bars("Am")))),)
    )
    bridge = Section("B", (Repeat(scribe.bars("Dm G"), 3),))
    chart = Chart((), (head, bridge), ("A", "B", "A"), read_key("C"))
    played = [(bar.section, bar.bar) for bar in perform(chart).bars]
    verse = [("A", 1), ("A", 2), ("A", 3), ("A", 1), ("A", 2), ("A", 4)]
    assert played == [*verse, ("B", 5), ("B", 5), ("B", 5), *verse]
    assert ask(chart, "1 4").places == {TONIC: [("A", 1, 2, 4)]}
    assert ask(chart, "5 1").places == {TONIC: [("A", 3, 1, 2), ("B", 5, 1, 1)]}
    assert ask(chart, "4 6m").places == {TONIC: [("A", 2, 4, 2)]}
    assert ask(chart, "5 2").places == {TONIC: [("B", 5, 5, 2)]}
    assert ask(chart, "2 5").matches == 3


def test_sections_start_and_end_at_each_playing_not_at_each_repeat() -> None:
    scribe = Scribe()
    first = Section("A", (Repeat(scribe.bars("C|F"), 2),))
    second = Section("B", scribe.bars("G|C"))
    chart = Chart((), (first, second), ("A", "A", "B"), read_key("C"))
    assert ask(chart, "1 4").places == {TONIC: [("A", 1, 2, 4)]}
    assert ask(chart, "[ 1 4").places == {TONIC: [("A", 1, 2, 2)]}
    assert ask(chart, "4 ]").places == {TONIC: [("A", 2, 2, 2)]}
    assert ask(chart, "[[ 1 4").places == {TONIC: [("A", 1, 2, 1)]}
    assert ask(chart, "4 ] [ 5").places == {TONIC: [("A", 2, 3, 1)]}
    assert ask(chart, "4 [").places == {TONIC: [("A", 2, 2, 2)]}
    assert ask(chart, "] 5").places == {TONIC: [("B", 3, 3, 1)]}
    assert ask(chart, "4? ] 5").places == {TONIC: [("A", 2, 3, 1)]}


def test_where_one_section_ends_the_next_match_may_begin() -> None:
    chart = labelled(("A", "C|F"), form=("A", "A", "A"))
    assert spans(ask(chart, "[ 1 4 [")) == [(1, 2, 2)]
    assert spans(ask(chart, "] 1 4 ]")) == [(1, 2, 2)]
    assert spans(ask(chart, "[ 1 4 ]")) == [(1, 2, 3)]


def test_bars_before_the_first_label_play_first() -> None:
    scribe = Scribe()
    lead_in = Section(None, scribe.bars("G"))
    verse = Section("A", scribe.bars("C|F"))
    chart = Chart((), (lead_in, verse), ("A", "A"), read_key("C"))
    assert [bar.bar for bar in perform(chart).bars] == [1, 2, 3, 2, 3]
    assert ask(chart, "5 1").places == {TONIC: [(None, 1, 2, 1)]}


def test_a_chord_across_a_border_of_sections_counts_on_both_sides() -> None:
    chart = labelled(("A", "C|G"), ("B", "G|F"))
    assert spans(ask(chart, "[ 5")) == [(2, 2, 1)]
    assert spans(ask(chart, "5 ]")) == [(2, 2, 1)]
    assert spans(ask(chart, "1 5 ] 4")) == [(1, 4, 1)]
    assert spans(ask(chart, "[ 4")) == []


def test_without_labels_the_tune_is_one_section() -> None:
    assert spans(ask(chart_of("C | F | C | F"), "[ 1 4")) == [(1, 2, 1)]


def test_silence_is_dropped_and_then_equal_neighbours_are_one() -> None:
    chart = chart_of("C | N.C. | . C | F N.C. | F G")
    assert [(event.written, event.bar) for event in perform(chart).events] == [("C", 1), ("F", 4), ("G", 5)]
    assert spans(ask(chart, "1 4 5")) == [(1, 5, 1)]


def test_neighbours_are_equal_by_sound() -> None:
    events = perform(chart_of("C#7 | Db7 | Db9 | Db9/Ab | C#9/G# | G11 | G9sus4")).events
    assert [event.bar for event in events] == [1, 3, 4, 6]


def test_times_are_counted_for_the_place_as_written() -> None:
    answer = ask(chart_of("C F C F"), "1 4")
    assert answer == RefereeAnswer(2, {TONIC: [(None, 1, 1, 2)]})


# Keys and counts


def test_a_match_never_straddles_two_keys() -> None:
    chart = changing(("C", "C | Dm | G"), ("D", "D | G | A"))
    assert spans(ask(chart, "5 1")) == []
    assert spans(ask(chart, "5 2", reach="anywhere")) == [(3, 4, 1)]
    assert spans(ask(chart, "1 4 5")) == [(4, 6, 1)]


def test_a_chord_across_a_border_of_keys_counts_on_both_sides() -> None:
    chart = changing(("C", "C | G"), ("G", "G | D"))
    assert spans(ask(chart, "1 5")) == [(1, 2, 1), (2, 4, 1)]
    assert spans(ask(chart, "1 5 2")) == []
    assert spans(ask(chart, "_")) == [(1, 1, 1), (2, 2, 1), (4, 4, 1)]


COUNTS = [
    ("Am | F | C | G", "Am", "6m 4 1 5", RELATIVE),
    ("Am | F | C | G", "Am", "1m b6 b3 b7", TONIC),
    ("Am | F | C | G", "C", "1m b6 b3 b7", RELATIVE),
    ("Am | F | C | G", "C", "6m 4 1 5", TONIC),
    ("Dm | G | C", "D dorian", "2m 5 1", RELATIVE),
    ("Dm | G | C", "D dorian", "1m 4 b7", TONIC),
    ("Dm | G", "G mixolydian", "1m 4", None),
    ("Em | A", "G mixolydian", "1m 4", RELATIVE),
    ("Am | F", "C", "1dim b6", None),
    ("Am | Bdim", "C", "i iidim", RELATIVE),
]


@pytest.mark.parametrize(("chords", "key", "pattern", "of"), COUNTS)
def test_counts(chords: str, key: str, pattern: str, of: Count | None) -> None:
    answer = ask(chart_of(chords, key), pattern)
    assert list(answer.places) == ([] if of is None else [of])


def test_a_match_under_both_counts_is_given_once_as_the_tonics() -> None:
    answer = ask(chart_of("Am | F | C | G", "Am"), "_")
    assert answer == RefereeAnswer(4, {TONIC: [(None, bar, bar, 1) for bar in (1, 2, 3, 4)]})
    both = ask(chart_of("Am | Dm | C | F", "Am"), "1 4")
    assert both == RefereeAnswer(2, {TONIC: [(None, 1, 2, 1)], RELATIVE: [(None, 3, 4, 1)]})


def test_anywhere_asks_about_every_centre() -> None:
    chart = chart_of("Dm7 | G7 | Cmaj7 | Cm7 | F7 | Bbmaj7")
    answer = ask(chart, "2m7 57 1maj7", reach="anywhere")
    assert answer == RefereeAnswer(2, {TONIC: [(None, 1, 3, 1), (None, 4, 6, 1)]})
    assert ask(chart, "2m7 57 1maj7").matches == 1
    assert ask(chart_of("C | F | Bb"), "1 4", reach="anywhere").matches == 2
    assert ask(chart_of("C | F"), "_ 1,4", reach="anywhere").matches == 1


def test_a_tune_that_is_all_in_one_key_is_at_home_there() -> None:
    """What can be counted from two centres is counted from the first one above the home tonic."""
    chart = chart_of("C E G C E", "D")
    answers = [ask(replace(chart, key=read_key(key)), "1,4 _", reach="anywhere") for key in ("D", "C")]
    assert answers[0] == answers[1]
    assert sorted(place[3] for place in answers[0].places[TONIC]) == [1, 1, 1, 1]


# Rotations


def test_rotations_of_a_loop() -> None:
    chart = chart_of("F | C | G | Am | F | C | G | Am | F")
    assert spans(ask(chart, "1 5 6m 4")) == [(2, 5, 1), (6, 9, 1)]
    assert spans(ask(chart, "1 5 6m 4", rotate=True)) == [(1, 4, 1), (5, 8, 1)]
    assert spans(ask(chart_of("F | G | C"), "1 4 5", rotate=True)) == [(1, 3, 1)]
    assert spans(ask(chart_of("G | F | C"), "1 4 5", rotate=True)) == []


def test_rotation_makes_equal_neighbours_one() -> None:
    chart = chart_of("F | C")
    assert spans(ask(chart, "1 4 1", rotate=True)) == [(1, 2, 1)]
    assert spans(ask(chart_of("C | F | G"), "1 4 1", rotate=True)) == [(1, 2, 1)]


# Bars

TWELVE = "| 1 | 4 | 1 | 1 | 4 | 4 | 1 | 1 | 5 | 4 | 1 | 5 |"

BARS = [
    ("C|F|C|C|F|F|C|C|G|F|C|G", TWELVE, [(1, 12, 1)]),
    ("C7|F7|C7|.|F7|.|C7|.|G7|F7|C7|G7", TWELVE, [(1, 12, 1)]),
    ("C|C|F|F|C|C|C|C|F|F|F|F|C|C|C|C|G|G|F|F|C|C|G|G", TWELVE, []),
    ("C F|C|C|F|F|C|C|G|F|C|G", TWELVE, []),
    ("C|F", "| 1 4 |", []),
    ("C F", "| 1 4 |", [(1, 1, 1)]),
    ("C F", "| 1 | 4 |", []),
    ("C F|C F", "| 1 4 |", [(1, 1, 1), (2, 2, 1)]),
    ("C F|. C", "| 4 1 |", [(2, 2, 1)]),
    ("C C7 F|G", "| 1 4 | 5 |", [(1, 2, 1)]),
    ("C N.C.|F", "| 1 | 4 |", []),
    ("N.C.|F", "| 4 |", [(2, 2, 1)]),
    ("Gsus4 G7|C", "| 57 | 1 |", [(1, 2, 1)]),
    ("C|C|F|C|C|F", "| 1 | 1 | 4 |", [(1, 3, 1), (4, 6, 1)]),
    ("C|F|C|F", "[ | 1 | 4 |", [(1, 2, 1)]),
    ("C|F|C|F", "| 1 | 4 | ]]", [(3, 4, 1)]),
    ("C|F|C|F|G", "(| 1 | 4 |)+ | 5 |", [(1, 5, 1)]),
]


@pytest.mark.parametrize(("chords", "pattern", "places"), BARS)
def test_bar_form(chords: str, pattern: str, places: list[tuple[int, int, int]]) -> None:
    assert spans(ask(chart_of(chords), pattern)) == places


def test_bars_stay_in_one_key() -> None:
    chart = changing(("C", "C | G"), ("G", "G | D"))
    assert spans(ask(chart, "| 5 | 5 |")) == []
    assert spans(ask(chart, "| 1 | 5 |")) == [(1, 2, 1), (3, 4, 1)]
    assert spans(ask(chart, "| 1 | 5 | 5 |", reach="anywhere")) == [(1, 3, 1)]


def test_bars_are_asked_recounted_too() -> None:
    answer = ask(chart_of("Am|F|C|G"), "| 1m | b6 | b3 | b7 |")
    assert answer == RefereeAnswer(1, {RELATIVE: [(None, 1, 4, 1)]})


# What cannot be judged


def test_names_must_be_counted_first() -> None:
    with pytest.raises(ValueError, match="count a pattern"):
        ask(chart_of("C | F"), "C F")


def test_a_chart_without_a_key_needs_one() -> None:
    chart = Chart((), (Section(None, (Bar(1, (Cell("C", read_chord("C")),)),)),))
    pattern = read_pattern("1").pattern
    with pytest.raises(ValueError, match="no key"):
        referee(chart, pattern, Strength.FAMILY, Reach.KEY)
    assert referee(chart, pattern, Strength.FAMILY, Reach.KEY, found_keys=read_key("C")).matches == 1
