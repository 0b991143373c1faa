"""Reads a line of music into its measures: bar lines, one-bar metres, cells, repeat marks.

Conventions:
    * A measure is one bar line and what stands behind it up to the next; what stands before the first bar line is a
      measure without a bar line.
    * The grammar of lines never looks inside a cell, so lines of one shape (``|: C | C :|``) are parsed once and then
      remembered, and so are cells that stand together in a bar: music repeats itself.
    * In the shape every plain cell is one letter; a ``Spot`` finds its way back to the line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from functools import cache, cached_property, lru_cache
from itertools import accumulate
from typing import Any, NamedTuple

from lark import Lark, Token
from lark.exceptions import UnexpectedInput

from grammar.cells import JUMP_EXPECTED, JUMP_LINKS, Sign, counted, sign
from grammar.keys import read_metre
from grammar.parsers import parser
from grammar.places import Place
from shared.chart import Cell, Metre
from shared.errors import Fault, ReadingError
from shared.pitch import Pitch

MOST_TIMES = 99
#: A cell behind white space (or a letter behind a bar line) that no other sign of the grammar starts like: where this
#: matches, the terminal CELL matches the same.
_PLAIN = re.compile(r"((?:(?<!\S)[^\s|:(xX×]|(?<=\|)[A-GN])[^\s|:]*(?=[\s|]|:\||:?\Z))")
_LETTER = "C"


class Mark(Enum):
    """The bar line at the head of a measure."""

    NONE = ""
    STROKE = "|"
    OPENS = "|:"
    FINAL = "|]"
    ENDING = "|1."


class Spot(NamedTuple):
    """A place in a shape: the character (from 0), the number of plain cells before it, and its length."""

    at: int
    plain: int
    length: int


_START = Spot(0, 0, 1)


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure of a shape.

    Attributes:
        mark: Its bar line.
        mark_at: Where that stands.
        numbers: The times for which an ending is played, ascending; empty where the mark is no ending.
        times: How often something is played in all, from ``x3``; 0 where nothing is said.
        times_at: Where that stands.
        trailing: Whether ``x3`` stands behind cells rather than directly behind the bar line.
        metre: The metre for this bar alone.
        cells: The cells as written, None for each plain one.
        cells_at: Where they stand.
        all_plain: Whether all of them are plain.
        first: The number of plain cells before this measure.
        closes: Where the colon stands that ends a repeat.
        blank: Whether there is room for an empty bar: white space and no cells.
    """

    mark: Mark = Mark.NONE
    mark_at: Spot = _START
    numbers: tuple[int, ...] = ()
    times: int = 0
    times_at: Spot = _START
    trailing: bool = False
    metre: Metre | None = None
    cells: tuple[str | None, ...] = ()
    cells_at: tuple[Spot, ...] = ()
    all_plain: bool = True
    first: int = 0
    closes: Spot | None = None
    blank: bool = False

    @property
    def holds_bar(self) -> bool:
        """Whether a bar is written in it; an empty bar between two bar lines is not counted here."""
        return bool(self.cells or self.metre)


