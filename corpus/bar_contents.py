"""What bars hold, as numbers in tables: music repeats itself, so that each is looked into once.

Conventions: a bar is known by the identity of its cells. Only what sounds counts; neighbours that sound alike are one
*chord* of the bar. Kinds are chords that sound alike and are coded alike, whatever their names.
"""

from __future__ import annotations

import threading
from array import array
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from corpus.codes import codes_from_every_tonic
from corpus.key_phrases import plain
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
        cells: How many cells each bar has.
        sounding: How many of them sound.
        place: For each cell that sounds its place in its bar, from 0.
        kind_of_cell: Its kind.
        plain: For each kind what of it bears on the key (see ``corpus.key_phrases.plain``).
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
    cells: Ints
    sounding: Ints
    place: Ints
    kind_of_cell: Ints
    plain: Ints


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
        self._of_cells = array("q")
        self._tables: Tables | None = None
        self._codes, self._shares = array("I"), array("f")

    @property
    def full(self) -> bool:
        """Whether so many bars are remembered that it is better to begin anew."""
        return len(self._cells) > _MOST_REMEMBERED

    def numbers(self, bars: Sequence[tuple[Cell, ...]]) -> Ints:
        """The numbers of bars in the tables, each given by its cells."""
        try:
            return np.fromiter(map(self._numbers.__getitem__, map(id, bars)), np.int64, len(bars))
        except KeyError:
            self._learn(bars)
        return self.numbers(bars)

    def _learn(self, bars: Sequence[tuple[Cell, ...]]) -> None:
        for place, cells in zip(map(id, bars), bars, strict=True):
            if place not in self._numbers:
                self._numbers[place] = len(self._cells)
                self._cells.append(cells)
                self._add(cells)

    def _add(self, cells: tuple[Cell, ...]) -> None:
        self._tables = None
        silent = size = sounding = 0
        before = -1
        shares = [0.0] * 12
        for place, cell in enumerate(cells):
            if cell.chord is None:
                silent = 1
                continue
            shares[cell.chord.sound[0]] += 1 / len(cells)
            kind = self._kind(cell.chord)
            sounding += 1
            self._of_cells.extend((place, kind))
            sound = self._of_kinds[3 * kind]
            if sound != before:
                before = sound
                size += 1
                self._of_chords.extend((kind, self._names.setdefault(shown_name(cell), len(self._names))))
        self._of_bars.extend((size, silent, len(cells), sounding))
        self._shares.extend(shares)

    def _kind(self, chord: Chord) -> int:
        sound = chord.sound
        kind = self._kinds.setdefault((sound, chord.quality.third), len(self._kinds))
        if 3 * kind == len(self._of_kinds):
            self._of_kinds.extend((self._sounds.setdefault(sound, len(self._sounds)), sound[0], plain(chord)))
            self._codes.extend(codes_from_every_tonic(chord))
        return kind

    def tables(self) -> Tables:
        """All that is known."""
        if self._tables is None:
            sizes, silent, cells, sounding = _columns(self._of_bars, 4)
            kind, name = _columns(self._of_chords, 2)
            sound, root, plain_sounds = _columns(self._of_kinds, 3)
            place, kind_of_cell = _columns(self._of_cells, 2)
            codes = np.array(self._codes, np.uint32).reshape(-1, 12)
            shares = np.array(self._shares, np.float32).reshape(-1, 12)
            names = of_texts(list(self._names))
            of_bars = sizes, starts(sizes), silent > 0, shares
            of_cells = cells, sounding, place, kind_of_cell, plain_sounds
            self._tables = Tables(*of_bars, kind, name, sound, root, codes, names, *of_cells)
        return self._tables


def _columns(values: array[int], width: int) -> Ints:
    columns: Ints = np.array(values, np.int64).reshape(-1, width).T
    return columns


#: What the bars met so far hold, one for all threads.
_CONTENTS = [Contents()]
_GUARD = threading.Lock()


def looked_into(bars: Sequence[tuple[Cell, ...]]) -> tuple[Ints, Tables]:
    """The numbers of bars, each given by its cells, in tables, and these."""
    with _GUARD:
        if _CONTENTS[0].full:
            _CONTENTS[0] = Contents()
        return _CONTENTS[0].numbers(bars), _CONTENTS[0].tables()
