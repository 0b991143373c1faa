"""Reads a chart as a person writes it: headers, sections, bars, chords above words.

Conventions:
    * Reading never raises for anything that stands in the text: what is wrong is a fault, and reading goes on behind
      it, so that one bad line hides no other. A chart with faults is not made.
    * Everything is resolved as written, from the top down: holds, new basses, ``%`` and ``%2`` look back over the bars
      above them, numbers are counted from the key in force where they stand.
    * Lines end with LF, CRLF or CR; a byte-order mark is passed over. Comments and blank lines are not kept.
    * Lines of words belong to the line of music above them, whatever stands between; those before any music, to their
      section.
"""

from __future__ import annotations

import re
from dataclasses import replace
from enum import Enum
from typing import NamedTuple

from grammar.bar_lines import Mark, Measure, measures
from grammar.cells import JUMP_EXPECTED, JUMP_LINE, Sign, counted, sign
from grammar.headers import (
    HEADER,
    Head,
    bare_known,
    header_places,
    known_key,
    known_metre,
    read_form,
)
from grammar.places import Place, whole
from grammar.repeats import Body
from grammar.words import Token, chord_line, mostly_chords
from shared.chart import KNOWN_HEADERS, Bar, Cell, Chart, Metre, Reading, Section, shares
from shared.chord import Chord
from shared.errors import Fault
from shared.key import Key, Mode
from shared.pitch import Degree, Pitch
from shared.quality import Third

LONGEST_LINE = 5000
_LINE_END = re.compile(r"\r\n|\n|\r")
_LABEL = re.compile(r"\s*\[([^\[\]]*)\]\s*:?\s*")
_LABEL_COLON = re.compile(r"\s*([^\W_][^:|\[\]]{0,39}):\s*")
_LABELLED = re.compile(r"\s*(?P<label>[^\W_][^:|\[\]]*?)\s*:\s+(?=\|)")
_CHANGE = re.compile(r"\s*(?P<name>key|time)\s*:(?!\|)\s*(?P<value>.*?)\s*", re.IGNORECASE)
_SHOWN = 80
_C_MAJOR = Key(Pitch("C"), Mode.MAJOR)


class _Kind(Enum):
    BLANK = "blank"
    LABEL = "label"
    CHANGE = "change of key or metre"
    MUSIC = "bars between bar lines"
    CHORDS = "chord names above words"
    WORDS = "words"
    FAULTY = "faulty"


class _Line(NamedTuple):
    number: int
    text: str
    kind: _Kind
    tokens: tuple[Token, ...] = ()


def read_chart(text: str) -> Reading:
    """The chart that a text holds, or what is wrong with it.

    Args:
        text: The whole text of a chart file.

    Returns:
        The chart where nothing is wrong; the faults, or the remarks, in the order of the text.

    >>> reading = read_chart("key: G\\n\\n| 1 | 4m/b3 :|")
    >>> [cell.chord.name for _, bar in reading.chart.bars() for cell in bar.cells]
    ['G', 'Cm/Bb']
    """
    return _Reader(text).read()


