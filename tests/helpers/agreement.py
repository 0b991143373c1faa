"""Whether the fast search and the slow referee say the same of some charts.

Conventions:
    * A pair is one pattern, asked in one way, and one chart: both must give the same places in it, counted alike and
      played as often, and the same totals over all charts.
    * Small libraries are asked whole; here they are also asked as large ones are, through the short sequences.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from importlib.resources import files
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple
from unittest.mock import patch

import duckdb

from corpus.gram_counting import add_grams, gram_rows
from corpus.index import write_tables
from corpus.library import Library
from corpus.reading import OpenIndex
from corpus.rows import FileRead, rows_of, slot_columns
from corpus.schema import SCHEMA_VERSION
from corpus.tunes import played
from search.finding import find
from search.questions import Question
from shared.chart import Chart, Reading
from shared.errors import ReadingError
from shared.key import Key
from shared.match import Answer, Count, Reach
from shared.pattern import Anchor, BarOf, Gap, Group, Part, Pattern, Strength
from tests.helpers.performance import Performance, Played, perform
from tests.helpers.referee import RefereeAnswer, referee


class Asking(NamedTuple):
    """A way to ask."""

    strength: Strength = Strength.FAMILY
    reach: Reach = Reach.KEY
    rotate: bool = False
    count: Count | None = None
    near: int = 0

    def __str__(self) -> str:
        said = [self.strength.value, self.reach.value]
        said += ["rotated"] if self.rotate else []
        said += [f"counted from the {self.count.value}"] if self.count else []
        said += [f"near {self.near}"] if self.near else []
        return ", ".join(said)


EVERY = [Asking(*each) for each in product(Strength, Reach, [False, True])]
ONE_COUNT = [Asking(strength, count=count) for strength, count in product(Strength, Count)]
NEAR = [
    Asking(near=1),
    Asking(near=2),
    Asking(Strength.EXACT, near=2),
    Asking(Strength.LOOSE, Reach.ANYWHERE, near=1),
    Asking(rotate=True, near=1),
]


class Disagreement(NamedTuple):
    """Where the two part.

    Attributes:
        chart: The chart; None where only the totals differ.
        pattern: The pattern.
        asking: How it was asked.
        told: What the search found, and what the referee did.
    """

    chart: Chart | None
    pattern: Pattern
    asking: Asking
    told: str


@dataclass
class Tally:
    """What was compared.

    Attributes:
        pairs: How many pairs.
        holding: In how many of them the chart holds the pattern.
        disagreements: Where the two part.
    """

    pairs: int = 0
    holding: int = 0
    disagreements: list[Disagreement] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        self.pairs += other.pairs
        self.holding += other.holding
        self.disagreements += other.disagreements


@contextmanager
def index_of(indexed: Sequence[Chart]) -> Iterator[OpenIndex]:
    """An index of these charts, made without files; chart number n has the path ``n``."""
    with TemporaryDirectory() as folder:
        library = Library(Path(folder))
        library.index_path.parent.mkdir(parents=True)
        charts = [FileRead(str(number), "", Reading(chart)) for number, chart in enumerate(indexed)]
        rows = rows_of(charts)
        with duckdb.connect(str(library.index_path)) as connection:
            connection.execute(files("corpus").joinpath("schema.sql").read_text(encoding="utf-8"))
            connection.execute("INSERT INTO about VALUES (?, now())", [SCHEMA_VERSION])
            tables = {**rows.tables, "slots": slot_columns()}
            write_tables(connection, {name: [columns] for name, columns in tables.items()})
            add_grams(connection, gram_rows([rows.tallies]))
        with OpenIndex(library) as index:
            yield index


def find_as(index: OpenIndex, question: Question, large: bool) -> Answer:
    """What the search says: asked whole, or looked up first among the short sequences, as in large libraries."""
    if not large:
        return find(index, question)
    with patch("search.looking_up.SMALL", 0), patch("search.looking_up.WORTH", 2):
        return find(index, question)


class Court:
    """Some charts in an index, and both ways to search them.

    The search is asked whole, or looks up first (``large``), or both, one after the other.
    """

    def __init__(self, index: OpenIndex, charts: Sequence[Chart]) -> None:
        self.index = index
        self.charts = charts
        self.keys = [keys_by_bar(chart) for chart in charts]

    def compare(self, pattern: Pattern, asking: Asking, large: Sequence[bool] = (False, True)) -> Tally:
        """Whether the search says what the referee says of every chart.

        Nothing is compared where the search refuses the question, as it may a near or rotated one alone.
        """
        answers = self._answers(pattern, asking, large)
        if not answers:
            return Tally()
        expected = self._verdicts(pattern, asking)
        tally = Tally(len(self.charts), len(expected))
        tally.disagreements = [
            Disagreement(chart, pattern, asking, told)
            for answer in answers
            for chart, told in self._differences(answer, expected)
        ]
        return tally

    def _answers(
        self,
        pattern: Pattern,
        asking: Asking,
        large: Sequence[bool],
        also: tuple[Pattern, ...] = (),
        without: tuple[Pattern, ...] = (),
    ) -> list[Answer]:
        """What the search says; nothing where it refuses."""
        strength, reach, rotate, count, near = asking
        question = Question(pattern, strength, reach, rotate, count, limit=0, near=near, also=also, without=without)
        # All tunes are shown; so many, and not just all, are also told without a table of what is found.
        limited = replace(question, limit=len(self.charts))
        try:
            return [find_as(self.index, limited if each else question, each) for each in large]
        except ReadingError as refused:
            several = rotate or reach is Reach.ANYWHERE
            large_loop = several and "makes expressions of" in refused.faults[0].message
            assert near or large_loop or (rotate and not is_loop(pattern.parts)), (
                f"“{pattern.text}” {asking} is refused"
            )
            return []

    def _verdicts(self, pattern: Pattern, asking: Asking) -> dict[int, RefereeAnswer]:
        """What the referee says of each chart that holds the pattern."""
        strength, reach, rotate, count, near = asking
        found: dict[int, RefereeAnswer] = {}
        for number, chart in enumerate(self.charts):
            verdict = referee(chart, pattern, strength, reach, rotate, count, self.keys[number], near)
            if verdict.matches:
                found[number] = verdict
        return found

    def _differences(self, answer: Answer, expected: dict[int, RefereeAnswer]) -> Iterator[tuple[Chart | None, str]]:
        found = found_by(answer)
        for number, chart in enumerate(self.charts):
            if found.get(number) != expected.get(number):
                places = [one.places if one else {} for one in (found.get(number), expected.get(number))]
                yield chart, f"found {places[0]}, expected {places[1]} {in_short(chart, self.keys[number])}"
        totals = len(expected), sum(verdict.matches for verdict in expected.values())
        if (answer.charts, answer.matches) != totals:
            yield None, f"totals {answer.charts} and {answer.matches}, expected {totals[0]} and {totals[1]}"

    def compare_together(
        self,
        pattern: Pattern,
        also: Pattern,
        without: Pattern,
        asking: Asking,
        large: Sequence[bool] = (False, True),
    ) -> Tally:
        """The same of a question for tunes that hold a second pattern, and not a third.

        How a tune holds the others is asked neither near nor rotated.
        """
        plain = asking._replace(rotate=False, near=0)
        answers = self._answers(pattern, asking, large, (also,), (without,))
        if not answers:
            return Tally()
        held, shunned = self._verdicts(also, plain), self._verdicts(without, plain)
        expected = {
            number: verdict
            for number, verdict in self._verdicts(pattern, asking).items()
            if number in held and number not in shunned
        }
        tally = Tally(len(self.charts), len(expected))
        for answer in answers:
            for chart, told in self._differences(answer, expected):
                told = f"with “{also.text}” without “{without.text}”: {told}"
                tally.disagreements.append(Disagreement(chart, pattern, asking, told))
        return tally


@contextmanager
def court_of(charts: Sequence[Chart]) -> Iterator[Court]:
    """Some charts, ready to be asked both ways."""
    with index_of(charts) as index:
        yield Court(index, charts)


def found_by(answer: Answer) -> dict[int, RefereeAnswer]:
    """A fast answer in the referee's words, by chart."""
    found: dict[int, RefereeAnswer] = {}
    for hit in answer.hits:
        times: Counter[tuple[Any, ...]] = Counter()
        for place in hit.places:
            # How one place is told in words may depend on the bars between its first and its last.
            times[place.section, place.from_bar, place.to_bar, place.chords, place.numbers] += place.times
        places = [(*key[:3], often) for key, often in times.items()]
        before = found.get(int(hit.path), RefereeAnswer(0, {}))
        assert hit.count not in before.places, "one count of one chart is given twice"
        matches = before.matches + sum(place.times for place in hit.places)
        found[int(hit.path)] = RefereeAnswer(
            matches, {**before.places, hit.count: sorted(places, key=lambda place: place[1:])}
        )
    return found


