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
from corpus.ragged import Ints, Numbers, Ragged, Truths, changes, joined

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
            parts.append(texts[column] if which.all() else texts[column].taken(charts[-1]))
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
        charts: The number of each one's tune; that and the slot together are of one string alone.
        slots: The first slot of its sequences.
    """
    every_root, every_group = _tables()
    roots = every_root[texts.values]
    heard = np.flatnonzero(roots != 13)
    # A sequence with its tune is one number: that of its steps, and what all sequences of its string have in common.
    common = np.repeat(slots << _BITS_OF_CHART | charts, texts.sizes)[heard]
    roots, groups = roots[heard].astype(np.int32), every_group[texts.values[heard]].astype(np.int32)
    near, steps = _steps(roots, common)
    pairs = PAIRS + ((steps * GROUPS + groups[:-1]) * GROUPS + groups[1:]) * SLOTS + roots[:-1]
    told = [_of_tunes(pairs, common)[near]]
    # Equal neighbours are one root; a sequence ends at a change of key, which is no root.
    kept = np.flatnonzero(np.concatenate([[True], ~near | (steps != 0)])[: len(roots)])
    roots, common = roots[kept], common[kept]
    near, steps = _steps(roots, common)
    value, whole = np.ones(len(roots), np.int32), roots < 12
    for length in range(1, LONGEST + 1):
        if length > 1:
            value = value[: len(roots) - length + 1] * 12 + steps[length - 2 :]
            whole = whole[: len(value)] & near[length - 2 :]
        sequences = _of_tunes(value * SLOTS + roots[: len(value)], common)
        told.append(sequences[whole & _apart(sequences, whole, length)])
    return _told(np.concatenate(told))


def _steps(roots: Numbers, common: Ints) -> tuple[Truths, Numbers]:
    """Of each neighbours whether both are roots of one string, and by how many semitones the second is higher."""
    sounding = roots < 12
    near = sounding[1:] & sounding[:-1] & (common[1:] == common[:-1])
    steps = np.diff(roots)
    steps += (steps < 0) * np.int32(12)
    return near, steps


def _of_tunes(sequences: Numbers, common: Ints) -> Ints:
    made: Ints = sequences.astype(np.int64) << _BITS_OF_CHART
    made += common[: len(made)]
    return made


def _apart(sequences: Ints, whole: Truths, length: int) -> Truths:
    """Which occurrences are left where none may overlap the one before: every other one of a chain.

    A sequence of up to four roots, neighbours unlike, overlaps the next of its kind only where it comes back after
    ``length - 1`` roots (``1 4 1``) or, four long, after two (``1 4 1 4``); in a chain of such every other one is
    taken, from the left.
    """
    taken = np.ones(len(sequences), bool)
    for period in range(2, length):
        same = (sequences[period:] == sequences[:-period]) & whole[period:] & whole[:-period]
        chained = np.flatnonzero(same) + period
        # Chain by chain: those of one chain are ``period`` apart.
        chained = chained[np.argsort(chained % period, kind="stable")]
        number = np.arange(len(chained))
        begins = np.concatenate([[True], np.diff(chained) != period])[: len(chained)]
        number -= np.maximum.accumulate(np.where(begins, number, 0))
        taken[chained[number % 2 == 0]] = False
    return taken


def _told(sequences: Ints) -> Tallies:
    """Each sequence of each tune with how often it occurs, pairs as if once."""
    sequences.sort()
    first = np.flatnonzero(changes(sequences))
    times = np.minimum(np.diff(np.append(first, len(sequences))), _MOST_TIMES)
    made = sequences[first]
    times[np.searchsorted(made, PAIRS << _BITS_OF_CHART) :] = 1
    tallies: Tallies = made.astype(np.uint64) << np.uint64(_BITS_OF_TIMES)
    return tallies | times.astype(np.uint64)
