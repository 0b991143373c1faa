"""The fast search and the slow referee give the same answer: the same charts, bars and times, whatever is asked.

The same cases are drawn in every run, so that a run tells of the change and not of chance; ``tests/bench/agree.py``
compares as many others as are asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import pytest
from hypothesis import strategies as st

from grammar.keys import read_key
from grammar.patterns import read_pattern
from shared.chart import Chart
from shared.pattern import Pattern
from tests.helpers.agreement import EVERY, NEAR, ONE_COUNT, Asking, Court, Tally, court_of
from tests.helpers.small_charts import changing, chart_of, labelled
from tests.strategies.drawing import KINDS, TUNES, drawn, judged

CHARTS, PATTERNS_A_ROUND = 32, 4
#: What is compared: the charts, the ways to ask, how many pairs at least (a pattern, a way to ask it and a chart), and
#: in how many of them, at least, the chart holds the pattern.
COMPARED: list[tuple[st.SearchStrategy[Chart], Sequence[Asking], int, float]] = [
    (TUNES, EVERY, 9_000, 0.1),
    (KINDS, EVERY, 7_500, 0.1),
    (TUNES, ONE_COUNT, 3_000, 0.04),
    (TUNES, NEAR, 300, 0.03),
]
TOGETHER = 300


def told(tally: Tally) -> list[str]:
    """Where the two part, in words."""
    return [f"“{each.pattern.text}” {each.asking}: {each.told}" for each in tally.disagreements]


def compared(
    made: st.SearchStrategy[Chart], pairs: int, seed: int, ask: Callable[[Court, Sequence[Pattern]], Tally]
) -> Tally:
    """Round after round until so many pairs are compared, or the two part."""
    total = Tally()
    while total.pairs < pairs and not total.disagreements:
        cases = drawn(judged(made), CHARTS, seed)
        with court_of([chart for chart, _ in cases]) as court:
            total.add(ask(court, [pattern for _, pattern in cases[:: CHARTS // PATTERNS_A_ROUND]]))
        seed += 1
    return total


@pytest.mark.parametrize(("made", "ways", "pairs", "holding"), COMPARED)
def test_they_agree(made: st.SearchStrategy[Chart], ways: Sequence[Asking], pairs: int, holding: float) -> None:
    def ask(court: Court, asked: Sequence[Pattern]) -> Tally:
        tally = Tally()
        for place, pattern in enumerate(asked):
            for way, asking in enumerate(ways):
                # Every other question as it is asked of large libraries.
                tally.add(court.compare(pattern, asking, large=[(place + way) % 2 == 1]))
        return tally

    tally = compared(made, pairs, 1, ask)
    assert told(tally) == []
    assert tally.pairs >= pairs
    assert tally.holding >= holding * pairs


def test_they_agree_about_tunes_with_one_pattern_and_another_but_not_a_third() -> None:
    def ask(court: Court, asked: Sequence[Pattern]) -> Tally:
        tally = Tally()
        for place, pattern in enumerate(asked):
            for asking in EVERY[:: len(EVERY) // 4]:
                large = [place % 2 == 1]
                tally.add(court.compare_together(pattern, asked[place - 1], asked[place - 2], asking, large))
        return tally

    tally = compared(TUNES, TOGETHER, 2, ask)
    assert told(tally) == []
    assert tally.pairs >= TOGETHER
    assert tally.holding > 0


def test_twenty_thousand_pairs_are_compared() -> None:
    assert sum(pairs for _, _, pairs, _ in COMPARED) + TOGETHER >= 20_000


# Where one of the two was wrong once, or where they could easily part.

HARD = [
    chart_of("F | C | F"),
    chart_of("F | D | C | F"),
    chart_of("C | F | G"),
    chart_of("Dm | C/F | Am/F | Bb", "Bb"),
    chart_of("F#m | B | F#m7 B | Gmaj7 | G#dim | Dmaj7", "F#m"),
    chart_of("Fsus4 | Bdim | N.C. | F | C/G G7sus4 G7 | G5 | Am7b5", "Am"),
    chart_of("Am | F C | G Am7 | E7 | Am F | C G | Am7 Am6"),
    chart_of("Em | C G | D Em7 | B7 | Em7", "G mixolydian"),
    chart_of("Gsus4 | G7/B | F | G7sus4 | C#7 | Db7 | G11 | G9sus4 | C"),
    labelled(("A", "C|F"), ("B", "G|C"), form=("A", "B", "A")),
    labelled(("A", "F#m7b5 C7|C7 C#5|C#5"), form=("A", "A", "A"), key="Em"),
    labelled(("A", "C F"), ("B", "F|G"), ("C", "G"), form=("A", "A", "B", "C", "B", "C", "C", "A", "A")),
    labelled(("A", "D/F# Bsus4"), ("B", "A9#11/G# | A"), form=("A", "B", "A", "A"), key="F#"),
    replace(chart_of("C E G C E", "D"), key=read_key("C")),
    changing(("C", "C | G"), ("G", "G | D"), ("Am", "D Am | F | C G")),
    # Silent bars in a key of their own begin the tune, and end it.
    changing(("G", "N.C."), ("C", "C | F | C"), ("F", "N.C. | N.C.")),
    changing(("F lydian", "N.C."), ("Am", "C#7sus4 | Am"), ("C", "Am | C | N.C."), ("G", "N.C.")),
]
PATTERNS = [
    "1 4 1",
    "1,4 _",
    "3 /5,_",
    "3 _,/5",
    "/5,/7 1",
    "57,/7",
    "57/7",
    "5sus4",
    "| b2 | b2 | 5 | 5 |",
    "b2 _ 1",
    "_ _",
    "_,_7 _,_7",
    "4 6? .. 1",
    "4 (6 5)? .. 1",
    "1 .. _ .. 5 ]",
    "[ .. 5",
    "1 4 5 1",
    "1 _ 1",
    "4 .. 6? ]",
    "4 [",
    "] 5",
    "4 [ 5?",
    "1? ] 5",
    "[ [ 1",
    "] [ _",
    "[ 1 .. ]",
    "[ _ [",
    "] _ ]",
    "] [ _ .. ] [",
    "[ 1,4 .. _ [",
    "] 1? _ .. 5? ]",
    "[ | _ | [",
    "([ _)+ [",
    "(_ [)+ 5",
    "[[ _ ] [ _ ] [",
    "[ _ ] [ _ ]]",
    "[ [[ 1",
    "1 ]] ]",
    "(1 4)+ 5?",
    "_,5,iv 5m7b5,I?",
    "1m b6 b3 b7",
    "i,4 5?",
    "1m b6",
    "i 57,b7",
    "| 1m | b6 b3 |",
    "| _ |",
    "| 1 4? | .. |",
    "(| 1 |)+ | 5 |",
    "[[ | 1 | 4 |",
    "| 4 | 1 | ]]",
    "[[ 1",
    "1 ]]",
    "[[ | _ | .. | _ | ]]",
]


@pytest.fixture(scope="module")
def hard() -> Iterator[Court]:
    with court_of(HARD) as court:
        yield court


@pytest.mark.parametrize("pattern", PATTERNS)
def test_they_agree_where_it_is_hard(hard: Court, pattern: str) -> None:
    for asking in EVERY + ONE_COUNT:
        large = [True] if asking.count else [False, True]
        assert told(hard.compare(read_pattern(pattern).pattern, asking, large)) == []
