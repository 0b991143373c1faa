"""In which order tunes are shown, and why.

Best first is: what is asked for before what is near to it; the very qualities and basses before the same families, the
same roots before others; then the longer share of the tune (the chords asked for, as often as they are found, among all
that are played); in the key before elsewhere; where a section starts; more often; title.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Any, NamedTuple

from corpus.reading import Snapshot
from search.looking_up import ONE_OF
from search.matching import Matcher
from search.rows_asked import TRUE, MarkedChart, Told

_BEST = "edits, exact DESC, roots DESC, share DESC, home DESC"
_ORDERS = {
    "best": _BEST,
    "title": "lower(title), path",
    "level": "level NULLS LAST, lower(title), path",
    "tempo": "tempo NULLS LAST, lower(title), path",
    "most": "found DESC, lower(title), path",
}
#: So many tunes beyond those shown are looked at by name where they are alike in all that needs no string.
_ALIKE = 200
#: So many tunes beyond those shown are looked at in full: to find out first which are shown takes as long.
_ALSO = 20
#: So many tunes are asked for the very chords before more are, and more before all are.
_POOLS = (200, 2000)
SORTS = tuple(_ORDERS)


class Placed(NamedTuple):
    """A tune with what its order goes by before its strings are looked at.

    Attributes:
        chart: Its number.
        views: A bit for each view that may have found it.
        found: How many matches it has.
        like: How it is like what was asked, the better the greater (edits, exact, roots, share, home).
    """

    chart: int
    views: int
    found: int
    like: tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Ranked:
    """A tune in its place.

    Attributes:
        like: How it is like what was asked (see ``Placed``).
        exact: Whether a match has the very qualities and basses that are asked for.
        share: How much of the tune the matches take, 0 to 1.
        home: Whether one is counted from the home tonic.
        starts: Whether one starts with a section.
        marked: The tune with its matches.
    """

    like: tuple[Any, ...]
    exact: bool
    share: float
    home: bool
    starts: bool
    marked: MarkedChart


def ranked(
    index: Snapshot, table: str, matcher: Matcher, order: str, limit: int, rest: Sequence[str] = ()
) -> list[Ranked]:
    """The tunes of a table of matches (see ``Matcher.table``) in an order.

    Args:
        index: The index.
        table: The table.
        matcher: What filled it.
        order: One of ``SORTS``.
        limit: How many at most; 0 for all.
        rest: Further columns of ``charts`` that are wanted of each, in SQL.
    """
    if order != "best":
        placed = _first(index, f"{table} JOIN charts USING (id)", _ORDERS[order], limit)
        return [one for _, one in _looked_at(index, matcher, placed, "" if limit else table, rest, matcher.exact)]
    placed = _likest(index, table, matcher, limit) if limit else _likely(index, table, matcher, 0)
    return _in_order(index, matcher, placed, limit, "" if limit else table, rest)


def settled(index: Snapshot, matcher: Matcher, pool: Sequence[Placed], bound: float, limit: int) -> list[Placed] | None:
    """Some tunes in the order of how like they are to what was asked; None if others may come before the last shown.

    Args:
        index: The index.
        matcher: What found them.
        pool: The tunes that have the largest shares.
        bound: The least of these shares; 0 if there are no other tunes.
        limit: How many are shown.
    """
    placed = _asked(index, matcher, pool)
    if bound and not (len(placed) >= limit and placed[limit - 1].like[:4] >= (0, True, True, bound)):
        return None
    return placed


def best_of(
    index: Snapshot, matcher: Matcher, placed: Sequence[Placed], limit: int, rest: Sequence[str] = ()
) -> list[Ranked]:
    """The best of some tunes, best first.

    Args:
        index: The index.
        matcher: What found them.
        placed: The tunes, none of which is left out that is better than one of them.
        limit: How many at most.
        rest: Further columns of ``charts`` that are wanted of each, in SQL.
    """
    in_order = sorted(placed, key=lambda each: each.like, reverse=True)
    return _in_order(index, matcher, in_order, limit, "", rest)


def _in_order(
    index: Snapshot, matcher: Matcher, placed: Sequence[Placed], limit: int, table: str, rest: Sequence[str]
) -> list[Ranked]:
    """The best of some tunes in their order.

    Args:
        index: The index.
        matcher: What found them.
        placed: The tunes, those that are like what was asked first.
        limit: How many at most; 0 for all.
        table: The table of matches, where these are all that are in it.
        rest: Further columns of ``charts`` that are wanted of each, in SQL.
    """
    if 0 < limit < len(placed):
        last = placed[limit - 1].like
        placed = [each for each in placed if each.like >= last]
        if len(placed) > limit + _ALSO:
            alike = [each for each in placed if each.like == last]
            nearer = placed[: -len(alike)]
            placed = [*nearer, *_starting(index, matcher, alike, limit - len(nearer))]
    found = _looked_at(index, matcher, placed, table, rest)
    # What speaks last goes by the alphabet, all else is the better the greater.
    found.sort(key=lambda each: each[0])
    found.sort(key=lambda each: each[1].like, reverse=True)
    return [one for _, one in found[: limit or None]]


def _starting(index: Snapshot, matcher: Matcher, alike: Sequence[Placed], number: int) -> list[Placed]:
    """Of tunes that are alike in how they are like what was asked the first in the order of what speaks else."""
    starts = matcher.starts(matcher.views_of(_together(alike)))
    which, found = _among(alike), [each.found for each in alike]
    rows = index.rows(
        f"""
        SELECT id FROM (SELECT id, {starts.sql} AS starts, title, path FROM {matcher.charts} WHERE {which.sql})
        JOIN (SELECT unnest(?::INTEGER[]) AS id, unnest(?::INTEGER[]) AS found) USING (id)
        ORDER BY starts DESC, found DESC, title, path LIMIT {number}
        """,
        [*starts.parameters, *which.parameters, [each.chart for each in alike], found],
    )
    known = {each.chart: each for each in alike}
    return [known[chart] for (chart,) in rows]


def _looked_at(
    index: Snapshot,
    matcher: Matcher,
    placed: Sequence[Placed],
    table: str,
    rest: Sequence[str],
    very: Callable[[Iterable[int]], Told] | None = None,
) -> list[tuple[tuple[Any, ...], Ranked]]:
    """Tunes as they are told, each behind what speaks last in the order of the best.

    Args:
        index: The index.
        matcher: What found them.
        placed: The tunes.
        table: The table of matches, where these are all that are in it; else empty.
        rest: Further columns of ``charts`` that are wanted of each, in SQL.
        very: Asks whether they have the very chords; None where that is known already.
    """
    among = matcher.views_of(_together(placed))
    exact, marking = very(among) if very else TRUE, matcher.marking(among)
    which = Told(f"id IN (SELECT id FROM {table})", []) if table else _among(placed)
    wanted = ", ".join(["id", "title", "path", exact.sql, marking.sql, *rest])
    rows = index.rows(
        f"SELECT {wanted} FROM {matcher.charts} WHERE {which.sql}",
        [*exact.parameters, *marking.parameters, *which.parameters],
    )
    made = {chart: (title, path, has_very, matcher.marked(row)) for chart, title, path, has_very, *row in rows}
    found = []
    for each in placed:
        title, path, has_very, marked = made[each.chart]
        starts = matcher.starts_in(marked)
        one = Ranked(each.like, has_very if very else each.like[1], each.like[3], each.like[4], starts, marked)
        found.append(((not starts, -each.found, title, path), one))
    return found


def _together(placed: Iterable[Placed]) -> int:
    """A bit for each view that may have found any of some tunes."""
    return reduce(or_, (each.views for each in placed), 0)


def _among(placed: Iterable[Placed]) -> Told:
    """That a row is one of some tunes."""
    return Told(ONE_OF, [[each.chart for each in placed]])


def _first(index: Snapshot, source: str, order: str, limit: int) -> list[Placed]:
    """The first tunes of a table in an order that asks nothing of the strings, so many or all (0)."""
    rows = index.rows(
        f"""
        SELECT id, views, found, -edits, NULL, NULL, share, home FROM {source}
        ORDER BY {order} {f"LIMIT {limit}" if limit else ""}
        """
    )
    return [Placed(chart, views, found, tuple(like)) for chart, views, found, *like in rows]


def in_sql_order(index: Snapshot, found: Mapping[int, int], order: str, limit: int) -> list[int]:
    """The first of some charts in an order that is not that of the best, so many or all (0).

    Args:
        index: The index.
        found: The charts, each with how many matches it has.
        order: One of ``SORTS``.
        limit: How many at most.
    """
    sql = f"""
        SELECT id FROM (SELECT unnest(?::INTEGER[]) AS id, unnest(?::INTEGER[]) AS found) JOIN charts USING (id)
        ORDER BY {_ORDERS[order]} {f"LIMIT {limit}" if limit else ""}
    """
    return [chart for (chart,) in index.rows(sql, [list(found), list(found.values())])]


def _likest(index: Snapshot, table: str, matcher: Matcher, limit: int) -> list[Placed]:
    """The tunes that are likest to what was asked: so many and all that are as like as the last of them.

    Which have the very chords is asked of those that come first without that, and of all only where it does not settle
    the rest.
    """
    pools = list(_POOLS) if matcher.compares_strings and not matcher.exact_told else []
    while pools:
        pool = pools.pop(0)
        among = _first(index, table, "edits, share DESC", pool)
        placed = _asked(index, matcher, among)
        if len(among) < pool:
            return placed
        nearness, _, _, share, _ = among[-1].like
        # None beyond the pool is better than this.
        if len(placed) >= limit and placed[limit - 1].like[:4] > (nearness, True, True, share):
            return placed
        very = sum(each.like[:3] == (nearness, True, True) for each in placed)
        if pools and very * pools[0] < limit * pool:
            # A larger pool would hardly do either.
            pools.pop(0)
    placed = _likely(index, table, matcher, limit + _ALIKE)
    if len(placed) == limit + _ALIKE and placed[-1].like == placed[limit - 1].like:
        return _likely(index, table, matcher, 0, placed[-1].like)
    return placed


def _asked(index: Snapshot, matcher: Matcher, pool: Sequence[Placed]) -> list[Placed]:
    """Some tunes in the order of how like they are to what was asked, which is asked of their strings where need be."""
    exact, roots = (asked(matcher.views_of(_together(pool))) for asked in (matcher.exact, matcher.roots))
    told: dict[int, tuple[bool, bool]] = {}
    if matcher.compares_strings:
        which = _among(pool)
        sql = f"SELECT id, {exact.sql}, {roots.sql} FROM {matcher.charts} WHERE {which.sql}"
        rows = index.rows(sql, [*exact.parameters, *roots.parameters, *which.parameters])
        told = {chart: (very, same) for chart, very, same in rows}
    placed = []
    for each in pool:
        nearness, _, _, share, home = each.like
        placed.append(each._replace(like=(nearness, *told.get(each.chart, (True, True)), share, home)))
    return sorted(placed, key=lambda each: each.like, reverse=True)


def _likely(index: Snapshot, table: str, matcher: Matcher, most: int, at_least: tuple[Any, ...] = ()) -> list[Placed]:
    """All tunes of a table in the order of how like they are to what was asked.

    Args:
        index: The index.
        table: The table of matches.
        matcher: What filled it.
        most: How many at most; 0 for all.
        at_least: How like they must be.
    """
    exact, roots = (asked(range(len(matcher.views))) for asked in (matcher.exact, matcher.roots))
    source = f"{table} JOIN charts USING (id)" if matcher.compares_strings else table
    if matcher.exact_told:
        exact, source = Told(f"{table}.exact", []), table
    rows = index.rows(
        f"""
        SELECT id, views, found, -edits, exact, roots, share, home
        FROM (SELECT id, views, found, edits, {exact.sql} AS exact, {roots.sql} AS roots, share, home FROM {source})
        {"WHERE (-edits, exact, roots, share, home) >= (?, ?, ?, ?, ?)" if at_least else ""}
        ORDER BY {_BEST} {f"LIMIT {most}" if most else ""}
        """,
        [*exact.parameters, *roots.parameters, *at_least],
    )
    return [Placed(chart, views, found, tuple(like)) for chart, views, found, *like in rows]
