"""The slow referee on what items, groups, gaps and anchors take: cases small enough to be seen through."""

from __future__ import annotations

import pytest

from tests.helpers.asking import ask, spans
from tests.helpers.small_charts import chart_of

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
