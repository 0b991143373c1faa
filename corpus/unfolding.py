"""Unfolds a chart into the tune that is played: form and repeats written out, silence dropped, equal neighbours joined.

Conventions: see ``shared.tune``. What a bar holds was settled when the chart was read (holds and ``%`` look back as
written), so a bar sounds the same whenever it is played.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache
from typing import cast

from shared.chart import Bar, Cell, Chart, Metre, Repeat, Section, shares
from shared.key import Key
from shared.tune import Event, PlayedBar, Segment, Tune


def played_bars(chart: Chart) -> Iterator[tuple[int, Section, Bar]]:
    """The bars in playing order, each with the number of the section's playing (from 0) and its section.

    Bars before the first label are played first; then the form, or the sections as written where there is none.
    """
    for playing, section in enumerate(playing_order(chart)):
        for bar in unfolded(section.body):
            yield playing, section, bar


def playing_order(chart: Chart) -> list[Section]:
    """The sections in the order in which they are played."""
    if not chart.form:
        return list(chart.sections)
    labelled = {section.label: section for section in chart.sections}
    opening = [section for section in chart.sections if section.label is None]
    return opening + [labelled[label] for label in chart.form]


def unfolded(body: Sequence[Bar | Repeat]) -> Sequence[Bar]:
    """The bars of a section or repeat in playing order."""
    if list(map(type, body)).count(Bar) == len(body):
        return cast("Sequence[Bar]", body)
    bars: list[Bar] = []
    for item in body:
        if isinstance(item, Bar):
            bars.append(item)
            continue
        for time in range(1, item.times + 1):
            bars += unfolded(item.body)
            for ending in item.endings:
                if time in ending.numbers:
                    bars += ending.body
    return bars


class Parts:
    """Charts by the parts that they play, the bars of each part once.

    Attributes:
        bars: The bars of all parts, one part behind the other.
        sizes: How many each part has.
        playings: The parts, by number, as they are played, chart by chart.
        counts: How many playings each chart has.
        kept: How many parts it has; they stand in the order in which they are first played.
    """

    def __init__(self) -> None:
        self.bars: list[Bar] = []
        self.sizes: list[int] = []
        self.playings: list[int] = []
        self.counts: list[int] = []
        self.kept: list[int] = []

    def add(self, chart: Chart) -> None:
        """Adds a chart: its sections are its parts; a tune without labels is one."""
        order = playing_order(chart)
        numbers: dict[int, int] = {}
        if [section for section in chart.sections if section.label]:
            for section in order:
                if id(section) not in numbers:
                    numbers[id(section)] = self._add(unfolded(section.body))
            self.playings += [numbers[id(section)] for section in order]
            self.counts.append(len(order))
            self.kept.append(len(numbers))
        else:
            self.playings.append(self._add([bar for section in order for bar in unfolded(section.body)]))
            self.counts.append(1)
            self.kept.append(1)

    def _add(self, bars: Sequence[Bar]) -> int:
        self.bars += bars
        self.sizes.append(len(bars))
        return len(self.sizes) - 1


def shown_name(cell: Cell) -> str:
    """How a sounding cell is shown: as written where a chord name is written, else by the chord's name."""
    assert cell.chord is not None
    return cell.written if cell.struck and cell.written[:1] in "ABCDEFG" and cell.written else cell.chord.name


class _Gatherer:
    """Gathers events and bars while the tune is played through."""

    def __init__(self) -> None:
        self.begun: list[tuple[Cell, Bar, str | None, int]] = []
        self.lengths: list[Fraction] = []
        self.bars: list[PlayedBar] = []
        self._sound: object = None

    def play(self, playing: int, section: Section, bar: Bar) -> None:
        """Plays one bar."""
        sounding: list[int] = []
        silent = False
        for cell, length in zip(bar.cells, cell_lengths(len(bar.cells), bar.metre, bar.measured), strict=True):
            if cell.chord is None:
                silent = True
                continue
            sound = cell.chord.sound
            if sound == self._sound:
                self.lengths[-1] += length
            else:
                self._sound = sound
                self.begun.append((cell, bar, section.label, len(self.bars)))
                self.lengths.append(length)
            number = len(self.begun) - 1
            if not sounding or sounding[-1] != number:
                sounding.append(number)
        self.bars.append(PlayedBar(bar.number, section.label, playing, tuple(sounding), silent, bar.line))

    def events(self) -> tuple[Event, ...]:
        """The events, marked where a playing of a section starts and ends."""
        first: dict[int, int] = {}
        last: dict[int, int] = {}
        for bar in self.bars:
            if bar.events:
                first.setdefault(bar.playing, bar.events[0])
                last[bar.playing] = bar.events[-1]
        starts, ends = set(first.values()), set(last.values())
        made = []
        for number, ((cell, written, label, played), length) in enumerate(zip(self.begun, self.lengths, strict=True)):
            assert cell.chord is not None
            place = (written.number, label, played, length)
            made.append(Event(cell.chord, shown_name(cell), *place, number in starts, number in ends))
        return tuple(made)


@cache
def cell_lengths(cells: int, metre: Metre, measured: bool) -> tuple[Fraction, ...]:
    """How long each cell of a bar sounds, in quarter notes; above words (not measured) every chord counts as a bar."""
    if not measured:
        return (metre.length,) * cells
    return tuple(beats * Fraction(4, metre.unit) for beats in shares(cells, metre.beats))


def unfold(chart: Chart, found: Key | Sequence[Key] | None = None) -> Tune:
    """The tune that a chart stands for.

    Args:
        chart: The chart.
        found: The key found for it, or one for each played bar; it governs the bars for which no key is written.

    Raises:
        ValueError: If bars without a written key are there and no found key is given.
    """
    home, key_found = chart.key, False
    gatherer = _Gatherer()
    runs: list[tuple[Key, int, int]] = []
    single = not any(section.label for section in chart.sections)
    for position, (playing, section, bar) in enumerate(played_bars(chart)):
        key = bar.key or (found if found is None or isinstance(found, Key) else found[position])
        if key is None:
            raise ValueError("a chart without a written key needs a found one")
        if home is None:
            home, key_found = key, bar.key is None
        gatherer.play(0 if single else playing, section, bar)
        if runs and runs[-1][0] == key:
            runs[-1] = (key, runs[-1][1], position)
        else:
            runs.append((key, position, position))
    if home is None:
        raise ValueError("a chart without bars cannot be played")
    bars = tuple(gatherer.bars)
    segments = tuple(
        Segment(key, min(sounding), max(sounding), start, end)
        for key, start, end in runs
        if (sounding := [number for bar in bars[start : end + 1] for number in bar.events])
    )
    return Tune(home, key_found, gatherer.events(), bars, segments)
