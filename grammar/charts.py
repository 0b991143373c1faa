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
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from grammar.bar_lines import Cells, Mark, Measure, Row, counted_cells
from grammar.cells import Sign, sign
from grammar.headers import Head, known_key, known_metre, named_line, read_form
from grammar.lines import LONGEST_LINE, SHOWN, Kind, Line, label, sort_lines, split_lines, words_below
from grammar.number_remarks import Said, number_remarks
from grammar.places import Place, whole
from grammar.repeats import Body
from grammar.straight_lines import StraightLine, straight_lines
from grammar.surroundings import C, Surroundings
from shared.chart import Bar, Cell, Chart, Metre, Reading, Section, shares
from shared.errors import Fault
from shared.key import Key
from shared.pitch import Pitch

_MOST_FAULTS = 1000


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


#: Makes a bar of all its parts, without looking for those that are not given.
_bar = partial(tuple.__new__, Bar)


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
        self._metre = Metre()
        self._around = Surroundings(self._faults)
        self._straight_line = straight_lines(None)
        self._bars = self._around.bars
        self._section_start = 0
        self._numbers: dict[int, None] = {}
        self._numbers_above: list[Said] = []
        self._uneven: dict[tuple[int, int], Place] = {}
        self._first_words: Place | None = None
        self._measured = False

    def read(self) -> Reading:
        """Reads all of it."""
        lines = sort_lines(self._texts, self._head)
        self._metre = self._head.metre
        if self._head.key is not None:
            self._enter(self._head.key)
        elif self._head.broken_key:
            self._count_from(C)
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
                self._count_from(self._around.tonic or C)

    def _enter(self, key: Key) -> None:
        """A key comes into force."""
        self._key = key
        self._count_from(self._head.tonic(key))

    def _count_from(self, tonic: Pitch) -> None:
        """Numbers are counted from a tonic."""
        self._around.tonic, self._straight_line = tonic, straight_lines(tonic)

    # Music

    def _read_music(self, line: Line, words: str) -> None:
        if line.kind is Kind.MUSIC and (straight := self._straight(line.text)):
            self._read_straight(line, straight, words)
            return
        self._body.start_line()
        if line.kind is Kind.CHORDS:
            self._read_chords(line, words)
        else:
            self._read_bars(line, words)
        self._body.end_line()

    def _straight(self, text: str) -> StraightLine | None:
        """A straight line, unless it is the first one whose cells cannot share their bars equally."""
        straight = self._straight_line(text)
        if straight is not None and straight.shares:
            beats = self._metre.beats
            for cells in straight.shares:
                if beats % cells and (cells, beats) not in self._uneven:
                    return None
        return straight

    def _read_straight(self, line: Line, straight: StraightLine, words: str) -> None:
        """A line of finished bars between plain bar lines."""
        self._measured = True
        number, key, metre = line.number, self._key, self._metre
        bars = [
            _bar((count, cells, key, metre, False, 0, "", True, number))
            for count, cells in enumerate(straight.bars, len(self._bars) + 1)
        ]
        if words:
            bars[-1] = bars[-1]._replace(words=words)
        self._bars += bars
        self._body.add_line(bars)
        self._around.sounding = straight.sounding
        if straight.numbers:
            self._numbers[number] = None

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
            cells: tuple[Cell, ...] = (self._around.held("", partial(row.place, measure.mark_at), problem),)
        else:
            read = row.cells(measure)
            for index, fault in read.faults:
                self._faults.append(_placed(fault, row.cell_place(measure, index)))
            if len(read.signs) == 1 and read.signs[0].again:
                self._read_again(read.signs[0], row.cell_place(measure, 0), measure, words)
                return
            finished = read.ready
            if read.numbers:
                self._numbers[number] = None
                finished = counted_cells(read.written, self._around.tonic) if self._around.tonic else None
            cells = finished or self._resolved(read, row, measure)
            if cells[-1].struck:
                self._around.sounding = cells[-1]
            elif finished:
                self._around.sounding = next(c for c in reversed(cells) if c.struck)
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
            cell = self._around.cell(each, partial(row.cell_place, measure, index))
            cells.append(cell)
            if cell.struck:
                self._around.sounding = cell
        return tuple(cells)

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
            cells = self._around.struck_anew(cells)
            own = measure.metre is not None
            text = words if index == again - 1 else ""
            self._add(Bar(len(self._bars) + 1, cells, self._key, metre, own, again, text, True, at.line))

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
            cell = self._around.cell(each, where)
            if cell.struck:
                self._around.sounding = cell
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
            written = [self._texts[number - 1] for number in self._numbers]
            written += [each.written for _, each in self._numbers_above]
            self._remarks += number_remarks(self._head, self._bars, written, self._said())

    def _said(self) -> Iterator[Said]:
        """The cells of the lines that hold numbers, each with a way to its place."""
        for number in self._numbers:
            row = Row(number, self._texts[number - 1])
            for measure, holds in zip(row.shape.measures, row.shape.bars, strict=True):
                if holds and measure.cells:
                    for index, each in enumerate(row.cells(measure).signs):
                        yield partial(row.cell_place, measure, index), each
        yield from self._numbers_above


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
