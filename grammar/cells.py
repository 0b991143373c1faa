"""One cell of a chart by itself: a chord, a numeral, silence, a hold, a new bass or a sign for same again.

Conventions: a cell holds no white space. What it means by itself is read once and kept; what it needs from its
surroundings (the chord before, the key in force) is filled in by the reader of charts. Columns of faults count from 1
inside the cell.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from grammar.signs import hyphened
from grammar.symbols import filled, read_symbol
from shared.chart import Cell
from shared.chord import Chord, Numeral
from shared.errors import Fault, ReadingError
from shared.pitch import Degree, Pitch

SILENCE = re.compile(r"n\.?c\.?", re.IGNORECASE)
JUMP = re.compile(r"d\.?c\.?|d\.?s\.?|coda|fine|segno", re.IGNORECASE)
JUMP_LINE = re.compile(
    r"\W*(?:(?:to|al|dal|the)\s+)*(?:d\.?\s?c\.?|d\.?\s?s\.?|coda|fine|segno)(?:\W+(?:to|al|the|coda|fine|segno))*\W*",
    re.IGNORECASE,
)
JUMP_LINKS = frozenset({"al", "to", "dal", "the"})
JUMP_EXPECTED = "a “form:” header that says in which order the sections are played, such as form: A B A"
_METRE = re.compile(r"\(\d+/\d+\)")


@dataclass(frozen=True, slots=True)
class Sign:
    """What one cell means by itself; exactly one of the attributes below ``written`` is set.

    Attributes:
        written: The cell as typed.
        cell: The finished cell, where nothing from outside is needed: a chord name, or silence.
        numeral: A number or Roman numeral, to be counted from the key.
        bass: A bass alone, under the last chord.
        hold: Whether the chord before is held.
        again: 1 for ``%``, 2 for ``%2``.
        fault: What is wrong with it.
        bare: For a numeral, whether it is a number with no quality written.
    """

    written: str
    cell: Cell | None = None
    numeral: Numeral | None = None
    bass: Pitch | Degree | None = None
    hold: bool = False
    again: int = 0
    fault: Fault | None = None
    bare: bool = False


@lru_cache(maxsize=65536)
def sign(text: str) -> Sign:
    """What a cell means by itself.

    >>> sign("B♭7").cell.chord.name, sign("5/7").numeral.number, sign(".").hold
    ('Bb7', '5/7', True)
    """
    signs = hyphened(text)
    if signs in (".", "/"):
        return Sign(text, hold=True)
    if signs in ("%", "%2"):
        return Sign(text, again=len(signs))
    if SILENCE.fullmatch(signs):
        return Sign(text, cell=Cell(text, None))
    if problem := _problem(text, signs):
        return Sign(text, fault=problem)
    try:
        wanted = read_symbol(signs)
    except ReadingError as error:
        fault = error.faults[0]
        return Sign(text, fault=replace(fault, message=fault.message.replace(f"“{signs}”", f"“{text}”")))
    if wanted.bare_bass:
        return Sign(text, bass=wanted.bass)
    if isinstance(wanted.root, Pitch):
        bass = wanted.bass if isinstance(wanted.bass, Pitch) else None
        return Sign(text, cell=Cell(text, Chord(wanted.root, filled(wanted), bass)))
    if isinstance(wanted.root, Degree):
        under = wanted.bass if isinstance(wanted.bass, Degree) else None
        bare = wanted.quality is None and signs.lstrip("#b")[0].isdigit()
        return Sign(text, numeral=Numeral(wanted.root, filled(wanted), under), bare=bare)
    message = f"“{text}” stands for any chord, which only a pattern can ask for"
    return Sign(text, fault=Fault(message, column=1, length=len(text), expected="a chord"))


def _problem(text: str, signs: str) -> Fault | None:
    """What is not even meant as a chord, or belongs elsewhere."""
    length = len(text)
    if JUMP.fullmatch(signs):
        return Fault(f"“{text}” is not read in a chart", column=1, length=length, expected=JUMP_EXPECTED)
    if _METRE.fullmatch(signs):
        message = f"the metre “{text}” stands behind a chord"
        return Fault(message, column=1, length=length, expected="a metre only at the head of its bar")
    if set(signs) == {"."}:
        dots = " ".join(signs)
        return Fault(f"“{text}” is not a hold", column=1, length=length, expected="one dot for each hold", nearest=dots)
    if signs.startswith("%"):
        expected = "“%” for the bar before or “%2” for the last two"
        near = "%2" if len(signs) > 1 and signs[1] in "2%" else "%"
        return Fault(f"“{text}” is not a sign for same again", column=1, length=length, expected=expected, nearest=near)
    return None


@lru_cache(maxsize=65536)
def counted(text: str, tonic: Pitch) -> Cell:
    """The cell of a numeral, counted from ``tonic``."""
    numeral = sign(text).numeral
    assert numeral is not None
    return Cell(text, numeral.on(tonic))
