"""In which order tunes are shown, and why.

Best first is: what is asked for before what is near to it; the very qualities and basses before the same families, the
same roots before others; then the longer share of the tune (the chords asked for, as often as they are found, among all
that are played); in the key before elsewhere; where a section starts; more often; title.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import itemgetter, or_
from typing import Any, NamedTuple

from corpus.reading import Snapshot
from search.matching import TRUE, MarkedChart, Matcher, listed

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
#: So many tunes are asked for the very chords before more are, and more before all are.
_POOLS = (200, 2000)
#: Up to so many times as many as are shown, it is not worth finding out beforehand which of the alike come first.
_FEW_MORE = 2
SORTS = tuple(_ORDERS)


class _Placed(NamedTuple):
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
        exact: Whether a match has the very qualities and basses that are asked for.
        share: How much of the tune the matches take, 0 to 1.
        home: Whether one is counted from the home tonic.
        starts: Whether one starts with a section.
        marked: The tune with its matches.
    """

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
        placed = _placed(index, f"{table} JOIN charts USING (id)", _ORDERS[order], limit)
    elif limit:
        placed = _best(index, table, matcher, limit)
    else:
        placed = _likely(index, table, matcher, 0)
    among = matcher.views_of(_together(placed))
    # How like the best are to what was asked is known already.
    exact, marking = TRUE if order == "best" else matcher.exact(among), matcher.marking(among)
    which = f"WHERE id IN ({listed(each.chart for each in placed)})" if limit else f"JOIN {table} USING (id)"
    rows = index.rows(
        f"SELECT id, title, path, {exact.sql}, {', '.join([marking.sql, *rest])} FROM charts {which}",
        [*exact.parameters, *marking.parameters],
    )
    made = {chart: (title, path, very, matcher.marked(row)) for chart, title, path, very, *row in rows}
    found = []
    for each in placed:
        title, path, very, marked = made[each.chart]
        _, of_like, _, share, home = each.like
        one = Ranked(of_like if order == "best" else very, share, home, matcher.starts_in(marked), marked)
        found.append((each, (not one.starts, -each.found, title, path), one))
    if order == "best":
        found.sort(key=itemgetter(1))
        found.sort(key=lambda each: each[0].like, reverse=True)
    return [one for _, _, one in found[: limit or None]]


def _together(placed: Iterable[_Placed]) -> int:
    """A bit for each view that may have found any of some tunes."""
    return reduce(or_, (each.views for each in placed), 0)


def _placed(index: Snapshot, source: str, order: str, limit: int) -> list[_Placed]:
    """The first tunes of a table in an order that asks nothing of the strings."""
    rows = index.rows(
        f"""
        SELECT id, views, found, -edits, NULL, NULL, share, home FROM {source}
        ORDER BY {order} {f"LIMIT {limit}" if limit else ""}
        """
    )
    return [_Placed(chart, views, found, tuple(like)) for chart, views, found, *like in rows]


def _best(index: Snapshot, table: str, matcher: Matcher, limit: int) -> list[_Placed]:
    """The best tunes of a table, so many of them or a few more, in the order of how like they are to what was asked.

    What starts with a section, which is asked of the strings, only matters where tunes are alike otherwise.
    """
    placed, whole = _likest(index, table, matcher, limit)
    if len(placed) <= limit:
        return placed
    last = placed[limit - 1].like
    if not whole and placed[-1].like == last:
        placed = _likely(index, table, matcher, 0, at_least=last)
    placed = [each for each in placed if each.like >= last]
    if len(placed) <= limit * _FEW_MORE:
        return placed
    alike = [each for each in placed if each.like == last]
    better = placed[: -len(alike)]
    starts = matcher.starts(matcher.views_of(_together(alike)))
    rows = index.rows(
        f"""
        SELECT id FROM {table} JOIN charts USING (id) WHERE id IN ({listed(each.chart for each in alike)})
        ORDER BY {starts.sql} IS NOT TRUE, found DESC, title, path LIMIT {limit - len(better)}
        """,
        starts.parameters,
    )
    first = {chart for (chart,) in rows}
    return better + [each for each in alike if each.chart in first]


def _likest(index: Snapshot, table: str, matcher: Matcher, limit: int) -> tuple[list[_Placed], bool]:
    """The tunes that are likest to what was asked, some more than are wanted, and whether these are all there are.

    Which have the very chords is asked of those that come first without that, and of all only where it does not settle
    the rest.
    """
    wanted = limit + _ALIKE
    if matcher.compares_strings:
        for pool in _POOLS:
            among = _placed(index, table, "edits, share DESC", pool)
            placed = _likely(index, table, matcher, wanted, among)
            if len(among) < pool:
                return placed, len(placed) < wanted
            nearness, _, _, share, _ = among[-1].like
            # None beyond the pool is better than this.
            if len(placed) >= limit and placed[limit - 1].like[:4] > (nearness, True, True, share):
                return placed, False
    placed = _likely(index, table, matcher, wanted)
    return placed, len(placed) < wanted


def _likely(
    index: Snapshot,
    table: str,
    matcher: Matcher,
    most: int,
    pool: Sequence[_Placed] | None = None,
    at_least: tuple[Any, ...] = (),
) -> list[_Placed]:
    """Tunes in the order of how like they are to what was asked.

    Args:
        index: The index.
        table: The table of matches.
        matcher: What filled it.
        most: How many at most; 0 for all.
        pool: Which tunes it may be, None for all.
        at_least: How like they must be.
    """
    among = matcher.views_of(-1 if pool is None else _together(pool))
    exact, roots = matcher.exact(among), matcher.roots(among)
    source = f"{table} JOIN charts USING (id)" if matcher.compares_strings else table
    which = "" if pool is None else f"WHERE id IN ({listed(each.chart for each in pool)})"
    rows = index.rows(
        f"""
        SELECT id, views, found, -edits, exact, roots, share, home FROM (
            SELECT id, views, found, edits, {exact.sql} AS exact, {roots.sql} AS roots, share, home
            FROM {source} {which}
        ) {"WHERE (-edits, exact, roots, share, home) >= (?, ?, ?, ?, ?)" if at_least else ""}
        ORDER BY {_BEST} {f"LIMIT {most}" if most else ""}
        """,
        [*exact.parameters, *roots.parameters, *at_least],
    )
    return [_Placed(chart, views, found, tuple(like)) for chart, views, found, *like in rows]
