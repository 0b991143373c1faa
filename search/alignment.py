"""Local alignment of tunes: the passages that two tunes share, in whatever key.

Conventions:
    * A tune is a line of units, a unit two halves of one kind each: a bar by its first and second half, or a chord by
      itself twice. A kind is the root in semitones from a tonic, times the families of chords, plus the family.
    * Likeness is counted in hundredths of a unit, in whole numbers, so that two ways to work it out agree to the last.
    * A passage is a local alignment (T. F. Smith and M. S. Waterman, "Identification of common molecular subsequences",
      Journal of Molecular Biology 147, 1981): units of one tune set beside units of the other, in order, some left out.
      It is worth what its pairs are alike less what is left out.
    * The other tune is moved up by as many semitones as make the best passage, of equals by the fewest. Then passages
      are taken one after the other, each time the one that is worth most; of equals the one that ends first here, then
      there. No unit belongs to two passages, nor does one lead over a unit of another (after M. S. Waterman and
      M. Eggert, "A new algorithm for best subsequence alignments", Journal of Molecular Biology 197, 1987).
    * Where an alignment can be traced back in several ways, a pair is preferred, then a unit of the first left out.

=============================================  ========
what stands beside what, in one half of a unit  hundredths
=============================================  ========
one root, one family                           50
one root, families of one third                45
one root, another third                        35
a relative: two tones of the triads shared     0
dominants a tritone apart                      0
a stranger that shares a tone of the triad     -25
any other stranger                             -50
=============================================  ========

A unit left out costs 100. The weights are ours (a same root is nearer than a relative, a relative nearer than a
stranger), round numbers taken once; results change little where they do.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from corpus.codes import slot_groups
from shared.quality import Family

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

#: What a unit is worth beside its own kind, and what one left out costs.
UNIT = LEFT_OUT = 100
#: A passage is worth at least this: four units alike, less a trifle.
LEAST = 350
#: At most so many passages of two tunes.
MOST_PASSAGES = 8
ONE_FAMILY, ONE_THIRD, OTHER_THIRD, RELATIVE, TRITONE, ONE_TONE, STRANGER = 50, 45, 35, 0, 0, -25, -50

#: A bar or a chord: the kinds of its halves.
Unit = tuple[int, int]

FAMILIES = tuple(Family)
KINDS = 12 * len(FAMILIES)
#: The triad that stands for a family, in semitones above the root, and its third.
_TRIADS = {
    Family.AUGMENTED: (0, 4, 8),
    Family.MAJOR: (0, 4, 7),
    Family.DOMINANT: (0, 4, 7),
    Family.SUSPENDED: (0, 5, 7),
    Family.OPEN_FIFTH: (0, 7),
    Family.MINOR: (0, 3, 7),
    Family.HALF_DIMINISHED: (0, 3, 6),
    Family.DIMINISHED: (0, 3, 6),
}
#: Cells of the tables that are filled at once: bounds the memory.
_CELLS = 3_000_000
#: A likeness that no passage outweighs, and that can be added up over the longest tune.
_NEVER = -10_000_000
#: What two tunes may be worth together for their worth to be counted in 16 bits.
_SMALL = 32_000


@dataclass(frozen=True, slots=True)
class Passage:
    """A passage that two tunes share.

    Attributes:
        worth: What it is worth, in hundredths of a unit.
        move: Semitones by which the second tune is moved up to meet the first.
        pairs: The units set beside each other, ascending in both.
    """

    worth: int
    move: int
    pairs: tuple[tuple[int, int], ...]


def likeness(first: int, second: int) -> int:
    """What two kinds are alike, for half a unit: the table above.

    >>> one, six, four = FAMILIES.index(Family.MAJOR), 9 * 8 + FAMILIES.index(Family.MINOR), 5 * 8 + 1
    >>> likeness(one, one), likeness(one, six), likeness(one, four)
    (50, 0, -25)
    """
    (root, family), (other_root, other_family) = (divmod(kind, len(FAMILIES)) for kind in (first, second))
    here, there = FAMILIES[family], FAMILIES[other_family]
    if root == other_root:
        if here is there:
            return ONE_FAMILY
        thirds = {_third(here), _third(there)} - {None}
        return ONE_THIRD if len(thirds) < 2 else OTHER_THIRD
    if here is there is Family.DOMINANT and (root - other_root) % 12 == 6:
        return TRITONE
    tones = {(root + tone) % 12 for tone in _TRIADS[here]} & {(other_root + tone) % 12 for tone in _TRIADS[there]}
    return (STRANGER, ONE_TONE, RELATIVE, RELATIVE)[len(tones)]


def _third(family: Family) -> int | None:
    """The third of a family, in semitones; None where it has none."""
    return next((tone for tone in _TRIADS[family] if tone in (3, 4)), None)


def kinds_of(codes: str) -> list[int]:
    """The kind of each chord of a string of codes without marks (see ``corpus.codes``)."""
    return [_kind(code) for code in codes]


@lru_cache(maxsize=65_536)
def _kind(code: str) -> int:
    """The kind of one code."""
    named, rare = slot_groups()
    first, groups = named if ord(code) < rare[0] else rare
    place, slot = divmod(ord(code) - first, len(groups))
    # Every family has two groups of slots (the dominants without a third are the second of theirs).
    return place // 12 * len(FAMILIES) + groups[slot] // 2


@cache
def _table() -> Array:
    """``likeness`` of every two kinds, the second moved by each number of semitones: shape 12, kinds, kinds."""
    import numpy as np

    size = len(FAMILIES)
    alike = np.array([[likeness(first, second) for second in range(KINDS)] for first in range(KINDS)], np.int16)
    kinds = np.arange(KINDS)
    return np.stack([alike[:, (kinds // size + move) % 12 * size + kinds % size] for move in range(12)])


def passages(here: Sequence[Unit], others: Sequence[Sequence[Unit]]) -> list[list[Passage]]:
    """The passages that one tune shares with each of several others, in the order in which they are taken.

    Args:
        here: The units of the tune, each by the kinds of its halves.
        others: The units of the other tunes.
    """
    found: list[list[Passage]] = [[] for _ in others]
    if not here:
        return found
    # Tunes of like length go together, so that few cells are filled for nothing.
    ordered = sorted((number for number, each in enumerate(others) if each), key=lambda number: len(others[number]))
    batch: list[int] = []
    for number in ordered:
        if batch and (len(batch) + 1) * (len(others[number]) + 1) * (len(here) + 1) > _CELLS:
            _align(here, others, batch, found)
            batch = []
        batch.append(number)
    if batch:
        _align(here, others, batch, found)
    return found


def _align(
    here: Sequence[Unit],
    others: Sequence[Sequence[Unit]],
    batch: Sequence[int],
    found: list[list[Passage]],
) -> None:
    """Finds the passages of one batch of the other tunes."""
    work = _Batch(here, [others[number] for number in batch])
    for lane, passage in work.passages():
        found[batch[lane]].append(passage)


class _Batch:
    """Several tunes aligned with one at once; a lane is one of them, the last axis of every table."""

    def __init__(self, here: Sequence[Unit], others: Sequence[Sequence[Unit]]) -> None:
        import numpy as np

        rows, unlike = _numbered([here])
        #: For each unit of ``here`` its number among the unlike ones, and whether it is free in each lane.
        self.rows = rows[0]
        self.free = np.ones((len(here), len(others)), np.int32)
        columns, unlike_there = _numbered(others)
        #: The number of each unit of each lane; the last number stands for what is taken or past the end.
        self.taken = len(unlike_there)
        self.units = np.full((max(map(len, others)), len(others)), self.taken)
        for lane, numbers in enumerate(columns):
            self.units[: len(numbers), lane] = numbers
        first, second = (np.array(half)[:, None] for half in zip(*unlike, strict=True))
        there, there_second = (np.array(half) for half in zip(*unlike_there, strict=True))
        table = _table()
        #: What a unit of ``here`` and one of a lane are alike, the lane moved: moves, unlike units, unlike units + 1.
        self.alike = np.full((12, len(unlike), self.taken + 1), _NEVER, np.int32)
        self.alike[:, :, :-1] = table[:, first, there] + table[:, second, there_second]

    def passages(self) -> Iterator[tuple[int, Passage]]:
        """Lanes and their passages; those of one lane in the order in which they are taken."""
        import numpy as np

        lanes = np.arange(len(self.units[0]))
        first = np.stack([self._best(move) for move in range(12)])
        moves = first.argmax(axis=0)
        lanes = lanes[first.max(axis=0) >= LEAST]
        for _ in range(MOST_PASSAGES):
            if not len(lanes):
                return
            table = self._filled(lanes, moves[lanes])
            worth = table.max(axis=(0, 1))
            for place in np.flatnonzero(worth >= LEAST).tolist():
                lane = int(lanes[place])
                pairs = self._traced(table[:, :, place], lane, int(moves[lane]))
                for row, column in pairs:
                    self.free[row, lane] = 0
                    self.units[column, lane] = self.taken
                yield lane, Passage(int(worth[place]), int(moves[lane]), pairs)
            lanes = lanes[worth >= LEAST]

    def _best(self, move: int) -> Array:
        """The worth of the best passage of each lane under one move, before any unit is taken."""
        import numpy as np

        kind = np.int16 if UNIT * (len(self.rows) + len(self.units) + 1) < _SMALL else np.int32
        alike = np.maximum(self.alike[move], np.iinfo(kind).min // 2).astype(kind)
        slope = (LEFT_OUT * np.arange(1, len(self.units) + 1)).astype(kind)[:, None]
        row = np.zeros((len(self.units) + 1, len(self.units[0])), kind)
        best = np.zeros_like(row[1:])
        for number in self.rows.tolist():
            row[1:] = _next_row(row, alike[number].take(self.units), slope)
            np.maximum(best, row[1:], out=best)
        highest: Array = best.max(axis=0)
        return highest

    def _filled(self, lanes: Array, moves: Array) -> Array:
        """The tables of some lanes, each under a move of its own, with nothing that is taken in any passage.

        Each has a row for each unit of ``here`` and a column for each of the lane, both with one in front.
        """
        import numpy as np

        units, free = self.units[:, lanes], self.free[:, lanes]
        width = self.taken + 1
        offsets = units + moves * (len(self.alike[0]) * width)
        alike = self.alike.ravel()
        # What leaving out all columns up to one costs; nothing leads over a taken one.
        slope = np.where(units == self.taken, -_NEVER, LEFT_OUT).cumsum(axis=0, dtype=np.int32)
        table = np.zeros((len(self.rows) + 1, len(units) + 1, len(lanes)), np.int32)
        for place, number in enumerate(self.rows.tolist()):
            cells = _next_row(table[place], alike.take(offsets + number * width), slope)
            np.multiply(cells, free[place], out=table[place + 1, 1:])
        return table

    def _traced(self, table: Array, lane: int, move: int) -> tuple[tuple[int, int], ...]:
        """The pairs of the best passage of one lane, from its table."""
        row, column = divmod(int(table.argmax()), table.shape[1])
        alike, rows, units = self.alike[move], self.rows.tolist(), self.units[:, lane].tolist()
        cells = table[: row + 1, : column + 1].tolist()
        pairs = []
        while value := cells[row][column]:
            if value == cells[row - 1][column - 1] + alike[rows[row - 1], units[column - 1]]:
                row, column = row - 1, column - 1
                pairs.append((row, column))
            elif value == cells[row - 1][column] - LEFT_OUT:
                row -= 1
            else:
                column -= 1
        return tuple(reversed(pairs))


def _next_row(row: Array, cells: Array, slope: Array) -> Array:
    """The next row of a table, without its first column, from the row before it; it takes the place of ``cells``.

    Args:
        row: The row before, with the column in front.
        cells: What the units of the next row and of every column are alike.
        slope: What leaving out all columns up to one costs.
    """
    import numpy as np

    cells += row[:-1]
    np.maximum(cells, row[1:] - LEFT_OUT, out=cells)
    np.maximum(cells, 0, out=cells)
    cells += slope
    np.maximum.accumulate(cells, axis=0, out=cells)
    cells -= slope
    return cells


def _numbered(lines: Sequence[Sequence[Unit]]) -> tuple[list[Array], list[Unit]]:
    """The unlike units of some lines, and each line by their numbers."""
    import numpy as np

    unlike = list(dict.fromkeys(unit for line in lines for unit in line))
    numbers = {unit: number for number, unit in enumerate(unlike)}
    return [np.array([numbers[unit] for unit in line]) for line in lines], unlike
