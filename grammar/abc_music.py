"""Reads the music of ABC: where chord symbols stand in the time that notes and rests take.

Conventions:
    * Lengths are counted in unit note lengths, so that what is read does not depend on ``L:``; a line is cut into
      pieces at bar lines and inline fields, and each distinct piece is read once. Which notes and chords they are says
      nothing about time, so pieces of one rhythm are read once too.
    * A chord of notes lasts as long as its first note, times what is written behind it. Grace notes take no time. What
      stands behind ``&`` sounds with the bar before it and takes none either.
    * Offsets count from the start of the piece. Columns of faults count from 1 inside it.

Source: the ABC music standard 2.1 (December 2011), section 4.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from typing import NamedTuple

from lark import Lark, Token

from grammar.parsers import parser
from shared.errors import Fault

#: The most bars that one rest lasts, and the longest and shortest that a length may be.
MOST_BARS = 999
_LONGEST, _SHORTEST = 999, 512
#: Notes in the time of how many, where a tuplet does not say (section 4.13); others depend on the metre.
_IN_TIME_OF = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
#: Decorations that say where to go on, which a chart does not follow.
_ROUTE = re.compile(r"!(D\.?C\.?|D\.?S\.?|coda|segno|fine|dacapo|dacoda|to ?coda)[^!]*!", re.IGNORECASE)


class Piece(NamedTuple):
    """A piece of a line: the kind of token (see ``abc.lark``), its text, and where it starts, from 0."""

    kind: str
    text: str
    start: int


@dataclass(frozen=True, slots=True)
class Symbol:
    """A chord symbol: the time before it, where what stands in its quotes starts in the piece (from 0), and ends."""

    offset: Fraction
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Music:
    """A piece of music.

    Attributes:
        length: How long it lasts.
        symbols: Its chord symbols, in order.
        notes: The offsets of its notes, rests left out.
        bars: How many whole bars it rests besides.
        remarks: What was passed over.
    """

    length: Fraction
    symbols: tuple[Symbol, ...]
    notes: tuple[Fraction, ...]
    bars: int
    remarks: tuple[Fault, ...]


@cache
def music_parser() -> Lark:
    """The parser of lines (start ``line``) and of the pieces between bar lines (start ``bar``)."""
    return parser("abc", ["line", "bar"], maybe_placeholders=False)


def _tokens(text: str, start: str) -> list[Token]:
    return [token for token in music_parser().parse(text, start).children if isinstance(token, Token)]


@lru_cache(maxsize=65536)
def read_line(text: str) -> tuple[Piece, ...]:
    """A line of music, cut at bar lines and fields.

    >>> [piece.text for piece in read_line('|:"Am7"A2 [M:3/4]B |1 c:|')]
    ['|:', '"Am7"A2 ', '[M:3/4]', 'B ', '|', '1', ' c', ':|']
    """
    return tuple(Piece(token.type, str(token), token.start_pos or 0) for token in _tokens(text, "line"))


_NOTES = str.maketrans("BCDEFGabcdefg", "A" * 13)
_QUOTED = re.compile(r'"([\^_<>@]?)([^"]*)"|![^!]*!?|"[^"]*')


def _rhythm(text: str) -> str:
    """The piece with one name for all notes and blanks for all chords, place by place."""
    if '"' not in text and "!" not in text:
        return text.translate(_NOTES)
    made, end = "", 0
    for found in _QUOTED.finditer(text):
        blank = f'"{found[1]}{" " * len(found[2])}"' if found[2] is not None else found[0]
        made += text[end : found.start()].translate(_NOTES) + blank
        end = found.end()
    return made + text[end:].translate(_NOTES)


@lru_cache(maxsize=65536)
def read_music(text: str, compound: bool) -> Music:
    """A piece of music without bar lines and fields.

    Args:
        text: The piece.
        compound: Whether the metre is compound, which says how long some tuplets are.

    >>> music = read_music('(3ABc "G7"d>e', False)
    >>> str(music.length), [str(symbol.offset) for symbol in music.symbols]
    ('4', ['2'])
    """
    music = _read(_rhythm(text), compound)
    return _Counter(compound).music(text) if music.remarks else music


@lru_cache(maxsize=65536)
def _read(rhythm: str, compound: bool) -> Music:
    return _Counter(compound).music(rhythm)


class _Counter:
    """Counts the time that passes in one piece."""

    def __init__(self, compound: bool) -> None:
        self._compound = compound
        self._lengths: list[Fraction] = []
        self._is_note: list[bool] = []
        self._symbols: list[tuple[int, int, int]] = []
        self._bars = 0
        self._next = Fraction(1)
        self._tuplet: tuple[Fraction, int] = Fraction(1), 0
        self._notes_in_chord = -1
        self._last: Token | None = None
        self._strays: list[Token] = []
        self._remarks: list[Fault] = []

    def music(self, text: str) -> Music:
        """Reads a piece."""
        for token in _tokens(text, "bar"):
            if token.type == "OVERLAY":
                break
            self._take(token)
            self._last = token
        self._end_chord()
        offsets = [Fraction(0)]
        for length in self._lengths:
            offsets.append(offsets[-1] + length)
        symbols = tuple(Symbol(offsets[place], start, end) for place, start, end in self._symbols)
        notes = tuple(offsets[i] for i, note in enumerate(self._is_note) if note)
        if self._strays:
            first = self._strays[0]
            said = "".join(self._strays) if len(self._strays) < 9 else f"{''.join(self._strays[:8])}…"
            message = f"“{said}” has no meaning here and is passed over"
            self._remarks.append(Fault(message, column=(first.start_pos or 0) + 1, length=len(first)))
        remarks = tuple(sorted(self._remarks, key=lambda remark: remark.column))
        return Music(offsets[-1], symbols, notes, self._bars, remarks)

    def _take(self, token: Token) -> None:
        kind, column = token.type, (token.start_pos or 0) + 1
        if kind in ("PITCH", "REST"):
            self._note(kind == "PITCH")
        elif kind == "LENGTH":
            self._lengthen(token, column)
        elif kind == "SYMBOL":
            self._symbols.append((len(self._lengths), column, column + len(token) - 2))
        elif kind == "BROKEN":
            self._break(token)
        elif kind == "TUPLET":
            self._start_tuplet(token)
        elif kind == "OPEN":
            self._end_chord()
            self._notes_in_chord = 0
        elif kind == "CLOSE":
            if self._notes_in_chord < 0:
                self._strays.append(token)
            self._end_chord()
        elif kind == "BARS":
            self._bars += 1
        elif kind == "DECORATION":
            if _ROUTE.fullmatch(token):
                message = f"“{token}” is not followed: the chart plays as it is written"
                self._remarks.append(Fault(message, column=column, length=len(token), expected="P: in the header"))
        elif kind == "UNCLOSED":
            message = f"“{token[0]}” is never closed, so “{token}” is passed over"
            self._remarks.append(Fault(message, column=column, length=len(token), expected=_CLOSING[token[0]]))
        else:
            self._strays.append(token)

    def _note(self, pitched: bool) -> None:
        """A note or rest of the unit length; only the first one in a chord of notes takes time."""
        if self._notes_in_chord >= 0:
            self._notes_in_chord += 1
            if self._notes_in_chord > 1:
                return
        factor, left = self._tuplet
        if left:
            self._tuplet = factor, left - 1
        self._lengths.append(self._next * (factor if left else 1))
        self._is_note.append(pitched)
        self._next = Fraction(1)

    def _lengthen(self, token: Token, column: int) -> None:
        """What stands behind a note, a chord of notes or a rest of whole bars."""
        times = _times(token)
        if times is None:
            message = f"“{token}” is no length and is passed over"
            self._remarks.append(Fault(message, column=column, length=len(token), expected="such as 2, 3/2 or /"))
        elif self._last is not None and self._last.type == "BARS":
            bars = int(times)
            if bars != times or not 1 <= bars <= MOST_BARS:
                message = f"a rest cannot last “{token}” bars and lasts one"
                self._remarks.append(Fault(message, column=column, length=len(token), expected=f"1 to {MOST_BARS}"))
                bars = 1
            self._bars += bars - 1
        elif self._notes_in_chord < 2 and self._lengths:
            self._lengths[-1] *= times

    def _end_chord(self) -> None:
        self._notes_in_chord = -1

    def _break(self, token: Token) -> None:
        """Broken rhythm: one note takes from the other (section 4.4)."""
        short = Fraction(1, 2 ** min(len(token), 8))
        first, second = (2 - short, short) if token[0] == ">" else (short, 2 - short)
        if self._lengths:
            self._lengths[-1] *= first
            self._next = second

    def _start_tuplet(self, token: Token) -> None:
        notes, *rest = token[1:].split(":")
        count = min(int(notes[:3]), 99) or 1
        in_time_of = _IN_TIME_OF.get(count, 3 if self._compound else 2)
        if rest and rest[0]:
            in_time_of = min(int(rest[0][:3]), 99) or in_time_of
        following = min(int(rest[1][:3]), 99) if len(rest) > 1 and rest[1] else count
        self._tuplet = Fraction(in_time_of, count), following


_CLOSING = {'"': 'a closing "', "{": "a closing }", "!": "a closing !"}


@lru_cache(maxsize=4096)
def _times(text: str) -> Fraction | None:
    """The factor that a length is: ``2``, ``3/2``, ``/`` (a half), ``//`` (a quarter); None where it is none.

    >>> [str(_times(each)) for each in ("3", "3/2", "/", "//", "/4")]
    ['3', '3/2', '1/2', '1/4', '1/4']
    """
    number, slash, behind = text.partition("/")
    below = behind.lstrip("/")
    slashes = len(slash) + len(behind) - len(below)
    if len(number) > 4 or len(below) > 4 or slashes > 9:
        return None
    over = int(number) if number else 1
    under = int(below) if below else 2**slashes
    return Fraction(over, under) if 0 < over <= _LONGEST and 0 < under <= _SHORTEST else None
