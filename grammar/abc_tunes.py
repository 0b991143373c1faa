"""Reads ABC 2.1 tune books: every tune of a file, with the chords, bars and keys that its chord symbols give.

Conventions:
    * A tune starts at ``X:`` and ends at an empty line, the next ``X:`` or the end of the file; where music follows the
      empty line, the tune goes on, with a remark. Fields in a block of fields before the first tune hold for all. Text
      between tunes is passed over.
    * ``T:`` is the title, ``C:`` who it is by, ``R:`` the style, ``Q:`` the tempo, ``S:`` (or ``O:``) the source;
      ``K: M: L: P:`` and the music give keys, metres, lengths and sections. Other fields say nothing about harmony.
    * A broken field is remarked on, and the tune is read without it. A tune without chords is at fault.

Source: the ABC music standard 2.1 (December 2011), sections 2 to 5.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from grammar.abc_body import Body
from grammar.abc_fields import decoded, read_abc_parts, read_abc_tempo
from grammar.building import DraftSection, build_chart, header_value
from grammar.places import Place, whole
from shared.errors import Fault, ReadingError
from shared.foreign import ForeignTune

_LINE_END = re.compile(r"\r\n|\n|\r")
#: A field: a letter and a colon, and what is no bar line behind it.
_FIELD = re.compile(r"(?P<letter>[A-Za-z+]):(?P<value>(?![|:]).*)")
_BLOCK = re.compile(r"%%\s*(?P<end>begin|end)(?P<name>\w+)")
_NUMBER = re.compile(r"\s*(?P<number>\d{1,9})\s*")
#: Fields that a file header may hold, and those of them that a tune takes over.
_FILE_FIELDS = frozenset("ABCDFGHILMmNORrSUZ")
_INHERITED = "CLMORS"
#: Fields that may stand before music which goes on behind an empty line.
_ON_THE_WAY = frozenset("KLMPV")
#: Fields of a tune whose text may go on in a ``+:`` line.
_TEXTS = {"T": "title", "C": "by", "R": "style", "S": "source", "O": "origin"}


@dataclass(frozen=True, slots=True)
class _Line:
    """A line: its number, what it says without its comment, and how it stands in the file."""

    number: int
    says: str
    text: str


@dataclass(slots=True)
class _Field:
    """A field of a header: its letter, its value, which may go on in other lines, and where the value stands."""

    letter: str
    value: str
    place: Place


@dataclass(slots=True)
class _Tune:
    """A tune in the book.

    Attributes:
        number: The value of its ``X:``, None where it has none.
        place: Where it starts.
        lines: Its other lines.
        parted: Those of them that stand behind an empty line.
    """

    number: str | None
    place: Place
    lines: list[_Line] = field(default_factory=list)
    parted: list[_Line] = field(default_factory=list)


def read_abc(text: str) -> tuple[ForeignTune, ...]:
    """The tunes of a book.

    Args:
        text: The whole text of a file.

    Returns:
        The tunes in their order, at least one; one without a chart says why.

    >>> tune, = read_abc('X:7\\nT:Song\\nM:3/4\\nL:1/4\\nK:Am\\n"Am"A2B|"Dm/f"d3|"E7"B3|"Am"A3|]\\n')
    >>> tune.number, tune.title, [cell.written for _, bar in tune.chart.bars() for cell in bar.cells]
    ('7', 'Song', ['Am', 'Dm/F', 'E7', 'Am'])
    """
    lines = list(_lines(text))
    inherited, tunes = _book(lines)
    if not tunes:
        first = next((line for line in lines if line.says.strip()), _Line(1, "", ""))
        fault = whole(first.number, first.text).fault("no tune found", "a line such as X:1 at the head of each tune")
        return (ForeignTune("1", None, None, (fault,)),)
    taken: Counter[str] = Counter()
    return tuple(_TuneReader(tune, inherited).tune(index, taken) for index, tune in enumerate(tunes, 1))


def _lines(text: str) -> Iterator[_Line]:
    """The lines, without comments and without blocks of formatted text."""
    block = ""
    for number, line in enumerate(_LINE_END.split(text.removeprefix("\ufeff")), 1):
        found = _BLOCK.match(line)
        if found and found["end"] == "begin":
            block = block or found["name"]
        elif found and found["name"] == block:
            block = ""
        elif not block:
            says = _without_comment(line)
            if says.strip() or not line.strip():
                yield _Line(number, says, line)


def _without_comment(line: str) -> str:
    """A line up to its comment: ``%`` outside quotes, unless it is escaped."""
    quoted, last = False, line.rfind('"')
    for place, sign in enumerate(line):
        if sign == '"':
            quoted = not quoted and place < last
        elif sign == "%" and not quoted and line[place - 1 : place] != "\\":
            return line[:place]
    return line


def _is_music(says: str) -> bool:
    """Whether a line behind an empty line is music and no text: it has a bar line, and most letters are notes."""
    if "|" not in says:
        return False
    letters = [sign for sign in re.sub(r'"[^"]*"|\[[A-Za-z]:[^\]]*\]|![^!]*!', "", says) if sign.isalpha()]
    return len(letters) > 0 and sum(sign in "ABCDEFGabcdefgzxZXy" for sign in letters) >= 0.9 * len(letters)


def _field_of(line: _Line) -> _Field | None:
    found = _FIELD.fullmatch(line.says)
    if not found:
        return None
    value = found["value"].rstrip()
    column = found.start("value") + len(value) - len(value.lstrip()) + 1
    return _Field(found["letter"], value.strip(), Place(line.number, column, max(1, len(value.strip())), line.text))


def _book(lines: Sequence[_Line]) -> tuple[list[_Field], list[_Tune]]:
    """The fields that all tunes take over, and the tunes."""
    inherited: list[_Field] = []
    tunes: list[_Tune] = []
    open_tune, block = False, list[_Field]()
    fields_alone = True
    waiting: list[_Line] = []
    for line in lines:
        read = _field_of(line)
        if not line.says.strip():
            inherited += block if fields_alone and not tunes else []
            open_tune, block, fields_alone, waiting = False, [], True, []
        elif read and read.letter == "X":
            inherited += block if fields_alone and not tunes else []
            tunes.append(_Tune(read.value, read.place))
            open_tune, block = True, []
        elif open_tune:
            tunes[-1].lines.append(line)
        elif tunes and read and read.letter in _ON_THE_WAY:
            waiting.append(line)
        elif tunes and _is_music(line.says):
            tunes[-1].lines += [*waiting, line]
            tunes[-1].parted.append(line)
            open_tune = True
        elif not tunes:
            fields_alone = fields_alone and read is not None and read.letter in _FILE_FIELDS
            block += [read] if read else []
    if not tunes and any(read.letter == "K" for line in lines if (read := _field_of(line))):
        written = [line for line in lines if line.says.strip()]
        tunes.append(_Tune(None, whole(written[0].number, written[0].text), written))
        inherited = []
    return [each for each in inherited if each.letter in _INHERITED], tunes


class _TuneReader:
    """One reading of one tune."""

    def __init__(self, tune: _Tune, inherited: Sequence[_Field]) -> None:
        self._tune = tune
        self._inherited = inherited
        self._remarks: list[Fault] = []
        self._body = Body(self._remarks)
        self._texts: dict[str, list[str]] = {}
        self._tempo: str | None = None
        self._parts: tuple[tuple[str, ...], Place] | None = None

    def tune(self, index: int, taken: Counter[str]) -> ForeignTune:
        """Reads all of it; ``index`` is its place in the book, ``taken`` how often each number stands before it."""
        number = self._number(index, taken)
        fields, music = self._halves()
        for each in [*self._inherited, *fields]:
            self._header(each)
        self._body.begin()
        for line in music:
            self._line(line)
        for line in self._tune.parted:
            at = whole(line.number, line.text)
            self._remarks.append(
                at.fault("music behind an empty line is read as the same tune", "no empty line in a tune")
            )
        sections = self._body.sections()
        self._remarks.sort(key=lambda remark: (remark.line, remark.column))
        title = next(iter(self._texts.get("title", ())), None)
        if fault := self._fault(sections):
            return ForeignTune(number, title, None, (fault,), tuple(self._remarks))
        form, sections = self._form(sections)
        chart = build_chart(self._headers(title), sections, form, self._body.metre)
        self._remarks.sort(key=lambda remark: (remark.line, remark.column))
        return ForeignTune(number, title, chart, (), tuple(self._remarks))

    def _number(self, index: int, taken: Counter[str]) -> str:
        place, written = self._tune.place, self._tune.number
        found = _NUMBER.fullmatch(written or "")
        number = str(int(found["number"])) if found else str(index)
        if written is None:
            self._remarks.append(place.fault("a tune without a number is read as the only one", "X:1 before it"))
        elif not found:
            self._remarks.append(
                place.fault(f"“{written}” is no number, so the tune is number {number}", "such as X:1")
            )
        taken[number] += 1
        if taken[number] > 1:
            again = f"{number} ({taken[number]})"
            self._remarks.append(place.fault(f"“X:{number}” stands twice, so the tune is number {again}"))
            return again
        return number

    def _halves(self) -> tuple[list[_Field], list[_Line]]:
        """The fields of the header, up to ``K:``, and the lines of the body."""
        fields: list[_Field] = []
        for index, line in enumerate(self._tune.lines):
            read = _field_of(line)
            if read is None and "|" in line.says:
                self._remarks.append(whole(line.number, line.text).fault("the music starts without a key", "K: before"))
                return fields, self._tune.lines[index:]
            if read is None:
                if not line.says.startswith("%%") and (not fields or fields[-1].letter != "H"):
                    at = whole(line.number, line.text)
                    self._remarks.append(at.fault("a line that is no field is passed over", "a field such as T:"))
            elif read.letter == "+":
                if fields:
                    fields[-1].value = f"{fields[-1].value} {read.value}".strip()
            else:
                fields.append(read)
                if read.letter == "K":
                    return fields, self._tune.lines[index + 1 :]
        return fields, []

    def _header(self, read: _Field) -> None:
        letter, value, place = read.letter, read.value, read.place
        try:
            if letter in _TEXTS:
                if text := header_value(decoded(value)):
                    self._texts.setdefault(_TEXTS[letter], []).append(text)
            elif letter == "Q" and value:
                self._tempo = read_abc_tempo(value) or self._tempo
            elif letter == "P" and value:
                self._parts = read_abc_parts(value), place
            elif letter in "KLMV":
                self._body.field(letter, value, place)
        except ReadingError as error:
            self._remarks += [fault.at(place.line, place.text, place.column - 1) for fault in error.faults]

    def _line(self, line: _Line) -> None:
        """A line of the body."""
        read = _field_of(line)
        if read is None:
            self._body.music(line.number, line.says, line.text)
        elif read.letter in "KLMPVs":
            self._body.field(read.letter, read.value, read.place)

    def _fault(self, sections: Sequence[DraftSection]) -> Fault | None:
        """Why there can be no chart."""
        place = self._tune.place
        if not sections:
            return place.fault("the tune has no music", "bars of notes or rests behind K:")
        if not self._body.chords:
            if self._body.strange:
                return place.fault("the tune has no chords that can be read", "chord symbols such as “Am7”")
            return place.fault("the tune has no chords", "chord symbols such as “Am7” before its notes")
        return None

    def _headers(self, title: str | None) -> list[tuple[str, str]]:
        texts = {name: ", ".join(dict.fromkeys(said)) for name, said in self._texts.items()}
        return [
            ("title", title or ""),
            ("by", texts.get("by", "")),
            ("tempo", self._tempo or ""),
            ("style", texts.get("style", "")),
            ("source", texts.get("source", "") or texts.get("origin", "")),
        ]

    def _form(self, sections: list[DraftSection]) -> tuple[tuple[str, ...], list[DraftSection]]:
        """The order in which the sections are played, empty where that is as written, and the sections."""
        if self._parts is None:
            return (), sections
        form, place = self._parts
        labels = [section.label for section in sections]
        if labels[0] is None and form[0] not in labels:
            sections = [DraftSection(form[0], sections[0].body), *sections[1:]]
            labels[0] = form[0]
        missing = [part for part in dict.fromkeys(form) if part not in labels]
        twice = next((label for label in form if labels.count(label) > 1), None)
        if twice is not None:
            message = f"the part “{twice}” stands twice, so the tune plays as it is written"
            self._remarks.append(place.fault(message, "every part once"))
            return (), sections
        if missing:
            message = f"the tune has no part “{missing[0]}”, which is left out"
            self._remarks.append(place.fault(message, f"P:{missing[0]} before its first bar"))
            form = tuple(part for part in form if part not in missing)
        return (() if list(form) == labels else form), sections
