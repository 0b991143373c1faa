"""How often every tune has some plain roots in a row, as the index tells it, counted in arrays.

For up to four plain roots the short sequences of an index (``corpus.grams``) hold the very number of matches, so that
no string has to be read but those of the tunes that are shown. In a large library that is most of what a search costs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from corpus.reading import Snapshot
from search.matching import SMALL, Matcher, listed

if TYPE_CHECKING:
    import numpy as np

    Ints = np.ndarray[Any, np.dtype[np.signedinteger[Any]]]

#: More tunes than that are not put into a table one by one.
_MOST_BEST = 2000


@dataclass(frozen=True, slots=True)
class Tallies:
    """How often the tunes of a library have a pattern.

    Attributes:
        matcher: What is asked.
        ids: The tunes that have it, in rising order.
        found: How often each has it.
        views: A bit for each view that it was found in.
        share: How much of the tune the matches take at least.
    """

    matcher: Matcher
    ids: Ints
    found: Ints
    views: Ints
    share: Any

    @property
    def matches(self) -> int:
        """How often all tunes have it."""
        return int(self.found.sum())

    def of(self, charts: Ints) -> list[tuple[int, int]]:
        """Those of some tunes that have it, with how often."""
        import numpy as np

        _, at, _ = np.intersect1d(self.ids, charts, return_indices=True)
        return list(zip(self.ids[at].tolist(), self.found[at].tolist(), strict=True))

    def best(self, index: Snapshot, table: str, number: int) -> float | None:
        """Makes a table of matches (see ``Matcher.table``) of those tunes that have the largest shares.

        Args:
            index: The index.
            table: The name of the table.
            number: How many tunes at least; those with the same share as the last are all among them.

        Returns:
            The least share among them, 0 where these are all; None if too many are alike.
        """
        import numpy as np

        least = 0.0
        if number < len(self.ids):
            least = float(np.partition(self.share, len(self.share) - number)[len(self.share) - number])
        at = np.flatnonzero(self.share >= least)
        if len(at) > _MOST_BEST:
            return None
        home = sum(1 << number for number in self.matcher.home_views)
        index.rows(
            f"""
            CREATE OR REPLACE TEMP TABLE {table} AS
            SELECT *, FALSE AS several, 0 AS edits, views & {home} > 0 AS home FROM (
                SELECT unnest(?::INTEGER[]) AS id, unnest(?::INTEGER[]) AS found, unnest(?::DOUBLE[]) AS share,
                    unnest(?::INTEGER[]) AS views
            )
            """,
            [each[at].tolist() for each in (self.ids, self.found, self.share, self.views)],
        )
        return least


def told_by_index(index: Snapshot, matcher: Matcher) -> Tallies | None:
    """How often all tunes have a pattern, where the index holds the very number and the library is large; else None."""
    if index.charts < SMALL or matcher.doubtful:
        return None
    lookups = matcher.lookups()
    if not all(lookup is not None and lookup.told for lookup in lookups):
        return None
    import numpy as np

    view_of = {gram: number for number, lookup in enumerate(lookups) if lookup for gram in lookup.grams[0]}
    if not view_of:
        nothing = np.zeros(0, np.int32)
        return Tallies(matcher, nothing, nothing, nothing, nothing)
    rows = index.arrays(f"SELECT gram, chart, times FROM grams WHERE gram IN ({listed(view_of)})")
    # One number for each row, of the chart, the view and how often: sorted, the rows of a chart stand together.
    grams = np.array(sorted(view_of), np.int32)
    views = np.array([view_of[gram] for gram in grams.tolist()], np.int64)
    packed = rows["chart"].astype(np.int64) << 32 | views[np.searchsorted(grams, rows["gram"])] << 16 | rows["times"]
    packed.sort()
    charts = (packed >> 32).astype(np.int32)
    first = np.flatnonzero(np.diff(charts, prepend=-1))
    ids, found = charts[first], np.add.reduceat(packed & 0xFFFF, first)
    seen = np.bitwise_or.reduceat(1 << (packed >> 16 & 0xFFFF), first)
    lengths = index.once(f"lengths in {matcher.length}", lambda: _lengths(index, matcher.length))
    return Tallies(matcher, ids, found, seen, found * matcher.least / lengths[ids])


def _lengths(index: Snapshot, column: str) -> Ints:
    """For every number of a chart how long its tune is as played."""
    import numpy as np

    rows = index.arrays(f"SELECT id, {column} AS length FROM charts")
    lengths = np.ones(int(rows["id"].max()) + 1, np.int32)
    lengths[rows["id"]] = rows["length"]
    return lengths
