"""Straight lines: lines of music that hold nothing but finished bars between plain bar lines.

Most lines are straight, and music repeats itself: what such a line holds is put together once for each tonic and
remembered. Whatever else a line may hold is read bar by bar (see ``grammar.charts``).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import cache, lru_cache
from typing import NamedTuple

from grammar.bar_lines import Cells, Mark, Row, cells_of, counted_cells
from shared.chart import Cell
from shared.pitch import Pitch

_PLAIN_MARKS = (Mark.STROKE, Mark.FINAL)


class StraightLine(NamedTuple):
    """What a straight line holds.

    Attributes:
        bars: The cells of its bars.
        sounding: The last cell that is struck.
        numbers: Whether there are numbers or Roman numerals in it.
        shares: How many cells its bars have, where they have several.
    """

    bars: tuple[tuple[Cell, ...], ...]
    sounding: Cell
    numbers: bool
    shares: frozenset[int]


@cache
def straight_lines(tonic: Pitch | None) -> Callable[[str], StraightLine | None]:
    """What gives a line as ``straight_line`` does, and remembers it."""
    return lru_cache(maxsize=16384)(lambda text: straight_line(text, tonic))


def straight_line(text: str, tonic: Pitch | None) -> StraightLine | None:
    """A line as a straight one, with bar lines at both ends and nothing to remark on; None where it is not one.

    Args:
        text: The line.
        tonic: The tonic from which numbers are counted, where one is known.
    """
    body = text.strip()
    if len(body) > 1 and body[0] == "|" == body[-1]:
        bars = list(map(_bars_between(tonic), body[1:-1].split("|")))
        if None not in bars:
            return _line([bar for bar in bars if bar is not None])
    return _line_of_shape(text, tonic)


#: What a bar between bar lines is where it holds nothing but cells that the grammar of lines takes for cells alone.
_CELLS = re.compile(r"(?:\s+[^\s|:(xX×]|[A-GN])[^\s|:]*(?:\s+[^\s|:(xX×][^\s|:]*)*\s*")


class _StraightBar(NamedTuple):
    cells: tuple[Cell, ...]
    numbers: bool


@cache
def _bars_between(tonic: Pitch | None) -> Callable[[str], _StraightBar | None]:
    """What gives the bar between two bar lines, where what stands there says all, and remembers it."""

    def bar(text: str) -> _StraightBar | None:
        return _finished(cells_of(tuple(text.split())), tonic) if _CELLS.fullmatch(text) else None

    return lru_cache(maxsize=16384)(bar)


def _finished(read: Cells, tonic: Pitch | None) -> _StraightBar | None:
    cells = read.ready
    if read.numbers:
        cells = counted_cells(read.written, tonic) if tonic else None
    return None if cells is None or read.faults else _StraightBar(cells, read.numbers)


def _line_of_shape(text: str, tonic: Pitch | None) -> StraightLine | None:
    """The same for lines that have to be parsed first."""
    row = Row(0, text)
    measures = row.shape.measures
    if row.shape.faults or not measures or measures[-1].holds_bar:
        return None
    bars = []
    for measure, holds in zip(measures, row.shape.bars, strict=True):
        if measure.mark not in _PLAIN_MARKS or measure.times or measure.metre or measure.closes:
            return None
        if holds:
            bar = _finished(row.cells(measure), tonic) if measure.cells else None
            if bar is None:
                return None
            bars.append(bar)
    return _line(bars) if bars else None


def _line(bars: Sequence[_StraightBar]) -> StraightLine:
    cells, numbers = zip(*bars, strict=True)
    sounding = cells[-1][-1]
    if not sounding.struck:
        sounding = next(cell for cell in reversed(cells[-1]) if cell.struck)
    return StraightLine(cells, sounding, True in numbers, frozenset(map(len, cells)).difference((1,)))
