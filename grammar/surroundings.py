"""What a cell needs from outside its bar: the chord that sounds, the tonic in force, the bars above.

Conventions: everything is resolved as written, from the top down. What is faulty stands in for silence.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from operator import is_

from grammar.cells import Sign, counted
from grammar.places import Place
from shared.chart import Bar, Cell
from shared.chord import Chord
from shared.errors import Fault
from shared.pitch import Degree, Pitch

#: From here numbers are counted where no key is written, which is a fault.
C = Pitch("C")


class Surroundings:
    """The surroundings of the cell that is read next.

    Attributes:
        sounding: The last cell that was struck, None where nothing was.
        tonic: The tonic from which numbers are counted, None where no key is written.
        bars: The bars above.
    """

    def __init__(self, faults: list[Fault]) -> None:
        self.sounding: Cell | None = None
        self.tonic: Pitch | None = None
        self.bars: list[Bar] = []
        self._faults = faults
        self._unread = False
        self._keyless = False

    def _fault(self, where: Callable[[], Place], message: str, expected: str, nearest: str = "") -> None:
        self._faults.append(where().fault(message, expected, nearest))

    def held(self, written: str, where: Callable[[], Place], problem: str) -> Cell:
        """A cell that holds the chord before it; where there is none, that is a fault.

        Args:
            written: The cell as typed.
            where: Its place.
            problem: What is wrong where nothing sounds.
        """
        if self.sounding is None:
            self._fault(where, problem, "a chord before it, or N.C.", "N.C.")
            return Cell(written, None, struck=False)
        return Cell(written, self.sounding.chord, struck=False)

    def cell(self, each: Sign, where: Callable[[], Place]) -> Cell:
        """One cell by its sign; what is faulty stands in for silence."""
        if each.cell is not None:
            return each.cell
        if each.numeral is not None:
            return self._number(each, where)
        if each.hold:
            return self.held(each.written, where, f"“{each.written}” holds the chord before it, and there is none")
        if each.bass is not None:
            return self._new_bass(each.written, each.bass, where)
        self._unread = True
        return Cell(each.written, None)

    def _number(self, each: Sign, where: Callable[[], Place]) -> Cell:
        return counted(each.written, self._counted_from(each.written, where))

    def _counted_from(self, written: str, where: Callable[[], Place]) -> Pitch:
        """The tonic from which a number is counted; without a key that is a fault, told once."""
        if self.tonic is None:
            if not self._keyless:
                expected = "a header that gives the key, such as “key: C”"
                self._fault(where, f"“{written}” is counted from a key, and none is written", expected, "key: C")
            self._keyless = True
        return self.tonic or C

    def _new_bass(self, written: str, bass: Pitch | Degree, where: Callable[[], Place]) -> Cell:
        """A bass alone stands under the last chord that sounded."""
        over = self.sounding.chord if self.sounding else None
        if over is None:
            over = next((c.chord for b in reversed(self.bars) for c in reversed(b.cells) if c.chord), None)
        if over is None:
            if not self._unread:
                problem = f"“{written}” is a new bass under the chord before it, and there is none"
                self._fault(where, problem, "a chord before it")
            return Cell(written, None)
        if isinstance(bass, Degree):
            bass = self._counted_from(written, where).up(bass)
        return Cell(written, Chord(over.root, over.quality, bass))

    def struck_anew(self, cells: tuple[Cell, ...]) -> tuple[Cell, ...]:
        """The cells of a bar that is played again: a chord held over into it is struck where another sounds now."""
        fresh = [replace(cell, column=0) if cell.column else cell for cell in cells]
        for index, cell in enumerate(cells):
            if cell.struck:
                break
            if self.sounding is None or cell.chord == self.sounding.chord:
                break
            name = cell.chord.name if cell.chord else "N.C."
            fresh[index] = Cell(name, cell.chord)
            break
        struck = [c for c in fresh if c.struck]
        if struck:
            self.sounding = struck[-1]
        # What has not changed stays the same object: who comes later knows it again.
        return cells if all(map(is_, fresh, cells)) else tuple(fresh)
