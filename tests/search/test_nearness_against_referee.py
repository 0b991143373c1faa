"""The near expressions find in an index's strings what the slow referee finds in plain lists, edit by edit."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import product

import duckdb
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from corpus.codes import coded
from corpus.tunes import played
from grammar.patterns import read_pattern
from search.borders import bordered, borders_of
from search.differences import Explainer
from search.expressions import Compiler, expression
from search.near_counts import marking
from search.nearness import MOST_EDITS, RARE, marked, near_expression, pieces, without_rare
from search.places import SoundingSegment, Span, bar_spans, chord_spans
from shared.chart import Chart
from shared.errors import ReadingError
from shared.match import Count, Reach
from shared.pattern import Pattern, Strength
from shared.tune import Tune
from tests.helpers.referee import referee
from tests.helpers.small_charts import chart_of, labelled
from tests.strategies.patterns import patterns_for
from tests.strategies.tunes import tunes

PATTERNS_A_CHART = 6


@contextmanager
def engine() -> Iterator[duckdb.DuckDBPyConnection]:
    with duckdb.connect() as connection:
        connection.execute("SET threads = 1")
        yield connection


def matched(
    connection: duckdb.DuckDBPyConnection, text: str, pattern: Pattern, expressions: list[str]
) -> tuple[str, list[int]]:
    """A string with the matches of each expression, those of the first taken first, and how many edits each has."""
    if not re.search(RARE, text):
        expressions = list(map(without_rare, expressions))
    sql, values = marking(bordered("text", pattern, near=True), expressions)
    ((steps,),) = connection.execute(f"SELECT {sql} FROM (SELECT ? AS text)", [*values, text]).fetchall()
    return marked(steps)


def found_in(
    connection: duckdb.DuckDBPyConnection, tune: Tune, pattern: Pattern, strength: Strength, near: int
) -> tuple[list[Span], list[int], list[str]]:
    """Every match counted from the tonic, how many edits each has, and what it takes of the string."""
    strings = coded(tune).tonic
    expressions = [expression(pattern, strength, near=True)]
    expressions += [near_expression(pattern, strength, 0, edits) for edits in range(1, near + 1)]
    whole, edits = matched(connection, strings.bars if pattern.bars else strings.chords, pattern, expressions)
    segments = [
        SoundingSegment(each.key.tonic, each.first, each.last, each.from_bar, each.to_bar) for each in tune.segments
    ]
    spans_in = bar_spans if pattern.bars else chord_spans
    spans = spans_in(whole, segments, [event.played for event in tune.events])
    assert len(spans) == len(edits)
    return spans, edits, re.findall(r"\{(.*?)\}", whole)


def in_short(
    tune: Tune, spans: list[Span], edits: list[int], near: int
) -> tuple[list[tuple[int, int]], tuple[int, ...]]:
    """First and last bar as written of every match, and how many matches there are of each edits."""
    bars = sorted((tune.bars[span.from_bar].bar, tune.bars[span.to_bar].bar) for span in spans)
    return bars, tuple(edits.count(each) for each in range(near + 1))


def judged(
    chart: Chart, pattern: Pattern, strength: Strength, near: int
) -> tuple[list[tuple[int, int]], tuple[int, ...]]:
    """The same by the referee."""
    answer = referee(chart, pattern, strength, Reach.KEY, count=Count.TONIC, near=near)
    places = answer.places.get(Count.TONIC, [])
    return sorted((place[1], place[2]) for place in places for _ in range(place[3])), answer.by_edits


def agree(connection: duckdb.DuckDBPyConnection, chart: Chart, pattern: Pattern) -> None:
    """Search and referee find the same, and what differs in a match is as many things as it has edits."""
    tune = played(chart).tune
    for strength, near in product(Strength, range(1, MOST_EDITS + 1)):
        spans, edits, texts = found_in(connection, tune, pattern, strength, near)
        how = f"“{pattern.text}” {strength} near {near}"
        assert in_short(tune, spans, edits, near) == judged(chart, pattern, strength, near), how
        for span, each, text in zip(spans, edits, texts, strict=True):
            assert len(told(tune, pattern, strength, span, text)) == each, f"{how} {span}"


def told(tune: Tune, pattern: Pattern, strength: Strength, span: Span, text: str) -> tuple[str, ...]:
    """What differs in a match, in words."""
    heard = [(event, tune.events[event].played) for event in span.events]
    if pattern.bars:
        heard = [(event, bar) for bar in range(span.from_bar, span.to_bar + 1) for event in tune.bars[bar].events]
    names = tuple(tune.events[event].chord.name for event, _ in heard)
    written = [tune.bars[bar].bar for _, bar in heard]
    return Explainer(pattern, strength).differences(text, names, span.tonics, written).words


def has_versions(pattern: Pattern) -> bool:
    try:
        for strength in Strength:
            near_expression(pattern, strength, 0, MOST_EDITS)
    except ReadingError:
        return False
    return True


@st.composite
def cases(draw: st.DrawFn, bars: bool) -> tuple[Chart, list[Pattern]]:
    """A chart and some patterns, written after what it plays, that have near versions."""
    chart = draw(tunes())
    asked = patterns_for(chart, bars).filter(has_versions)
    return chart, draw(st.lists(asked, min_size=1, max_size=PATTERNS_A_CHART))


unhurried = settings(suppress_health_check=list(HealthCheck), deadline=None)


@settings(unhurried, max_examples=60)
@given(cases(bars=False))
def test_they_agree_about_chords(case: tuple[Chart, list[Pattern]]) -> None:
    chart, asked = case
    with engine() as connection:
        for pattern in asked:
            agree(connection, chart, pattern)


@settings(unhurried, max_examples=40)
@given(cases(bars=True))
def test_they_agree_about_bars(case: tuple[Chart, list[Pattern]]) -> None:
    chart, asked = case
    with engine() as connection:
        for pattern in asked:
            agree(connection, chart, pattern)


@settings(unhurried, max_examples=40)
@given(st.booleans().flatmap(cases))
def test_every_version_holds_a_piece(case: tuple[Chart, list[Pattern]]) -> None:
    chart, asked = case
    strings = coded(played(chart).tune).tonic
    with engine() as connection:
        for pattern, strength, edits in product(asked, Strength, range(1, MOST_EDITS + 1)):
            whole = near_expression(pattern, strength, 0, edits)
            compiler = Compiler(strength, 0, borders_of(pattern, near=True))
            kept = "|".join(compiler.whole(piece.parts) for piece in pieces(pattern, edits))
            text = strings.bars if pattern.bars else strings.chords
            ((lost,),) = connection.execute(
                f"SELECT len(list_filter(regexp_extract_all({bordered('$1', pattern, near=True)}, $2), "
                "lambda each: NOT regexp_matches(each, $3)))",
                [text, whole, kept],
            ).fetchall()
            assert lost == 0, f"“{pattern.text}” {strength} {edits}"


TUNES = [
    chart_of("C | F | G | C | Dm | G | C | Am | F | Fm | G7 | C"),
    chart_of("Dm7 | G7 | Cmaj7 | Dm7 | Db7 | Cmaj7 | Dm7 | Am7 | G7 | C6 | Dm7 | Cmaj7"),
    chart_of("C | G | Am | C | G | Am | C | G | Am | F | C | Em | Am | F | Dm"),
    chart_of("Am | F C | G Am7 | E7 | Am F | C G | Am7 Am6"),
    chart_of("Gsus4 | G7/B | F | G7sus4 | C#7 | Db7 | G11 | G9sus4 | C"),
    labelled(("A", "C|F|G"), ("B", "G|Dm|C"), form=("A", "B", "A", "B")),
    labelled(("A", "F#m7b5 C7|C7 C#5|C#5"), form=("A", "A", "A"), key="Em"),
]
PATTERNS = [
    "1 4",
    "1 4 5",
    "2m7 57 1maj7",
    "1 5 6m 4",
    "1 4 1 5",
    "1 5 6m 4 1",
    "[ 1 4 5 ]",
    "[[ 1 4 5 1",
    "5 1 ]]",
    "1 4 ] [ 5 2m 1",
    "1 6m? 4 5",
    "6m? 4 5 1",
    "4 5 1 (4 1)?",
    "(1 4)x2 5",
    "/1 /7 /6",
    "_ 57 1,6m",
    "1 5 6m 3m 4 1 4 5",
    "| 1 | 4 | 5 |",
    "| 2m7 | 57 | 1maj7 |",
    "[ | 1 | 4 |",
    "| 1 4 | 5 1 |",
    "| 1m | b6 b3 | b7 |",
    "(| 1 |)? | 4 | 5 |",
]


@pytest.mark.parametrize("pattern", PATTERNS)
def test_they_agree_where_it_is_hard(pattern: str) -> None:
    with engine() as connection:
        for chart in TUNES:
            agree(connection, chart, read_pattern(pattern).pattern)