def keys_by_bar(chart: Chart) -> list[Key]:
    """The key that was found for each played bar; the written home key where one is written."""
    one = played(chart)
    keys = [one.tune.key] * len(one.tune.bars)
    for stretch in one.stretches[1:]:
        keys[stretch.from_bar :] = [stretch.key] * (len(keys) - stretch.from_bar)
    return keys


def in_short(chart: Chart, found: Sequence[Key]) -> str:
    """A chart as it is played, for a failure's note."""
    tune = perform(chart, found)
    bars = []
    for number, bar in enumerate(tune.bars):
        key = f"{bar.key}= " if number == 0 or bar.key != tune.bars[number - 1].key else ""
        bars.append(f"{key}{bar.section or ''}:{bar.bar} {bar.silent * 'N.C. '}{' '.join(_names(tune, bar))}")
    return f"in {tune.home}: {' | '.join(bars)}"


def _names(tune: Performance, bar: Played) -> list[str]:
    return [tune.events[event].chord.name for event in bar.events]


def is_loop(parts: tuple[Part, ...]) -> bool:
    """Whether a pattern is chords alone, so that it may begin at any of them."""
    for part in parts:
        if isinstance(part, Anchor | Gap) or (isinstance(part, Group) and part.most is None):
            return False
        if isinstance(part, Group | BarOf) and not is_loop(part.body):
            return False
    return True
