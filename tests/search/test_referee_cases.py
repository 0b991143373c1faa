"""The slow referee on cases small enough to be seen through: it must be right before it judges."""

from __future__ import annotations

import pytest

from grammar.keys import read_key
from grammar.patterns import read_pattern
from grammar.symbols import read_chord
from shared.chart import Bar, Cell, Chart, Ending, Repeat, Section
from shared.match import Count, Reach
from shared.pattern import Strength
from tests.helpers.performance import perform
from tests.helpers.referee import RefereeAnswer, referee
from tests.helpers.small_charts import Scribe, changing, chart_of, labelled

TONIC, RELATIVE = Count.TONIC, Count.RELATIVE


def ask(
    chart: Chart,
    pattern: str,
    strength: str = "family",
    reach: str = "key",
    rotate: bool = False,
) -> RefereeAnswer:
    return referee(chart, read_pattern(pattern).pattern, Strength(strength), Reach(reach), rotate)


def spans(answer: RefereeAnswer, of: Count = TONIC) -> list[tuple[int, int, int]]:
    return [place[1:] for place in answer.places.get(of, [])]


# One-bar-a-chord charts: a chord's place in the text is its bar.

FACTS = [
    ("C | Gm | Bb | F", "C", "1 5m b7 4", True),
    ("C | Gm | Bb | F", "C", "1 5 b7 4", True),
    ("C | Gm | Bb | F", "C", "1 5maj b7 4", False),
    ("C | Fm", "C", "1 4m", True),
    ("C | F", "C", "1 4m", False),
    ("C | F", "C", "1 4", True),
    ("C | Fm", "C", "1 4", True),
    ("C7 | F7", "C", "1 4", True),
    ("C | F", "C", "I IV", True),
    ("C | Fm", "C", "I IV", False),
    ("C | Fmaj7", "C", "I IV", True),
    ("C | F7", "C", "I IV", True),
    ("C | Fsus4", "C", "I IV", True),
    ("C7 | F7", "C", "17 47", True),
    ("C | F", "C", "17 47", False),
    ("C7 | F7", "C", "1maj 4maj", False),
    ("C | F", "C", "1maj 4maj", True),
    ("Am | F | C | G", "C", "6m 4 1 5", True),
    ("Am | F | C | G", "C", "1m b6 b3 b7", True),
    ("Am | F | C | G", "Am", "6m 4 1 5", True),
    ("Am | F | C | G", "Am", "1m b6 b3 b7", True),
    ("Am | F | C | G", "Am", "i bVI bIII bVII", True),
    ("Am | F | C | G", "C", "i bVI bIII bVII", True),
    ("Am | F | C | G", "C", "1 b6 b3 b7", False),
    ("Am | F | C | G", "Am", "1 b6 b3 b7", True),
    ("Dm7 | G13 | Cmaj7 | A7b9", "C", "2m7 57 1maj7 67", True),
    ("Dm7 | G13 | Cmaj7 | A7b9", "C", "57", True),
    ("C | G/B | Am | C/G | F | C/E | Dm7 | G9sus4 G9", "C", "1 5 6m 1 4 1 2m 5", True),
    ("C | G/B | Am | C/G | F | C/E | Dm7 | G9sus4 G9", "C", "/1 /7 /6 /5 /4 /3 /2 /5", True),
    ("C | C/E | F | Dm/G", "C", "/1 /3 /4 /5", True),
    ("C | C/E | F | Dm/G", "C", "/5", True),
    ("C | C/E | F | Dm/G", "C", "2m/5", True),
    ("C | C/E | F | Dm/G", "C", "5", False),
    ("Cm | G7/B | Cm/Bb | Am7b5", "Cm", "1m 57/7 1m/b7 6m7b5", True),
    ("Cm | G7/B | Cm/Bb | Am7b5", "Cm", "/1 /7 /b7 /6", True),
    ("C | Am7 | Fmaj9 | C", "C", "1 6m7 4maj9 1", True),
    ("Am7 | Dm7 | G7 | Cmaj7 | Fmaj7 | Bm7b5 | E7 | Am7", "C", "6m7 2m7 57 1maj7 4maj7 7m7b5 37 6m7", True),
    ("Am7 | Dm7 | G7 | Cmaj7 | Fmaj7 | Bm7b5 | E7 | Am7", "C", "6 2 5 1 4 7 3 6", True),
    ("Bm7b5 | Dm7", "C", "ii", True),
    ("Dm7b5 | G", "C", "ii V", True),
    ("Dm7 | G", "C", "iiø7 V", False),
    ("C | F#dim7", "C", "1 b5dim7", True),
    ("D | G#", "D", "1 #4", True),
    ("D | Ab", "D", "1 #4", True),
]


