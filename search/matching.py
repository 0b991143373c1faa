"""Counts the matches of one pattern in every tune, in tables of the connection's own.

The tunes that may have it are looked up where these are few (``search.looking_up``); the full expression is asked of
those alone, and of all tunes else. For up to four plain roots in a row the index holds the very number of matches, and
no string is read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any

from corpus.grams import MINOR, RELATIVE, TONIC
from corpus.reading import Snapshot
from search.apart import no_chord_in_common
from search.expressions import refuse_slow
from search.filters import Condition
from search.in_views import PatternInViews
from search.looking_up import Lookup, among, candidates, listed, lookups, to_look_up
from search.near_counts import Asked, counts_of_all
from search.questions import Question
from search.rows_asked import Told, counted
from shared.pattern import Pattern

#: So many chords in a row most tunes do not have.
_SELDOM = 3
#: So few tunes are asked for the very chords along with how many matches they have.
_FEW = 10_000


class Matcher(PatternInViews):
    """Counts one pattern of a question.

    Attributes:
        exact_told: Whether the column ``exact`` of the last table tells who has the very qualities and basses.
    """

    def __init__(self, index: Snapshot, question: Question, pattern: Pattern) -> None:
        super().__init__(index, question, pattern)
        self.exact_told = False
        self._looked_up: dict[int, list[Lookup | None]] = {}

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
        seen = f"{[self.seen(view) for view in range(len(self.views))]}[view + 1]"
        several = f"count(*) > 1 AND bit_or({seen}) & {self.unsure} <> 0"
        once, each = "found", "found"
        again = f"SELECT * FROM asked WHERE id IN {others}"
        if self.near:
            once = "found + near"
            each = "found + CASE WHEN kind = nearest THEN near ELSE 0 END"
            kinds = f"{[view.kind for view in self.views]}[view + 1]"
            nearest = "arg_min(kind, edits * 64 + kind) OVER (PARTITION BY id) AS nearest"
            again = f"SELECT *, {nearest} FROM (SELECT *, {kinds} AS kind FROM asked WHERE id IN {others})"
        self.rows(
            f"""
            CREATE OR REPLACE TEMP TABLE {name} AS
            WITH {every}, asked AS (SELECT * FROM every WHERE {once} > 0)
            SELECT * EXCLUDE (length, sure), sure * {self.least} / length AS share FROM (
                SELECT id, {once} AS found, FALSE AS several, edits, {home} AS home, length, {seen} AS views, exact,
                    {once} AS sure
                FROM asked WHERE view = 0 AND id NOT IN {others}
                UNION ALL
                SELECT id, sum({each})::INTEGER, {several}, min(edits),
                    bool_or({home}), any_value(length), bit_or({seen}), bool_or(exact),
                    (CASE WHEN {several} THEN max({each}) ELSE sum({each}) END)::INTEGER
                FROM ({again}) GROUP BY id
            )
            """,
            values,
        )

    @cached_property
    def unsure(self) -> int:
        """A bit for each view that may have counted a place which an earlier one counted too.

        What the index tells is told so but of the relative major (see ``told_grams``).
        """
        views = self.doubtful
        return sum(1 << view for view in views if not self.told or self.views[view].slots == RELATIVE)

    def _counts(self, where: str, filtered: Sequence[Any]) -> tuple[str, list[Any]]:
        """How often each view finds the pattern in each tune: the table ``every``, in SQL with its parameters."""
        branches, values = self._asked_of(where, filtered)
        # Materialized, so that the condition on what was counted does not count everything a second time.
        every = f"told AS MATERIALIZED ({branches})"
        found = "SELECT id, view, length, matches::INTEGER AS found, 0 AS edits, exact FROM told"
        return f"{every}, every AS ({found})", values

    def _asked_of(self, where: str, filtered: Sequence[Any]) -> tuple[str, list[Any]]:
        """A row for each tune and view that have to be asked, in SQL with its parameters.

        The columns are ``id``, ``view``, ``matches`` (how many; perhaps none), ``length`` and ``exact``.
        """
        lookups = self.lookups()
        looked_up = to_look_up(lookups)
        asked: list[tuple[str, str, str]] = []
        sizes: list[str] = []
        values: list[Any] = []
        if looked_up:
            # In a table of their own, so that the engine knows how few they are before it plans the rest.
            self.rows(f"CREATE OR REPLACE TEMP TABLE candidates AS {candidates(looked_up)}", ())
            if self.told:
                told = "times"
            else:
                told, parameters = self._told_by_view({number: self._tells(number) for number in looked_up})
                values += parameters
            source = f"candidates JOIN charts ON id = chart WHERE TRUE{where}"
            asked.append((f"{told} AS matches", "NULL", source))
            sizes.append(f"SELECT count(*) FROM {source}")
            values += filtered
        # Strings of bars take long to be looked at again.
        self.exact_told = self.pattern.bars and self.compares_strings and not looked_up
        for of_which, cases in self._scans(lookups):
            # The string is put together once, however often it is asked of.
            first = next(iter(cases.values()))[0]
            string = f"SELECT id, minor, {self.length}, {self.views[first].column} AS string FROM charts"
            source = f"({string} WHERE {of_which}{where})"
            tells, exact = _case({case: self._all_of(views, "string") for case, views in cases.items()}), "NULL"
            if self.exact_told:
                exact, parameters = _case({case: self.exact(views, "string") for case, views in cases.items()})
                exact = f"CASE WHEN matches > 0 THEN {exact} END"
                values += parameters
            asked.append((f"{first} AS view, {tells.sql} AS matches", exact, source))
            sizes += [f"SELECT {len(views)} * count(*) FROM {source} WHERE {case}" for case, views in cases.items()]
            values += [*tells.parameters, *filtered]
        if self.times_longer > 1:
            laid = (self._index.rows(size, filtered)[0][0] for size in sizes)
            refuse_slow(self.pattern, self.strength, sum(laid))
        branches = [
            f"SELECT view, matches, id, length, {exact}::BOOLEAN AS exact "
            f"FROM (SELECT *, {what}, {self.length} AS length FROM {source})"
            for what, exact, source in asked
        ]
        if not branches:
            branches.append("SELECT 0 AS view, 0 AS matches, 0 AS id, 1 AS length, NULL AS exact")
        return " UNION ALL ".join(branches), values

    def counts_of_all(self) -> dict[str, Any]:
        """How often all tunes have the pattern, as arrays: ``chart``, ``view``, ``times`` and ``exact``.

        Many have it never. ``exact`` is as ``table`` has it, and only there where ``exact_told`` says so.

        Raises:
            ReadingError: If the pattern is too large for the engine.
        """
        asked, values = self._asked_of("", [])
        exact = ", exact" if self.exact_told else ""
        sql = f"SELECT id AS chart, view, matches::INTEGER AS times{exact} FROM ({asked})"
        return self.arrays(sql, values)

    def _near_counts(self, where: str, filtered: Sequence[Any]) -> tuple[str, list[Any]]:
        """What each view finds in each tune in a near search: the table ``every``, in SQL with its parameters."""
        holding = []
        for edits in range(self.near + 1):
            lookups, table = self.lookups(edits), f"candidates_{edits}"
            if looked_up := to_look_up(lookups):
                self.rows(f"CREATE OR REPLACE TEMP TABLE {table} AS {candidates(looked_up)}", ())
            holding.append([among(table, number, lookup) for number, lookup in enumerate(lookups)])
        texts = [[text, *near] for text, near in zip(self.texts, self.near_texts, strict=True)]
        views = [Asked(*each) for each in zip(self.views, texts, zip(*holding, strict=True), strict=True)]
        return counts_of_all(views, self.length, where, filtered, self._rare)

    def counts(self, numbers: Sequence[int], charts: Sequence[int], views: Sequence[int]) -> dict[str, Any]:
        """How often some charts have the pattern in some views, as arrays.

        The columns are ``chart``, ``view``, ``times`` and ``exact``, which is as ``table`` has it, and only
        there where ``exact_told`` says so.

        Args:
            numbers: The views that are among them.
            charts: The charts.
            views: For each of them the view that is asked.

        Raises:
            ReadingError: If the pattern is too large for the engine.
        """
        told = self._told_by_view({number: self._tells(number) for number in numbers})
        asked, values = ("unnest(?::INTEGER[])", [views]) if len(numbers) > 1 else (str(numbers[0]), [])
        which = f"SELECT unnest(?::INTEGER[]) AS id, {asked} AS view"
        sql = f"SELECT *, {told.sql} AS times FROM ({which}) JOIN {self.charts} USING (id)"
        values = [*told.parameters, charts, *values]
        # Of few charts it is asked sooner along with this than once more of some of them.
        self.exact_told = self.compares_strings and len(charts) <= _FEW
        exact = ""
        if self.exact_told:
            very = self._told_by_view({number: self.exact([number]) for number in numbers})
            exact = f", CASE WHEN times > 0 THEN {very.sql} END AS exact"
            values = [*very.parameters, *values]
        return self.arrays(f"SELECT id AS chart, view, times{exact} FROM ({sql})", values)

    def _told_by_view(self, tells: Mapping[int, Told]) -> Told:
        """What is told of the view that a row names.

        Args:
            tells: By the number of the view what is told of it.
        """
        return _case({f"view = {number}": each for number, each in tells.items()})

    def _scans(self, lookups: Sequence[Lookup | None]) -> Iterator[tuple[str, dict[str, Sequence[int]]]]:
        """The views that are asked of all tunes, those that are one string together.

        Yields:
            Of which tunes a string is asked, and in which cases in which views; all in SQL.
        """
        at_once = self._scanned_at_once
        for number, view in enumerate(self.views):
            if lookups[number] is not None or number in at_once[1:]:
                continue
            if number in at_once:
                cases: dict[str, Sequence[int]] = {"NOT minor": [number], "minor": at_once}
                if self.pattern.bars:
                    # Strings of bars take long to be unpacked, so that this is done once.
                    yield view.where, cases
                    continue
                for case, views in cases.items():
                    yield f"{view.where} AND {case}", {"TRUE": views}
            else:
                yield view.where, {"TRUE": [number]}

    @cached_property
    def _at_once(self) -> tuple[int, ...]:
        """The views of the tonic and of natural minor tunes, where matches of both are counted at once; else nothing.

        These tunes are one string, counted from two tonics.
        """
        numbers = tuple(number for number, view in enumerate(self.views) if view.slots in (TONIC, MINOR))
        return numbers if len(numbers) > 1 and not self.near and self.doubtful.isdisjoint(numbers) else ()

    @property
    def _scanned_at_once(self) -> tuple[int, ...]:
        """The same where all tunes are asked, else nothing: tunes that are looked up are asked view by view."""
        return self._at_once if self._at_once and self.lookups()[self._at_once[0]] is None else ()

    def seen(self, view: int) -> int:
        """A bit for each view that may have found what is counted in a view; one counted with it may not have."""
        return sum(1 << each for each in {view, *(self._scanned_at_once if view == 0 else ())})

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

    def lookups(self, near: int = 0) -> list[Lookup | None]:
        """For each view the tunes that it has to be asked of; None where that is all of them.

        Args:
            near: How many edits away a match may be.
        """
        if near not in self._looked_up:
            self._looked_up[near] = lookups(
                self._index, self.patterns, self.strength, self.views, near, self._at_once, self.told
            )
        return self._looked_up[near]


def _case(told: Mapping[str, Told]) -> Told:
    """What is told of a row in each of some cases."""
    if len(told) == 1:
        return next(iter(told.values()))
    cases = " ".join(f"WHEN {case} THEN {each.sql}" for case, each in told.items())
    return Told(f"CASE {cases} END", [value for each in told.values() for value in each.parameters])