class _Reader:
    """One reading of one chart."""

    def __init__(self, text: str) -> None:
        self._lines = _LINE_END.split(text.removeprefix("\ufeff"))
        self._head = Head()
        self._faults = self._head.faults
        self._remarks = self._head.remarks
        self._sections: list[Section] = []
        self._label: str | None = None
        self._label_at: Place | None = None
        self._body = Body(self._faults)
        self._words: list[str] = []
        self._labels: dict[int, Place] = {}
        self._key: Key | None = None
        self._metre = Metre()
        self._sounding: Cell | None = None
        self._unread = False
        self._bars: list[Bar] = []
        self._section_start = 0
        self._numbers: list[tuple[Place, Sign]] = []
        self._uneven: dict[tuple[int, int], Place] = {}
        self._keyless = False
        self._first_words: Place | None = None
        self._measured = False

    def read(self) -> Reading:
        """Reads all of it."""
        first = self._read_head()
        self._key, self._metre = self._head.key, self._head.metre
        if self._head.broken_key:
            self._key = _C_MAJOR
        lines = self._classified(first)
        below = _words_below(lines)
        self._words += below.get(-1, [])
        for index, line in enumerate(lines):
            if line.kind is _Kind.LABEL:
                self._end_section()
                self._label_at = whole(line.number, line.text)
                self._label = _label(line.text)
                self._words += below.get(index, [])
            elif line.kind is _Kind.CHANGE:
                self._change(line)
            elif line.kind in (_Kind.MUSIC, _Kind.CHORDS):
                self._read_music(line, "\n".join(below.get(index, [])))
        self._end_section()
        return self._reading()

    def _fault(self, place: Place, message: str, expected: str = "", nearest: str = "") -> None:
        self._faults.append(place.fault(message, expected, nearest))

    def _remark(self, place: Place, message: str, expected: str = "", nearest: str = "") -> None:
        self._remarks.append(place.fault(message, expected, nearest))

    # The head and the kinds of line

    def _read_head(self) -> int:
        """Reads the headers.

        Returns:
            The index of the first line behind them.
        """
        for index, text in enumerate(self._lines):
            number = index + 1
            if not text or text.isspace():
                if self._head.headers:
                    return index
            elif text.startswith("#"):
                continue
            elif len(text) > LONGEST_LINE:
                return index
            elif found := HEADER.fullmatch(text):
                name, value = found.group("name"), found.group("value")
                known = " ".join(name.lower().split()) in KNOWN_HEADERS
                if not known and (not value or value.startswith("|")):
                    return index
                self._head.add(name, value, *header_places(number, text, found))
            elif "|" in text or _LABEL.fullmatch(text) or chord_line(text):
                return index
            elif known_name := bare_known(text):
                self._no_header(number, text, f"{known_name}: {text.split(None, 1)[1].rstrip()}")
            elif self._head.headers:
                self._no_header(number, text, "")
            else:
                return index
        return len(self._lines)

    def _no_header(self, number: int, text: str, nearest: str) -> None:
        place = whole(number, text)
        expected = "“name: value”, or a blank line behind the last header"
        self._fault(place, f"“{place.text_at[:_SHOWN]}” is not a header", expected, nearest)

    def _classified(self, first: int) -> list[_Line]:
        """The lines behind the head, each with its kind."""
        lines: list[_Line] = []
        above = _Kind.BLANK
        for index in range(first, len(self._lines)):
            text = self._lines[index]
            if text.startswith("#"):
                above = _Kind.BLANK
                continue
            line = self._classify(index + 1, text, above)
            above = line.kind
            if above is not _Kind.BLANK:
                lines.append(line)
        return lines

    def _classify(self, number: int, text: str, above: _Kind) -> _Line:
        if not text or text.isspace():
            return _Line(number, text, _Kind.BLANK)
        if len(text) > LONGEST_LINE:
            place = Place(number, LONGEST_LINE + 1, 1, text)
            self._fault(place, f"a line of {len(text)} characters", f"at most {LONGEST_LINE} in one line")
            return _Line(number, text, _Kind.FAULTY)
        if text.lstrip().startswith("["):
            return self._classify_label(number, text)
        if "|" in text:
            if found := _LABELLED.match(text):
                self._label_beside(number, text, found.group("label"))
                return _Line(number, text, _Kind.FAULTY)
            return _Line(number, text, _Kind.MUSIC)
        if ":" in text and (kind := self._classify_colon(number, text)):
            return _Line(number, text, kind)
        if JUMP_LINE.fullmatch(text):
            place = whole(number, text)
            self._fault(place, f"“{place.text_at}” is not read in a chart", JUMP_EXPECTED)
            return _Line(number, text, _Kind.FAULTY)
        if tokens := chord_line(text, above is _Kind.CHORDS, self._head.key is not None):
            return _Line(number, text, _Kind.CHORDS, tokens)
        if word := mostly_chords(text):
            message = f"read as words, because “{word}” is no chord"
            place = Place(number, text.index(word) + 1, len(word), text)
            self._remark(place, message, "nothing but chords in a line of chords")
        return _Line(number, text, _Kind.WORDS)

    def _classify_label(self, number: int, text: str) -> _Line:
        if found := _LABEL.fullmatch(text):
            if found.group(1).strip():
                return _Line(number, text, _Kind.LABEL)
            self._fault(whole(number, text), "a section without a name", "a name in the brackets", "[A]")
            return _Line(number, text, _Kind.FAULTY)
        inside, bracket, _ = text.strip()[1:].partition("]")
        if bracket and inside.strip():
            self._label_beside(number, text, inside.strip())
        else:
            place = whole(number, text)
            name = " ".join(inside.replace("[", " ").split()[:3])
            near = f"[{name}]" if name and "|" not in name else "[A]"
            self._fault(place, "a section's name has no closing bracket", "“[”, the name and “]”", near)
        return _Line(number, text, _Kind.FAULTY)

    def _label_beside(self, number: int, text: str, label: str) -> None:
        message = f"the section's name “{label}” shares its line"
        self._fault(whole(number, text), message, "the name on a line of its own", f"[{label}]")

    def _classify_colon(self, number: int, text: str) -> _Kind | None:
        """The kind of a line with a colon, None where it says nothing."""
        if _CHANGE.fullmatch(text):
            return _Kind.CHANGE
        found = HEADER.fullmatch(text)
        if found is None:
            return None
        name, value = " ".join(found.group("name").lower().split()), found.group("value")
        if name in KNOWN_HEADERS and value:
            message = f"the header “{name}:” stands behind the head of the chart"
            self._fault(header_places(number, text, found)[0], message, "all headers at the top, without a blank line")
            return _Kind.FAULTY
        if _LABEL_COLON.fullmatch(text):
            return _Kind.LABEL
        if value and chord_line(value):
            self._label_beside(number, text, found.group("name"))
            return _Kind.FAULTY
        return None

    # Sections

    def _end_section(self) -> None:
        body = self._body.end()
        if self._label is not None or body or self._words:
            if self._label_at is not None:
                self._labels[len(self._sections)] = self._label_at
                if not body and not self._words:
                    message = f"no bars stand under “{self._label}”, so nothing is played there"
                    self._remark(self._label_at, message, "its bars, or a form that names the section again")
            self._sections.append(Section(self._label, body, "\n".join(self._words)))
        self._body = Body(self._faults)
        self._words = []
        self._section_start = len(self._bars)

    def _change(self, line: _Line) -> None:
        """A ``key:`` or ``time:`` line."""
        found = _CHANGE.fullmatch(line.text)
        assert found is not None
        name, value = found.group("name").lower(), found.group("value")
        place = header_places(line.number, line.text, found)[1]
        read = known_key(value) if name == "key" else known_metre(value)
        if isinstance(read, Key):
            self._key = read
        elif isinstance(read, Metre):
            self._metre = read
        else:
            self._faults += [f.at(line.number, line.text, place.column - 1) for f in read]
            if name == "key":
                self._key = self._key or _C_MAJOR

    # Music

    def _read_music(self, line: _Line, words: str) -> None:
        before = len(self._bars)
        self._body.start_line()
        if line.kind is _Kind.CHORDS:
            self._read_chords(line, words)
        else:
            self._read_bars(line, words)
        self._body.end_line()
        if words and len(self._bars) == before:
            self._words.append(words)

    def _read_bars(self, line: _Line, words: str) -> None:
        """A line of bars between bar lines."""
        self._measured = True
        number, text = line.number, line.text
        row = list(measures(text))
        body = self._body
        holding = [_holds(row, index) for index in range(len(row))]
        last_bar = max((i for i, holds in enumerate(holding) if holds), default=-1)
        for index, (offset, measure) in enumerate(row):
            for fault in measure.faults:
                self._faults.append(fault.at(number, text, offset))
            if measure.mark is Mark.OPENS:
                body.open(Place(number, offset + 1, 2, text))
            elif measure.mark is Mark.ENDING:
                body.start_ending(measure.numbers, Place(number, offset + 1, measure.width, text))
            if measure.times and not measure.trailing:
                closed = index > 0 and row[index - 1][1].closes > 0
                self._times(line, offset, measure, closed, index == len(row) - 1)
            if holding[index]:
                self._read_bar(Place(number, offset + 1, 1, text), measure, words if index == last_bar else "")
            if measure.trailing:
                self._times(line, offset, measure, False, index == len(row) - 1 and not measure.closes)
            if measure.closes:
                body.close(Place(number, offset + measure.closes, 2, text))
        self._edges(line, row)

    def _times(self, line: _Line, offset: int, measure: Measure, closed: bool, last: bool) -> None:
        """``x3``."""
        written = re.match(r"\S\s?\d+", line.text[offset + measure.times_at - 1 :])
        length = written.end() if written else 1
        place = Place(line.number, offset + measure.times_at, length, line.text)
        if closed or last:
            self._body.repeat_line(measure.times, place, closed)
        else:
            message = f"“{place.text_at}” stands in the middle of a line"
            self._fault(place, message, "it at the end of its line, or directly behind “:|”")

    def _edges(self, line: _Line, row: list[tuple[int, Measure]]) -> None:
        """Remarks on a line without its first or last bar line."""
        written = line.text.strip()
        if row[0][1].mark is Mark.NONE and row[0][1].holds_bar:
            place = Place(line.number, row[0][1].columns[0] if row[0][1].columns else 1, 1, line.text)
            self._remark(place, "no bar line at the start of the line", "“|” there", f"| {written}"[:_SHOWN])
        if row[-1][1].holds_bar:
            place = Place(line.number, len(line.text.rstrip()) + 1, 1, line.text)
            self._remark(place, "no bar line at the end of the line", "“|” there", f"{written} |"[-_SHOWN:])

    def _read_bar(self, place: Place, measure: Measure, words: str) -> None:
        """One bar between bar lines; ``place`` is where its measure starts."""
        metre = measure.metre or self._metre
        own = measure.metre is not None
        signs = measure.signs
        if len(signs) == 1 and signs[0].again:
            self._read_again(place, measure, metre, words)
            return
        cells = measure.ready or self._resolved(place, measure)
        last = cells[-1]
        if last.struck:
            self._sounding = last
        elif measure.ready:
            self._sounding = next(c for c in reversed(cells) if c.struck)
        if len(cells) > 1 and metre.beats % len(cells):
            self._uneven.setdefault((len(cells), metre.beats), self._cells_place(place, measure))
        self._add(Bar(len(self._bars) + 1, cells, self._key, metre, own, 0, words, True, place.line))

    def _add(self, bar: Bar) -> None:
        self._bars.append(bar)
        self._body.add(bar)

    def _cells_place(self, place: Place, measure: Measure) -> Place:
        """The place of all cells of a measure."""
        first, last = measure.columns[0], measure.columns[-1] + len(measure.signs[-1].written)
        return place._replace(column=place.column + first - 1, length=last - first)

    def _resolved(self, place: Place, measure: Measure) -> tuple[Cell, ...]:
        """The cells of a measure, with what they need from outside it."""
        if not measure.signs:
            at = place._replace(length=len(place.text.rstrip()) - place.column + 1 if measure.metre else 1)
            return (self._held("", at, "an empty bar holds the chord before it, and there is none"),)
        cells = []
        for each, column in zip(measure.signs, measure.columns, strict=True):
            at = place._replace(column=place.column + column - 1, length=len(each.written))
            cell = self._cell(each, at)
            cells.append(cell)
            if cell.struck:
                self._sounding = cell
        return tuple(cells)

    def _held(self, written: str, place: Place, problem: str) -> Cell:
        if self._sounding is None:
            self._fault(place, problem, "a chord before it, or N.C.", "N.C.")
            return Cell(written, None, struck=False)
        return Cell(written, self._sounding.chord, struck=False)

    def _cell(self, each: Sign, place: Place) -> Cell:
        """One cell by its sign; what is faulty stands in for silence."""
        if each.cell is not None:
            return each.cell
        if each.hold:
            return self._held(each.written, place, f"“{each.written}” holds the chord before it, and there is none")
        if each.numeral is not None:
            return self._number(each, place)
        if each.bass is not None:
            return self._new_bass(each.written, each.bass, place)
        self._unread = True
        return Cell(each.written, None)

    def _number(self, each: Sign, place: Place) -> Cell:
        self._numbers.append((place, each))
        if self._key is None:
            if not self._keyless:
                expected = "a header that gives the key, such as “key: C”"
                self._fault(place, f"“{each.written}” is counted from a key, and none is written", expected, "key: C")
            self._keyless = True
        return counted(each.written, self._head.tonic(self._key or _C_MAJOR))

    def _new_bass(self, written: str, bass: Pitch | Degree, place: Place) -> Cell:
        """A bass alone stands under the last chord that sounded."""
        over = self._sounding.chord if self._sounding else None
        if over is None:
            over = next((c.chord for b in reversed(self._bars) for c in reversed(b.cells) if c.chord), None)
        if over is None:
            if not self._unread:
                problem = f"“{written}” is a new bass under the chord before it, and there is none"
                self._fault(place, problem, "a chord before it")
            return Cell(written, None)
        if isinstance(bass, Degree):
            if self._key is None:
                self._number(Sign(written, numeral=sign("1").numeral), place)
                return Cell(written, over)
            bass = self._head.tonic(self._key).up(bass)
        return Cell(written, Chord(over.root, over.quality, bass))

    def _read_again(self, place: Place, measure: Measure, metre: Metre, words: str) -> None:
        """``%`` and ``%2``."""
        each = measure.signs[0]
        again = each.again
        at = self._cells_place(place, measure)
        above = self._bars[self._section_start :]
        problem = ""
        if self._body.at_head or not above:
            where = "an ending" if above else "a section"
            problem = f"“{each.written}” stands at the head of {where}"
        elif len(above) < again:
            problem = f"“{each.written}” repeats two bars, and the section has only one before it"
        elif again == 2 and measure.metre is not None:
            problem = "a metre for one bar stands before “%2”, which is two"
        if problem:
            self._fault(at, problem, "a bar written before it" if again == 1 else "two bars written before it")
            copied: tuple[tuple[Cell, ...], ...] = ((Cell(each.written, None),),) * again
        else:
            copied = tuple(bar.cells for bar in above[-again:])
        for index, cells in enumerate(copied):
            cells = self._struck_anew(cells)
            own = measure.metre is not None
            text = words if index == again - 1 else ""
            self._add(Bar(len(self._bars) + 1, cells, self._key, metre, own, again, text, True, place.line))

    def _struck_anew(self, cells: tuple[Cell, ...]) -> tuple[Cell, ...]:
        """The cells of a bar that is played again: a chord held over into it is struck where another sounds now."""
        fresh = [replace(cell, column=0) if cell.column else cell for cell in cells]
        for index, cell in enumerate(cells):
            if cell.struck:
                break
            if self._sounding is None or cell.chord == self._sounding.chord:
                break
            name = cell.chord.name if cell.chord else "N.C."
            fresh[index] = Cell(name, cell.chord)
            break
        struck = [c for c in fresh if c.struck]
        if struck:
            self._sounding = struck[-1]
        return tuple(fresh)

    def _read_chords(self, line: _Line, words: str) -> None:
        """A line of chord names above words: one bar whose lengths are not known."""
        tokens = list(line.tokens)
        if self._first_words is None:
            first, last = tokens[0], tokens[-1]
            length = last.column + len(last.text) - first.column
            self._first_words = Place(line.number, first.column, length, line.text)
        times = None
        if len(tokens) > 1 and re.fullmatch(r"[xX×]\d+", tokens[-1].text):
            times = tokens.pop()
        cells = []
        for token in tokens:
            each = sign(token.text)
            place = Place(line.number, token.column, len(token.text), line.text)
            if each.fault:
                self._faults.append(each.fault.at(line.number, line.text, token.column - 1))
            elif each.again:
                self._fault(place, f"“{each.written}” stands above words", "the chords again, or bar lines")
            cell = self._cell(each, place)
            if cell.struck:
                self._sounding = cell
            cells.append(replace(cell, column=token.column))
        bar = Bar(len(self._bars) + 1, tuple(cells), self._key, self._metre, False, 0, words, False, line.number)
        self._add(bar)
        if times:
            for _, measure in measures(f"| {times.text}"):
                place = Place(line.number, times.column, len(times.text), line.text)
                self._faults += [f.at(line.number, line.text, times.column - 3) for f in measure.faults]
                self._body.repeat_line(measure.times, place, False)

    # The whole

    def _reading(self) -> Reading:
        form: tuple[str, ...] = ()
        if at := self._head.places.get("form"):
            labels = [s.label for s in self._sections if s.label is not None]
            if dict(self._head.headers)["form"]:
                form = read_form(at, labels, self._faults)
                self._unnamed(form)
        if not self._bars and not self._faults:
            place = next((whole(i, t) for i, t in enumerate(self._lines, 1) if t.strip()), Place(1, 1, 1, ""))
            self._fault(place, "no chords found", "bars between bar lines, such as | C | F |, or chords above words")
        self._whole_remarks()
        faults, remarks = _sorted(self._faults), _sorted(self._remarks)
        if faults:
            return Reading(None, faults, remarks)
        head = self._head
        chart = Chart(tuple(head.headers), tuple(self._sections), form, head.key, head.metre)
        return Reading(chart, (), remarks)

    def _unnamed(self, form: tuple[str, ...]) -> None:
        """Remarks on sections that the form never plays."""
        for index, place in self._labels.items():
            label = self._sections[index].label
            if form and label not in form and self._sections[index].body:
                self._remark(place, f"the form never names “{label}”, so it is not played", "it in the form")

    def _whole_remarks(self) -> None:
        for (cells, beats), place in self._uneven.items():
            parts = shares(cells, beats)
            if len(set(parts)) > 1:
                said = " + ".join(map(str, parts))
                self._remark(place, f"{cells} cells cannot share {beats} beats equally and last {said}")
        if self._first_words is not None:
            message = "chords above words: their order is known, their lengths are not"
            if self._measured:
                message = "chords without bar lines: their order is known, their lengths are not"
            self._remark(self._first_words, message)
        if self._numbers:
            self._number_remarks()

    def _number_remarks(self) -> None:
        minor = any(
            c.chord is not None and c.chord.quality.third is Third.MINOR for bar in self._bars for c in bar.cells
        )
        numerals = [(place, each, each.numeral) for place, each in self._numbers if each.numeral is not None]
        for place, each, numeral in numerals:
            if each.bare and not minor and numeral.degree in _USUALLY_MINOR:
                message = f"a bare “{each.written}” is a major chord, and no chord of the chart is minor"
                self._remark(place, message, "m where minor is meant", numeral_minor(each.written))
                break
        key = self._head.key
        if key is None or not key.minor_third or self._head.said_count:
            return
        minors = {n.degree: place for place, _, n in reversed(numerals) if n.quality.third is Third.MINOR}
        if Degree(6) in minors and Degree(1) not in minors:
            message = f"numbers are counted from {key.tonic}, the tonic, and 6m stands here without any 1m"
            expected = f"“count: relative” where they are counted from {key.relative_major.tonic}"
            self._remark(minors[Degree(6)], message, expected, "count: relative")