@pytest.mark.parametrize(("chords", "key", "pattern", "found"), FACTS)
def test_facts(chords: str, key: str, pattern: str, found: bool) -> None:
    assert (ask(chart_of(chords, key), pattern).matches > 0) is found


EXACT = [
    ("C | F", "1 4", True),
    ("C | F7", "1 4", False),
    ("C | F/A", "1 4", False),
    ("C | F/A", "1 4/6", True),
    ("Dm | G", "2 5", False),
    ("Dm | G", "ii V", True),
    ("Dm7 | G7", "2m7 57", True),
    ("Dm7 | G9", "2m7 57", False),
    ("Gsus4 | G7", "57", True),
    ("C | F | Fm6/C", "4 _ ", True),
    ("C | F | Fm6/C", "4 _/1 ", True),
    ("C | F | Fm6/C", "4 _/5 ", False),
    ("C | F | Fm6/C", "4 _m6 ", False),
    ("C | F | Fm6/C", "4 _m6/1 ", True),
    ("C | F | Fm6/C", "/1 /4 /1", True),
    ("G11", "59sus4", True),
]


@pytest.mark.parametrize(("chords", "pattern", "found"), EXACT)
def test_exact_wants_the_very_chord(chords: str, pattern: str, found: bool) -> None:
    assert (ask(chart_of(chords), pattern, "exact").matches > 0) is found


LOOSE = [
    ("C | Fm7/Bb", "1maj7 4dim/7", True),
    ("C | Fm7/Bb", "1 /b7", True),
    ("C | Fm7/Bb", "1 /4", False),
    ("C | F", "_dim7 4", True),
    ("C | F", "1 5", False),
]


@pytest.mark.parametrize(("chords", "pattern", "found"), LOOSE)
def test_loose_asks_for_roots(chords: str, pattern: str, found: bool) -> None:
    assert (ask(chart_of(chords), pattern, "loose").matches > 0) is found


FAMILIES = [
    ("G7sus4", "57", True),
    ("G7sus4", "57sus4", True),
    ("G7sus4", "5sus4", True),
    ("Gsus4", "57sus4", True),
    ("Gsus4", "57", False),
    ("Gsus2", "5sus4", True),
    ("G7", "5sus4", False),
    ("G5", "_5", True),
    ("G5", "5maj", False),
    ("G7alt", "57", True),
    ("Gaug", "5maj", False),
    ("G7#5", "5aug", False),
    ("Gmaj7#5", "5aug", True),
    ("Bdim7", "7dim", True),
    ("Bm7b5", "7dim", False),
    ("Gm6", "5m", True),
]


@pytest.mark.parametrize(("chord", "pattern", "found"), FAMILIES)
def test_a_quality_stands_for_its_family(chord: str, pattern: str, found: bool) -> None:
    assert (ask(chart_of(chord), pattern).matches > 0) is found


# Runs: which bars one item takes. The first match is shown as (from, to, times).

