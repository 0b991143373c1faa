"""Looks up among the short sequences of an index which tunes may match a pattern at all.

What a match must hold (``search.narrowing``) is looked up where it is rare: the tunes that have it are few, and the
full expression decides among these alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from corpus.reading import Snapshot
from search.narrowing import necessary, numbers, together, told_grams
from search.nearness import pieces
from search.views import View
from shared.pattern import Pattern, Strength

#: Libraries smaller than this are asked whole: looking anything up would cost more.
SMALL = 2000
#: Above this share of all tunes, looking a tune up costs more than asking it.
WORTH = 0.6

#: Whether a row is of one of some charts, which are the parameter, in SQL: as a join, which reads only what it must.
ONE_OF = "id IN (SELECT unnest(?::INTEGER[]))"
#: Whether a tune passes through several keys, in SQL.
SEVERAL_KEYS = "coalesce(contains(segments, chr(10)), FALSE)"
#: The tunes of which a chord sounds over a change of key, and so stands in both.
SHARING_A_CHORD = f"""
    SELECT id FROM (SELECT id, key_segments(segments, key, events, played) AS keys FROM charts WHERE {SEVERAL_KEYS})
    WHERE list_bool_or(list_transform(range(1, len(keys)), lambda one: keys[one].last >= keys[one + 1].first))
"""


@dataclass(frozen=True, slots=True)
class Lookup:
    """The tunes that a view has to be asked of: those that have one gram at least of each of some sets.

    Attributes:
        grams: The sets, the rarest first.
        most: How many tunes there may be at most: so many, counted with repetition, have the rarest.
        told: Where how often a tune has those of the only set is the number of matches, of how many sequences they
            are; else 0.
    """

    grams: tuple[tuple[int, ...], ...]
    most: int
    told: int = 0


def in_large(index: Snapshot) -> bool:
    """Whether a library is so large that looking things up costs less than asking every tune."""
    return index.charts >= SMALL


def lookups(
    index: Snapshot,
    patterns: Sequence[Pattern],
    strength: Strength,
    views: Sequence[View],
    near: int,
    at_once: Sequence[int],
    told: Sequence[Sequence[int]],
) -> list[Lookup | None]:
    """For each view the tunes that it has to be asked of; None where that is all of them.

    Args:
        index: The index.
        patterns: The pattern, or its rotations.
        strength: How much must agree.
        views: The views.
        near: How many edits away a match may be.
        at_once: Views that are asked together with the first of them where that is asked of all tunes.
        told: The sequences of roots of which the index holds the very number of matches, if that is so.
    """
    if told:
        return [_lookup(index, [grams], len(told)) for grams in told_grams(told, views)]
    if not in_large(index):
        return [None] * len(views)
    # Of a near version at least one piece is whole.
    held = [piece for each in patterns for piece in pieces(each, near)] if near else patterns
    conditions = [necessary(each, strength) for each in held]
    if not conditions or not all(conditions):
        return [None] * len(views)
    centred = any(view.centre is not None for view in views)
    # About any centre one condition serves for all: which is the rarest is told by the home tonic.
    asked = views[:1] if centred else views
    grams = [[[numbers(one, view) for one in each] for each in conditions] for view in asked]
    known = _known(index)
    found: list[Lookup | None] = []
    for number, view in enumerate(views):
        of_view = grams[0 if centred else number]
        weights = [[sum(known.get(gram, 0) for gram in one) for one in each] for each in of_view]
        worth = sum(map(min, weights))
        if worth > WORTH * index.charts or (number in at_once[1:] and found[at_once[0]] is None):
            found.append(None)
            continue
        sets = [[each[weight.index(min(weight))] for each, weight in zip(conditions, weights, strict=True)]]
        if len(conditions) == 1:
            sets = [[one] for one in together(conditions[0], weights[0])]
        found.append(_lookup(index, [[gram for one in each for gram in numbers(one, view)] for each in sets]))
    return found


def _lookup(index: Snapshot, sets: Iterable[Iterable[int]], told: int = 0) -> Lookup:
    """What to look up, without grams that stand in no tune."""
    known = _known(index)
    grams = tuple(tuple(gram for gram in dict.fromkeys(each) if gram in known) for each in sets)
    return Lookup(grams, min(sum(known[gram] for gram in each) for each in grams), told)


def _known(index: Snapshot) -> dict[int, int]:
    """In how many tunes each gram stands; those that stand in none are left out."""
    return index.once("grams", lambda: dict(index.rows("SELECT gram, charts FROM gram_counts")))


def shared_chords(index: Snapshot) -> str:
    """The table of the tunes of which a chord sounds over a change of key, and so stands in both; empty for none."""
    name = "memory.shared"

    def make() -> str:
        # The keys of a tune are looked at once for all questions.
        index.rows(f"CREATE TABLE {name} AS {SHARING_A_CHORD}")
        return name if index.rows(f"SELECT 1 FROM {name} LIMIT 1") else ""

    return index.once(name, make)


def candidates(looked_up: Mapping[int, Lookup]) -> str:
    """The tunes that each view has to be asked of, in SQL: ``view``, ``chart``, and ``times`` where these are told."""
    selects = []
    for number, lookup in looked_up.items():
        first, *others = [f"FROM grams WHERE gram IN ({listed(grams)})" for grams in lookup.grams]
        found = first + "".join(f" AND chart IN (SELECT chart {each})" for each in others)
        if not lookup.told:
            selects.append(f"SELECT DISTINCT {number} AS view, 0 AS times, chart {found}")
        elif lookup.told == 1:
            selects.append(f"SELECT {number} AS view, times, chart {found}")
        else:
            selects.append(f"SELECT {number} AS view, sum(times)::INTEGER AS times, chart {found} GROUP BY chart")
    return " UNION ALL ".join(selects)


def to_look_up(lookups: Sequence[Lookup | None]) -> dict[int, Lookup]:
    """The lookups that views have; what must be there and stands in no tune needs no asking."""
    return {number: each for number, each in enumerate(lookups) if each is not None and all(each.grams)}


def among(table: str, view: int, lookup: Lookup | None) -> str:
    """The condition that a tune is among those that a view has to be asked of, which are in a table."""
    if lookup is None:
        return "TRUE"
    return f"id IN (SELECT chart FROM {table} WHERE view = {view})" if all(lookup.grams) else "FALSE"


def charts_for(bars: bool) -> str:
    """The table of charts with the string of chords put together once, however often it is named, in SQL.

    Each time that a statement names it DuckDB takes almost a millisecond more to plan.

    Args:
        bars: Whether the string of bars is named too.
    """
    return f"(SELECT *{'' if bars else ' EXCLUDE (tonic_bars)'} FROM charts)"


def listed(values: Iterable[int]) -> str:
    """Numbers as a list in SQL; one that holds nothing where there are none."""
    return ", ".join(map(str, values)) or "NULL"