_USUALLY_MINOR = (Degree(2), Degree(3), Degree(6))


def numeral_minor(written: str) -> str:
    """A bare number as a minor chord: ``6/1`` is ``6m/1``."""
    number, slash, bass = written.partition("/")
    return f"{number}m{slash}{bass}"


def _label(text: str) -> str:
    found = _LABEL.fullmatch(text) or _LABEL_COLON.fullmatch(text)
    assert found is not None
    return " ".join(found.group(1).split())


def _words_below(lines: list[_Line]) -> dict[int, list[str]]:
    """The lines of words that belong to each line of music or label, by index; -1 is the top."""
    below: dict[int, list[str]] = {}
    owner = -1
    for index, line in enumerate(lines):
        if line.kind in (_Kind.MUSIC, _Kind.CHORDS, _Kind.LABEL):
            owner = index
        elif line.kind is _Kind.WORDS:
            below.setdefault(owner, []).append(line.text.rstrip())
    return below


def _holds(row: list[tuple[int, Measure]], index: int) -> bool:
    """Whether a measure holds a bar: one that is written, or an empty one between two bar lines."""
    measure = row[index][1]
    if measure.holds_bar:
        return True
    if not measure.blank or measure.times or measure.mark in (Mark.NONE, Mark.FINAL):
        return False
    if measure.mark is Mark.STROKE and index and row[index - 1][1].closes:
        return False
    if index + 1 == len(row):
        return bool(measure.closes)
    return measure.closes > 0 or row[index + 1][1].mark in (Mark.STROKE, Mark.FINAL)


def _sorted(faults: list[Fault]) -> tuple[Fault, ...]:
    shown = [replace(f, text=f.text[:_SHOWN] + "…") if len(f.text) > LONGEST_LINE else f for f in faults]
    return tuple(sorted(shown, key=lambda f: (f.line, f.column)))