RUNS = [
    ("F | Gsus4 | G7 | C", "5", (2, 3, 1)),
    ("F | Gsus4 | G7 | C", "57", (2, 3, 1)),
    ("F | G7 | Gsus4 | C", "57", (2, 3, 1)),
    ("F | G7 | G5 | Gsus4 | C", "57", (2, 4, 1)),
    ("F | Gsus4/C | G7 | C", "57", (2, 3, 1)),
    ("F | Gsus4 | G7/B | C", "57/7", (3, 3, 1)),
    ("F | Gsus4/B | G7/B | C", "57/7", (2, 3, 1)),
    ("F | G | G7 | C", "57", (3, 3, 1)),
    ("F | Gsus4 | Gm | G7", "57", (4, 4, 1)),
    ("F | Gsus4 | G7 | C", "4 57 1", (1, 4, 1)),
    ("C | Cmaj7 | C7 | F", "1 4", (1, 4, 1)),
    ("C | Cmaj7 | C7 | F", "17 4", (3, 4, 1)),
    ("C | Cmaj7 | C7 | F", "1maj 17", (1, 3, 1)),
    ("C | G/B | E7/B | G | C", "/7", (2, 3, 1)),
    ("C | G/B | E7/B | G | C", "57,/7", (2, 2, 1)),
    ("G | G/B | E/B | C", "5,/7", (1, 2, 1)),
    ("Gsus4 | Gm/B | C", "57,/7", (1, 2, 1)),
    ("F | Fmaj7 | Dm | C", "4,2m 1", (3, 4, 1)),
    ("F | Fmaj7 | Dm | C", "4 2m 1", (1, 4, 1)),
    ("C | C6 | F | F6", "_ 4", (1, 4, 1)),
    ("C | C6 | F | F6", "_ 1 4", (1, 4, 1)),
    ("Gsus4 | G5 | C", "_7", None),
    ("Dsus4 | Bb7 | B5 | C", "_7", (2, 2, 1)),
    ("Em | Gm/D | Bm/D | C", "3 /2,_", (1, 2, 1)),
    ("Em | Gm/D | G7 | Bm/D | C", "3 /2,_", (1, 3, 1)),
    ("C | G/B | Am/C | C", "/7,/1", (1, 1, 1)),
    ("Dm | G/B | E7/B | Am/C | C", "/7,/1 1", (4, 5, 1)),
]


@pytest.mark.parametrize(("chords", "pattern", "place"), RUNS)
def test_runs(chords: str, pattern: str, place: tuple[int, int, int] | None) -> None:
    places = spans(ask(chart_of(chords), pattern))
    assert (places[0] if places else None) == place


def test_a_companion_stands_at_family_strength_only() -> None:
    chart = chart_of("F | Gsus4 | G7 | C")
    assert spans(ask(chart, "57", "exact")) == [(3, 3, 1)]
    assert spans(ask(chart, "57", "loose")) == [(2, 3, 1)]


PARTS = [
    ("C | F | G | C", "1 .. 5", [(1, 3, 1)]),
    ("C | G | F | G | C", "1 .. 5", [(1, 2, 1)]),
    ("C | D | E | F | A | G", "1 .. 5", [(1, 6, 1)]),
    ("C | D | E | F | A | Bb | G", "1 .. 5", []),
    ("C | D | D7 | E | F | A | Am | G", "1 .. 5", [(1, 8, 1)]),
    ("C | F | G", ".. 5", [(3, 3, 1)]),
    ("C | F | G", "1 ..", [(1, 1, 1)]),
    ("C | F | G", "[ .. 5", [(1, 3, 1)]),
    ("C | F | G | C", "5 .. ]]", [(3, 4, 1)]),
    ("C | Am | F | C | F", "1 6m? 4", [(1, 3, 1), (4, 5, 1)]),
    ("C | F | C | F | C | F", "(1 4)x2", [(1, 4, 1)]),
    ("C | F | C | F | C | F | G", "(1 4)+", [(1, 6, 1)]),
    ("C | F | C | F | C | G", "(1 4)+ 1", [(1, 5, 1)]),
    ("C | F | C | F | C | G", "(1 4)+ 5", []),
    ("Am | F | Dm | C | F", "4,2m 1", [(3, 4, 1)]),
    ("C | F | C | F | C", "1 4 1", [(1, 3, 1)]),
    ("C | F | C | F", "1 4", [(1, 2, 1), (3, 4, 1)]),
    ("C | F", "[[ 1", [(1, 1, 1)]),
    ("C | F", "[[ 4", []),
    ("C | F", "4 ]]", [(2, 2, 1)]),
    ("C | F", "1 ]]", []),
    ("C | C7 | F", "1 ]", []),
    ("F | C | C7", "1 ]", [(2, 3, 1)]),
]


@pytest.mark.parametrize(("chords", "pattern", "places"), PARTS)
def test_gaps_groups_and_anchors(chords: str, pattern: str, places: list[tuple[int, int, int]]) -> None:
    assert spans(ask(chart_of(chords), pattern)) == places


def test_an_item_gives_back_what_the_rest_needs() -> None:
    assert spans(ask(chart_of("C | Cmaj7 | C7 | F"), "1 1maj7 17 4")) == [(1, 4, 1)]


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