@dataclass(frozen=True, slots=True)
class Shape:
    """A line as the grammar sees it.

    Attributes:
        measures: Its measures.
        bars: For each measure, whether it holds a bar, be it an empty one.
        faults: What is wrong with it, and where.
    """

    measures: tuple[Measure, ...]
    bars: tuple[bool, ...]
    faults: tuple[tuple[Spot, Fault], ...]


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells of one bar.

    Attributes:
        written: The cells as typed.
        signs: What each means by itself.
        ready: The finished cells, None where one of them needs the key or a chord from another bar.
        numbers: Whether there are numbers or Roman numerals among them.
        faults: What is wrong with them by themselves: the cell it starts at (from 0), and the fault.
    """

    written: tuple[str, ...]
    signs: tuple[Sign, ...]
    ready: tuple[Cell, ...] | None
    numbers: bool
    faults: tuple[tuple[int, Fault], ...]


class Row:
    """One line of music, read.

    Attributes:
        shape: Its shape.
    """

    def __init__(self, number: int, line: str) -> None:
        self._number, self._line = number, line
        parts: list[str] = _PLAIN.split(line.rstrip())
        self._plain = parts[1::2]
        self.shape = _shape(_LETTER.join(parts[::2]))

    def cells(self, measure: Measure) -> Cells:
        """The cells of one of its measures."""
        plain = self._plain[measure.first : measure.first + len(measure.cells)]
        if measure.all_plain:
            return cells_of(tuple(plain))
        following = iter(plain)
        return cells_of(tuple(next(following) if cell is None else cell for cell in measure.cells))

    def place(self, spot: Spot) -> Place:
        """Where a spot of the shape is in the line."""
        return Place(self._number, spot.at + self._shifts[spot.plain] + 1, spot.length, self._line)

    def cell_place(self, measure: Measure, index: int) -> Place:
        """Where a cell is in the line."""
        spot = measure.cells_at[index]
        place = self.place(spot)
        if measure.cells[index] is None:
            place = place._replace(length=len(self._plain[spot.plain]))
        return place

    @cached_property
    def _shifts(self) -> list[int]:
        """How much further right than in the shape something stands that has so many plain cells before it."""
        return [0, *accumulate(len(cell) - len(_LETTER) for cell in self._plain)]


@cache
def line_parser() -> Lark:
    """The parser of lines."""
    return parser("chart", "line", maybe_placeholders=False)


@lru_cache(maxsize=65536)
def _shape(shape: str) -> Shape:
    return _Reader(shape).read()


class _Reader:
    """Reads one shape."""

    def __init__(self, shape: str) -> None:
        self._shape = shape
        self._plain = [found.start() for found in _PLAIN.finditer(shape)]
        self._faults: list[tuple[Spot, Fault]] = []

    def read(self) -> Shape:
        measures: list[Measure] = []
        try:
            tree = line_parser().parse(self._shape)
        except UnexpectedInput as error:
            self._unexpected(error)
            return Shape((), (), tuple(self._faults))
        for part in tree.children:
            assert not isinstance(part, Token)
            measures.append(self._measure(part.children))
        bars = tuple(_holds(measures, index, self._shape) for index in range(len(measures)))
        return Shape(tuple(measures), bars, tuple(self._faults))

    def _spot(self, token: Token) -> Spot:
        return self._spot_at(token.start_pos or 0, len(token))

    def _spot_at(self, at: int, length: int) -> Spot:
        return Spot(at, sum(start < at for start in self._plain), length)

    def _fault(self, spot: Spot, message: str, expected: str, nearest: str = "") -> None:
        self._faults.append((spot, Fault(message, expected=expected, nearest=nearest)))

    def _measure(self, parts: list[Any]) -> Measure:
        made: dict[str, Any] = {}
        end = 0
        for part in parts:
            if not isinstance(part, Token):
                made |= self._bar(part.children)
            elif part.type == "CLOSES":
                made["closes"] = self._spot(part)
            elif part.type == "TIMES":
                made |= self._times(part)
            else:
                spot = self._spot(part)
                end = spot.at + spot.length
                made |= {"mark": Mark[part.type], "mark_at": spot}
                if part.type == "ENDING":
                    made["numbers"] = self._numbers(part)
        made["blank"] = end > 0 and "cells" not in made and self._shape[end : end + 1].isspace()
        return Measure(**made)

    def _bar(self, tokens: list[Token]) -> dict[str, Any]:
        made: dict[str, Any] = {}
        cells = [token for token in tokens if token.type == "CELL"]
        for token in tokens:
            if token.type == "METRE":
                try:
                    made["metre"] = read_metre(token)
                except ReadingError as error:
                    self._faults += [(self._spot(token), fault) for fault in error.faults]
                    made["metre"] = Metre()
            elif token.type == "TIMES":
                made |= self._times(token) | {"trailing": True}
        if cells:
            spots = tuple(map(self._spot, cells))
            made["cells"] = tuple(
                None if self._is_plain(spot) else str(cell) for cell, spot in zip(cells, spots, strict=True)
            )
            made["cells_at"] = spots
            made["all_plain"] = not any(made["cells"])
            made["first"] = spots[0].plain
        return made

    def _is_plain(self, spot: Spot) -> bool:
        return spot.plain < len(self._plain) and self._plain[spot.plain] == spot.at

    def _times(self, token: Token) -> dict[str, Any]:
        digits = token[1:]
        times = int(digits) if len(digits) < 4 else MOST_TIMES + 1
        if not 2 <= times <= MOST_TIMES:
            message = f"“{token}” cannot be how often something is played in all"
            near = f"x{MOST_TIMES}" if times > MOST_TIMES else ""
            self._fault(self._spot(token), message, f"x2 to x{MOST_TIMES}", near)
            times = 2
        return {"times": times, "times_at": self._spot(token)}

    def _numbers(self, token: Token) -> tuple[int, ...]:
        """The numbers of an ending: ``|1,3.`` and ``|1-3.``."""
        numbers: list[int] = []
        for part in token[1:-1].split(","):
            ends = [int(end) if len(end) < 4 else 0 for end in part.split("-")]
            rising = len(ends) <= 2 and ends[0] <= ends[-1] <= MOST_TIMES
            numbers += range(ends[0], ends[-1] + 1) if rising else [0]
        if min(numbers) < 1 or max(numbers) > MOST_TIMES or len(set(numbers)) < len(numbers):
            message = f"“{token}” does not say which times the ending is for"
            expected = f"numbers from 1 to {MOST_TIMES}, each once, such as |1. or |1,3."
            self._fault(self._spot(token), message, expected, "|1.")
            return (1,)
        return tuple(sorted(numbers))

    def _unexpected(self, error: UnexpectedInput) -> None:
        """The only thing that a line cannot hold is something behind ``x3``."""
        at = error.pos_in_stream or 0
        found = re.match(r"\S+", self._shape[at:])
        spot = self._spot_at(at, len(found.group()) if found else 1)
        message = "something stands behind the number of times"
        self._fault(spot, message, "“x2” at the end of its line, or directly behind “:|”")


def _holds(measures: list[Measure], index: int, shape: str) -> bool:
    """Whether a measure holds a bar: one that is written, or an empty one between two bar lines."""
    measure = measures[index]
    if measure.holds_bar:
        return True
    if not measure.blank or measure.times or measure.mark in (Mark.NONE, Mark.FINAL):
        return False
    if measure.mark is Mark.STROKE and index and measures[index - 1].closes:
        return False
    if index + 1 == len(measures):
        return measure.closes is not None
    return measure.closes is not None or measures[index + 1].mark in (Mark.STROKE, Mark.FINAL)


@lru_cache(maxsize=65536)
def counted_cells(written: tuple[str, ...], tonic: Pitch) -> tuple[Cell, ...] | None:
    """The finished cells of a bar with numbers in it, None where one of them needs a chord from another bar."""
    cells: list[Cell] = []
    for each in cells_of(written).signs:
        if each.numeral is not None:
            cells.append(counted(each.written, tonic))
        elif each.cell is not None:
            cells.append(each.cell)
        elif each.hold and cells:
            cells.append(Cell(each.written, cells[-1].chord, struck=False))
        else:
            return None
    return tuple(cells)


@lru_cache(maxsize=65536)
def cells_of(written: tuple[str, ...]) -> Cells:
    """The cells of a bar."""
    signs = tuple(map(sign, written))
    numbers = any(each.numeral is not None for each in signs)
    return Cells(written, signs, _ready(signs), numbers, tuple(_faults(signs)))


def _ready(signs: tuple[Sign, ...]) -> tuple[Cell, ...] | None:
    cells: list[Cell] = []
    for each in signs:
        if each.cell is not None:
            cells.append(each.cell)
        elif each.hold and cells:
            cells.append(Cell(each.written, cells[-1].chord, struck=False))
        else:
            return None
    return tuple(cells) or None


def _faults(signs: tuple[Sign, ...]) -> Iterator[tuple[int, Fault]]:
    """The faults of cells; a direction in several words (``D.C. al Fine``) is one."""
    jumping = False
    for index, each in enumerate(signs):
        jump = _jumps(each)
        linked = each.written.lower() in JUMP_LINKS
        if each.fault and not (jumping and (jump or linked)):
            following = signs[index + 1 : index + 2]
            if not (linked and following and _jumps(following[0])):
                yield index, each.fault
        jumping = jump or (jumping and linked)
        if each.again and len(signs) > 1:
            message = f"“{each.written}” stands beside other cells"
            yield index, Fault(message, column=1, length=len(each.written), expected="it to be alone in its bar")


def _jumps(each: Sign) -> bool:
    return each.fault is not None and each.fault.expected == JUMP_EXPECTED
