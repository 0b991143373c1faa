"""In which order tunes are shown, and why.

Best first is: what is asked for before what is near to it; the very qualities and basses before the same families, the
same roots before others; then the longer share of the tune (the chords
asked for, as often as they are found, among all that are played); in the key before elsewhere; where a section starts;
more often; title.
"""

from __future__ import annotations

from dataclasses import dataclass

from corpus.reading import Snapshot
from search.matching import Matcher

_BEST = "edits, exact DESC, roots DESC, share DESC, home DESC"
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
    border, ends = "", f"LIMIT {limit}" if limit else ""
    if limit and order == "best":
        # Only where tunes tie at the end of the list does it matter what starts with a section.
        first = index.rows(f"SELECT -edits, exact, roots, share, home FROM {table} ORDER BY {_BEST} LIMIT {limit}")
        if len(first) == limit:
            border = "WHERE (-edits, exact, roots, share, home) >= (?, ?, ?, ?, ?)"
            values = [*values, *first[-1]]
    sql = f"""
        SELECT id, found, exact, share, home, {starts} AS starts
        FROM {table} JOIN charts USING (id) {border} ORDER BY {_ORDERS[order]} {ends}
    """
    return [Ranked(*row) for row in index.rows(sql, values)]
