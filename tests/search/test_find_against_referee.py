"""The fast search and the slow referee give the same answer: the same charts, bars and times, whatever is asked."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory

import duckdb
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from corpus.index import SCHEMA_VERSION, write_rows
from corpus.library import Library
from corpus.reading import OpenIndex
from corpus.rows import ChartRows, add_chart, slot_table
from search.finding import find
from search.questions import Question
from shared.chart import Chart
from shared.match import Answer, Count, Reach
from shared.pattern import Pattern, Strength
from tests.helpers.performance import perform
from tests.helpers.referee import RefereeAnswer, referee
from tests.strategies.patterns import patterns, patterns_for
from tests.strategies.tunes import tunes

CHARTS_AN_INDEX = 8
PATTERNS_AN_INDEX = 5


@contextmanager
def index_of(charts: list[Chart]) -> Iterator[OpenIndex]:
    """An index of these charts, made without files; chart number n has the path ``n``."""
    with TemporaryDirectory() as folder:
        library = Library(Path(folder))
        library.index_path.parent.mkdir(parents=True)
        rows = ChartRows()
        for number, chart in enumerate(charts):
            add_chart(rows, number, str(number), chart)
        with duckdb.connect(str(library.index_path)) as connection:
            connection.execute(files("corpus").joinpath("schema.sql").read_text(encoding="utf-8"))
            connection.execute("INSERT INTO about VALUES (?, now())", [SCHEMA_VERSION])
            connection.register("made", slot_table())
            connection.execute("INSERT INTO slots SELECT * FROM made")
            write_rows(connection, rows)
        with OpenIndex(library) as index:
            yield index


def found_by(answer: Answer) -> dict[int, RefereeAnswer]:
    """A fast answer in the referee's words, by chart."""
    found: dict[int, RefereeAnswer] = {}
    for hit in answer.hits:
        places = [(place.section, place.from_bar, place.to_bar, place.times) for place in hit.places]
        before = found.get(int(hit.path), RefereeAnswer(0, {}))
        assert hit.count not in before.places, "one count of one chart is given twice"
        matches = before.matches + sum(place.times for place in hit.places)
        found[int(hit.path)] = RefereeAnswer(
            matches, {**before.places, hit.count: sorted(places, key=lambda place: place[1:])}
        )
    return found


def text_of(chart: Chart) -> str:
    """A chart in short, for a failure's note."""
    played = " | ".join(
        f"{bar.section or ''}{bar.bar}({bar.key}):{' NC' if bar.silent else ''} "
        + " ".join(perform(chart).events[event].chord.name for event in bar.events)
        for bar in perform(chart).bars
    )
    return f"{chart.key}: {played}"


def agree(
    charts: list[Chart], asked: list[Pattern], settings_: list[tuple[Strength, Reach, bool, Count | None]]
) -> None:
    with index_of(charts) as index:
        for pattern, (strength, reach, rotate, count) in product(asked, settings_):
            answer = find(index, Question(pattern, strength, reach, rotate, count, limit=0))
            judged = {
                number: referee(chart, pattern, strength, reach, rotate, count) for number, chart in enumerate(charts)
            }
            expected = {number: verdict for number, verdict in judged.items() if verdict.matches}
            found = found_by(answer)
            for number, chart in enumerate(charts):
                if found.get(number) != expected.get(number):
                    note(f"{pattern.text!r} {strength} {reach} rotate={rotate} count={count}\n{text_of(chart)}")
            assert found == expected
            assert answer.charts == len(expected)
            assert answer.matches == sum(verdict.matches for verdict in expected.values())


EVERY = list(product(Strength, Reach, [False, True], [None]))
ONE_COUNT = [(strength, Reach.KEY, False, count) for strength, count in product(Strength, Count)]


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data(), st.booleans())
def test_the_fast_search_and_the_referee_agree(data: st.DataObject, bars: bool) -> None:
    charts = data.draw(st.lists(tunes(), min_size=1, max_size=CHARTS_AN_INDEX))
    asked = [
        data.draw(st.one_of(*(patterns_for(chart, bars) for chart in charts), patterns(bars)))
        for _ in range(data.draw(st.integers(1, PATTERNS_AN_INDEX)))
    ]
    agree(charts, asked, EVERY)


@settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data(), st.booleans())
def test_they_agree_under_each_count_alone(data: st.DataObject, bars: bool) -> None:
    charts = data.draw(st.lists(tunes(), min_size=1, max_size=CHARTS_AN_INDEX))
    agree(charts, [data.draw(patterns_for(chart, bars)) for chart in charts[:PATTERNS_AN_INDEX]], ONE_COUNT)
