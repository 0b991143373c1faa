"""In which order tunes are shown, and why.

Best first is: what is asked for before what is near to it; the very qualities and basses before the same families, the
same roots before others; then the longer share of the tune (the chords asked for, as often as they are found, among all
that are played); in the key before elsewhere; where a section starts; more often; title.
"""

from __future__ import annotations

from dataclasses import dataclass

from corpus.reading import Snapshot
from search.matching import Matcher

_LIKE = "-edits, exact, roots, share, home"
_BEST = "edits, exact DESC, roots DESC, share DESC, home DESC"
#: So many tunes beyond those shown are looked at by name where they are alike in all that needs no string.
_ALIKE = 200
_ORDERS = {
    "best": f"{_BEST}, starts DESC, found DESC, title, path",
    "title": "lower(title), path",
    "level": "level NULLS LAST, lower(title), path",
    "tempo": "tempo NULLS LAST, lower(title), path",
    "most": "found DESC, lower(title), path",
}
SORTS = tuple(_ORDERS)


@dataclass(frozen=True, slots=True)
class Ranked:
    """A tune in its place.

    Attributes:
        chart: Its number in the index.
        found: How many matches it has.
        exact: Whether one has the very qualities and basses that are asked for.
        share: How much of the tune the matches take, 0 to 1.
        home: Whether one is counted from the home tonic.
        starts: Whether one starts with a section.
    """

    chart: int
    found: int
    exact: bool
    share: float
    home: bool
    starts: bool


def ranked(index: Snapshot, table: str, matcher: Matcher, order: str, limit: int) -> list[Ranked]:
    """The tunes of a table of matches (see ``Matcher.table``) in an order.

    Args:
        index: The index.
        table: The table.
        matcher: What filled it.
        order: One of ``SORTS``.
        limit: How many at most; 0 for all.
    """
    starts, values = matcher.starts()
    chosen, ends = "", f"LIMIT {limit}" if limit else ""
    if limit and order == "best":
        # What starts with a section, which is asked of the strings, only matters where tunes are otherwise alike.
        first = index.rows(
            f"SELECT id, {_LIKE} FROM (SELECT *, {matcher.share} AS share FROM {table} JOIN charts USING (id)) "
            f"ORDER BY {_BEST} LIMIT {limit + _ALIKE}"
        )
        last = first[limit - 1 : limit]
        if last and first[-1][1:] == last[0][1:] and len(first) == limit + _ALIKE:
            chosen = f"WHERE ({_LIKE}) >= (?, ?, ?, ?, ?)"
            values = [*values, *last[0][1:]]
        else:
            alike = [one[0] for place, one in enumerate(first) if place < limit or one[1:] == last[0][1:]]
            chosen = f"WHERE id IN ({', '.join(map(str, alike)) or 'NULL'})"
    sql = f"""
        SELECT id, found, exact, {matcher.share} AS share, home, {starts} AS starts
        FROM {table} JOIN charts USING (id) {chosen} ORDER BY {_ORDERS[order]} {ends}
    """
    return [Ranked(*row) for row in index.rows(sql, values)]
