"""Counts the matches of one pattern in every tune, in tables of the connection's own.

What a match must hold is looked up among the short sequences of the index (``search.narrowing``) where these are rare;
the full expression is asked of those tunes alone, and of all where nothing is rare. For up to four plain roots in a row
the index holds the very number of matches, and no string is read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import duckdb

from corpus.codes import SECTION_STARTS
from corpus.reading import Snapshot
from search.apart import apart
from search.expressions import expression, refuse_large, refuse_slow, rotations, work
from search.filters import Condition
from search.narrowing import necessary, numbers, plain_roots, together
from search.nearness import RARE, TAKEN, marked, near_expression, pieces, without_rare
from search.places import MATCH_BEGINS, MATCH_ENDS
from search.questions import Question
from search.views import View, one_place, views_of
from shared.errors import Fault, ReadingError
from shared.pattern import Anchor, BarOf, Item, Pattern, Strength

#: Libraries smaller than this are asked whole: looking anything up would cost more.
SMALL = 2000
#: Above this share of all tunes, looking a tune up costs more than asking it.
WORTH = 0.6
#: Whether a chord of a tune sounds over a change of key, and so stands in both keys.
SHARED = """
    fixed IS NOT NULL
    AND list_bool_or(list_transform(range(1, len(segments)), lambda one: segments[one].last >= segments[one + 1].first))
