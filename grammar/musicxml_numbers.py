"""Numbers as MusicXML writes them: decimals, metres, and the numbers of endings.

Source: W3C, MusicXML 4.0, data types ``decimal`` and ``ending-number``, element ``time``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction

from grammar.keys import read_metre
from grammar.musicxml_order import MOST_TIMES
from shared.chart import Metre
from shared.errors import Fault, ReadingError

_NUMBERS = re.compile(r"(\d{1,2})(?:\s*-\s*(\d{1,2}))?")
_DECIMAL = re.compile(r"\s*[+-]?(\d+(\.\d*)?|\.\d+)\s*", re.ASCII)
_LONGEST = 20
_LARGEST = 10**8
_FINEST = 10_000


def decimal(text: str) -> Fraction | None:
    """A decimal number as the standard writes it, None where the text is none, or is beyond all use."""
    if len(text) > _LONGEST or not _DECIMAL.fullmatch(text):
        return None
    number = Fraction(text.strip())
    return number if abs(number) <= _LARGEST and number.denominator <= _FINEST else None


def metre_of(beats: Sequence[str], types: Sequence[str]) -> Metre:
    """A metre of one or several pairs; several are put together in the smallest unit."""
    pairs = [read_metre(f"{sum(map(int, _plus(b)))}/{t}") for b, t in zip(beats, types, strict=False)]
    if not pairs:
        raise ReadingError([Fault("a metre without beats")])
    unit = max(pair.unit for pair in pairs)
    return read_metre(f"{sum(pair.beats * unit // pair.unit for pair in pairs)}/{unit}")


def _plus(beats: str) -> Iterator[str]:
    for each in beats.split("+"):
        if not re.fullmatch(r"\s*\d{1,3}\s*", each, re.ASCII):
            raise ReadingError([Fault(f"“{beats}” are no beats")])
        yield each


def ending_numbers(text: str) -> tuple[int, ...]:
    """The numbers of an ending, ``1, 2`` and ``1-3`` alike; 0 alone where none is written."""
    numbers: set[int] = set()
    for found in _NUMBERS.finditer(text):
        first = int(found.group(1))
        numbers.update(range(first, int(found.group(2) or first) + 1))
    return tuple(sorted(number for number in numbers if 1 <= number <= MOST_TIMES)) or (0,)
