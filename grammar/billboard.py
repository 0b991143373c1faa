"""Reads the annotations of the McGill Billboard set: one song a file, one phrase a line.

Conventions:
    * ``# title:`` and ``# artist:`` become ``title:`` and ``by:``; ``# metre:`` and ``# tonic:`` hold from where they
      stand. The tonic has no mode, which is found (see ``grammar.building.mode_of_tonic``).
    * A section begins where a line has a letter or a name; its label is the name and the letter (``verse B``), so that
      two verses of other music are told apart. Sections play as written.
    * A line is a phrase, and every bar knows its line. A phrase with ``x4`` behind it is a repeat. ``->`` (the section
      runs on), start times and instruments say nothing about harmony and are passed over, as are lines without bars
      (silence, noise, end).
    * ``N`` is silence. So, each with a remark, are ``*`` (too complex to transcribe), ``&pause`` (a rest outside the
      metre, here a bar of its own), and a label that cannot be read.

Source: J. A. Burgoyne, J. Wild and I. Fujinaga, "An expert ground-truth set for audio chord recognition and music
analysis", ISMIR 2011 (annotations release 2.0).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache

from lark import Lark, Token
from lark.exceptions import UnexpectedInput

from grammar.bar_content import INEXACT, MOST_CELLS, Content, Run, content_of
from grammar.building import DraftBar, DraftRepeat, DraftSection, build_chart, header_value, section_label
from grammar.harte import harte_or_fault
from grammar.keys import read_metre
from grammar.parsers import parser
from grammar.places import Place, whole
from grammar.symbols import read_pitch
from shared.chart import Metre
from shared.chord import Chord
from shared.errors import Fault, ReadingError
from shared.foreign import ForeignTune
from shared.pitch import Pitch

MOST_TIMES = 99
_LINE_END = re.compile(r"\r\n|\n|\r")
_HEADER = re.compile(r"#\s*(?P<name>[^:]*?)\s*:\s*(?P<value>.*?)\s*")
_TIMED = re.compile(r"\s*(?:\d+(?:\.\d*)?(?:e-?\d+)?)(?:\s+|\Z)")
_TONIC = re.compile(r"[A-G][#b]{0,2}")
#: Lines without bars where nothing is played: a section goes on behind them.
_NO_MUSIC = re.compile(r"\s*(silence|noise|end|Z'*)\s*(,|\Z)")
_BROKEN_TAIL = re.compile(r"\s*[x-]\s*")


@dataclass(frozen=True, slots=True)
class _Sign:
    """One cell: a chord or silence, or a hold of the cell before."""

    chord: Chord | None
    hold: bool = False


@dataclass(frozen=True, slots=True)
class _BarText:
    """A bar by itself: its own metre, its cells, and remarks with columns inside it."""

    metre: Metre | None
    signs: tuple[_Sign, ...]
    remarks: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class _Phrase:
    """A line behind its start time.

    Attributes:
        label: The label of the section that starts here, None where none does.
        bars: The texts of its bars.
        times: How often it is played.
        remarks: Remarks, with columns inside the text.
    """

    label: str | None
    bars: tuple[str, ...]
    times: int
    remarks: tuple[Fault, ...]


@cache
def billboard_parser() -> Lark:
    """The parser of whole lines (``line``) and of their parts (``labels``, ``bar``, ``tail``)."""
    return parser("billboard", ["line", "labels", "bar", "tail"], maybe_placeholders=False)


def read_billboard(text: str) -> tuple[ForeignTune, ...]:
    """The song that an annotation holds.

    Args:
        text: The whole text of a file.

    Returns:
        One tune, with a chart wherever there is a bar.

    >>> song, = read_billboard("# title: Song\\n# tonic: A\\n\\n0.5\\tA, verse, | A:min | D:min E:7 | x2, (voice)\\n")
    >>> song.title, str(song.chart.key), song.chart.sections[0].label, song.remarks
    ('Song', 'Am', 'verse A', ())
    """
    return (_Reader(text).tune(),)


class _Reader:
    """One reading of one annotation."""

    def __init__(self, text: str) -> None:
        self._lines = _LINE_END.split(text.removeprefix("\ufeff"))
        self._headers: dict[str, str] = {}
        self._metre = Metre()
        self._tonic: Pitch | None = None
        self._label: str | None = None
        self._body: list[DraftBar | DraftRepeat] = []
        self._sections: list[DraftSection] = []
        self._remarks: list[Fault] = []

    def tune(self) -> ForeignTune:
        """Reads all of it."""
        for number, line in enumerate(self._lines, 1):
            if line.startswith("#"):
                self._header(number, line)
            elif line and not line.isspace():
                self._line(number, line)
        self._end_section()
        title = self._headers.get("title")
        remarks = tuple(sorted(self._remarks, key=lambda remark: (remark.line, remark.column)))
        if not any(section.body for section in self._sections):
            number, line = next(((n, t) for n, t in enumerate(self._lines, 1) if t.strip()), (1, ""))
            expected = "lines such as 0.5, a tab, and A, verse, | C:maj | G:maj |"
            return ForeignTune("1", title, None, (whole(number, line).fault("no bars found", expected),), remarks)
        headers = [(name, self._headers[name]) for name in ("title", "by") if name in self._headers]
        return ForeignTune("1", title, build_chart(headers, self._sections), (), remarks)

    def _header(self, number: int, line: str) -> None:
        found = _HEADER.fullmatch(line)
        if found is None:
            self._remarks.append(whole(number, line).fault("a line that is no header is not read", "“# name: value”"))
            return
        name, value = found.group("name").lower(), found.group("value")
        at = Place(number, found.start("value") + 1, len(value), line) if value else whole(number, line)
        if name in ("title", "artist"):
            if value:
                self._headers.setdefault({"artist": "by"}.get(name, name), header_value(value))
        elif name == "metre":
            try:
                self._metre = read_metre(value)
            except ReadingError as error:
                self._remarks += [f.at(number, line, at.column - 1) for f in error.faults]
        elif name != "tonic":
            self._remarks.append(at.fault(f"“# {found.group('name')}:” is not read", "title, artist, metre or tonic"))
        elif _TONIC.fullmatch(value):
            self._tonic = read_pitch(value)
        else:
            message = f"“{value}” is no tonic, so the one before it stays in force"
            self._remarks.append(at.fault(message, "a letter A to G and its sign, such as Bb"))

    def _line(self, number: int, line: str) -> None:
        timed = _TIMED.match(line)
        start = timed.end() if timed else 0
        if not timed:
            self._remarks.append(
                whole(number, line).fault("no start time", "seconds and a tab at the head of the line")
            )
        body = line[start:]
        phrase = _phrase(body)
        self._remarks += [f.at(number, line, start) for f in phrase.remarks]
        if phrase.label is not None and (timed or phrase.bars):
            self._end_section()
            self._label = phrase.label
        if not phrase.bars:
            return
        bars = tuple(_draft(text, self._metre, self._tonic, number) for text in phrase.bars)
        column = start + body.index("|") + 2
        for text, bar in zip(phrase.bars, bars, strict=True):
            if not bar.content.exact:
                blank = len(text) - len(text.lstrip())
                self._remarks.append(Place(number, column + blank, len(text.strip()), line).fault(INEXACT))
            column += len(text) + 1
        self._body += bars if phrase.times == 1 else [DraftRepeat(bars, phrase.times)]

    def _end_section(self) -> None:
        if self._body:
            self._sections.append(DraftSection(self._label, tuple(self._body)))
        self._body = []


@lru_cache(maxsize=65536)
def _phrase(body: str) -> _Phrase:
    """A line behind its start time; a phrase that is played again is read once."""
    head, *bars = body.split("|")
    label = _label(head)
    if not bars:
        return _Phrase(None if _NO_MUSIC.match(head) else label, (), 1, ())
    last, offset = bars.pop(), len(body)
    times, remarks = _tail(last, offset - len(last))
    if times == 0:
        times, message, expected = 1, "no bar line behind the last bar", "“|”"
        if _BROKEN_TAIL.fullmatch(last):
            message, expected = f"“{last.strip()}” breaks off", "“x2” and the like, “->”, or nothing"
        else:
            text, comma, _ = last.partition(", ")
            bars.append(text if comma else last)
        remarks = (Fault(message, column=max(1, len(body.rstrip())), expected=expected),)
    column = len(head) + 1
    for text in bars:
        remarks = (*(f.at(0, "", column) for f in _bar(text).remarks), *remarks)
        column += len(text) + 1
    if not bars:
        remarks = (*remarks, Fault("no bars between the bar lines", column=len(head) + 1, expected="“| C:maj |”"))
    return _Phrase(label, tuple(bars), times, remarks)


@lru_cache(maxsize=4096)
def _label(head: str) -> str | None:
    """The label that stands before the bars: the names and the letter; None where there is neither."""
    try:
        tokens = billboard_parser().parse(head, "labels").children if head.strip() else []
    except UnexpectedInput:
        return section_label(head)
    named = [str(t).strip() for t in tokens if isinstance(t, Token) and t.type == "NAME"]
    letters = [str(t) for t in tokens if isinstance(t, Token) and t.type == "LETTER"]
    return section_label(" ".join([*named, *letters]))


@lru_cache(maxsize=4096)
def _tail(text: str, offset: int) -> tuple[int, tuple[Fault, ...]]:
    """How often the phrase is played, as is said behind its last bar line; 0 where that is no tail but a bar."""
    try:
        tokens = billboard_parser().parse(text, "tail").children
    except UnexpectedInput:
        return 0, ()
    for token in tokens:
        if isinstance(token, Token) and token.type == "TIMES":
            times = int(token[1:]) if len(token) < 6 else MOST_TIMES + 1
            if 1 <= times <= MOST_TIMES:
                return times, ()
            column = offset + (token.start_pos or 0) + 1
            message = (
                f"“{token}” cannot be how often a phrase is played, so it is played {min(times, MOST_TIMES) or 1}x"
            )
            expected = f"x2 to x{MOST_TIMES}"
            return min(times, MOST_TIMES) or 1, (Fault(message, column=column, length=len(token), expected=expected),)
    return 1, ()


@lru_cache(maxsize=65536)
def _bar(text: str) -> _BarText:
    """One bar by itself."""
    try:
        tokens = billboard_parser().parse(text, "bar").children
    except UnexpectedInput as error:
        column = max(0, error.pos_in_stream or 0) + 1
        length = max(1, len(text.rstrip()) - column + 1)
        problem = Fault("the bar cannot be read and is silent", column=column, length=length, expected="chord labels")
        return _BarText(None, (_Sign(None),), (problem,))
    metre: Metre | None = None
    signs: list[_Sign] = []
    remarks: list[Fault] = []
    for token in tokens:
        assert isinstance(token, Token)
        column = (token.start_pos or 0) + 1
        if token.type == "METRE":
            try:
                metre = read_metre(token)
            except ReadingError as error:
                remarks += [f.at(0, "", column - 1) for f in error.faults]
            continue
        signs.append(_sign(token, column, remarks))
    if len(signs) > MOST_CELLS:
        message = f"a bar of {len(signs)} chords is silent"
        signs, remarks = [_Sign(None)], [Fault(message, column=1, expected=f"at most {MOST_CELLS}")]
    return _BarText(metre, tuple(signs) or (_Sign(None, hold=True),), tuple(remarks))


def _sign(token: Token, column: int, remarks: list[Fault]) -> _Sign:
    if token.type == "HOLD":
        return _Sign(None, hold=True)
    if token.type == "CHORD":
        read = harte_or_fault(str(token))
        if isinstance(read, Fault):
            remarks.append(read.at(0, "", column - 1))
            return _Sign(None)
        return _Sign(read)
    if token.type == "COMPLEX":
        message = "“*”, too complex to transcribe, is written as silence"
        remarks.append(Fault(message, column=column))
    elif token.type == "PAUSE":
        message = "“&pause”, a rest outside the metre, is written as silence of its own"
        remarks.append(Fault(message, column=column, length=len(token)))
    return _Sign(None)


def _draft(text: str, metre: Metre, tonic: Pitch | None, line: int) -> DraftBar:
    """A bar of a phrase, in a metre and on a tonic."""
    own = _bar(text).metre
    return DraftBar(_content(text, own or metre), own or metre, own is not None and own != metre, tonic, line)


@lru_cache(maxsize=65536)
def _content(text: str, metre: Metre) -> Content:
    """What a bar holds: its cells share it equally."""
    signs = _bar(text).signs
    share = Fraction(metre.beats, len(signs))
    return content_of((Run(sign.chord, share, not sign.hold) for sign in signs), metre)
