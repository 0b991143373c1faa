"""Counts the matches of one pattern in every tune, in tables of the connection's own.

What a match must hold is looked up among the short sequences of the index (``search.narrowing``) where these are rare;
the full expression is asked of those tunes alone, and of all where nothing is rare. For up to four plain roots in a row
the index holds the very number of matches, and no string is read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import duckdb

from corpus.codes import SECTION_STARTS
from corpus.reading import Snapshot
from search.expressions import expression, rotations
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


class MarkedChart(NamedTuple):
    """A tune that matches.

    Attributes:
        chart: Its number.
        key: Its home key, as a header spells it.
        segments: Its keys (the column of that name).
        event_bars: For each chord the played bar in which it begins.
        texts: For each view its string with every match between two signs, None where it has none, and for a near
            search how many edits each match has.
    """

    chart: int
    key: str
    segments: list[dict[str, Any]]
    event_bars: list[int]
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
        self.doubtful = question.near > 0 or not one_place(self.patterns)
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
        ``edits`` (how many edits away the nearest is), ``exact`` (whether one has the very qualities and basses),
        ``roots`` (whether one has the very roots) and ``home`` (whether one is counted from the home tonic).

        Raises:
            ReadingError: If the pattern is too large for the engine.
        """
        conditions = list(conditions)
        lookups = self._lookups()
        where = "".join(f" AND {condition.sql}" for condition in conditions)
        filtered = [value for condition in conditions for value in condition.parameters]
        looked_up = {number: lookup for number, lookup in enumerate(lookups) if lookup is not None}
        branches: list[str] = []
        values: list[Any] = []
        if looked_up:
            # In a table of their own, so that the engine knows how few they are before it plans the rest.
            self._execute(f"CREATE OR REPLACE TEMP TABLE candidates AS {_candidates(looked_up)}", ())
            rest = "id FROM candidates JOIN charts ON id = chart"
            if all(lookup.told for lookup in looked_up.values()):
                told = ["times", "TRUE", "TRUE"]
                rest = rest if conditions else "chart AS id FROM candidates"
            else:
                told = []
                for part in zip(*(self._tells(number) for number in looked_up), strict=True):
                    cases = " ".join(
                        f"WHEN {number} THEN {sql}" for number, (sql, _) in zip(looked_up, part, strict=True)
                    )
                    told.append(f"CASE view {cases} END")
                    values += [value for _, parameters in part for value in parameters]
            branches.append(_branch("view", told, f"{rest} WHERE TRUE{where}"))
            values += filtered
        for number, view in enumerate(self.views):
            if lookups[number] is None:
                told = [sql for sql, _ in self._tells(number)]
                branches.append(_branch(str(number), told, f"id FROM charts WHERE {view.column} IS NOT NULL{where}"))
                values += [value for _, parameters in self._tells(number) for value in parameters] + filtered
        counted, edits = ("len(counted)", "list_min(counted)::INTEGER") if self._near else ("counted", "0")
        home = f"view IN ({_listed(self._home_views())})"
        once = f"id, {counted}::INTEGER AS found, FALSE AS several, {edits} AS edits, exact, roots, {home} AS home"
        grouped = f"""
            id, sum({counted})::INTEGER, {str(self.doubtful).upper()} AND count(*) > 1, min({edits}), bool_or(exact),
            bool_or(roots), bool_or({home})
        """
        # Hardly any tune is found in another view than the first; only those need grouping.
        others = "(SELECT id FROM asked WHERE view > 0)"
        # Materialized, so that the condition on what was counted does not count everything a second time.
        self._execute(
            f"""
            CREATE OR REPLACE TEMP TABLE {name} AS
            WITH every AS MATERIALIZED ({" UNION ALL ".join(branches)}),
            asked AS (SELECT * FROM every WHERE {counted} > 0)
            SELECT {once} FROM asked WHERE view = 0 AND id NOT IN {others}
            UNION ALL SELECT {grouped} FROM asked WHERE id IN {others} GROUP BY id
            """,
            values,
        )

    @property
    def share(self) -> str:
        """How much of a tune its matches take at least, 0 to 1: SQL of ``found`` and a row of ``charts``."""
        return f"found * {self.least} / {'len(played_bars)' if self._pattern.bars else 'events'}"

    def _tells(self, number: int) -> list[tuple[str, list[str]]]:
        """What is told of a tune in a view, in SQL with its parameters: ``counted``, ``exact`` and ``roots``.

        Counted are the matches; in a near search it is the list of them, each by the number of its edits.
        """
        column = self.views[number].column
        counted = (f"len(regexp_extract_all({column}, ?))", [self.texts[number]])
        if self._near:
            counted = self._near_count(number)
        same: list[tuple[str, list[str]]] = []
        for asked, strength in ((self._strength is Strength.FAMILY, Strength.EXACT), (self._near > 0, Strength.LOOSE)):
            text = self._text(self.views[number], strength)
            same.append((f"regexp_matches({column}, ?)", [text]) if asked else ("TRUE", []))
        return [counted, *same]

    def _near_count(self, number: int) -> tuple[str, list[str]]:
        texts = [self.texts[number], *self._near_texts[number]]
        column = self.views[number].column
        taken = column
        for sign in TAKEN[: len(texts)]:
            taken = f"regexp_replace({taken}, ?, '{sign}', 'g')"
        if max(map(len, texts)) < _LARGE:
            return f"regexp_extract_all({taken}, ?)", [*texts, f"[{TAKEN}]"]
        # Most tunes have no rare qualities, and large expressions are far faster without them.
        sql = f"regexp_extract_all(CASE WHEN regexp_matches({column}, ?) THEN {taken} ELSE {taken} END, ?)"
        return sql, [RARE, *texts, *map(without_rare, texts), f"[{TAKEN}]"]

    def _home_views(self) -> list[int]:
        return [number for number, view in enumerate(self.views) if not view.centre]

    def starts(self) -> tuple[str, list[str]]:
        """A condition in SQL on a row of ``charts``, that a match starts with a section, and its parameters."""
        if isinstance(self._pattern.parts[0], Anchor):
            return "TRUE", []
        tests = [f"coalesce(regexp_matches({view.column}, ?), FALSE)" for view in self.views]
        return f"({' OR '.join(tests)})", [f"{SECTION_STARTS}(?:{text})" for text in self.texts]

    def marked(self, charts: Sequence[int]) -> Iterator[MarkedChart]:
        """The strings of charts with every match between two signs."""
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
        sql = f"SELECT id, key, segments, event_bars, {', '.join(columns)} FROM charts WHERE id IN ({_listed(charts)})"
        for chart, key, segments, event_bars, *found in self._execute(sql, values):
            yield MarkedChart(chart, key, segments, event_bars, [_put_back(each) for each in found])

    def _texts(self, strength: Strength) -> list[str]:
        return [self._text(view, strength) for view in self.views]

    def _text(self, view: View, strength: Strength) -> str:
        return "|".join(expression(each, strength, view.shift) for each in self.patterns)

    def _lookups(self) -> list[Lookup | None]:
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


