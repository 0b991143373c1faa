"""Tells the lines of a chart apart: headers, sections, changes, music, chords above words, and words.

Conventions: lines end with LF, CRLF or CR; a byte-order mark is passed over; comments and blank lines are not kept. The
headers end at the first blank line, section or line of music. What is wrong is put among the faults of the head.
"""

from __future__ import annotations

import re
from enum import Enum
from functools import lru_cache
from typing import NamedTuple

from grammar.bar_lines import Row
from grammar.cells import JUMP_EXPECTED, JUMP_LINE
from grammar.headers import Head, Named, bare_known, named_line
from grammar.places import Place, whole
from grammar.words import Token, chord_line, mostly_chords
from shared.chart import KNOWN_HEADERS

LONGEST_LINE = 5000
#: How much of a line is quoted in a message.
SHOWN = 80
_LINE_END = re.compile(r"\r\n|\n|\r")
_LABEL = re.compile(r"\[([^\[\]]*)\]:?")
_LONGEST_LABEL = 40
#: A line without cells. Words below one that holds no bar, be it an empty one, belong to the music above.
_NO_CELLS = re.compile(r"[\s|:\]]*(?:\d[\d,-]*\.\s*|[xX×]\d+\s*)?")
_LIKE_A_LABEL = re.compile(
    r"(?:intro|verse|chorus|refrain|bridge|outro|interlude|pre-?chorus|solo|tag|ending)(?: \d+)?", re.IGNORECASE
)


class Kind(Enum):
    """What a line behind the head is."""

    BLANK = "blank"
    LABEL = "label"
    CHANGE = "change of key or metre"
    MUSIC = "bars between bar lines"
    CHORDS = "chord names above words"
    WORDS = "words"
    FAULTY = "faulty"


class Line(NamedTuple):
    """A line behind the head.

    Attributes:
        number: Its number in the file, from 1.
        text: The line.
        kind: What it is.
        tokens: The cells of a line of chord names.
    """

    number: int
    text: str
    kind: Kind
    tokens: tuple[Token, ...] = ()


def split_lines(text: str) -> list[str]:
    """The lines of a text."""
    return _LINE_END.split(text.removeprefix("\ufeff"))


def sort_lines(texts: list[str], head: Head) -> list[Line]:
    """Reads the headers, and gives every other line that says something its kind.

    Args:
        texts: All lines.
        head: Takes the headers, and everything that is wrong or worth saying.

    Returns:
        The lines behind the head, without blank ones and comments.
    """
    sorter = _Sorter(texts, head)
    return sorter.kinds(sorter.read_head())


