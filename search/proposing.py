"""Tags proposed for a whole library: the names of the progressions that each tune has.

Conventions: what stands in a tune only as a part of something longer that has a name is not proposed, nor what more
than half the tunes have, for such a tag would tell no tune from another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from corpus.catalogue import Catalogue, Progression
from corpus.reading import OpenIndex
from search.filters import Filters
from search.progressions import places_by_chart

_MOST_TUNES = 0.5


@dataclass(frozen=True, slots=True)
class Proposed:
    """Tags proposed for one tune.

    Attributes:
        title: Its title.
        path: Its chart.
        tags: The tags, none of which it has.
    """

    title: str
    path: str
    tags: tuple[str, ...]


def proposed_tags(
    index: OpenIndex, known: Catalogue, filters: Filters | None = None, only: Sequence[Progression] = ()
) -> list[Proposed]:
    """The tags proposed, by path; tunes that get none are left out.

    Args:
        index: The index.
        known: The progressions.
        filters: Which tunes are asked.
        only: The progressions that may become tags, however common; empty for all but the very common.
    """
    found = places_by_chart(index, known, filters or Filters())
    ((charts,),) = index.rows("SELECT count(*) FROM charts")
    tunes = Counter(name for places in found.values() for name in {each.entry.name for each in places})
    names = {entry.name for entry in only} or {name for name in tunes if tunes[name] <= _MOST_TUNES * charts}
    rows = index.rows("SELECT path, title, tags FROM charts ORDER BY path")
    proposals = []
    for path, title, tags in rows:
        has = {tag.casefold() for tag in tags}
        alone = {each.entry.name for each in found.get(path, ()) if not each.within}
        in_order = (entry.name for entry in known.entries if entry.name in alone & names)
        fresh = tuple(name for name in in_order if name.casefold() not in has)
        if fresh:
            proposals.append(Proposed(title, path, fresh))
    return proposals
