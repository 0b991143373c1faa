"""In which order tunes are shown, and why.

Best first is: what is asked for before what is near to it; the very qualities and basses before the same families, the
same roots before others; then the longer share of the tune (the chords asked for, as often as they are found, among all
that are played); in the key before elsewhere; where a section starts; more often; title.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from corpus.reading import Snapshot
from search.matching import MarkedChart, Matcher, Told

_LIKE = "-edits, exact, roots, share, home"
_BEST = "edits, exact DESC, roots DESC, share DESC, home DESC"
_ORDERS = {
    "best": f"{_BEST}, starts DESC, found DESC, title, path",
    "title": "lower(title), path",
    "level": "level NULLS LAST, lower(title), path",
    "tempo": "tempo NULLS LAST, lower(title), path",
    "most": "found DESC, lower(title), path",
}
#: So many tunes beyond those shown are looked at by name where they are alike in all that needs no string.
_ALIKE = 200
#: So many tunes are asked for the very chords before all are.
_POOL = 2000
SORTS = tuple(_ORDERS)
_ALL = Told("TRUE", [])


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
        ends = f"LIMIT {limit}" if limit else ""
        listed = index.rows(f"SELECT id FROM {table} JOIN charts USING (id) ORDER BY {_ORDERS[order]} {ends}")
        _choose(index, table, matcher, _among(one for (one,) in listed))
    elif limit:
        _choose_best(index, table, matcher, limit)
    else:
        _choose(index, table, matcher)
    starts, marking = matcher.starts, matcher.marking()
    rows = index.rows(
        f"""
        SELECT exact, share, home, {starts.sql} AS starts, {", ".join([marking.sql, *rest])}
        FROM chosen JOIN charts USING (id) ORDER BY {_ORDERS[order]} {f"LIMIT {limit}" if limit else ""}
        """,
        [*starts.parameters, *marking.parameters],
    )
    return [Ranked(exact, share, home, starts, matcher.marked(row)) for exact, share, home, starts, *row in rows]


def _choose(index: Snapshot, rows: str, matcher: Matcher, where: Told = _ALL, ends: str = "") -> None:
    """Makes the temporary table ``chosen``: matches with what their order goes by.

    Args:
        index: The index.
        rows: Tables of matches, without ``charts``.
        matcher: What filled them.
        where: Which of them.
        ends: What order and limit they are taken by.
    """
    exact, roots = matcher.exact, matcher.roots
    index.rows(
        f"""
        CREATE OR REPLACE TEMP TABLE chosen AS
        SELECT id, found, edits, exact, roots, share, home FROM (
            SELECT *, {exact.sql} AS exact, {roots.sql} AS roots, {matcher.share} AS share
            FROM {rows} JOIN charts USING (id)
        ) WHERE {where.sql} {ends}
        """,
        [*exact.parameters, *roots.parameters, *where.parameters],
    )


def _choose_best(index: Snapshot, table: str, matcher: Matcher, limit: int) -> None:
    """Makes the table ``chosen`` of all that may be among the best.

    What starts with a section, which is asked of the strings, only matters where tunes are alike otherwise. Which have
    the very chords is asked of those that come first without that, and of all only where it does not settle the rest.
    """

    def first(rows: str) -> list[tuple[Any, ...]]:
        _choose(index, rows, matcher, ends=f"ORDER BY {_BEST} LIMIT {limit + _ALIKE}")
        return index.rows(f"SELECT {_LIKE} FROM chosen ORDER BY {_BEST}")

    found: list[tuple[Any, ...]] = []
    settled = False
    if matcher.exact.parameters or matcher.roots.parameters:
        likely = f"SELECT id, -edits AS nearness, {matcher.share} AS least FROM {table} JOIN charts USING (id)"
        likely += f" ORDER BY nearness DESC, least DESC LIMIT {_POOL}"
        index.rows(f"CREATE OR REPLACE TEMP TABLE pool AS {likely}")
        found = first(f"pool JOIN {table} USING (id)")
        border = index.rows(f"SELECT nearness, TRUE, TRUE, least FROM pool ORDER BY ALL DESC OFFSET {_POOL - 1}")
        settled = not border or (len(found) >= limit and found[limit - 1][:4] > border[0])
    if not settled:
        found = first(table)
    if len(found) <= limit:
        return
    last = list(found[limit - 1])
    if len(found) == limit + _ALIKE and list(found[-1]) == last:
        _choose(index, table, matcher, Told(f"({_LIKE}) >= (?, ?, ?, ?, ?)", last))
    else:
        index.rows(f"DELETE FROM chosen WHERE ({_LIKE}) < (?, ?, ?, ?, ?)", last)


def _among(charts: Iterable[int]) -> Told:
    return Told(f"id IN ({', '.join(map(str, charts)) or 'NULL'})", [])