class _Sorter:
    """The lines of one chart, while they are told apart."""

    def __init__(self, texts: list[str], head: Head) -> None:
        self._texts = texts
        self._head = head

    def _fault(self, place: Place, message: str, expected: str = "", nearest: str = "") -> None:
        self._head.faults.append(place.fault(message, expected, nearest))

    def _remark(self, place: Place, message: str, expected: str = "", nearest: str = "") -> None:
        self._head.remarks.append(place.fault(message, expected, nearest))

    def read_head(self) -> int:
        """Reads the headers.

        Returns:
            The index of the first line behind them.
        """
        for index, text in enumerate(self._texts):
            number = index + 1
            if not text or text.isspace():
                if self._head.headers:
                    return index
            elif text.startswith("#"):
                continue
            elif len(text) > LONGEST_LINE:
                return index
            elif named := named_line(number, text):
                known = named.key in KNOWN_HEADERS
                if not known and (not named.value or named.value.startswith("|")):
                    return index
                self._head.add(named)
                self._remark_chords(named, known)
            elif "|" in text or _LABEL.fullmatch(text.strip()) or chord_line(text):
                return index
            elif near := bare_known(text, not self._head.headers):
                self._no_header(number, text, near)
            elif self._head.headers:
                self._no_header(number, text, "")
            else:
                return index
        return len(self._texts)

    def _remark_chords(self, named: Named, known: bool) -> None:
        """A remark on a header that looks like a section with its chords behind it."""
        if not known and len(named.value.split()) > 1 and chord_line(named.value):
            message = f"“{named.name}:” is kept as a header, and its chords are not read"
            expected = "the section's name on a line of its own if they are music"
            self._remark(named.at, message, expected, f"[{named.name}]")

    def _no_header(self, number: int, text: str, nearest: str) -> None:
        place = whole(number, text)
        expected = "“name: value”, or a blank line behind the last header"
        self._fault(place, f"“{place.text_at[:SHOWN]}” is not a header", expected, nearest)

    def kinds(self, first: int) -> list[Line]:
        """The lines behind the head, each with its kind."""
        lines: list[Line] = []
        above = Kind.BLANK
        for index in range(first, len(self._texts)):
            text = self._texts[index]
            if text.startswith("#"):
                above = Kind.BLANK
                continue
            if (kind := _sure_kind(text)) is not None:
                above = kind
                if kind is not Kind.BLANK:
                    lines.append(Line(index + 1, text, kind))
                continue
            line = self._classify(index + 1, text, above)
            above = line.kind
            lines.append(line)
        return lines

    def _classify(self, number: int, text: str, above: Kind) -> Line:
        """A line whose kind is not sure from the first."""
        if len(text) > LONGEST_LINE:
            place = Place(number, LONGEST_LINE + 1, 1, text)
            self._fault(place, f"a line of {len(text)} characters", f"at most {LONGEST_LINE} in one line")
            return Line(number, text, Kind.FAULTY)
        if text.lstrip().startswith("["):
            return self._classify_label(number, text)
        if "|" in text and (named := named_line(number, text)):
            self._label_beside(number, text, named.name)
            return Line(number, text, Kind.FAULTY)
        if ":" in text and (kind := self._classify_colon(number, text)):
            return Line(number, text, kind)
        if JUMP_LINE.fullmatch(text):
            place = whole(number, text)
            self._fault(place, f"“{place.text_at}” is not read in a chart", JUMP_EXPECTED)
            return Line(number, text, Kind.FAULTY)
        if tokens := chord_line(text, above is Kind.CHORDS, self._head.key is not None):
            return Line(number, text, Kind.CHORDS, tokens)
        if _LIKE_A_LABEL.fullmatch(text.strip()):
            place = whole(number, text)
            near = f"[{place.text_at}]"
            self._remark(place, f"“{place.text_at}” is read as words", "brackets round a section's name", near)
        elif word := mostly_chords(text):
            message = f"read as words, because “{word}” is no chord"
            place = Place(number, text.index(word) + 1, len(word), text)
            self._remark(place, message, "nothing but chords in a line of chords")
        return Line(number, text, Kind.WORDS)

    def _classify_label(self, number: int, text: str) -> Line:
        if _LABEL.fullmatch(text.strip()):
            self._fault(whole(number, text), "a section without a name", "a name in the brackets", "[A]")
            return Line(number, text, Kind.FAULTY)
        inside, bracket, _ = text.strip()[1:].partition("]")
        if bracket and inside.strip():
            self._label_beside(number, text, inside.strip())
        else:
            place = whole(number, text)
            name = " ".join(inside.replace("[", " ").split()[:3])
            near = f"[{name}]" if name and "|" not in name else "[A]"
            self._fault(place, "a section's name has no closing bracket", "“[”, the name and “]”", near)
        return Line(number, text, Kind.FAULTY)

    def _label_beside(self, number: int, text: str, label: str) -> None:
        message = f"the section's name “{label}” shares its line"
        self._fault(whole(number, text), message, "the name on a line of its own", f"[{label}]")

    def _classify_colon(self, number: int, text: str) -> Kind | None:
        """The kind of a line with a colon, None where it says nothing."""
        named = named_line(number, text)
        if named is None:
            return None
        if named.key in ("key", "time"):
            return Kind.CHANGE
        if named.key in KNOWN_HEADERS and named.value:
            message = f"the header “{named.name}:” stands behind the head of the chart"
            self._fault(named.at, message, "all headers at the top, without a blank line")
            return Kind.FAULTY
        if not named.value and len(named.name) <= _LONGEST_LABEL:
            return Kind.LABEL
        if named.value and chord_line(named.value):
            self._label_beside(number, text, named.name)
            return Kind.FAULTY
        return None


@lru_cache(maxsize=16384)
def _sure_kind(text: str) -> Kind | None:
    """What a line is whatever stands round it, where nothing is wrong with it; None where more has to be seen."""
    if not text or text.isspace():
        return Kind.BLANK
    if len(text) > LONGEST_LINE:
        return None
    if text.lstrip().startswith("["):
        found = _LABEL.fullmatch(text.strip())
        return Kind.LABEL if found and found.group(1).strip() else None
    if "|" in text:
        named = named_line(1, text) if ":" in text else None
        return None if named is not None and named.value.startswith("|") else Kind.MUSIC
    return None


@lru_cache(maxsize=4096)
def label(text: str) -> str:
    """The label on a line of its own, its words one space apart."""
    found = _LABEL.fullmatch(text.strip())
    return " ".join((found.group(1) if found else text.strip().rstrip(":")).split())


def words_below(lines: list[Line]) -> dict[int, list[str]]:
    """The lines of words that belong to each line of music or label, by index; -1 is the top."""
    below: dict[int, list[str]] = {}
    if Kind.WORDS not in [line.kind for line in lines]:
        return below
    owner = -1
    for index, line in enumerate(lines):
        if line.kind in (Kind.CHORDS, Kind.LABEL) or (line.kind is Kind.MUSIC and _holds_bars(line)):
            owner = index
        elif line.kind is Kind.WORDS:
            below.setdefault(owner, []).append(line.text.rstrip())
    return below


def _holds_bars(line: Line) -> bool:
    """Whether a line of music holds bars, and not bar lines alone."""
    return not _NO_CELLS.fullmatch(line.text) or any(Row(line.number, line.text).shape.bars)
