"""What bars hold, as numbers in tables: music repeats itself, so that each is looked into once.

Conventions: a bar is known by the identity of its cells. Only what sounds counts, neighbours that sound alike
once; each is one *chord* of the bar. Kinds are chords that sound alike and are coded alike, whatever their names.
"""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from corpus.codes import codes_from_every_tonic
from corpus.ragged import Ints, Ragged, Truths, of_texts, starts
from corpus.unfolding import shown_name
from shared.chart import Cell
from shared.chord import Chord

#: So many bars are remembered.
_MOST_REMEMBERED = 65536


class Tables(NamedTuple):
    """What some bars hold.

    Attributes:
        sizes: How many chords each bar has.
        first: Where they start among all chords.
        silent: Whether there is silence in it.
        shares: For each of the twelve roots the share of the bar's cells that it has.
        kind: The kind of each chord.
        name: The number of its name as written.
        sound: For each kind a number that is equal where chords sound alike (see ``Chord.sound``).
        root: Its root, as a pitch class.
        codes: Its code point counted from each of the twelve tonics.
        names: The names.
    """

    sizes: Ints
    first: Ints
    silent: Truths
    shares: npt.NDArray[np.float32]
    kind: Ints
    name: Ints
    sound: Ints
    root: Ints
    codes: npt.NDArray[np.uint32]
    names: Ragged


class Contents:
    """The bars met so far."""

    def __init__(self) -> None:
        self._numbers: dict[int, int] = {}
        #: Kept, so that no other cells can have their identity.
        self._cells: list[tuple[Cell, ...]] = []
        self._kinds: dict[tuple[object, ...], int] = {}
        self._sounds: dict[tuple[object, ...], int] = {}
        self._names: dict[str, int] = {}
        self._of_bars, self._of_chords, self._of_kinds = array("q"), array("q"), array("q")
        self._codes, self._shares = array("I"), array("f")

    @property
    def full(self) -> bool:
        """Whether so many bars are remembered that it is better to begin anew."""
        return len(self._cells) > _MOST_REMEMBERED

    def numbers(self, bars: Sequence[tuple[Cell, ...]]) -> Ints:
        """The numbers of bars in the tables, each given by its cells."""
        places = list(map(id, bars))
        for place, cells in dict(zip(places, bars, strict=True)).items():
            if place not in self._numbers:
                self._numbers[place] = len(self._cells)
                self._cells.append(cells)
                self._add(cells)
        return np.fromiter(map(self._numbers.__getitem__, places), np.int64, len(places))

    def _add(self, cells: tuple[Cell, ...]) -> None:
        silent = size = 0
        before = -1
        shares = [0.0] * 12
        for cell in cells:
            if cell.chord is None:
                silent = 1
                continue
            shares[cell.chord.sound[0]] += 1 / len(cells)
            kind = self._kind(cell.chord)
            sound = self._of_kinds[2 * kind]
            if sound != before:
                before = sound
                size += 1
                self._of_chords.extend((kind, self._names.setdefault(shown_name(cell), len(self._names))))
        self._of_bars.extend((size, silent))
        self._shares.extend(shares)

    def _kind(self, chord: Chord) -> int:
        sound = chord.sound
        kind = self._kinds.setdefault((sound, chord.quality.third), len(self._kinds))
        if 2 * kind == len(self._of_kinds):
            self._of_kinds.extend((self._sounds.setdefault(sound, len(self._sounds)), sound[0]))
            self._codes.extend(codes_from_every_tonic(chord))
        return kind

    def tables(self) -> Tables:
        """All that is known."""
        sizes, silent = np.array(self._of_bars).reshape(-1, 2).T
        kind, name = np.array(self._of_chords).reshape(-1, 2).T
        sound, root = np.array(self._of_kinds).reshape(-1, 2).T
        codes = np.array(self._codes, np.uint32).reshape(-1, 12)
        shares = np.array(self._shares, np.float32).reshape(-1, 12)
        names = of_texts(list(self._names))
        return Tables(sizes, starts(sizes), silent > 0, shares, kind, name, sound, root, codes, names)
