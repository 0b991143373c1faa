"""Reads a line of music into its measures: bar lines, one-bar metres, cells, repeat marks.

Conventions: a measure is one bar line and what stands behind it up to the next; what stands before the first bar line
is the head, a measure without a bar line. Music repeats itself, so a measure is parsed once for each distinct text and
then remembered. Columns count from 1 inside the measure.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from enum import Enum
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any, NamedTuple

from lark import Lark, Token
from lark.exceptions import UnexpectedInput

from grammar.cells import JUMP_LINKS, Sign, sign
from grammar.keys import read_metre
from shared.chart import Cell, Metre
from shared.errors import Fault, ReadingError

MOST_TIMES = 99


class Mark(Enum):
    """The bar line at the head of a measure."""

    NONE = ""
    STROKE = "|"
    OPENS = "|:"
    FINAL = "|]"
    ENDING = "|1."


class Measure(NamedTuple):
    """One measure, as written.

    Attributes:
        mark: Its bar line.
        width: How many characters the bar line takes.
        numbers: The times for which an ending is played, ascending; empty where the mark is no ending.
        times: How often something is played in all, from ``x3``; 0 where nothing is said.
        times_at: The column of ``x3``.
        trailing: Whether ``x3`` stands behind cells rather than directly behind the bar line.
        metre: The metre for this bar alone.
        signs: The cells.
        columns: Their columns.
        ready: The finished cells, where none of them needs the key or a chord from another bar.
        closes: The column of the colon that ends a repeat; 0 where there is none.
        blank: Whether there is room for an empty bar: white space and no cells.
        faults: What is wrong in the measure by itself.
    """

    mark: Mark
    width: int = 0
    numbers: tuple[int, ...] = ()
    times: int = 0
    times_at: int = 0
    trailing: bool = False
    metre: Metre | None = None
    signs: tuple[Sign, ...] = ()
    columns: tuple[int, ...] = ()
    ready: tuple[Cell, ...] | None = None
    closes: int = 0
    blank: bool = False
    faults: tuple[Fault, ...] = ()

    @property
    def holds_bar(self) -> bool:
        """Whether a bar is written in it; an empty bar between two bar lines is not counted here."""
        return bool(self.signs or self.metre)


@cache
def line_parser() -> Lark:
    """The parser of whole lines (``line``) and of their parts (``head``, ``measure``)."""
    grammar = files("grammar").joinpath("chart.lark").read_text(encoding="utf-8")
    return Lark(grammar, parser="lalr", start=["line", "head", "measure"], maybe_placeholders=False)


def measures(line: str) -> Iterator[tuple[int, Measure]]:
    """The measures of a line, each with the number of characters before it; a head without content is left out."""
    head, *rest = line.rstrip().split("|")
    if head and not head.isspace():
        yield 0, _head(head)
    offset = len(head)
    for content in rest:
        yield offset, _measure(content)
        offset += len(content) + 1


@lru_cache(maxsize=65536)
def _measure(content: str) -> Measure:
    """The measure that is a bar line and ``content``."""
    if not content:
        return Measure(Mark.STROKE, 1)
    return _read("|" + content, "measure")


@lru_cache(maxsize=4096)
def _head(content: str) -> Measure:
    return _read(content, "head")


def _read(text: str, start: str) -> Measure:
    try:
        tree = line_parser().parse(text, start)
    except UnexpectedInput as error:
        return Measure(Mark.STROKE if start == "measure" else Mark.NONE, faults=(_unexpected(text, error),))
    made: dict[str, Any] = {"mark": Mark.NONE}
    faults: list[Fault] = []
    for part in tree.children:
        if isinstance(part, Token):
            made |= _marked(part, faults)
        else:
            made |= _bar(part.children, faults)
    inner = text[made.get("width", 0) :].removesuffix(":")
    made["blank"] = bool(inner) and inner.isspace()
    return Measure(**made, faults=tuple(faults))


def _marked(token: Token, faults: list[Fault]) -> dict[str, Any]:
    """What a sign outside the cells says."""
    if token.type == "CLOSES":
        return {"closes": _column(token)}
    if token.type == "TIMES":
        return _times(token, faults)
    made: dict[str, Any] = {"mark": Mark[token.type], "width": len(token)}
    if token.type == "ENDING":
        made["numbers"] = _numbers(token, faults)
    return made


def _column(token: Token) -> int:
    return (token.start_pos or 0) + 1


def _times(token: Token, faults: list[Fault]) -> dict[str, Any]:
    digits = token[1:].strip()
    times = int(digits) if len(digits) < 4 else 0
    if not 2 <= times <= MOST_TIMES:
        message = f"“{token}” cannot be how often something is played in all"
        expected = f"x2 to x{MOST_TIMES}"
        near = f"x{MOST_TIMES}" if len(digits) > 2 else ""
        faults.append(Fault(message, column=_column(token), length=len(token), expected=expected, nearest=near))
        times = 2
    return {"times": times, "times_at": _column(token)}


def _numbers(token: Token, faults: list[Fault]) -> tuple[int, ...]:
    """The numbers of an ending: ``|1,3.`` and ``|1-3.``."""
    numbers: list[int] = []
    bounds = [[int(end) for end in part.split("-")] for part in token[1:-1].split(",") if len(part) <= 6]
    for ends in bounds:
        numbers += range(ends[0], min(ends[-1], MOST_TIMES + 1) + 1)
    fitting = all(1 <= n <= MOST_TIMES for n in numbers) and len(set(numbers)) == len(numbers)
    if not numbers or not fitting or any(len(ends) > 2 or ends[0] > ends[-1] for ends in bounds):
        message = f"“{token}” does not say which times the ending is for"
        expected = f"numbers from 1 to {MOST_TIMES}, each once, such as |1. or |1,3."
        faults.append(Fault(message, column=_column(token), length=len(token), expected=expected, nearest="|1."))
        return (1,)
    return tuple(sorted(numbers))


def _bar(tokens: list[Any], faults: list[Fault]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    cells = [t for t in tokens if t.type == "CELL"]
    for token in tokens:
        if token.type == "METRE":
            try:
                made["metre"] = read_metre(token)
            except ReadingError as error:
                faults += [f.at(0, "", _column(token) - 1) for f in error.faults]
                made["metre"] = Metre()
        elif token.type == "TIMES":
            made |= _times(token, faults) | {"trailing": True}
    signs = tuple(sign(str(cell)) for cell in cells)
    columns = tuple(map(_column, cells))
    faults += _cell_faults(signs, columns)
    return made | {"signs": signs, "columns": columns, "ready": _ready(signs)}


def _cell_faults(signs: tuple[Sign, ...], columns: tuple[int, ...]) -> Iterator[Fault]:
    """The faults of cells; a direction in several words (``D.C. al Fine``) is one."""
    jumping = False
    for index, (each, column) in enumerate(zip(signs, columns, strict=True)):
        if each.fault is None:
            jumping = False
        elif each.written.lower() in JUMP_LINKS:
            following = signs[index + 1 : index + 2]
            leads = bool(following) and following[0].fault is not None and "form:" in following[0].fault.expected
            if not jumping and not leads:
                yield each.fault.at(0, "", column - 1)
        else:
            jump = "form:" in each.fault.expected
            if not (jump and jumping):
                yield each.fault.at(0, "", column - 1)
            jumping = jump
    for each, column in zip(signs, columns, strict=True):
        if each.again and len(signs) > 1:
            message = f"“{each.written}” stands beside other cells"
            yield Fault(message, column=column, length=len(each.written), expected="it to be alone in its bar")


def _ready(signs: tuple[Sign, ...]) -> tuple[Cell, ...] | None:
    """The finished cells, None where one of them needs something from outside the bar."""
    cells: list[Cell] = []
    for each in signs:
        if each.cell is not None:
            cells.append(each.cell)
        elif each.hold and cells:
            cells.append(Cell(each.written, cells[-1].chord, struck=False))
        else:
            return None
    return tuple(cells) or None


def _unexpected(text: str, error: UnexpectedInput) -> Fault:
    """The only thing a measure cannot hold is something behind ``x3``."""
    place = error.pos_in_stream or 0
    found = re.match(r"\S+", text[place:])
    rest = found.group() if found else text[place:]
    message = f"“{rest}” stands behind the number of times"
    expected = "“x2” at the end of its line, or directly behind “:|”"
    return Fault(message, column=place + 1, length=max(1, len(rest)), expected=expected)
