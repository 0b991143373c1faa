"""Counts the matches of one pattern in every tune, in tables of the connection's own.

The tunes that may have it are looked up where these are few (``search.looking_up``); the full expression is asked of
those alone, and of all tunes else. For up to four plain roots in a row the index holds the very number of matches, and
no string is read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property
from itertools import zip_longest
from operator import mul
from typing import Any, TypeVar

import duckdb

from corpus.codes import SECTION_STARTS
from corpus.grams import MINOR, TONIC
from corpus.reading import Snapshot
from search.apart import apart, no_chord_in_common
from search.expressions import expression, refuse_large, refuse_slow, rotations, too_large, work
from search.filters import Condition
from search.looking_up import Lookup, among, candidates, in_large, is_one_of, listed, lookups, to_look_up
from search.near_counts import Asked, counts_of_all, marking
from search.nearness import RARE, marked, near_expression, without_rare
from search.places import MATCH_BEGINS
from search.questions import Question
from search.rows_asked import TRUE, MarkedChart, Told, counted, put_marks
from search.views import one_place, views_of
from shared.pattern import Anchor, BarOf, Item, Pattern, Strength

_T = TypeVar("_T")

#: So many chords in a row most tunes do not have.
_SELDOM = 3
#: A match that starts with a section.
STARTS = SECTION_STARTS + MATCH_BEGINS


class Matcher:
    """One pattern of a question, as it is asked of each view.

    Attributes:
        pattern: The pattern.
        strength: How much must agree.
        views: The views.
        patterns: The pattern, or its rotations.
        doubtful: Whether two views, or two keys that share a chord, may find one place.
        least: The fewest chords that a match takes; bars in the bar form.
        near: How many edits away a version may be.
        exact_told: Whether the column ``exact`` of the last table tells who has the very qualities and basses.
    """

    def __init__(self, index: Snapshot, question: Question, pattern: Pattern) -> None:
        self._index = index
        self.strength = question.strength
        self.near = question.near
        self.exact_told = False
        self.pattern = pattern
        self.patterns = rotations(pattern) if question.rotate else [pattern]
        self.views = views_of(question, pattern)
        self.doubtful = not one_place(self.patterns) or not (question.near == 0 or apart(self.patterns, question.near))
        self.least = sum(isinstance(part, Item | BarOf) for part in pattern.parts)

    @cached_property
    def texts(self) -> list[str]:
        """For each view the expression."""
        return self._texts(self.strength)

    @cached_property
    def _near_texts(self) -> list[list[str]]:
        """For each view the expressions of the versions that are one edit away, two, and so on."""
        return [[self.near_text(edits, view.shift) for edits in range(1, self.near + 1)] for view in self.views]

    def table(self, name: str, conditions: Iterable[Condition] = ()) -> None:
        """Makes a temporary table of the tunes that match.

        Its columns are ``id``, ``found`` (how many matches), ``several`` (whether two views may have found one place),
        ``edits`` (how many edits away the nearest is), ``home`` (whether one is counted from the home tonic), ``share``
        (how much of the tune its matches take at least), ``views`` (a bit for each view that may have found one) and
        ``exact`` (whether it has the very qualities and basses, null where ``exact_told`` says no).

        Args:
            name: The name of the table.
            conditions: What else a tune must be.

        Raises:
            ReadingError: If the pattern is too large for the engine.
        """
        conditions = list(conditions)
        where = "".join(f" AND {condition.sql}" for condition in conditions)
        filtered = [value for condition in conditions for value in condition.parameters]
        every, values = self._near_counts(where, filtered) if self.near else self._counts(where, filtered)
        # Hardly any tune is found in another view than the first; only those need grouping.
        others = "(SELECT id FROM asked WHERE view > 0)"
        home = f"view IN ({listed(self.home_views)})"
        # A view that is counted at once with another may have found nothing itself.
        seen = f"((1 << view) | (CASE view WHEN 0 THEN {sum(1 << each for each in self._at_once)} ELSE 0 END))"
        once, total = "found", "sum(found)"
        again = f"SELECT * FROM asked WHERE id IN {others}"
        if self.near:
            once = "found + near"
            total = "sum(found) + coalesce(sum(near) FILTER (kind = nearest), 0)"
            kinds = f"{[view.kind for view in self.views]}[view + 1]"
            nearest = "arg_min(kind, edits * 64 + kind) OVER (PARTITION BY id) AS nearest"
            again = f"SELECT *, {nearest} FROM (SELECT *, {kinds} AS kind FROM asked WHERE id IN {others})"
        self.rows(
            f"""
            CREATE OR REPLACE TEMP TABLE {name} AS
            WITH {every}, asked AS (SELECT * FROM every WHERE {once} > 0)
            SELECT * EXCLUDE length, found * {self.least} / length AS share FROM (
                SELECT id, {once} AS found, FALSE AS several, edits, {home} AS home, length, {seen} AS views, exact
                FROM asked WHERE view = 0 AND id NOT IN {others}
                UNION ALL
                SELECT id, ({total})::INTEGER, {str(self.doubtful).upper()} AND count(*) > 1, min(edits),
                    bool_or({home}), any_value(length), bit_or({seen}), bool_or(exact)
                FROM ({again}) GROUP BY id
            )
            """,
            values,
        )

    def _counts(self, where: str, filtered: Sequence[Any]) -> tuple[str, list[Any]]:
        """How often each view finds the pattern in each tune: the table ``every``, in SQL with its parameters."""
        lookups = self.lookups()
        looked_up = to_look_up(lookups)
        asked: list[tuple[str, str, str]] = []
        values: list[Any] = []
        if looked_up:
            # In a table of their own, so that the engine knows how few they are before it plans the rest.
            self.rows(f"CREATE OR REPLACE TEMP TABLE candidates AS {candidates(looked_up)}", ())
            if all(lookup.told for lookup in looked_up.values()):
                told = "times"
            else:
                told, parameters = self._told_by_view(looked_up)
                values += parameters
            asked.append((f"{told} AS matches", "NULL", f"candidates JOIN charts ON id = chart WHERE TRUE{where}"))
            values += filtered
        # Strings of bars take long to be looked at again.
        self.exact_told = self.pattern.bars and self.compares_strings and not looked_up
        for views, of_which in self._scans(lookups):
            # The string is put together once, however often it is asked of.
            string = f"SELECT id, {self.length}, {self.views[views[0]].column} AS string FROM charts"
            tells, exact = self._all_of(views, "string"), "NULL"
            if self.exact_told:
                exact, parameters = self.exact(views, "string")
                exact = f"CASE WHEN matches > 0 THEN {exact} END"
                values += parameters
            asked.append((f"{views[0]} AS view, {tells.sql} AS matches", exact, f"({string} WHERE {of_which}{where})"))
            values += [*tells.parameters, *filtered]
        if self.times_longer > 1:
            sizes = [self._index.rows(f"SELECT count(*) FROM {source}", filtered)[0][0] for *_, source in asked]
            times = [*([1] if looked_up else []), *(len(views) for views, _ in self._scans(lookups))]
            refuse_slow(self.pattern, self.strength, sum(map(mul, sizes, times)))
        branches = [
            f"SELECT view, matches, id, length, {exact} AS exact "
            f"FROM (SELECT *, {what}, {self.length} AS length FROM {source})"
            for what, exact, source in asked
        ]
        if not branches:
            branches.append("SELECT 0 AS view, 0 AS matches, 0 AS id, 1 AS length, NULL AS exact")
        # Materialized, so that the condition on what was counted does not count everything a second time.
        every = f"told AS MATERIALIZED ({' UNION ALL '.join(branches)})"
        found = "SELECT id, view, length, matches::INTEGER AS found, 0 AS edits, exact FROM told"
        return f"{every}, every AS ({found})", values

    def _near_counts(self, where: str, filtered: Sequence[Any]) -> tuple[str, list[Any]]:
        """What each view finds in each tune in a near search: the table ``every``, in SQL with its parameters."""
        holding = []
        for edits in range(self.near + 1):
            lookups, table = self.lookups(edits), f"candidates_{edits}"
            if looked_up := to_look_up(lookups):
                self.rows(f"CREATE OR REPLACE TEMP TABLE {table} AS {candidates(looked_up)}", ())
            holding.append([among(table, number, lookup) for number, lookup in enumerate(lookups)])
        texts = [[text, *near] for text, near in zip(self.texts, self._near_texts, strict=True)]
        views = [Asked(*each) for each in zip(self.views, texts, zip(*holding, strict=True), strict=True)]
        return counts_of_all(views, self.length, where, filtered, self._rare)

    @property
    def times_longer(self) -> int:
        """How many times longer than others the pattern takes to be laid over a tune (see ``expressions.work``)."""
        return work(self.pattern, self.strength)

    @property
    def _rare(self) -> bool:
        """Whether any tune may have rare qualities; a large library is not asked as a whole."""
        sql = "SELECT 1 FROM charts WHERE regexp_matches(tonic, ?) LIMIT 1"
        return self.in_large or self._index.once("rare", lambda: bool(self._index.rows(sql, [RARE])))

    def counts(self, numbers: Sequence[int], charts: Sequence[int], views: Sequence[int]) -> dict[str, Any]:
        """How often some charts have the pattern in some views, as arrays: ``chart``, ``view``, ``times``.

        Args:
            numbers: The views that are among them.
            charts: The charts.
            views: For each of them the view that is asked.

        Raises:
            ReadingError: If the pattern is too large for the engine.
        """
        told = self._told_by_view(numbers)
        sql = f"""
            SELECT id AS chart, view, {told.sql} AS times
            FROM (SELECT unnest(?::INTEGER[]) AS id, unnest(?::INTEGER[]) AS view) JOIN charts USING (id)
        """
        return self._engine(lambda: self._index.arrays(sql, [*told.parameters, charts, views]))

    def _told_by_view(self, numbers: Iterable[int]) -> Told:
        """How many matches a tune has in the view that a row names."""
        tells = {number: self._tells(number) for number in numbers}
        cases = " ".join(f"WHEN {number} THEN {each.sql}" for number, each in tells.items())
        return Told(f"CASE view {cases} END", [value for each in tells.values() for value in each.parameters])

    @property
    def length(self) -> str:
        """The column that says how many chords a tune has as played, or bars in the bar form."""
        return "played" if self.pattern.bars else "events"

    def _scans(self, lookups: Sequence[Lookup | None]) -> Iterator[tuple[Sequence[int], str]]:
        """The views that are asked of all tunes, those that are one string together, and of which tunes, in SQL."""
        at_once = self._at_once if self._at_once and lookups[self._at_once[0]] is None else ()
        for number, view in enumerate(self.views):
            if lookups[number] is not None or number in at_once[1:]:
                continue
            if number in at_once:
                yield [number], f"{view.where} AND NOT minor"
                yield at_once, "minor"
            else:
                yield [number], view.where

    @cached_property
    def _at_once(self) -> tuple[int, ...]:
        """The views of the tonic and of natural minor tunes, where matches of both are counted at once; else nothing.

        These tunes are one string, counted from two tonics.
        """
        numbers = tuple(number for number, view in enumerate(self.views) if view.slots in (TONIC, MINOR))
        return numbers if len(numbers) > 1 and not self.near and not self.doubtful else ()

    def _all_of(self, numbers: Sequence[int], column: str) -> Told:
        """How many matches there are in any tune, in views that are one string."""
        texts = [self.texts[number] for number in numbers]
        both = "|".join(texts)
        if self.least < _SELDOM and (
            len(texts) == 1
            or no_chord_in_common(self.patterns, self.views[numbers[1]].shift - self.views[numbers[0]].shift)
        ):
            return counted(column, both)
        counts = [counted(column, text) for text in texts]
        told = " + ".join(each.sql for each in counts)
        if self.least >= _SELDOM:
            # In most tunes there are none, and that is known sooner than how many.
            told, texts = f"CASE WHEN regexp_matches({column}, ?) THEN {told} ELSE 0 END", [both, *texts]
        return Told(told, texts)

    def _tells(self, number: int) -> Told:
        """How many matches a view of a tune has."""
        return counted(self.views[number].column, self.texts[number])

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
        tests = [f"coalesce(contains({put_marks(self.views[each].column)}, '{STARTS}'), FALSE)" for each in numbers]
        return Told(f"({' OR '.join(tests) or 'FALSE'})", [self.texts[each] for each in numbers])

    def starts_in(self, one: MarkedChart) -> bool:
        """The same of a tune whose matches are marked."""
        return self.always_starts or any(
            before.endswith(SECTION_STARTS) and not away
            for text, edits in one.texts
            if text is not None
            for before, away in zip_longest(text.split(MATCH_BEGINS)[:-1], edits, fillvalue=0)
            if isinstance(before, str)
        )

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
        return self._texts(Strength.EXACT) if self.strength is Strength.FAMILY else []

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
        for number, (view, text, near) in enumerate(zip(self.views, self.texts, self._near_texts, strict=True)):
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
        return MarkedChart(chart, key, segments, begun, tuple(found[views:]), texts)

    def find_in(self, charts: Sequence[int], views: int = -1) -> Iterator[MarkedChart]:
        """Tunes with their matches in some views (a bit for each)."""
        columns, values = self.marking(self.views_of(views))
        for row in self.rows(f"SELECT {columns} FROM charts WHERE {is_one_of(charts)}", values):
            yield self.marked(row)

    def _texts(self, strength: Strength) -> list[str]:
        texts = [self.text(strength, view.shift) for view in self.views]
        refuse_large(self.pattern, sum(map(len, texts)))
        return texts

    def text(self, strength: Strength, shift: int = 0) -> str:
        """The expression at a strength, the pattern raised by so many semitones."""
        return self._needed("|".join(expression(each, strength, shift) for each in self.patterns))

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

    def lookups(self, near: int = 0) -> list[Lookup | None]:
        """For each view the tunes that it has to be asked of; None where that is all of them.

        Args:
            near: How many edits away a match may be.
        """
        return lookups(self._index, self.patterns, self.strength, self.views, near, self._at_once)

    def rows(self, sql: str, parameters: Sequence[Any]) -> list[tuple[Any, ...]]:
        """The rows of a statement with expressions of the pattern; one too large for the engine is refused."""
        return self._engine(lambda: self._index.rows(sql, list(parameters)))

    def _engine(self, ask: Callable[[], _T]) -> _T:
        """What the engine answers, unless the pattern is too large for it."""
        try:
            return ask()
        except duckdb.InvalidInputException as error:
            if "too large" not in str(error):
                raise
            raise too_large(self.pattern) from None
