"""Many expressions counted together are counted as the engine counts each, the catalogue as single searches do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from unittest.mock import patch

import duckdb
import pytest
from hypothesis import strategies as st

from corpus.catalogue import Progression, catalogue
from corpus.codes import slot_groups
from corpus.index import make_index
from corpus.library import demo_library
from corpus.reading import OpenIndex
from grammar.patterns import read_pattern
from search import progressions
from search.automata import TUNE_BEGINS, TUNE_ENDS, TooManyStates, automaton
from search.expressions import expression, rotations
from search.filters import Filters
from search.named_rules import rule_expression
from search.progressions import Use, uses
from search.sweep import Sweep
from shared.chart import Chart
from shared.errors import SamechangesError
from shared.match import Reach
from shared.pattern import Strength
from tests.helpers.agreement import index_of
from tests.strategies.drawing import KINDS, TUNES, drawn, heard
from tests.strategies.patterns import patterns

KNOWN = catalogue().entries


def together(index: OpenIndex, entries: tuple[Progression, ...], filters: Filters | None = None) -> list[Use]:
    """The uses as of a large library."""
    with patch("search.progressions.SMALL", 0):
        return uses(index, entries, filters)


def alone(index: OpenIndex, entries: tuple[Progression, ...], filters: Filters | None = None) -> list[Use]:
    """The uses, each progression asked by itself."""
    with patch("search.progressions.SMALL", 10**9):
        return uses(index, entries, filters)


@pytest.fixture(scope="module")
def demo() -> Iterator[OpenIndex]:
    make_index(demo_library())
    with OpenIndex(demo_library()) as index:
        yield index


FILTERS = [
    Filters(),
    Filters(mode="minor"),
    Filters(style="blues"),
    Filters(key="C", metre="4/4"),
    Filters(only=read_pattern("1 4 5 6m").pattern),
    Filters(style="no such style"),
]


@pytest.mark.parametrize("filters", FILTERS, ids=lambda each: ", ".join(each.sentences()) or "all")
def test_the_demo_library_is_counted_as_by_single_searches(demo: OpenIndex, filters: Filters) -> None:
    assert together(demo, KNOWN, filters) == alone(demo, KNOWN, filters)


def test_most_of_the_catalogue_is_counted_together(demo: OpenIndex) -> None:
    with patch.object(progressions, "_use", side_effect=progressions._use) as asked:
        together(demo, KNOWN)
    bars = [entry for entry in KNOWN if entry.pattern is not None and entry.pattern.bars]
    assert asked.call_count == len(bars) + 1


def varied(entry: Progression) -> Iterator[Progression]:
    """An entry as a teacher's own might ask it."""
    yield replace(entry, reach=Reach.ANYWHERE)
    yield replace(entry, strength=Strength.LOOSE, count=None)
    try:
        rotations(entry.pattern)  # type: ignore[arg-type]
        yield replace(entry, rotate=True)
    except SamechangesError:
        return


@pytest.mark.parametrize(("made", "batch"), [(TUNES, 8192), (KINDS, 8192), (TUNES, 7)])
def test_charts_of_every_kind_are_counted_as_by_single_searches(made: st.SearchStrategy[Chart], batch: int) -> None:
    charts = drawn(made.filter(heard), 120, 5)
    others = tuple(each for entry in KNOWN[::9] if entry.pattern is not None for each in varied(entry))
    with index_of(charts) as index, patch("search.together._BATCH", batch):
        for entries in (KNOWN, others):
            counted = together(index, entries)
            assert counted == alone(index, entries)
            assert any(use.charts for use in counted)


def test_what_is_too_large_to_be_counted_together_is_asked_by_itself(demo: OpenIndex) -> None:
    with patch("search.sweep._MOST_SETS", 50):
        assert together(demo, KNOWN) == alone(demo, KNOWN)


def test_nothing_is_counted_of_no_progressions(demo: OpenIndex) -> None:
    assert together(demo, ()) == []


# Expressions


def counts(texts: list[str], tunes: list[str]) -> dict[tuple[int, int], int]:
    found = Sweep([automaton(text) for text in texts]).counted([tune.encode() for tune in tunes])
    return {
        (text, tune): times
        for text, tune, times in zip(
            found.expressions.tolist(), found.tunes.tolist(), found.found.tolist(), strict=True
        )
    }


def engine_counts(texts: list[str], tunes: list[str]) -> dict[tuple[int, int], int]:
    found = {}
    with duckdb.connect() as connection:
        for number, text in enumerate(texts):
            sql = "SELECT list_transform(?::VARCHAR[], lambda tune: len(regexp_extract_all(tune, ?)))"
            ((times,),) = connection.execute(sql, [tunes, text]).fetchall()
            found.update({(number, tune): often for tune, often in enumerate(times) if often})
    return found


SMALL_TEXTS = [
    "a", "ab", "aba", "a*b", "(?:ab)+", "(?:a|ab)(?:c|bcd)?", "ab??c*?", "(?:a|b){0,4}?c", r"\Aa", r"b\z", r"\A<*a",
    r"c>*\z", "(?:(?:a?b?)*c)", "(?:a?)+b", "[ab]c[a-c]", r"\(a\)", "(?:[<>]*a)*<", "a(?:b|c|d)?a",
]  # fmt: skip
SMALL_TUNES = [
    "", "a", "ab", "aba", "ababa", "aab", "abcdabc", "ccab", "<ab><ac>", "bcabcc", "(a)(ab)(a)", "abaab", "acadaba",
    "\U00010000a\u0800b", "aaaabaaaa",
]  # fmt: skip


def test_small_expressions_are_counted_as_by_the_engine() -> None:
    assert counts(SMALL_TEXTS, SMALL_TUNES) == engine_counts(SMALL_TEXTS, SMALL_TUNES)


def test_expressions_of_any_pattern_are_counted_as_by_the_engine() -> None:
    codes = [chr(base + place) for base, groups in slot_groups() for place in range(0, 144 * len(groups), 29)]
    tunes = drawn(st.text(st.sampled_from([*codes[:80], *"<>!"]), max_size=40), 200, 3)
    texts = [rule_expression(entry.text) for entry in KNOWN if entry.pattern is None and "key" not in entry.text]
    for pattern in drawn(patterns(), 60, 4):
        texts += [
            expression(pattern, strength, shift) for strength, shift in ((Strength.FAMILY, 0), (Strength.LOOSE, 3))
        ]
    kept = []
    for text in texts:
        try:
            automaton(text)
        except TooManyStates:
            continue
        kept.append(text)
    assert len(kept) > len(texts) // 2
    assert counts(kept, tunes) == engine_counts(kept, tunes)


def test_an_automaton_ends_where_the_engine_does() -> None:
    text = f"{TUNE_BEGINS}xabbc{TUNE_ENDS}"
    assert automaton("ab*").end(text, 2) == 5
    assert automaton("ab*?").end(text, 2) == 3
    assert automaton(r"c\z").end(text, 5) == len(text)


@pytest.mark.parametrize("text", ["(a)", r"\d", "[^a]", "a{2,3}", "a)"])
def test_what_is_no_expression_of_a_search_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="known"):
        automaton(text)
