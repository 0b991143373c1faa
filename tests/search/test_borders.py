"""Patterns that name borders of sections: several times at one border, at both ends of a match, beside what may be
missing. They are asked of charts that play many short sections."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import strategies as st

from grammar.patterns import read_pattern
from search.borders import BORDER_SIGNS, bordered
from search.expressions import expression
from search.places import MATCH_BEGINS, MATCH_ENDS
from shared.errors import ReadingError
from shared.match import Reach
from shared.pattern import Pattern, Strength
from tests.helpers.agreement import Asking, Court, court_of
from tests.helpers.asking import ask, spans
from tests.helpers.small_charts import changing, chart_of, labelled
from tests.strategies.drawing import drawn

SHORT = labelled(("A", "C|F"), ("B", "G|F"), ("C", "Am|Bb"))
CHARTS = [
    SHORT,
    labelled(("A", "C|F"), form=("A", "A", "A")),
    # F and G sound on over borders.
    labelled(("A", "C F"), ("B", "F|G"), ("C", "G"), form=("A", "A", "B", "C", "B", "C", "C", "A", "A")),
    labelled(("A", "C|F|G"), ("B", "G|Dm|C"), form=("A", "B", "A", "B")),
    labelled(("A", "C"), ("B", "F"), ("C", "G"), form=("A", "B", "C", "A", "C", "B", "A", "A", "B", "B", "C")),
    labelled(("A", "N.C."), ("B", "F|C"), ("C", "G|N.C."), form=("A", "B", "C", "A", "C", "B", "A")),
    changing(("C", "C | G"), ("G", "G | D"), ("Am", "D Am | F | C G")),
    chart_of("C | F | C"),
]
ASKINGS = [
    Asking(),
    Asking(Strength.EXACT),
    Asking(reach=Reach.ANYWHERE),
    Asking(near=1),
    Asking(near=2),
]


@pytest.fixture(scope="module")
def court() -> Iterator[Court]:
    with court_of(CHARTS) as court:
        yield court


#: Patterns, and where they stand in the first chart: first and last bar.
CASES = [
    ("4 ]", [(2, 2), (4, 4)]),
    ("4 ] ]", [(2, 2), (4, 4)]),
    ("4 ] 5? ]", [(2, 2), (4, 4)]),
    ("4 ] 5? ] b7? ]", [(2, 2), (4, 4)]),
    ("4 ] 5? ] 6m", [(4, 5)]),
    ("4 ] 5 4 ]", [(2, 4)]),
    ("[ (b7)? [ 1", [(1, 1)]),
    ("] 1? [ 5", [(3, 3)]),
    ("] (b7)? ] 6m? [ 5", [(3, 3)]),
    ("([ 6m)? ] [ 5", [(3, 3)]),
    ("5? ] _", [(3, 3), (5, 5)]),
    ("[ 4? [ _ .. ]", [(1, 2), (3, 4), (5, 6)]),
    ("4 (5? ])+ [ 6m", [(4, 5)]),
    ("b7 ] 1? ]]", [(6, 6)]),
    ("[[ 4? [ 1", [(1, 1)]),
]


@pytest.mark.parametrize(("text", "bars"), CASES)
def test_cases(court: Court, text: str, bars: list[tuple[int, int]]) -> None:
    pattern = read_pattern(text).pattern
    assert [span[:2] for span in spans(ask(SHORT, text))] == bars
    for asking in ASKINGS:
        assert court.compare(pattern, asking).disagreements == []


WORDS = [
    *"[[[]]]", "[[", "]]", "1", "4", "5", "_", "1,4", "5?", "4?", "1?", "(b7)?", "..", "(] 5)?", "([ 4)?", "(5 ])?",
    "([ _)+", "(5? ])+", "(5? ..)+", "(5? (] 4?)+)?", "([ 1? [ 4?)+", "| 1 |", "| _ |", "(| 4 |)?", "(| 1 | ])+",
]  # fmt: skip


def read(words: list[str]) -> Pattern | None:
    """The pattern of some words; None where they are none."""
    try:
        return read_pattern(" ".join(words)).pattern
    except ReadingError:
        return None


def test_they_agree_with_the_referee_however_borders_stand(court: Court) -> None:
    made = st.lists(st.sampled_from(WORDS), min_size=2, max_size=7).map(read).filter(bool)
    held = 0
    for number, pattern in enumerate(drawn(made, 120, 5)):
        assert pattern is not None
        for asking in ASKINGS:
            tally = court.compare(pattern, asking, [number % 2 == 0])
            assert [f"“{pattern.text}” {asking}: {each.told}" for each in tally.disagreements] == []
            held += tally.holding
    assert held > 800


def test_no_sign_of_a_border_is_one_of_another_kind() -> None:
    assert not set(BORDER_SIGNS) & set("<>!|()-0123456789" + MATCH_BEGINS + MATCH_ENDS)
    assert len(set(BORDER_SIGNS)) == len(BORDER_SIGNS)


#: Patterns, and whether a border may be looked at twice, in an exact search and in a near one.
AGAIN = [
    ("1 4", False, False),
    ("[[ 1 4 ]]", False, False),
    ("(1 4)+ 5?", False, False),
    ("[ 1 4", False, True),
    ("1 ] 4 5? ]", False, True),
    ("| 1 | 4 | ]", False, True),
    ("[[ 1 4 ]", False, True),
    ("[ 1 4 ]", True, True),
    ("4 ] 5? ]", True, True),
    ("([ 1)? 4", True, True),
    ("5? ] 4", True, True),
]


@pytest.mark.parametrize(("text", "exact", "near"), AGAIN)
def test_only_a_pattern_that_looks_at_a_border_twice_has_the_strings_rewritten(
    text: str, exact: bool, near: bool
) -> None:
    pattern = read_pattern(text).pattern
    for about, rewritten in ((False, exact), (True, near)):
        assert (bordered("tonic", pattern, about) != "tonic") == rewritten
        assert bool(set(expression(pattern, Strength.FAMILY, 0, about)) & set("FGHI")) == rewritten
