"""Patterns that match everything, or are huge, deeply nested or repeated without end: answered, or refused with the
bound named."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from unittest.mock import patch

import pytest

from grammar.patterns import read_pattern
from search.filters import Filters
from search.finding import find
from search.questions import Question
from shared.errors import ReadingError
from shared.match import Reach
from shared.pattern import Strength
from tests.helpers.agreement import Asking, Court, court_of
from tests.helpers.small_charts import chart_of, labelled

LINE = "C | Am7 | Dm7 G7 | C"
CHARTS = [
    chart_of(" | ".join([LINE] * 12)),
    chart_of("Am | F | C | G | " * 8 + "Am", "Am"),
    labelled(("A", "C|F|C7|F"), ("B", "G|C"), form=("A", "B", "A", "A", "B")),
]


@pytest.fixture(scope="module")
def court() -> Iterator[Court]:
    with court_of(CHARTS) as court:
        yield court


MATCH_EVERYTHING = ["_", "_ _", "_ .. _", "(_)+", "(_ _)+", "[ _", "[[ _ .. _ ]]", "| _ |", "(| _ |)+", "_? _", "1? _"]
HUGE = [
    " ".join(["1", "4"] * 32),
    "(1 4)x32",
    "((1 4)x4 (5 1)x4)x4",
    "(((1 4)+)?)+ 5",
    "(" * 20 + "1 4" + ")" * 20,
    "|" + " 1 |" * 64,
    "|" + " _ |" * 64,
    " ".join(["1,2,3,4,5,6,7,b7", "1maj7,2m7,57,6m"] * 16),
    "1 .. 4 .. 5 .. 1",
    "_ _ _ _ _ _",
    "1? 2? 3? 4? 5? 6? 7",
]


@pytest.mark.parametrize("text", MATCH_EVERYTHING + HUGE)
def test_they_are_answered(court: Court, text: str) -> None:
    pattern = read_pattern(text).pattern
    for asking in (Asking(), Asking(Strength.EXACT), Asking(Strength.LOOSE, Reach.ANYWHERE)):
        tally = court.compare(pattern, asking)
        assert (tally.pairs, tally.disagreements) == (len(CHARTS), [])


REFUSED = [
    ("..", "can match nothing", "at least one chord that must be there"),
    ("1? 4?", "can match nothing", "at least one chord that must be there"),
    ("(_?)+", "can match nothing", "at least one chord that must be there"),
    (" ".join(["1 4"] * 334), "1001 characters|1335 characters", "at most 1000"),
    ("1 " * 600, "1200 characters", "at most 1000"),
    ("(1 4)x1000", "“x1000” makes 2000 items", "1 to 64 in all"),
    ("(1 4)x0", "“x0” makes 0 items", "1 to 64 in all"),
    ("((((1 4)x8)x8)x8)x8", "makes 128 items", "1 to 64 in all"),
    (" ".join(["1", "4"] * 33), "66 items", "at most 64"),
    ("|" + " 1 4 |" * 33, "66 items", "at most 64"),
    ("(" * 21 + "1" + ")" * 21, "more than 20 deep", "a flatter pattern"),
    ("(" * 400 + "1" + ")" * 400, "more than 20 deep", "a flatter pattern"),
    ("(" * 20 + "1 4" + ")+" * 20, "too many items", "at most 64"),
    ("(" * 20 + "1 4" + ")?)+" * 10 + " 5", "too many items", "at most 64"),
    ("(" * 10 + "1" + ")x64)?" * 5 + " 5", "“x64” makes 4096 items", "1 to 64 in all"),
    ("1 .. 4 .. 5 .. 1 .. 4", "4 gaps", "at most 3"),
    ("_ _ _ _ _ _ _", "leaves 7 chords open", "at most 6"),
    ("_ .. _ .. _ .. _", "leaves 10 chords open", "at most 6"),
    ("_? _? _? _? 1", "leaves 8 chords open", "at most 6"),
    ("(_7 _7)x4 1", "leaves 8 chords open", "at most 6"),
    ("(1 (4 5)? 6? 7?)x2 1", "leaves 8 chords open", "at most 6"),
    ("(| 1 |)? " * 7 + "| 4 |", "leaves 7 chords open", "at most 6"),
]


@pytest.mark.parametrize(("text", "message", "expected"), REFUSED)
def test_they_are_refused_with_the_bound(text: str, message: str, expected: str) -> None:
    with pytest.raises(ReadingError, match=message) as raised:
        read_pattern(text)
    (fault,) = raised.value.faults
    assert expected in fault.expected


SLOW = [("1 .. 4 .. 5", 7), ("1 .. 4 .. 5 .. 1", 49), ("_7 .. 1", 24), ("1 6m? .. 4", 4)]


@pytest.mark.parametrize(("text", "times"), SLOW)
def test_gaps_are_refused_in_as_many_tunes_as_would_take_too_long(court: Court, text: str, times: int) -> None:
    question = Question(read_pattern(text).pattern)
    # One of the tunes is in a minor key, and asked in both counts.
    with patch("search.expressions.MOST_WORK", 4 * times):
        find(court.index, question)
    with patch("search.expressions.MOST_WORK", 4 * times - 1):
        with pytest.raises(ReadingError, match="too many ways over 4 tunes") as raised:
            find(court.index, question)
        assert "at most 3: filters" in raised.value.faults[0].expected
        # What the filters leave is what counts.
        find(court.index, replace(question, filters=Filters(key="Am")))


@pytest.mark.parametrize("text", ["_", "_ _", "| _ | _ |", "[ _"])
def test_what_asks_nothing_is_refused_in_as_many_tunes(court: Court, text: str) -> None:
    question = Question(read_pattern(text).pattern)
    with patch("search.expressions.MOST_WORK", 7 * 3):
        assert find(court.index, question).charts == 3
    with patch("search.expressions.MOST_WORK", 7 * 3 - 1):
        with pytest.raises(ReadingError, match="too many ways over 3 tunes") as raised:
            find(court.index, question)
        assert raised.value.faults[0].expected == "at most 2: filters, or a chord that is named"


@pytest.mark.parametrize("text", ["1 .. 4", "[ 1 .. 5 ]", "_ 4 5", "_7 1"])
def test_one_gap_is_searched_in_any_library(court: Court, text: str) -> None:
    with patch("search.expressions.MOST_WORK", 0):
        find(court.index, Question(read_pattern(text).pattern))


def test_too_many_long_expressions_are_refused(court: Court) -> None:
    bars = "|" + " _7,_m7 4maj7,2m7b5 |" * 8
    pattern = read_pattern(bars + " 1 |").pattern
    assert find(court.index, Question(pattern)).charts == 0
    with pytest.raises(ReadingError, match=r"expressions of [\d,]+ characters in all") as raised:
        find(court.index, Question(pattern, reach=Reach.ANYWHERE, rotate=True))
    assert "at most 250,000" in raised.value.faults[0].expected