"""
#: From so many characters on an expression is slow enough for it to be worth asking whether a tune needs the whole.
_LARGE = 10_000


@dataclass(frozen=True, slots=True)
class Lookup:
    """The tunes that a view has to be asked of: those that have one gram at least of each of some sets.

    Attributes:
        grams: The sets, the rarest first.
        told: Whether how often a tune has those of the only set is the number of matches.
    """

    grams: tuple[tuple[int, ...], ...]
    told: bool = False


class Told(NamedTuple):
    """What is asked of a row of ``charts``, in SQL with its parameters."""

    sql: str
    parameters: list[Any]


class MarkedChart(NamedTuple):
    """A tune that matches.

    Attributes:
        chart: Its number.
        key: Its home key, as a header spells it.
        segments: Its keys (the column of that name).
        begun: For each played bar how many chords begin in it.
        rest: The further columns that were asked for.
        texts: For each view its string with every match between two signs, None where it has none, and for a near
            search how many edits each match has.
    """

    chart: int
    key: str
    segments: list[dict[str, Any]]
    begun: list[int]
    rest: tuple[Any, ...]
    texts: list[tuple[str | None, list[int]]]


class Matcher:
    """One pattern of a question, as it is asked of each view.

    Attributes:
        views: The views.
        patterns: The pattern, or its rotations.
        texts: For each view the expression.
        doubtful: Whether two views, or two keys that share a chord, may find one place.
        least: The fewest chords that a match takes; bars in the bar form.
    """

    def __init__(self, index: Snapshot, question: Question, pattern: Pattern) -> None:
        self._index = index
        self._strength = question.strength
        self._near = question.near
        self._pattern = pattern
        self.patterns = rotations(pattern) if question.rotate else [pattern]
        self.views = views_of(question, pattern)
        self.doubtful = not one_place(self.patterns) or not (question.near == 0 or apart(self.patterns, question.near))
        self.least = sum(isinstance(part, Item | BarOf) for part in pattern.parts)
        self.texts = self._texts(question.strength)
        #: For each view the expressions of the versions that are one edit away, two, and so on.
        self._near_texts = [
            [
                "|".join(near_expression(each, question.strength, view.shift, edits) for each in self.patterns)
                for edits in range(1, question.near + 1)
            ]
            for view in self.views
        ]

    def table(self, name: str, conditions: Iterable[Condition] = ()) -> None:
        """Makes a temporary table of the tunes that match.

        Its columns are ``id``, ``found`` (how many matches), ``several`` (whether two views may have found one place),
        ``edits`` (how many edits away the nearest is) and ``home`` (whether one is counted from the home tonic).

        Args:
            name: The name of the table.
            conditions: What else a tune must be.

        Raises:
            ReadingError: If the pattern is too large for the engine.
        """
        conditions = list(conditions)
        lookups = self.lookups()
        where = "".join(f" AND {condition.sql}" for condition in conditions)
        filtered = [value for condition in conditions for value in condition.parameters]
        looked_up = {number: lookup for number, lookup in enumerate(lookups) if lookup is not None}
        branches: list[str] = []
        values: list[Any] = []
        if looked_up:
            rest = "id FROM candidates JOIN charts ON id = chart"
            known = all(lookup.told for lookup in looked_up.values())
            if known and not conditions:
                rest = f"chart AS id FROM ({candidates(looked_up)})"
            else:
                # In a table of their own, so that the engine knows how few they are before it plans the rest.
                self._execute(f"CREATE OR REPLACE TEMP TABLE candidates AS {candidates(looked_up)}", ())
            if known:
                told = "times"
            else:
                tells = {number: self._tells(number) for number in looked_up}
                told = f"CASE view {' '.join(f'WHEN {number} THEN {sql}' for number, (sql, _) in tells.items())} END"
                values += [value for _, parameters in tells.values() for value in parameters]
            branches.append(f"SELECT view, {told} AS told, {rest} WHERE TRUE{where}")
            values += filtered
        for number, view in enumerate(self.views):
            if lookups[number] is None:
                told, parameters = self._tells(number)
                branches.append(f"SELECT {number} AS view, {told} AS told, id FROM charts WHERE {view.where}{where}")
                values += parameters + filtered
        if work(self._pattern, self._strength) > 1:
            sources = ["candidates JOIN charts ON id = chart WHERE TRUE"] if looked_up else []
            sources += [
                f"charts WHERE {self.views[number].where}" for number in set(range(len(lookups))) - {*looked_up}
            ]
            asked = [self._index.rows(f"SELECT count(*) FROM {source}{where}", filtered) for source in sources]
            refuse_slow(self._pattern, self._strength, sum(tunes for ((tunes,),) in asked))
        # Hardly any tune is found in another view than the first; only those need grouping.
        others = "(SELECT id FROM asked WHERE view > 0)"
        home = f"view IN ({_listed(self._home_views())})"
        columns, once, total = "told::INTEGER AS found, 0 AS edits", "found", "sum(found)"
        again = f"SELECT * FROM asked WHERE id IN {others}"
        if self._near:
            edits = "list_position(list_transform(told, lambda each: each > 0), TRUE) - 1"
            columns = f"told[1]::INTEGER AS found, {edits} AS edits, list_sum(told[2:])::INTEGER AS near"
            once = "found + near"
            total = "sum(found) + coalesce(sum(near) FILTER (kind = nearest), 0)"
            kinds = f"{[view.kind for view in self.views]}[view + 1]"
            nearest = "arg_min(kind, edits * 64 + kind) OVER (PARTITION BY id) AS nearest"
            again = f"SELECT *, {nearest} FROM (SELECT *, {kinds} AS kind FROM asked WHERE id IN {others})"
        # Materialized, so that the condition on what was counted does not count everything a second time.
        self._execute(
            f"""
            CREATE OR REPLACE TEMP TABLE {name} AS
            WITH every AS MATERIALIZED ({" UNION ALL ".join(branches)}),
            asked AS (SELECT id, view, {columns} FROM every WHERE {once} > 0)
            SELECT id, {once} AS found, FALSE AS several, edits, {home} AS home FROM asked
            WHERE view = 0 AND id NOT IN {others}
            UNION ALL
            SELECT id, ({total})::INTEGER, {str(self.doubtful).upper()} AND count(*) > 1, min(edits), bool_or({home})
            FROM ({again}) GROUP BY id
            """,
            values,
        )

    @property
    def share(self) -> str:
        """How much of a tune its matches take at least, 0 to 1: SQL of ``found`` and a row of ``charts``."""
        return f"found * {self.least} / {'played' if self._pattern.bars else 'events'}"

    def _tells(self, number: int) -> tuple[str, list[str]]:
        """How many matches a view of a tune has, in SQL with its parameters; in a near search by how many edits."""
        column, texts = self.views[number].column, [self.texts[number], *self._near_texts[number]]
        if not self._near:
            return f"len(regexp_extract_all({column}, ?))", texts
        taken = column
        signs = TAKEN[: len(texts)]
        for sign in signs:
            taken = f"regexp_replace({taken}, ?, '{sign}', 'g')"
        if max(map(len, texts)) >= _LARGE:
            # Most tunes have no rare qualities, and large expressions are far faster without them.
            taken = f"CASE WHEN regexp_matches({column}, ?) THEN {taken} ELSE {taken} END"
            texts = [RARE, *texts, *map(without_rare, texts)]
        counts = ", ".join(f"strlen(taken) - strlen(replace(taken, '{sign}', ''))" for sign in signs)
        return f"list_transform([{taken}], lambda taken: [{counts}])[1]", texts

    def _home_views(self) -> list[int]:
        return [number for number, view in enumerate(self.views) if not view.centre]

    @cached_property
    def starts(self) -> Told:
        """Whether a match starts with a section."""
        if isinstance(self._pattern.parts[0], Anchor):
            return Told("TRUE", [])
        return self._matched([f"{SECTION_STARTS}(?:{text})" for text in self.texts])

    @cached_property
    def exact(self) -> Told:
        """Whether a tune has the very qualities and basses that are asked for."""
        return self._matched(self._texts(Strength.EXACT)) if self._strength is Strength.FAMILY else Told("TRUE", [])

    @cached_property
    def roots(self) -> Told:
        """Whether a tune has the very roots that are asked for."""
        return self._matched(self._texts(Strength.LOOSE)) if self._near else Told("TRUE", [])

    def _matched(self, texts: Sequence[str]) -> Told:
        """Whether a tune matches an expression in any view."""
        tests = [f"coalesce(regexp_matches({view.column}, ?), FALSE)" for view in self.views]
        return Told(f"({' OR '.join(tests)})", list(texts))

    def marking(self) -> Told:
        """The columns of ``charts`` that ``marked`` is made from: the strings have every match between two signs."""
        columns: list[str] = []
        values: list[str] = []
        for view, text, near in zip(self.views, self.texts, self._near_texts, strict=True):
            if not near:
                columns.append(f"[[regexp_replace({view.column}, ?, '{MATCH_BEGINS}\\0{MATCH_ENDS}', 'g')]]")
                values.append(text)
                continue
            texts = [text, *near]
            left, lists = view.column, []
            for sign in TAKEN[: len(texts)]:
                lists.append(f"regexp_extract_all({left}, ?)")
                left = f"regexp_replace({left}, ?, '{sign}', 'g')"
            columns.append(f"[[{left}], {', '.join(lists)}]")
            values += texts
            for edits in range(len(texts)):
                values += texts[: edits + 1]
        return Told(", ".join(["id", "key", "segments", "begun", *columns]), values)

    def marked(self, row: Sequence[Any]) -> MarkedChart:
        """A tune of the columns of ``marking``, and of any more."""
        chart, key, segments, begun, *found = row
        views = len(self.views)
        texts = [_put_back(each) for each in found[:views]]
        return MarkedChart(chart, key, segments, begun, tuple(found[views:]), texts)

    def find_in(self, charts: Sequence[int]) -> Iterator[MarkedChart]:
        """Tunes with their matches."""
        columns, values = self.marking()
        for row in self._execute(f"SELECT {columns} FROM charts WHERE id IN ({_listed(charts)})", values):
            yield self.marked(row)

    def _texts(self, strength: Strength) -> list[str]:
        texts = [self._text(view, strength) for view in self.views]
        refuse_large(self._pattern, sum(map(len, texts)))
        return texts

    def _text(self, view: View, strength: Strength) -> str:
        return "|".join(expression(each, strength, view.shift) for each in self.patterns)

    def lookups(self) -> list[Lookup | None]:
        """For each view the tunes that it has to be asked of; None where that is all of them."""
        if not self._near and (roots := self._plain()) is not None:
            condition = [(roots, ())]
            return [Lookup((tuple(numbers(condition, view)),), told=True) for view in self.views]
        ((charts,),) = self._index.rows("SELECT count(*) FROM charts")
        if charts < SMALL:
            return [None] * len(self.views)
        # Of a near version at least one piece is whole.
        held = [piece for each in self.patterns for piece in pieces(each, self._near)] if self._near else self.patterns
        conditions = [necessary(each, self._strength) for each in held]
        if not conditions or not all(conditions):
            return [None] * len(self.views)
        centred = any(view.centre is not None for view in self.views)
        # About any centre one condition serves for all: which is the rarest is told by the home tonic.
        asked = self.views[:1] if centred else self.views
        grams = [[[numbers(one, view) for one in each] for each in conditions] for view in asked]
        known = self._known(gram for view in grams for each in view for one in each for gram in one)
        lookups: list[Lookup | None] = []
        for number, view in enumerate(self.views):
            of_view = grams[0 if centred else number]
            weights = [[sum(known.get(gram, 0) for gram in one) for one in each] for each in of_view]
            worth = sum(map(min, weights))
            if worth > WORTH * charts:
                lookups.append(None)
                continue
            sets = [[each[weight.index(min(weight))] for each, weight in zip(conditions, weights, strict=True)]]
            if len(conditions) == 1:
                sets = [[one] for one in together(conditions[0], weights[0])]
            lookups.append(
                Lookup(tuple(tuple({gram: 0 for one in each for gram in numbers(one, view)}) for each in sets))
            )
        return lookups

    def _plain(self) -> tuple[int, ...] | None:
        return plain_roots(self._pattern, self._strength) if len(self.patterns) == 1 else None

    def _known(self, grams: Iterable[int]) -> dict[int, int]:
        """In how many tunes each gram stands; those that stand in none are left out."""
        listed = _listed(dict.fromkeys(grams))
        return dict(self._index.rows(f"SELECT gram, charts FROM gram_counts WHERE gram IN ({listed})"))

    def _execute(self, sql: str, parameters: Sequence[Any]) -> list[tuple[Any, ...]]:
        try:
            return self._index.rows(sql, list(parameters))
        except duckdb.InvalidInputException as error:
            if "too large" not in str(error):
                raise
            text = self._pattern.text
            message = "this pattern is too large to be searched"
            raise ReadingError(
                [Fault(message, 1, 1, len(text), text, "fewer items, or fewer groups and gaps")]
            ) from None


def candidates(looked_up: Mapping[int, Lookup]) -> str:
    """The tunes that each view has to be asked of, in SQL: ``view``, ``chart``, and ``times`` where these are told."""
    selects = []
    for number, lookup in looked_up.items():
        first, *others = [f"SELECT chart FROM grams WHERE gram IN ({_listed(grams)})" for grams in lookup.grams]
        which, times = ("", "times") if lookup.told else ("DISTINCT", "0 AS times")
        found = first.replace("SELECT", f"SELECT {which} {number} AS view, {times},")
        selects.append(found + "".join(f" AND chart IN ({each})" for each in others))
    return " UNION ALL ".join(selects)


def _put_back(found: Sequence[list[str]]) -> tuple[str | None, list[int]]:
    """A string of which the matches were taken out, with these between two signs, and how many edits each has."""
    (text,), *taken = found
    if text is None or not taken:
        return text, []
    return marked(text, taken, MATCH_BEGINS, MATCH_ENDS)


def _listed(values: Iterable[int]) -> str:
    """Numbers as a list in SQL; one that holds nothing where there are none."""
    return ", ".join(map(str, values)) or "NULL"
