"""How often the tunes of a large library have a pattern, where the index tells most of it, added up in arrays.

For up to four plain roots the short sequences of an index (``corpus.grams``) hold the very number of matches, so that
no string has to be read but those of the tunes that are shown. Of a rare pattern they name the few tunes that may have
it. Then what is left of a search is so little that tables of all that is found would be most of its cost.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from corpus.reading import Snapshot
from search.looking_up import Lookup, listed
from search.matching import Matcher
from search.ordering import Placed

if TYPE_CHECKING:
    import numpy as np

    Ints = np.ndarray[Any, np.dtype[np.signedinteger[Any]]]


#: So many tunes, in all views, are looked at without a table of them.
_FEW = 30_000


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

    def best(self, number: int) -> tuple[list[Placed], float]:
        """The tunes that have the largest shares, in no order, and the least share that any of them has.

        Args:
            number: How many tunes at least; those with the same share as the last are all among them. The least share
                is told as 0 where these are all tunes.
        """
        import numpy as np

        least = 0.0
        if number < len(self.ids):
            least = float(np.partition(self.share, len(self.share) - number)[len(self.share) - number])
        at = np.flatnonzero(self.share >= least)
        home = sum(1 << number for number in self.matcher.home_views)
        columns = (each[at].tolist() for each in (self.ids, self.views, self.found, self.share))
        placed = [
            Placed(chart, views, found, (0, None, None, share, bool(views & home)))
            for chart, views, found, share in zip(*columns, strict=True)
        ]
        return placed, least


def tallied(index: Snapshot, matcher: Matcher) -> Tallies | None:
    """How often all tunes have a pattern, where that costs little beside a look at every tune; else None.

    That is so in a large library of which the index holds the very number, or can name the few tunes to look at.

    Raises:
        ReadingError: If the pattern is too large for the engine.
    """
    if not matcher.in_large or matcher.doubtful or matcher.near or matcher.times_longer > 1:
        return None
    lookups = [lookup for lookup in matcher.lookups() if lookup is not None]
    if len(lookups) < len(matcher.views):
        return None
    if all(lookup.told for lookup in lookups):
        return _added(index, matcher, *_told(index, lookups))
    if sum(lookup.most for lookup in lookups) > _FEW:
        return None
    few = [_together(index, lookup) if all(lookup.grams) else None for lookup in lookups]
    return _added(index, matcher, *_looked_at(matcher, few))


def _told(index: Snapshot, lookups: Sequence[Lookup]) -> tuple[Ints, Ints, Ints]:
    """Charts, the view of each and how often it has the pattern in it, as the index tells them."""
    import numpy as np

    view_of = {gram: number for number, lookup in enumerate(lookups) for gram in lookup.grams[0]}
    rows = index.arrays(f"SELECT gram, chart, times FROM grams WHERE gram IN ({listed(view_of)})")
    grams = np.array(sorted(view_of), np.int32)
    views = np.array([view_of[gram] for gram in grams.tolist()], np.int64)
    return rows["chart"], views[np.searchsorted(grams, rows["gram"])] if view_of else rows["gram"], rows["times"]


def _together(index: Snapshot, lookup: Lookup) -> Ints:
    """The tunes that have a gram of each of the sets."""
    import numpy as np

    sets = [index.arrays(f"SELECT chart FROM grams WHERE gram IN ({listed(grams)})")["chart"] for grams in lookup.grams]
    charts: Ints = np.unique(sets[0])
    for others in sets[1:]:
        charts = charts[np.isin(charts, others)]
    return charts


def _looked_at(matcher: Matcher, few: Sequence[Ints | None]) -> tuple[Ints, Ints, Ints]:
    """The same of a few tunes for each view, as their strings tell it."""
    import numpy as np

    asked = [(number, charts) for number, charts in enumerate(few) if charts is not None and len(charts)]
    if not asked:
        nothing = np.zeros(0, np.int64)
        return nothing, nothing, nothing
    charts = np.concatenate([charts for _, charts in asked])
    views = np.concatenate([np.full(len(charts), number) for number, charts in asked])
    rows = matcher.counts([number for number, _ in asked], charts.tolist(), views.tolist())
    found = rows["times"] > 0
    return rows["chart"][found], rows["view"][found], rows["times"][found]


def _added(index: Snapshot, matcher: Matcher, charts: Ints, views: Ints, times: Ints) -> Tallies:
    """What is told of charts, view by view, added up for each."""
    import numpy as np

    if not len(charts):
        nothing = np.zeros(0, np.int64)
        return Tallies(matcher, nothing, nothing, nothing, nothing)
    # One number for each row, of the chart, the view and how often: sorted, the rows of a chart stand together.
    packed = charts.astype(np.int64) << 32 | views.astype(np.int64) << 16 | times
    packed.sort()
    numbers = (packed >> 32).astype(np.int32)
    first = np.flatnonzero(np.diff(numbers, prepend=-1))
    ids, found = numbers[first], np.add.reduceat(packed & 0xFFFF, first)
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
