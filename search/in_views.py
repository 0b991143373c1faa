"""A pattern in every view that it is asked of: its expressions, and the matches that they mark."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property
from itertools import zip_longest
from typing import Any, TypeVar

import duckdb

from corpus.reading import Snapshot
from corpus.unpacking import segments_of
from search.apart import apart
from search.borders import borders_of
from search.expressions import asks_nothing, expression, refuse_large, rotations, too_large, work
from search.looking_up import ONE_OF, SEVERAL_KEYS, charts_for, in_large
from search.narrowing import told_roots
from search.near_counts import marking
from search.nearness import RARE, marked, near_expression, without_rare
from search.places import MATCH_BEGINS
from search.questions import Question
from search.rows_asked import TRUE, MarkedChart, Told, put_marks
from search.views import doubtful_views, views_of
from shared.pattern import Anchor, BarOf, Item, Pattern, Strength

_T = TypeVar("_T")


class PatternInViews:
    """One pattern of a question, as it is asked of each view.

    Attributes:
        pattern: The pattern.
        strength: How much must agree.
        views: The views.
        patterns: The pattern, or its rotations.
        doubtful: The views whose expression may find a place that an earlier view finds too.
        told: The sequences of roots of which the index holds the very number of matches, if that is so.
        least: The fewest chords that a match takes; bars in the bar form.
        near: How many edits away a version may be.
    """

    def __init__(self, index: Snapshot, question: Question, pattern: Pattern) -> None:
        self._index = index
        self.strength = question.strength
        self.near = question.near
        self.pattern = pattern
        self.patterns = rotations(pattern) if question.rotate else [pattern]
        self.views = views_of(question, pattern)
        self.doubtful = doubtful_views(self.patterns, self.views)
        if question.near and not apart(self.patterns, question.near):
            self.doubtful = set(range(1, len(self.views)))
        plain = not question.near and len(self.patterns) == 1
        self.told = told_roots(pattern, question.strength) if plain else []
        self.least = sum(isinstance(part, Item | BarOf) for part in pattern.parts)

    @cached_property
    def texts(self) -> list[str]:
        """For each view the expression."""
        return self._texts(self.strength)

    @cached_property
    def near_texts(self) -> list[list[str]]:
        """For each view the expressions of the versions that are one edit away, two, and so on."""
        return [[self.near_text(edits, view.shift) for edits in range(1, self.near + 1)] for view in self.views]

    @property
    def times_longer(self) -> int:
        """How many times longer than others the pattern takes to be laid over a tune (see ``expressions.work``)."""
        return work(self.pattern, self.strength)

    @property
    def _rare(self) -> bool:
        """Whether any tune may have rare qualities; a large library is not asked as a whole."""
        sql = "SELECT 1 FROM charts WHERE regexp_matches(tonic, ?) LIMIT 1"
        return self.in_large or self._index.once("rare", lambda: bool(self._index.rows(sql, [RARE])))

    @property
    def charts(self) -> str:
        """The table of charts that strings are asked of, in SQL."""
        return charts_for(self.pattern.bars)

    @property
    def length(self) -> str:
        """The column that says how many chords a tune has as played, or bars in the bar form."""
        return "played" if self.pattern.bars else "events"

    @property
    def home_views(self) -> list[int]:
        """The views that are counted from the home tonic, or the key in force."""
        return [number for number, view in enumerate(self.views) if not view.centre]

    def views_of(self, bits: int) -> list[int]:
        """The views of a number that has a bit for each; -1 stands for all of them."""
        return [number for number in range(len(self.views)) if bits >> number & 1]

    def starts(self, among: Iterable[int]) -> Told:
        """Whether a match starts with a section, in some of the views; of a near search, one that is as asked."""
        if self.always_starts:
            return TRUE
        numbers = sorted(among)
        tests = [f"coalesce(contains({put_marks(self.views[each].column)}, '{self.start}'), FALSE)" for each in numbers]
        return Told(f"({' OR '.join(tests) or 'FALSE'})", [self.texts[each] for each in numbers])

    def starts_in(self, one: MarkedChart) -> bool:
        """The same of a tune whose matches are marked."""
        return self.always_starts or any(
            f"{before}{MATCH_BEGINS}".endswith(self.start) and not away
            for text, edits in one.texts
            if text is not None
            for before, away in zip_longest(text.split(MATCH_BEGINS)[:-1], edits, fillvalue=0)
            if isinstance(before, str)
        )

    @property
    def start(self) -> str:
        """What stands in a marked string where a match starts with a section."""
        return borders_of(self.pattern, self.near > 0).starts + MATCH_BEGINS

    @property
    def always_starts(self) -> bool:
        """Whether the pattern itself asks for where a section starts, or the tune."""
        return isinstance(self.pattern.parts[0], Anchor)

    def exact(self, among: Iterable[int], column: str = "") -> Told:
        """Whether a tune has the very qualities and basses that are asked for, in some of the views.

        Args:
            among: The views.
            column: The string that they are, where it has a name of its own.
        """
        return self._matched(self._exact_texts, among, column) if self._exact_texts else TRUE

    def roots(self, among: Iterable[int]) -> Told:
        """Whether a tune has the very roots that are asked for, in some of the views."""
        return self._matched(self._loose_texts, among) if self._loose_texts else TRUE

    @cached_property
    def _exact_texts(self) -> list[str]:
        # Where nothing is asked of the chords, every match has the very ones.
        wanted = self.strength is Strength.FAMILY and not asks_nothing(self.pattern)
        return self._texts(Strength.EXACT) if wanted else []

    @cached_property
    def _loose_texts(self) -> list[str]:
        return self._texts(Strength.LOOSE) if self.near else []

    @property
    def compares_strings(self) -> bool:
        """Whether how like a tune is to what was asked is told by its strings."""
        return bool(self._exact_texts or self._loose_texts)

    def _matched(self, texts: Sequence[str], among: Iterable[int], column: str = "") -> Told:
        """Whether a tune matches an expression in any of some views."""
        numbers = sorted(among)
        tests = [f"coalesce(regexp_matches({column or self.views[number].column}, ?), FALSE)" for number in numbers]
        return Told(f"({' OR '.join(tests) or 'FALSE'})", [texts[number] for number in numbers])

    def marking(self, among: Iterable[int]) -> Told:
        """The columns of ``charts`` that ``marked`` is made from: the strings have every match between two signs.

        Args:
            among: The views that are looked at; in the others nothing is found.
        """
        columns: list[str] = []
        values: list[str] = []
        wanted = set(among)
        for number, (view, text, near) in enumerate(zip(self.views, self.texts, self.near_texts, strict=True)):
            if number not in wanted:
                columns.append("NULL")
                continue
            if not near:
                columns.append(f"[{put_marks(view.column)}]")
                values.append(text)
                continue
            sql, parameters = marking(view.column, [text, *near])
            columns.append(sql)
            values += parameters
        return Told(", ".join(["id", "key", "segments", "begun", *columns]), values)

    def marked(self, row: Sequence[Any]) -> MarkedChart:
        """A tune of the columns of ``marking``, and of any more."""
        chart, key, segments, begun, *found = row
        views = len(self.views)
        texts = [(None, []) if each is None or each[0] is None else marked(each) for each in found[:views]]
        return MarkedChart(chart, key, segments_of(segments, key, begun), begun, tuple(found[views:]), texts)

    def find_in(self, charts: Sequence[int], views: int = -1) -> Iterator[MarkedChart]:
        """Tunes with their matches in some views (a bit for each)."""
        columns, values = self.marking(self.views_of(views))
        for row in self.rows(f"SELECT {columns} FROM {self.charts} WHERE {ONE_OF}", [*values, charts]):
            yield self.marked(row)

    def strings_in(self, charts: Sequence[int], views: int) -> list[tuple[str | None, ...]]:
        """The strings of those of some tunes that stay in one key, in some views (a bit for each), with their matches.

        What is near is not among them.
        """
        numbers = self.views_of(views)
        marks = ", ".join(put_marks(self.views[each].column) for each in numbers)
        sql = f"SELECT {marks} FROM {self.charts} WHERE {ONE_OF} AND NOT {SEVERAL_KEYS}"
        return self.rows(sql, [*(self.texts[each] for each in numbers), charts])

    def _texts(self, strength: Strength) -> list[str]:
        texts = [self.text(strength, view.shift) for view in self.views]
        refuse_large(self.pattern, sum(map(len, texts)))
        return texts

    def text(self, strength: Strength, shift: int = 0) -> str:
        """The expression at a strength, the pattern raised by so many semitones."""
        return self._needed("|".join(expression(each, strength, shift, self.near > 0) for each in self.patterns))

    def near_text(self, edits: int, shift: int = 0) -> str:
        """The same for the versions that are so many edits away."""
        return self._needed("|".join(near_expression(each, self.strength, shift, edits) for each in self.patterns))

    def _needed(self, text: str) -> str:
        """An expression without what no tune of the library has: it is made ready far faster."""
        return text if self._rare else without_rare(text)

    @property
    def in_large(self) -> bool:
        """Whether the library is so large that looking things up costs less than asking every tune."""
        return in_large(self._index)

    def rows(self, sql: str, parameters: Sequence[Any]) -> list[tuple[Any, ...]]:
        """The rows of a statement with expressions of the pattern; one too large for the engine is refused."""
        return self._engine(lambda: self._index.rows(sql, list(parameters)))

    def arrays(self, sql: str, parameters: Sequence[Any]) -> dict[str, Any]:
        """The same as arrays, by the names of its columns."""
        return self._engine(lambda: self._index.arrays(sql, list(parameters)))

    def _engine(self, ask: Callable[[], _T]) -> _T:
        """What the engine answers, unless the pattern is too large for it."""
        try:
            return ask()
        except duckdb.InvalidInputException as error:
            if "too large" not in str(error):
                raise
            raise too_large(self.pattern) from None
