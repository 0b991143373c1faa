"""Counts the short sequences of tunes (see ``corpus.grams``), many tunes at a time.

Conventions: a *tally* is one number for each sequence that a tune has: from the highest bit down the gram, the tune and
how often it has it, so that tallies in order are rows in order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from corpus.arrow_columns import arrow_table, numbers_column
from corpus.codes import KEY_CHANGES, slot_groups
from corpus.grams import GROUPS, LONGEST, PAIRS, SLOTS
from corpus.ragged import Ints, Numbers, Ragged, Truths, joined

if TYPE_CHECKING:
    import duckdb

Tallies = npt.NDArray[np.uint64]

_BITS_OF_TIMES = 16
_BITS_OF_CHART = 26
_MOST_TIMES = (1 << _BITS_OF_TIMES) - 1


def tallied(keys: Ints, minor: Truths, texts: Mapping[str, Ragged]) -> Tallies:
    """The tallies of tunes, in order; the tunes are numbered from 0.

    Args:
        keys: How many keys each passes through.
        minor: Whether all of it is in one natural minor key.
        texts: The strings of the index by the name of their column, as code points.
    """
    relative, major, fixed = (texts[name].known for name in ("relative", "major", "fixed"))
    one, several = keys == 1, keys > 1
    charts, slots, parts = [], [], []
    for column, which, slot in (
        ("tonic", one & ~relative & ~minor, 0),
        ("tonic", minor, 12),
        ("tonic", one & relative, 84),
        ("tonic", several & ~relative, 24),
        ("tonic", several & relative, 36),
        ("relative", relative, 48),
        ("major", major & (texts["major"].sizes >= keys), 60),
        ("fixed", fixed, 72),
    ):
        if which.any():
            charts.append(np.flatnonzero(which))
            slots.append(np.full(len(charts[-1]), slot, np.int64))
            parts.append(texts[column].taken(charts[-1]))
    if not parts:
        return np.zeros(0, np.uint64)
    return _counted(joined(parts), np.concatenate(charts), np.concatenate(slots))


def tallies_from(tallies: Tallies, first: int) -> Tallies:
    """The same tallies of tunes that are numbered from ``first``."""
    return tallies + np.uint64(first << _BITS_OF_TIMES)


def add_grams(
    connection: duckdb.DuckDBPyConnection, tallies: Sequence[Tallies], first: int = 0, old: str | None = None
) -> None:
    """Fills the tables of sequences.

    Args:
        connection: An open index whose charts are complete.
        tallies: Those of the charts that were added, numbered as in the index.
        first: The first of these charts; all others were copied.
        old: The schema of the index that the others were copied from, where there are such.
    """
    made = _merged(tallies)
    charts = made >> np.uint64(_BITS_OF_TIMES) & np.uint64((1 << _BITS_OF_CHART) - 1)
    columns: dict[str, Numbers] = {
        "gram": (made >> np.uint64(_BITS_OF_TIMES + _BITS_OF_CHART)).astype(np.int32),
        "chart": charts.astype(np.int32),
        "times": (made & np.uint64(_MOST_TIMES)).astype(np.uint16),
    }
    rows = arrow_table({name: numbers_column(numbers) for name, numbers in columns.items()})
    connection.register("rows", rows)
    if old is None:
        connection.execute("INSERT INTO grams SELECT * FROM rows")
    else:
        # A chart that was added may have the number of one that is gone.
        kept = f"SELECT * FROM {old}.grams WHERE chart IN (SELECT id FROM charts WHERE id < ?)"
        every = f"SELECT * FROM rows UNION ALL {kept}"
        connection.execute(f"INSERT INTO grams SELECT * FROM ({every}) ORDER BY gram, chart", [first])
    connection.unregister("rows")
    connection.execute(
        "INSERT INTO gram_counts SELECT gram, count(*), sum(times) FROM grams GROUP BY gram ORDER BY gram"
    )


def _merged(tallies: Sequence[Tallies]) -> Tallies:
    """Tallies of different sequences or tunes, in order."""
    made = np.concatenate(tallies) if tallies else np.zeros(0, np.uint64)
    made.sort()
    return made


@cache
def _tables() -> tuple[Any, Any]:
    """For every code point its root (12 for a change of key, 13 for any other mark) and the group of its quality."""
    last = max(base + 144 * len(groups) for base, groups in slot_groups())
    roots, groups = np.full(last, 13, np.int8), np.zeros(last, np.int8)
    roots[ord(KEY_CHANGES)] = 12
    for base, of_slots in slot_groups():
        size = len(of_slots)
        roots[base : base + 144 * size] = np.repeat(np.arange(12, dtype=np.int8), 12 * size)
        groups[base : base + 144 * size] = np.tile(np.array(of_slots, np.int8), 144)
    return roots, groups


def _counted(texts: Ragged, charts: Ints, slots: Ints) -> Tallies:
    """The sequences of some strings, each as often as it stands there without overlap.

    Args:
        texts: The strings.
        charts: The number of each one's tune.
        slots: The first slot of its sequences.
    """
    every_root, every_group = _tables()
    owners = np.repeat(np.arange(len(charts)), texts.sizes)
    roots = every_root[texts.values]
    heard = roots != 13
    roots, groups, owners = roots[heard].astype(np.int64), every_group[texts.values[heard]], owners[heard]
    groups = groups.astype(np.int64)
    sounding = roots < 12
    near = sounding[1:] & sounding[:-1] & (owners[1:] == owners[:-1])
    steps = (roots[1:] - roots[:-1]) % 12
    counted_from = slots[owners] + roots
    pairs = PAIRS + ((steps * GROUPS + groups[:-1]) * GROUPS + groups[1:]) * SLOTS + counted_from[:-1]
    told = [_told(pairs[near], charts[owners[:-1][near]], once=True)]
    # Equal neighbours are one root; a sequence ends at a change of key, which is no root.
    kept = np.ones(len(roots), bool)
    kept[1:] = ~(near & (steps == 0))
    roots, owners, sounding, counted_from = roots[kept], owners[kept], sounding[kept], counted_from[kept]
    steps = (roots[1:] - roots[:-1]) % 12
    near = sounding[1:] & sounding[:-1] & (owners[1:] == owners[:-1])
    value, whole = np.ones(len(roots), np.int64), sounding
    for length in range(1, LONGEST + 1):
        if length > 1:
            value = value[: len(roots) - length + 1] * 12 + steps[length - 2 :]
            whole = whole[: len(value)] & near[length - 2 :]
        grams = value * SLOTS + counted_from[: len(value)]
        taken = whole & _apart(grams, value, whole, length)
        told.append(_told(grams[taken], charts[owners[: len(value)][taken]]))
    return _merged(told)


def _apart(grams: Ints, value: Ints, whole: Truths, length: int) -> Truths:
    """Which occurrences are left where none may overlap the one before: every other one of a chain.

    A sequence of up to four roots, neighbours unlike, overlaps the next of its kind only where it comes back after
    ``length - 1`` roots (``1 4 1``) or, four long, after two (``1 4 1 4``); in a chain of such every other one is
    taken, from the left.
    """
    taken = np.ones(len(value), bool)
    for period in range(2, length):
        for start in range(period):
            line = slice(start, None, period)
            same = grams[line][1:] == grams[line][:-1]
            chained = np.concatenate([[False], same & whole[line][1:] & whole[line][:-1]])
            begun = np.maximum.accumulate(np.where(chained, 0, np.arange(len(chained))))
            taken[line] &= (np.arange(len(chained)) - begun) % 2 == 0
    return taken


def _told(grams: Ints, charts: Ints, once: bool = False) -> Tallies:
    """Each gram of each chart with how often it occurs (or 1)."""
    keys = (grams << _BITS_OF_CHART | charts).astype(np.uint64)
    keys.sort()
    first = np.flatnonzero(np.concatenate([[True], keys[1:] != keys[:-1]])[: len(keys)])
    times = np.diff(np.append(first, len(keys)))
    made: Tallies = keys[first] << np.uint64(_BITS_OF_TIMES)
    return made | (np.ones_like(times) if once else np.minimum(times, _MOST_TIMES)).astype(np.uint64)
