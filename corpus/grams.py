"""Short sequences of every tune, sorted, so that a question can look up which tunes may answer it.

Two kinds of sequences are kept, each with a number of its own (a gram):

- *Roots*: one to ``LONGEST`` roots as they follow each other, equal neighbours joined, with how often a tune has them,
  counted from the left without overlap. For a progression of so many plain roots that is the very number of matches.
- *Pairs*: two chords side by side by root and group of qualities (see ``corpus.codes``); here only that a tune has
  them is kept.

A number is made of, in this order, the steps between the roots (and the groups) and the slot. The slot says what the
first root is counted from; so every transposition of one sequence lies in one run of ``SLOTS`` numbers. The slots:

======  ======================================================================================
slots   the first root in semitones
======  ======================================================================================
0-11    from the tonic, in tunes of one key that has a major third
12-23   from the tonic, in tunes of one natural minor key
24-35   from the tonic, in tunes that change key, all keys with a major third
36-47   from the tonic, in other tunes that change key
48-59   from the relative major, where keys have a minor third, in all other tunes than those of slots 12-23
60-71   from the tonic, where keys have a major third, in tunes that also have keys with a minor one
72-83   from the home tonic, over changes of key, in tunes that change it
84-95   from the tonic, in tunes of one other key that has a minor third
======  ======================================================================================

Only sequences of slots 72-83 run over changes of key. After R. Cox, "Regular Expression Matching with a Trigram
Index" (2012): the index picks the tunes that may match, the full expression decides.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from corpus.arrow_columns import numbers_column
from corpus.codes import KEY_CHANGES, LAST_GROUP, slot_groups

if TYPE_CHECKING:
    import duckdb
    import numpy as np
    import pyarrow as pa

    Ints = np.ndarray[Any, np.dtype[np.int64]]

#: The longest sequence of roots that is kept.
LONGEST = 4
SLOTS = 96
#: First slots of the counts that questions are asked of: a sequence stands in a tune under a count if it has it in any.
TONIC, MINOR, RELATIVE, MAJOR, CENTRE = (0, 12, 24, 36, 84), (12,), (48,), (0, 24, 60), (0, 12, 72, 84)
_GROUPS = LAST_GROUP + 1
#: Numbers of pairs begin behind those of roots.
_PAIRS: int = 12**LONGEST * SLOTS
#: Tunes that are counted at once: bounds the memory.
_BATCH = 100_000
_BITS = 32

#: Columns of ``charts``, which of its rows, and the first slot of their sequences.
_COLUMNS = (
    ("tonic", "len(segments) = 1 AND relative IS NULL AND NOT minor", 0),
    ("tonic", "minor", 12),
    ("tonic", "len(segments) = 1 AND relative IS NOT NULL", 84),
    ("tonic", "len(segments) > 1 AND relative IS NULL", 24),
    ("tonic", "len(segments) > 1 AND relative IS NOT NULL", 36),
    ("relative", "relative IS NOT NULL", 48),
    ("major", "major IS NOT NULL AND length(major) >= len(segments)", 60),
    ("fixed", "fixed IS NOT NULL", 72),
)


def roots_gram(roots: Sequence[int], slot: int) -> int:
    """The number of a sequence of roots.

    Args:
        roots: One to ``LONGEST`` roots in semitones, no two neighbours equal.
        slot: The first of the twelve slots of what they are counted from.
    """
    value = 1
    for before, after in pairwise(roots):
        value = value * 12 + (after - before) % 12
    return int(value * SLOTS + slot + roots[0] % 12)


def pair_gram(first: tuple[int, int], second: tuple[int, int], slot: int) -> int:
    """The number of two chords side by side, each given by its root in semitones and the group of its quality."""
    value = ((second[0] - first[0]) % 12 * _GROUPS + first[1]) * _GROUPS + second[1]
    return _PAIRS + value * SLOTS + slot + first[0] % 12


def add_grams(connection: duckdb.DuckDBPyConnection, first: int, old: str | None = None) -> None:
    """Fills the tables of sequences.

    Args:
        connection: An open index whose charts are complete.
        first: The first chart that was added; the sequences of those before it are taken from ``old``.
        old: The schema of the index that they were copied from.
    """
    connection.execute("CREATE TEMP TABLE sequences (gram INTEGER, chart INTEGER, times USMALLINT)")
    if old is not None:
        connection.execute(f"INSERT INTO sequences SELECT * FROM {old}.grams WHERE chart IN (SELECT id FROM charts)")
    ((end,),) = connection.execute("SELECT coalesce(max(id) + 1, 0) FROM charts").fetchall()
    for column, condition, slot in _COLUMNS:
        sql = f"SELECT id, {column} FROM charts WHERE id >= ? AND id < ? AND {condition}"
        for begin in range(first, end, _BATCH):
            texts = connection.execute(sql, [begin, begin + _BATCH]).fetchall()
            for rows in _counted(texts, slot) if texts else ():
                connection.register("rows", rows)
                connection.execute("INSERT INTO sequences SELECT * FROM rows")
                connection.unregister("rows")
    connection.execute("INSERT INTO grams SELECT * FROM sequences ORDER BY gram, chart")
    connection.execute("DROP TABLE sequences")
    connection.execute(
        "INSERT INTO gram_counts SELECT gram, count(*), sum(times) FROM grams GROUP BY gram ORDER BY gram"
    )


@cache
def _tables() -> tuple[Any, Any]:
    """For every code point its root (12 for a change of key, 13 for any other mark) and the group of its quality."""
    import numpy as np

    last = max(base + 144 * len(groups) for base, groups in slot_groups())
    roots, groups = np.full(last, 13, np.int8), np.zeros(last, np.int8)
    roots[ord(KEY_CHANGES)] = 12
    for base, of_slots in slot_groups():
        size = len(of_slots)
        roots[base : base + 144 * size] = np.repeat(np.arange(12, dtype=np.int8), 12 * size)
        groups[base : base + 144 * size] = np.tile(np.array(of_slots, np.int8), 144)
    return roots, groups


def _counted(texts: Sequence[tuple[int, str]], slot: int) -> Iterator[pa.Table]:
    """The sequences of some tunes (their numbers and strings), each as often as it stands there without overlap."""
    import numpy as np

    ids = np.array([chart for chart, _ in texts], np.int64)
    codes = np.frombuffer("".join([text for _, text in texts]).encode("utf-32-le"), np.uint32)
    every_root, every_group = _tables()
    roots, groups = every_root[codes], every_group[codes]
    owners = np.repeat(np.arange(len(texts)), [len(text) for _, text in texts])
    heard = roots != 13
    roots, groups, owners = roots[heard].astype(np.int64), groups[heard].astype(np.int64), owners[heard]
    sounding = roots < 12
    near = sounding[1:] & sounding[:-1] & (owners[1:] == owners[:-1])
    steps = (roots[1:] - roots[:-1]) % 12
    counted_from = slot + roots
    pairs = _PAIRS + ((steps * _GROUPS + groups[:-1]) * _GROUPS + groups[1:]) * SLOTS + counted_from[:-1]
    yield _told(pairs[near], ids[owners[:-1][near]], once=True)
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
        yield _told(grams[taken], ids[owners[: len(value)][taken]])


def _apart(grams: Ints, value: Ints, whole: Any, length: int) -> Any:
    """Which occurrences are left where none may overlap the one before: every other one of a chain.

    A sequence of up to four roots, neighbours unlike, overlaps the next of its kind only where it comes back after
    ``length - 1`` roots (``1 4 1``) or, four long, after two (``1 4 1 4``); in a chain of such every other one is
    taken, from the left.
    """
    import numpy as np

    taken = np.ones(len(value), bool)
    for period in range(2, length):
        for start in range(period):
            line = slice(start, None, period)
            same = grams[line][1:] == grams[line][:-1]
            chained = np.concatenate([[False], same & whole[line][1:] & whole[line][:-1]])
            begun = np.maximum.accumulate(np.where(chained, 0, np.arange(len(chained))))
            taken[line] &= (np.arange(len(chained)) - begun) % 2 == 0
    return taken


def _told(grams: Ints, charts: Ints, once: bool = False) -> pa.Table:
    """Each gram of each chart with how often it occurs (or 1)."""
    import numpy as np
    import pyarrow as pa

    keys, times = np.unique(grams << _BITS | charts, return_counts=True)
    return pa.table(
        {
            "gram": numbers_column((keys >> _BITS).astype(np.int32)),
            "chart": numbers_column((keys & (1 << _BITS) - 1).astype(np.int32)),
            "times": numbers_column(np.minimum(np.ones_like(times) if once else times, 65535).astype(np.uint16)),
        }
    )
