"""How often the tunes of a large library have a pattern, added up in arrays.

For up to four plain roots the short sequences of an index (``corpus.grams``) hold the very number of matches, so that
no string has to be read but those of the tunes that are shown. Of a rare pattern they name the few tunes that may have
it; else all tunes are asked. What is found is kept in arrays: tables of it would be most of the cost of a quick search,
and a good part of that of a slow one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from corpus.reading import Snapshot
from search.looking_up import ONE_OF, Lookup, listed
from search.matching import Matcher
from search.ordering import Placed
from search.rows_asked import TRUE, Told

if TYPE_CHECKING:
    import numpy as np

    Ints = np.ndarray[Any, np.dtype[np.signedinteger[Any]]]


#: So many candidates, in all views, are read by their numbers; more in a table.
_FEW = 30_000


@dataclass(frozen=True, slots=True)
class Tallies:
    """How often the tunes of a library have a pattern.

    Attributes:
        matcher: What is asked.
        ids: The tunes that have it, in rising order.
        found: How often each has it.
        views: A bit for each view that it may have been found in.
        share: How much of the tune the matches take at least.
        exact: Whether it has the very qualities and basses; None where that is not known.
    """

    matcher: Matcher
    ids: Ints
    found: Ints
    views: Ints
    share: Any
    exact: Any = None

    @property
    def matches(self) -> int:
        """How often all tunes have it."""
        return int(self.found.sum())

    @property
    def compares_strings(self) -> bool:
        """Whether the strings of tunes still have to tell how like they are to what was asked."""
        return self.exact is None and self.matcher.compares_strings

    @property
    def several(self) -> Any:
        """Whether a place may have been found in two views of a tune."""
        return (self.views & (self.views - 1) != 0) & (self.views & self.matcher.unsure != 0)

    def doubtful(self, shared: Ints) -> list[tuple[int, int]]:
        """The tunes in which a place may have been counted twice, with how often it was found in each.

        Args:
            shared: The tunes of which a chord sounds over a change of key.
        """
        import numpy as np

        at = np.flatnonzero(self.several | np.isin(self.ids, shared))
        return list(zip(self.ids[at].tolist(), self.found[at].tolist(), strict=True))

    def best(self, number: int) -> tuple[list[Placed], float]:
        """The tunes that have the very chords, where that is known, and the largest shares; in no order.

        Args:
            number: How many tunes at least; those that are as good as the last are all among them.

        Returns:
            The tunes, and the least share that any of them has; 0 where these are all tunes.
        """
        import numpy as np

        good = self.share if self.exact is None else self.share + self.exact * (1 + self.share.max(initial=0))
        at, least = np.arange(len(good)), 0.0
        if number < len(good):
            at = np.flatnonzero(good >= np.partition(good, len(good) - number)[len(good) - number])
            least = float(self.share[at].min())
        home = sum(1 << number for number in self.matcher.home_views)
        columns = [each[at].tolist() for each in (self.ids, self.views, self.found, self.share)]
        exact = [None if self.compares_strings else True] * len(at) if self.exact is None else self.exact[at].tolist()
        placed = [
            Placed(chart, views, found, (0, very, True, share, bool(views & home)))
            for chart, views, found, share, very in zip(*columns, exact, strict=True)
        ]
        return placed, least

    def told_exact(self, index: Snapshot) -> Tallies:
        """The same with whether each tune has the very qualities and basses."""
        import numpy as np

        very = self.matcher.exact(self.matcher.views_of(int(np.bitwise_or.reduce(self.views))))
        which = TRUE if len(self.ids) > _FEW else Told(ONE_OF, [self.ids.tolist()])
        sql = f"SELECT id FROM {self.matcher.charts} WHERE {which.sql} AND {very.sql}"
        return replace(self, exact=np.isin(self.ids, index.arrays(sql, [*which.parameters, *very.parameters])["id"]))


def tallied(index: Snapshot, matcher: Matcher) -> Tallies | None:
    """How often all tunes of a large library have a pattern; None for a small one, or a near search.

    Raises:
        ReadingError: If the pattern is too large for the engine, or could be laid in too many ways.
    """
    if not matcher.in_large or matcher.near:
        return None
    lookups = matcher.lookups()
    known = [lookup for lookup in lookups if lookup is not None]
    if matcher.times_longer > 1:
        return _added(index, matcher, matcher.counts_of_all())
    if matcher.told:
        return _added(index, matcher, _told(index, known))
    if len(known) < len(lookups) or sum(lookup.most for lookup in known) > _FEW:
        return _added(index, matcher, matcher.counts_of_all())
    most = len(_lengths(index, matcher)) - 1
    few = [_together(index, lookup, most) if all(lookup.grams) else None for lookup in known]
    return _added(index, matcher, _looked_at(matcher, few))


def _told(index: Snapshot, lookups: Sequence[Lookup]) -> dict[str, Ints]:
    """Charts, the view of each and how often it has the pattern in it, as the index tells them."""
    import numpy as np

    view_of = {gram: number for number, lookup in enumerate(lookups) for gram in lookup.grams[0]}
    rows = index.arrays(f"SELECT gram, chart, times FROM grams WHERE gram IN ({listed(view_of)})")
    views = np.zeros(max(view_of, default=0) + 1, np.uint16)
    views[list(view_of)] = list(view_of.values())
    return {**rows, "view": views[rows["gram"]]}


def _together(index: Snapshot, lookup: Lookup, most: int) -> Ints:
    """The tunes that have a gram of each of the sets, of tunes with numbers up to ``most``."""
    import numpy as np

    held = np.zeros(most + 1, np.uint8)
    for number, grams in enumerate(lookup.grams):
        charts = index.arrays(f"SELECT chart FROM grams WHERE gram IN ({listed(grams)})")["chart"]
        held[charts[held[charts] == number]] = number + 1
    return np.flatnonzero(held == len(lookup.grams))


def _looked_at(matcher: Matcher, few: Sequence[Ints | None]) -> dict[str, Ints]:
    """The same of a few tunes for each view, as their strings tell it."""
    import numpy as np

    asked = [(number, charts) for number, charts in enumerate(few) if charts is not None and len(charts)]
    if not asked:
        return dict.fromkeys(("chart", "view", "times"), np.zeros(0, np.int64))
    charts = np.concatenate([charts for _, charts in asked])
    views = np.concatenate([np.full(len(charts), number) for number, charts in asked])
    return matcher.counts([number for number, _ in asked], charts.tolist(), views.tolist())


def _added(index: Snapshot, matcher: Matcher, rows: dict[str, Any]) -> Tallies:
    """What is told of charts, view by view, added up for each.

    Args:
        index: The index.
        matcher: What is asked.
        rows: The columns ``chart``, ``view``, ``times``, and perhaps ``exact``; times may be 0.
    """
    import numpy as np

    held = rows["times"] > 0
    if not held.all():
        rows = {name: column[held] for name, column in rows.items()}
    if not len(rows["chart"]):
        nothing = np.zeros(0, np.int64)
        return Tallies(matcher, nothing, nothing, nothing, nothing, nothing if matcher.exact_told else None)
    # The rows of each sequence and view are in order, and merged faster than others could be sorted.
    order = np.argsort(rows["chart"], kind="stable")
    charts, views, times = (rows[name][order] for name in ("chart", "view", "times"))
    first = np.flatnonzero(np.diff(charts, prepend=-1))
    ids, found = charts[first], np.add.reduceat(times, first, dtype=np.int32)
    bits = np.array([matcher.seen(view) for view in range(len(matcher.views))], np.int32)
    seen = np.bitwise_or.reduceat(bits[views], first)
    exact = None
    if matcher.exact_told:
        exact = np.logical_or.reduceat(np.ma.filled(rows["exact"], fill_value=False)[order], first)
    tallies = Tallies(matcher, ids, found, seen, found, exact)
    # What two views count may be one place.
    sure = np.where(tallies.several, np.maximum.reduceat(times, first), found) if matcher.unsure else found
    return replace(tallies, share=sure * matcher.least / _lengths(index, matcher)[ids])


def _lengths(index: Snapshot, matcher: Matcher) -> Ints:
    """For every number of a chart how long its tune is as played."""
    import numpy as np

    def find_out() -> Ints:
        rows = index.arrays(f"SELECT id, {matcher.length} AS length FROM charts")
        lengths = np.ones(int(rows["id"].max()) + 1, np.int32)
        lengths[rows["id"]] = rows["length"]
        return lengths

    return index.once(f"lengths in {matcher.length}", find_out)
