"""Reads the chord symbols of ABC, as they stand in quotes before a note.

Conventions:
    * Every spelling of a chord name that a chart may have is read here too (see ``grammar.symbols``). Besides, as old
      tune books have it: ``d`` behind a root is diminished, ``a`` augmented, a bass may be in lower case, and ``+``
      behind a bass is a sharp.
    * ``G(Em)`` and ``G;Em`` name an alternative, which is for print only: the first counts.
    * Fingerings (digits), dynamics and directions that stand as chord symbols are none, and the chord before is held.
      Anything else that cannot be read is silence.
    * Columns of faults count from 1 inside the symbol.

Source: the ABC music standard 2.1 (December 2011), section 4.18.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from grammar.signs import hyphened
from grammar.symbols import filled, read_symbol, symbol_or_none
from shared.chord import Chord
from shared.errors import Fault, ReadingError
from shared.pitch import Pitch

_LONGEST = 100
_SILENCE = re.compile(r"n\.?\s?c\.?|no chord|tacet", re.IGNORECASE)
_DIRECTION = re.compile(
    r"[\W\d_]*|(?:d\.?\s?[cs]\b|d[ac]\s+c|d[ae]l\s+s|fine\b|segno\b|(?:to\s+)?coda\b|segue\b"
    r"|(?:very |not )?(?:slow|fast|moderat|livel|allegr|andant)"
    r"|tr\b|(?:mp|mf|p{1,4}|f{1,4}|s?fz)\b|1st\b|2nd\b|last\b|end\b).*",
    re.IGNORECASE,
)
_OLD = re.compile(r"(?P<root>[A-G][#b]?)(?P<mark>[da])(?P<rest>7?)(?=/|$)")
_BASS = re.compile(r"/(?P<letter>[A-Ga-g])(?P<sign>\+|##|bb|#|b)?$")


@dataclass(frozen=True, slots=True)
class AbcSymbol:
    """What a chord symbol says.

    Attributes:
        chord: The chord, None for silence, or where it is held or has only a new bass.
        holds: Whether it is no chord symbol at all, so that the chord before goes on.
        bass: A new bass under the chord before, where nothing else is written.
        remark: What is to be said of it, None where it is read as written.
    """

    chord: Chord | None
    holds: bool = False
    bass: Pitch | None = None
    remark: Fault | None = None


@lru_cache(maxsize=65536)
def read_abc_symbol(text: str) -> AbcSymbol:
    """What a chord symbol says; nothing raises.

    Args:
        text: What stands between the quotes.

    >>> [read_abc_symbol(each).chord.name for each in ("Am7", "Bbd7", "D/f+", "G(Em)")]
    ['Am7', 'Bbdim7', 'D/F#', 'G']
    """
    written = " ".join(hyphened(text).replace("\\n", ";").split())
    column = len(text) - len(text.lstrip()) + 1
    if _SILENCE.fullmatch(written):
        return AbcSymbol(None)
    read = _chord(written)
    if read is None and _DIRECTION.fullmatch(written):
        message = f"“{_shown(text)}” is no chord symbol and is passed over" if written else "an empty chord symbol"
        fault = Fault(
            message, column=1, length=max(1, len(text)), expected="a chord such as Am7, or ^ before other text"
        )
        return AbcSymbol(None, holds=True, remark=fault)
    if read is not None:
        return read
    for first in _firsts(written) if len(written) <= _LONGEST else ():
        if read := _chord(first):
            return read
    return _unreadable(text, written, column)


def _shown(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…"


def _firsts(written: str) -> list[str]:
    """What may be the first of several alternatives."""
    found = re.fullmatch(r"(?P<first>[^;]+?)\s*(?:\(\s*[A-G].*|;.*)", written)
    whole = re.fullmatch(r"\(\s*(?P<inner>.*?)\s*\)", written)
    return ([found["first"]] if found else []) + ([whole["inner"]] if whole else [])


def _chord(written: str) -> AbcSymbol | None:
    """A symbol without alternatives, None where it is none."""
    name = _modern(written)
    wanted = symbol_or_none(name)
    if wanted is None or not isinstance(wanted.root or wanted.bass, Pitch):
        return None
    bass = wanted.bass if isinstance(wanted.bass, Pitch) else None
    if isinstance(wanted.root, Pitch):
        return AbcSymbol(Chord(wanted.root, filled(wanted), bass))
    return AbcSymbol(None, bass=bass) if name.startswith("/") else None


def _modern(written: str) -> str:
    """A symbol of old tune books in today's spelling."""
    name = written.replace(" ", "")
    if found := _BASS.search(name):
        sign = (found["sign"] or "").replace("+", "#")
        name = f"{name[: found.start()]}/{found['letter'].upper()}{sign}"
    if found := _OLD.match(name):
        quality = {"d": "dim", "a": "aug"}[found["mark"]]
        name = f"{found['root']}{quality}{found['rest']}{name[found.end() :]}"
    return name


def _unreadable(text: str, written: str, column: int) -> AbcSymbol:
    """Silence, and why."""
    name = _modern(written)
    message = f"“{_shown(text)}” is not a chord and is written as silence"
    expected, near = "a letter A to G and a quality, such as Am7", ""
    try:
        read_symbol(name)
    except ReadingError as error:
        near = error.faults[0].nearest
        expected = error.faults[0].expected if name[0] in "ABCDEFG" else expected
    wanted = symbol_or_none(near) if near else None
    near = near if wanted is not None and isinstance(wanted.root, Pitch) else ""
    return AbcSymbol(None, remark=Fault(message, column=column, length=max(1, len(text.strip())), expected=expected,
                                        nearest=near))  # fmt: skip
