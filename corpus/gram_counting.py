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
    import pyarrow as pa

Tallies = npt.NDArray[np.uint64]
#: Sequences, each with its tune, of some tunes.
Sequences = npt.NDArray[np.uint32]

_BITS_OF_TIMES = 16
_BITS_OF_CHART = 26
_MOST_TIMES = (1 << _BITS_OF_TIMES) - 1
#: So many tunes are counted together that a sequence with its tune has room in 32 bits, which are sorted twice as fast.
_BITS_TOGETHER = 32 - (PAIRS + 12 * GROUPS * GROUPS * SLOTS).bit_length()
_MOST_TOGETHER = 1 << _BITS_TOGETHER


def tallied(keys: Ints, minor: Truths, texts: Mapping[str, Ragged]) -> Tallies:
    """The tallies of tunes, in any order; the tunes are numbered from 0.

    Args:
        keys: How many keys each passes through.
        minor: Whether all of it is in one natural minor key.
        texts: The strings of the index by the name of their column, as code points.
    """
    if len(keys) > _MOST_TOGETHER:
        parts = [
            np.arange(first, min(first + _MOST_TOGETHER, len(keys))) for first in range(0, len(keys), _MOST_TOGETHER)
        ]
        tallies = [
            tallied(keys[part], minor[part], {name: runs.taken(part) for name, runs in texts.items()}) for part in parts
        ]
        return np.concatenate([tallies_from(its, part[0]) for its, part in zip(tallies, parts, strict=True)])
    relative, major, fixed = (texts[name].known for name in ("relative", "major", "fixed"))
    one, several = keys == 1, keys > 1
    common, chosen = [], []
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
            charts = np.flatnonzero(which)
            common.append(slot << _BITS_TOGETHER | charts)
            chosen.append(texts[column] if which.all() else texts[column].taken(charts))
    if not chosen:
        return np.zeros(0, np.uint64)
    return _counted(joined(chosen), np.concatenate(common).astype(np.uint32))


def tallies_from(tallies: Tallies, first: int) -> Tallies:
    """The same tallies of tunes that are numbered from ``first``."""
    return tallies + np.uint64(first << _BITS_OF_TIMES)


def gram_rows(tallies: Sequence[Tallies]) -> pa.Table:
    """Tallies of different sequences or tunes as rows of the index's table of sequences, in order."""
    made = np.concatenate(tallies) if tallies else np.zeros(0, np.uint64)
    made.sort()
    # What does not fit falls away from above; nothing of this size is laid out more often than it must be.
    times = made.astype(np.uint16)
    made >>= np.uint64(_BITS_OF_TIMES)
    charts = made.astype(np.uint32)
    charts &= np.uint32((1 << _BITS_OF_CHART) - 1)
    made >>= np.uint64(_BITS_OF_CHART)
    columns: dict[str, Numbers] = {"gram": made.astype(np.int32), "chart": charts.view(np.int32), "times": times}
    return arrow_table({name: numbers_column(numbers) for name, numbers in columns.items()})


def add_grams(connection: duckdb.DuckDBPyConnection, rows: pa.Table, first: int = 0, old: str | None = None) -> None:
    """Fills the tables of sequences.

    Args:
        connection: An open index; if charts were copied, all are in it.
        rows: Those of the charts that were added, numbered as in the index.
        first: The first of these charts; all others were copied.
        old: The schema of the index that the others were copied from, where there are such.
    """
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


def _counted(texts: Ragged, common: Sequences) -> Tallies:
    """The sequences of some strings, each as often as it stands there without overlap.

    Args:
        texts: The strings.
        common: What all sequences of each have in common: their first slot and then the number of the tune, as in a
            sequence with its tune; it is of one string alone.
    """
    every_root, every_group = _tables()
    roots = every_root[texts.values]
    heard = np.flatnonzero(roots != 13)
    common = np.repeat(common, texts.sizes)[heard]
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


def _steps(roots: Numbers, common: Sequences) -> tuple[Truths, Numbers]:
    """Of each neighbours whether both are roots of one string, and by how many semitones the second is higher."""
    sounding = roots < 12
    near = sounding[1:] & sounding[:-1] & (common[1:] == common[:-1])
    steps = np.diff(roots)
    steps += (steps < 0) * np.int32(12)
    return near, steps


def _of_tunes(sequences: Numbers, common: Sequences) -> Sequences:
    """Sequences with their tunes: from the highest bit down the gram and the tune."""
    made: Sequences = sequences.astype(np.uint32) << np.uint32(_BITS_TOGETHER)
    made += common[: len(made)]
    return made


def _apart(sequences: Sequences, whole: Truths, length: int) -> Truths:
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


def _told(sequences: Sequences) -> Tallies:
    """Each sequence of each tune with how often it occurs, pairs as if once."""
    sequences.sort()
    first = np.append([0], np.flatnonzero(sequences[1:] != sequences[:-1]) + 1)[: len(sequences)]
    times = np.minimum(np.diff(np.append(first, len(sequences))), _MOST_TIMES)
    made = sequences[first].astype(np.uint64)
    times[np.searchsorted(made, PAIRS << _BITS_TOGETHER) :] = 1
    tunes = made & np.uint64((1 << _BITS_TOGETHER) - 1)
    grams = made >> np.uint64(_BITS_TOGETHER) << np.uint64(_BITS_OF_CHART)
    tallies: Tallies = (grams | tunes) << np.uint64(_BITS_OF_TIMES)
    return tallies | times.astype(np.uint64)
