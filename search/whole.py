"""Asks a pattern of all strings of a small library at once.

In a small library it is to make expressions and statements ready that costs, not to run them. So the strings of all
views stand in one table of the connection, each turned as far as its view raises patterns, and one statement, with one
expression for each number of edits, marks all matches in them. Totals, order and places are told by these marks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import reduce
from itertools import groupby
from operator import or_
from typing import Any, NamedTuple

from corpus.codes import turned
from corpus.reading import Snapshot
from corpus.unpacking import segments_of
from search.expressions import asks_nothing, refuse_large
from search.filters import Condition
from search.looking_up import ONE_OF, SHARING_A_CHORD, listed
from search.matching import Matcher
from search.near_counts import taken_out
from search.nearness import marked as put_together
from search.ordering import Placed, Ranked, in_sql_order
from search.places import FACTS, MATCH_BEGINS
from search.rows_asked import MarkedChart, put_marks
from shared.pattern import Strength

_STRINGS = "memory.strings"


class _Row(NamedTuple):
    """A tune as one view hears it.

    Attributes:
        chart: The number of the tune.
        view: The number of the view.
        length: How many chords it has as played, or bars in the bar form.
        exact: Whether it has the very qualities and basses that are asked for.
        roots: Whether it has the very roots.
        steps: Its string marked for each number of edits, from none (see ``nearness.marked``).
    """

    chart: int
    view: int
    length: int
    exact: bool
    roots: bool
    steps: Sequence[str]

    @property
    def counts(self) -> list[int]:
        """How many matches it has of each number of edits."""
        return [step.count(MATCH_BEGINS) for step in self.steps]


class _Tune(NamedTuple):
    """A tune that matches: its place, whether two views may have found one match, and what the views hear."""

    placed: Placed
    several: bool
    rows: Sequence[_Row]


class Whole:
    """What a small library has of a pattern."""

    def __init__(self, index: Snapshot, matcher: Matcher, conditions: Sequence[Condition]) -> None:
        """Asks every tune.

        Args:
            index: The index.
            matcher: What is asked.
            conditions: What else a tune must be.

        Raises:
            ReadingError: If the pattern is too large for the engine.
        """
        self._index = index
        self._matcher = matcher
        rows = sorted(self._asked(conditions), key=lambda row: (row.chart, row.view))
        of_charts = [list(of_chart) for _, of_chart in groupby(rows, key=lambda row: row.chart)]
        tunes = [tune for of_chart in of_charts if (tune := self._tune(of_chart))]
        # In a view that finds no tune at all the very roots would be those of something else.
        seen = reduce(or_, (tune.placed.views for tune in tunes), 0)
        self._tunes = {tune.placed.chart: self._compared(tune, seen) for tune in tunes}
        #: What was read about tunes is kept as long as the index is open: there are few.
        self._facts: dict[int, Sequence[Any]] = index.once("facts", dict)

    @property
    def charts(self) -> Sequence[int]:
        """The tunes that match."""
        return list(self._tunes)

    @property
    def matches(self) -> int:
        """How many matches they have, counted view by view."""
        return sum(tune.placed.found for tune in self._tunes.values())

    @property
    def doubtful(self) -> list[tuple[int, int]]:
        """The tunes of which a match may have been counted twice, each with how many were counted."""
        shared = self._index.once("charts with shared chords", self._shared)
        return [(chart, tune.placed.found) for chart, tune in self._tunes.items() if tune.several or chart in shared]

    def _shared(self) -> set[int]:
        return {chart for (chart,) in self._index.rows(SHARING_A_CHORD)}

    def ranked(self, order: str, limit: int) -> list[Ranked]:
        """The tunes in an order, so many or all (0): see ``ordering.ranked``."""
        placed = [tune.placed for tune in self._tunes.values()]
        if order != "best":
            found = {each.chart: each.found for each in placed}
            placed = [self._tunes[chart].placed for chart in in_sql_order(self._index, found, order, limit)]
            return [one for _, one in self._told(placed)]
        placed.sort(key=lambda each: self._last(each, self._starts(each.chart)))
        placed.sort(key=lambda each: each.like, reverse=True)
        told = self._told(placed[: limit or None])
        told.sort(key=lambda each: each[0])
        told.sort(key=lambda each: each[1].like, reverse=True)
        return [one for _, one in told]

    def _told(self, placed: Sequence[Placed]) -> list[tuple[tuple[Any, ...], Ranked]]:
        """Tunes as they are told, each behind what speaks last in the order of the best."""
        told = []
        for each, marked in zip(placed, self.marked([each.chart for each in placed]), strict=True):
            starts = self._matcher.starts_in(marked)
            _, exact, _, share, home = each.like
            told.append((self._last(each, starts), Ranked(each.like, exact, share, home, starts, marked)))
        return told

    def _last(self, placed: Placed, starts: bool) -> tuple[Any, ...]:
        """What speaks last for a tune in the order of the best, the less the better."""
        return not starts, -placed.found, *self._names[placed.chart]

    @property
    def _names(self) -> dict[int, tuple[str, str]]:
        """Title and path of every chart."""
        sql = "SELECT id, title, path FROM charts"
        return self._index.once("names", lambda: {chart: (title, path) for chart, title, path in self._index.rows(sql)})

    def _starts(self, chart: int) -> bool:
        """Whether a match that is as asked starts with a section."""
        return self._matcher.always_starts or any(
            self._matcher.start in row.steps[0] for row in self._tunes[chart].rows
        )

    def marked(self, charts: Sequence[int]) -> Iterator[MarkedChart]:
        """Tunes with their matches."""
        unknown = [chart for chart in charts if chart not in self._facts]
        if unknown:
            sql = f"SELECT id, segments, {', '.join(FACTS)} FROM charts WHERE {ONE_OF}"
            self._facts.update((chart, row) for chart, *row in self._index.rows(sql, [unknown]))
        views = self._matcher.views
        for chart in charts:
            segments, *rest = self._facts[chart]
            key, begun = (rest[FACTS.index(column)] for column in ("key", "begun"))
            texts: list[tuple[str | None, list[int]]] = [(None, [])] * len(views)
            for row in self._tunes[chart].rows:
                if not any(row.counts):
                    continue
                text, edits = put_together(row.steps) if self._matcher.near else (row.steps[0], [])
                texts[row.view] = turned(text, -views[row.view].shift), edits
            yield MarkedChart(chart, key, segments_of(segments, key, begun), begun, tuple(rest), texts)

    def _compared(self, tune: _Tune, seen: int) -> _Tune:
        """A tune with how like its chords are to those asked for, as far as some views tell it (a bit for each)."""
        nearness, _, _, share, home = tune.placed.like
        rows = [row for row in tune.rows if seen >> row.view & 1]
        like = nearness, any(row.exact for row in rows), any(row.roots for row in rows), share, home
        return tune._replace(placed=tune.placed._replace(like=like))

    def _tune(self, rows: Sequence[_Row]) -> _Tune | None:
        """A tune as its views hear it (see ``near_counts``: a near version counts where the tune comes nearest)."""
        views = self._matcher.views
        heard: list[tuple[int, int, _Row, list[int]]] = []
        rival = None
        for row in rows:
            counts = row.counts
            edits = next((edits for edits, count in enumerate(counts) if count), None)
            if edits is None:
                continue
            if row.view == 0 and views[0].kind == 0:
                rival = edits
            elif rival is not None and edits >= rival:
                # Its near versions do not count.
                if not counts[0]:
                    continue
                counts = counts[:1]
            heard.append((edits, views[row.view].kind, row, counts))
        if not heard:
            return None
        nearest, kind = min((edits, own) for edits, own, _, _ in heard)
        found = [counts[0] + sum(counts[1:]) * (own == kind) for _, own, _, counts in heard]
        seen = sum(1 << row.view for _, _, row, _ in heard)
        home = any(row.view in self._matcher.home_views for _, _, row, _ in heard)
        several = len(heard) > 1 and not self._matcher.doubtful.isdisjoint(row.view for _, _, row, _ in heard)
        share = (max(found) if several else sum(found)) * self._matcher.least / rows[0].length
        like = -nearest, None, None, share, home
        return _Tune(Placed(rows[0].chart, seen, sum(found), like), several, rows)

    def _asked(self, conditions: Sequence[Condition]) -> Iterator[_Row]:
        """What all views hear of all tunes."""
        numbers = self._numbers()
        texts, exact, roots = self._expressions()
        where = "".join(f" AND {condition.sql}" for condition in conditions)
        sql = f"SELECT * FROM {_STRINGS} WHERE view IN ({listed(numbers)})"
        if where:
            sql += f" AND id IN (SELECT id FROM charts WHERE TRUE{where})"
        values = [value for condition in conditions for value in condition.parameters]
        sql = f"SELECT *, string AS left_0 FROM ({sql})"
        for edits, text in enumerate(texts):
            sql = f"SELECT *, {put_marks(f'left_{edits}')} AS step_{edits} FROM ({sql})"
            sql = f"SELECT *, {taken_out(f'step_{edits}', edits)} AS left_{edits + 1} FROM ({sql})"
            values.insert(0, text)
        likes = []
        for text in (exact, roots):
            likes.append("regexp_matches(string, ?)" if text else "TRUE")
            values = ([text] if text else []) + values
        likes.reverse()
        steps = [f"step_{edits}" for edits in range(len(texts))]
        sql = f"SELECT id, view, {self._matcher.length}, {', '.join([*likes, *steps])} FROM ({sql})"
        for chart, view, length, same, very, *marks in self._matcher.rows(sql, values):
            yield _Row(chart, numbers[view], length, very, same, marks)

    def _expressions(self) -> tuple[list[str], str, str]:
        """The expressions for turned strings.

        Returns:
            Those of the pattern and its versions by their edits, from none; that of the very qualities and basses, and
            that of the very roots, each empty where all that is found has them.
        """
        matcher = self._matcher
        text = matcher.text(matcher.strength)
        # What is refused is no other in small libraries than in large ones.
        refuse_large(matcher.pattern, len(text) * len(matcher.views))
        near = [matcher.near_text(edits) for edits in range(1, matcher.near + 1)]
        very = matcher.strength is Strength.FAMILY and not asks_nothing(matcher.pattern)
        exact = matcher.text(Strength.EXACT) if very else ""
        return [text, *near], exact, matcher.text(Strength.LOOSE) if near else ""

    def _numbers(self) -> dict[int, int]:
        """The views by the numbers under which their strings stand in the table, put there where need be."""
        known: dict[tuple[str, int], int] = self._index.once("strings", self._make)
        views = [(view.column, view.shift) for view in self._matcher.views]
        if not all(view in known for view in views):
            # Two questions at a time put them there once.
            self._index.once(f"strings {views}", lambda: self._put([view for view in views if view not in known]))
        return {known[view]: number for number, view in enumerate(views)}

    def _make(self) -> dict[tuple[str, int], int]:
        """Makes the table; it is empty."""
        self._index.rows(
            f"CREATE TABLE {_STRINGS} (view INTEGER, id INTEGER, string VARCHAR, events INTEGER, played INTEGER)"
        )
        return {}

    def _put(self, views: Sequence[tuple[str, int]]) -> None:
        """Puts strings into the table, each turned as far as its view raises patterns.

        Args:
            views: The column of each view, in SQL, and how far that is.
        """
        known = self._index.once("strings", self._make)
        asked = ", ".join(column for column, _ in views)
        made = []
        for chart, events, played, *strings in self._index.rows(f"SELECT id, events, played, {asked} FROM charts"):
            for number, ((_, shift), string) in enumerate(zip(views, strings, strict=True), len(known)):
                if string is not None:
                    made.append((number, chart, turned(string, shift), events, played))
        if made:
            each = ", ".join(f"unnest(?::{kind}[])" for kind in ("INTEGER", "INTEGER", "VARCHAR", "INTEGER", "INTEGER"))
            columns = [list(column) for column in zip(*made, strict=True)]
            self._index.rows(f"INSERT INTO {_STRINGS} SELECT {each}", columns)
        known.update({view: number for number, view in enumerate(views, len(known))})


def asked_whole(index: Snapshot, matcher: Matcher, conditions: Sequence[Condition]) -> Whole | None:
    """What a library has of a pattern, where it is so small that it is asked at once; else None.

    Raises:
        ReadingError: If the pattern is too large for the engine.
    """
    return None if matcher.in_large or matcher.times_longer > 1 else Whole(index, matcher, conditions)
