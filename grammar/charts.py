"""Reads a chart as a person writes it: headers, sections, bars, chords above words.

Conventions:
    * Reading never raises for anything that stands in the text: what is wrong is a fault, and reading goes on behind
      it, so that one bad line hides no other. A chart with faults is not made.
    * Everything is resolved as written, from the top down: holds, new basses, ``%`` and ``%2`` look back over the bars
      above them, numbers are counted from the key in force where they stand.
    * Lines of words belong to the line of music above them, whatever stands between; those before any music, to their
      section.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from grammar.bar_lines import Cells, Mark, Measure, Row, counted_cells
from grammar.cells import Sign, counted, sign
from grammar.headers import Head, known_key, known_metre, named_line, read_form
from grammar.lines import LONGEST_LINE, SHOWN, Kind, Line, label, sort_lines, split_lines, words_below
from grammar.number_remarks import number_remarks
from grammar.places import Place, whole
from grammar.repeats import Body
from shared.chart import Bar, Cell, Chart, Metre, Reading, Section, shares
from shared.chord import Chord
from shared.errors import Fault
from shared.key import Key
from shared.pitch import Degree, Pitch

_MOST_FAULTS = 1000
_C = Pitch("C")


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
        self._texts = split_lines(text)
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
        self._tonic: Pitch | None = None
        self._metre = Metre()
        self._sounding: Cell | None = None
        self._unread = False
        self._bars: list[Bar] = []
        self._section_start = 0
        self._numbers: list[tuple[Row, Measure, Cells]] = []
        self._numbers_above: list[tuple[Callable[[], Place], Sign]] = []
        self._uneven: dict[tuple[int, int], Place] = {}
        self._keyless = False
        self._first_words: Place | None = None
        self._measured = False

    def read(self) -> Reading:
        """Reads all of it."""
        lines = sort_lines(self._texts, self._head)
        self._metre = self._head.metre
        if self._head.key is not None:
            self._enter(self._head.key)
        elif self._head.broken_key:
            self._tonic = _C
        below = words_below(lines)
        self._words += below.get(-1, [])
        for index, line in enumerate(lines):
            if len(self._faults) > _MOST_FAULTS:
                message = f"more than {_MOST_FAULTS} faults, so nothing is read from here on"
                self._fault(whole(line.number, line.text), message, "a chart")
                break
            if line.kind is Kind.LABEL:
                self._end_section()
                self._label_at = whole(line.number, line.text)
                self._label = label(line.text)
                self._words += below.get(index, [])
            elif line.kind is Kind.CHANGE:
                self._change(line)
            elif line.kind in (Kind.MUSIC, Kind.CHORDS):
                self._read_music(line, "\n".join(below.get(index, [])))
        self._end_section()
        return self._reading()

    def _fault(self, place: Place, message: str, expected: str = "", nearest: str = "") -> None:
        self._faults.append(place.fault(message, expected, nearest))

    def _remark(self, place: Place, message: str, expected: str = "", nearest: str = "") -> None:
        self._remarks.append(place.fault(message, expected, nearest))

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

    def _change(self, line: Line) -> None:
        """A ``key:`` or ``time:`` line."""
        named = named_line(line.number, line.text)
        assert named is not None
        if not named.value:
            self._fault(named.at, f"“{named.name}:” says nothing", "a key such as G, or a metre such as 3/4")
            return
        read = known_key(named.value) if named.key == "key" else known_metre(named.value)
        if isinstance(read, Key):
            self._enter(read)
        elif isinstance(read, Metre):
            self._metre = read
        else:
            self._faults += [f.at(line.number, line.text, named.value_at.column - 1) for f in read]
            if named.key == "key":
                self._tonic = self._tonic or _C

    def _enter(self, key: Key) -> None:
        """A key comes into force."""
        self._key, self._tonic = key, self._head.tonic(key)

    # Music

    def _read_music(self, line: Line, words: str) -> None:
        self._body.start_line()
        if line.kind is Kind.CHORDS:
            self._read_chords(line, words)
        else:
            self._read_bars(line, words)
        self._body.end_line()

    def _read_bars(self, line: Line, words: str) -> None:
        """A line of bars between bar lines."""
        self._measured = True
        row = Row(line.number, line.text)
        shape, body = row.shape, self._body
        for spot, fault in shape.faults:
            self._faults.append(_placed(fault, row.place(spot)))
        last_bar = _last(shape.bars)
        for index, measure in enumerate(shape.measures):
            if measure.mark is Mark.OPENS:
                body.open(row.place(measure.mark_at))
            elif measure.mark is Mark.ENDING:
                body.start_ending(measure.numbers, row.place(measure.mark_at))
            if measure.times and not measure.trailing:
                closed = index > 0 and shape.measures[index - 1].closes is not None
                self._times(row, measure, closed, index == len(shape.measures) - 1)
            if shape.bars[index]:
                self._read_bar(line.number, row, measure, words if index == last_bar else "")
            if measure.trailing:
                self._times(row, measure, False, index == len(shape.measures) - 1 and not measure.closes)
            if measure.closes is not None:
                body.close(row.place(measure.closes._replace(length=2)))
        if shape.measures:
            self._edges(line, row)

    def _times(self, row: Row, measure: Measure, closed: bool, last: bool) -> None:
        """``x3``."""
        place = row.place(measure.times_at)
        if closed or last:
            self._body.repeat_line(measure.times, place, closed)
        else:
            message = f"“{place.text_at}” stands in the middle of a line"
            self._fault(place, message, "it at the end of its line, or directly behind “:|”")

    def _edges(self, line: Line, row: Row) -> None:
        """Remarks on a line without its first or last bar line."""
        measures = row.shape.measures
        if measures[0].mark is Mark.NONE and measures[0].holds_bar:
            start = len(line.text) - len(line.text.lstrip())
            place = Place(line.number, start + 1, 1, line.text)
            near = f"| {line.text.strip()}"
            self._remark(place, "no bar line at the start of the line", "“|” there", near[:SHOWN])
        if measures[-1].holds_bar:
            written = line.text.rstrip()
            place = Place(line.number, len(written) + 1, 1, line.text)
            self._remark(place, "no bar line at the end of the line", "“|” there", f"{written.lstrip()} |"[-SHOWN:])

    def _read_bar(self, number: int, row: Row, measure: Measure, words: str) -> None:
        """One bar between bar lines."""
        own = measure.metre is not None
        metre = measure.metre or self._metre
        if not measure.cells:
            problem = "an empty bar holds the chord before it, and there is none"
            cells: tuple[Cell, ...] = (self._held("", partial(row.place, measure.mark_at), problem),)
        else:
            read = row.cells(measure)
            for index, fault in read.faults:
                self._faults.append(_placed(fault, row.cell_place(measure, index)))
            if len(read.signs) == 1 and read.signs[0].again:
                self._read_again(read.signs[0], row.cell_place(measure, 0), measure, words)
                return
            finished = read.ready
            if read.numbers:
                self._numbers.append((row, measure, read))
                finished = counted_cells(read.written, self._tonic) if self._tonic else None
            cells = finished or self._resolved(read, row, measure)
            if cells[-1].struck:
                self._sounding = cells[-1]
            elif finished:
                self._sounding = next(c for c in reversed(cells) if c.struck)
            if len(cells) > 1 and metre.beats % len(cells) and (len(cells), metre.beats) not in self._uneven:
                self._uneven[len(cells), metre.beats] = _across(row, measure)
        self._add(Bar(len(self._bars) + 1, cells, self._key, metre, own, 0, words, True, number))

    def _add(self, bar: Bar) -> None:
        self._bars.append(bar)
        self._body.add(bar)

    def _resolved(self, read: Cells, row: Row, measure: Measure) -> tuple[Cell, ...]:
        """The cells of a bar, with what they need from outside it."""
        cells = []
        for index, each in enumerate(read.signs):
            cell = self._cell(each, partial(row.cell_place, measure, index))
            cells.append(cell)
            if cell.struck:
                self._sounding = cell
        return tuple(cells)

    def _held(self, written: str, where: Callable[[], Place], problem: str) -> Cell:
        if self._sounding is None:
            self._fault(where(), problem, "a chord before it, or N.C.", "N.C.")
            return Cell(written, None, struck=False)
        return Cell(written, self._sounding.chord, struck=False)

    def _cell(self, each: Sign, where: Callable[[], Place]) -> Cell:
        """One cell by its sign; what is faulty stands in for silence."""
        if each.cell is not None:
            return each.cell
        if each.numeral is not None:
            return self._number(each, where)
        if each.hold:
            return self._held(each.written, where, f"“{each.written}” holds the chord before it, and there is none")
        if each.bass is not None:
            return self._new_bass(each.written, each.bass, where)
        self._unread = True
        return Cell(each.written, None)

    def _number(self, each: Sign, where: Callable[[], Place]) -> Cell:
        return counted(each.written, self._counted_from(each.written, where))

    def _counted_from(self, written: str, where: Callable[[], Place]) -> Pitch:
        """The tonic from which a number is counted; without a key that is a fault, told once."""
        if self._tonic is None:
            if not self._keyless:
                expected = "a header that gives the key, such as “key: C”"
                self._fault(where(), f"“{written}” is counted from a key, and none is written", expected, "key: C")
            self._keyless = True
        return self._tonic or _C

    def _new_bass(self, written: str, bass: Pitch | Degree, where: Callable[[], Place]) -> Cell:
        """A bass alone stands under the last chord that sounded."""
        over = self._sounding.chord if self._sounding else None
        if over is None:
            over = next((c.chord for b in reversed(self._bars) for c in reversed(b.cells) if c.chord), None)
        if over is None:
            if not self._unread:
                problem = f"“{written}” is a new bass under the chord before it, and there is none"
                self._fault(where(), problem, "a chord before it")
            return Cell(written, None)
        if isinstance(bass, Degree):
            bass = self._counted_from(written, where).up(bass)
        return Cell(written, Chord(over.root, over.quality, bass))

    def _read_again(self, each: Sign, at: Place, measure: Measure, words: str) -> None:
        """``%`` and ``%2``."""
        again = each.again
        metre = measure.metre or self._metre
        above = self._bars[self._section_start :] if len(self._bars) - self._section_start < 3 else self._bars[-2:]
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
            self._add(Bar(len(self._bars) + 1, cells, self._key, metre, own, again, text, True, at.line))

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

    def _read_chords(self, line: Line, words: str) -> None:
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
            where = partial(Place, line.number, token.column, len(token.text), line.text)
            if each.fault:
                self._faults.append(each.fault.at(line.number, line.text, token.column - 1))
            elif each.again:
                self._fault(where(), f"“{each.written}” stands above words", "the chords again, or bar lines")
            if each.numeral is not None:
                self._numbers_above.append((where, each))
            cell = self._cell(each, where)
            if cell.struck:
                self._sounding = cell
            cells.append(replace(cell, column=token.column))
        bar = Bar(len(self._bars) + 1, tuple(cells), self._key, self._metre, False, 0, words, False, line.number)
        self._add(bar)
        if times:
            place = Place(line.number, times.column, len(times.text), line.text)
            shape = Row(line.number, f"| {times.text}").shape
            self._faults += [_placed(fault, place) for _, fault in shape.faults]
            self._body.repeat_line(shape.measures[0].times, place, False)

    # The whole

    def _reading(self) -> Reading:
        form: tuple[str, ...] = ()
        if at := self._head.places.get("form"):
            labels = [s.label for s in self._sections if s.label is not None]
            if dict(self._head.headers)["form"]:
                form = read_form(at, labels, self._faults)
                self._unnamed(form)
        if not self._bars and not self._faults:
            place = next((whole(i, t) for i, t in enumerate(self._texts, 1) if t.strip()), Place(1, 1, 1, ""))
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
                lengths = " + ".join(map(str, parts))
                self._remark(place, f"{cells} cells cannot share {beats} beats equally and last {lengths}")
        if self._first_words is not None:
            message = "chords above words: their order is known, their lengths are not"
            if self._measured:
                message = "chords without bar lines: their order is known, their lengths are not"
            self._remark(self._first_words, message)
        if self._numbers or self._numbers_above:
            said: list[tuple[Callable[[], Place], Sign]] = [
                (partial(row.cell_place, measure, index), each)
                for row, measure, read in self._numbers
                for index, each in enumerate(read.signs)
            ]
            self._remarks += number_remarks(self._head, self._bars, said + self._numbers_above)


def _last(bars: tuple[bool, ...]) -> int:
    """The index of the last measure that holds a bar, -1 where none does."""
    return max((index for index, holds in enumerate(bars) if holds), default=-1)


def _across(row: Row, measure: Measure) -> Place:
    """The place of all cells of a measure."""
    first, last = row.cell_place(measure, 0), row.cell_place(measure, len(measure.cells) - 1)
    return first._replace(length=last.column + last.length - first.column)


def _placed(fault: Fault, place: Place) -> Fault:
    """A fault put where it is in the text; one without a column of its own takes all of the place."""
    if fault.column:
        return fault.at(place.line, place.text, place.column - 1)
    return replace(fault, line=place.line, text=place.text, column=place.column, length=place.length)


def _sorted(faults: list[Fault]) -> tuple[Fault, ...]:
    shown = [replace(f, text=f.text[:SHOWN] + "…") if len(f.text) > LONGEST_LINE else f for f in faults]
    return tuple(sorted(shown, key=lambda f: (f.line, f.column)))