def _candidates(looked_up: Mapping[int, Lookup]) -> str:
    """The tunes that each view has to be asked of, in SQL."""
    return " UNION ALL ".join(
        f"SELECT {'' if lookup.told else 'DISTINCT '}{number} AS view, chart, {'times' if lookup.told else '0 AS times'} "
        f"FROM grams WHERE gram IN ({_listed(lookup.grams[0])})"
        + "".join(
            f" AND chart IN (SELECT chart FROM grams WHERE gram IN ({_listed(each)}))" for each in lookup.grams[1:]
        )
        for number, lookup in looked_up.items()
    )


def _branch(view: str, told: Sequence[str], rest: str) -> str:
    counted, exact, roots = told
    return f"SELECT {view} AS view, {counted} AS counted, {exact} AS exact, {roots} AS roots, {rest}"


def _put_back(found: Sequence[list[str]]) -> tuple[str | None, list[int]]:
    """A string of which the matches were taken out, with these between two signs, and how many edits each has."""
    (text,), *taken = found
    if text is None or not taken:
        return text, []
    return marked(text, taken, MATCH_BEGINS, MATCH_ENDS)


def _listed(values: Iterable[int]) -> str:
    """Numbers as a list in SQL; one that holds nothing where there are none."""
    return ", ".join(map(str, values)) or "NULL"
