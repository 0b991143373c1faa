"""A naive unfolding of a chart: every bar and every chord as played, in plain lists.

It belongs to the referee of the search and is deliberately not the unfolding that the index is made with.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from shared.chart import Bar, Chart, Repeat
from shared.chord import Chord
from shared.key import Key
from shared.pitch import LETTERS


@dataclass(kw_only=True)
class Bounds:
    """Which borders something stands at; a chord that sounds across a border stands on both sides of it."""

    starts_section: bool = False
    ends_section: bool = False
    starts_tune: bool = False
    ends_tune: bool = False


@dataclass
class Sounding(Bounds):
    """One chord as it sounds, and where it begins as written. A number or a hold is told by the chord's name."""

    chord: Chord
    written: str
    section: str | None
    bar: int

    @cached_property
    def root(self) -> int:
        return self.chord.root.pitch_class

    @cached_property
    def bass(self) -> int:
        return self.root if self.chord.bass is None else self.chord.bass.pitch_class


@dataclass
class Played(Bounds):
    """One bar as it is played."""

    bar: int
    section: str | None
    key: Key
    events: list[int]
    silent: bool


@dataclass(frozen=True)
class Performance:
    """A chart from beginning to end: its home key, its chords, its bars, and the bars in runs of one key."""

    home: Key
    events: list[Sounding]
    bars: list[Played]
    key_runs: list[list[int]]


def perform(chart: Chart, found: Key | Sequence[Key] | None = None) -> Performance:
    """The chart as it is played; ``found`` stands in where no key is written: one key, or one for each played bar.

    Raises:
        ValueError: If a key is missing and none is given.
    """
    playings = _playings(chart)
    written = [bar.key for _, bars in playings for bar in bars]
    if found is None or isinstance(found, Key):
        keys = [key or chart.key or found for key in written]
    else:
        keys = [key or instead for key, instead in zip(written, found, strict=True)]
    home = chart.key or (keys[0] if keys else None)
    if home is None:
        raise ValueError("the chart stands in no key")
    tune = Performance(home, [], [], [])
    for label, bars in playings:
        first_bar = len(tune.bars)
        for bar in bars:
            tune.bars.append(_play(bar, label, keys[len(tune.bars)] or home, tune.events))
        if bars:
            tune.bars[first_bar].starts_section = True
            tune.bars[-1].ends_section = True
        heard = [event for played in tune.bars[first_bar:] for event in played.events]
        if heard:
            tune.events[heard[0]].starts_section = True
            tune.events[heard[-1]].ends_section = True
    if tune.bars:
        tune.bars[0].starts_tune = tune.bars[-1].ends_tune = True
    if tune.events:
        tune.events[0].starts_tune = tune.events[-1].ends_tune = True
    for number, played in enumerate(tune.bars):
        if number == 0 or played.key != tune.bars[number - 1].key:
            tune.key_runs.append([])
        tune.key_runs[-1].append(number)
    return tune


def _playings(chart: Chart) -> list[tuple[str | None, list[Bar]]]:
    """Every playing of a section, in order: its label and its bars. Without any label the tune is one section."""
    if all(section.label is None for section in chart.sections):
        return [(None, [bar for section in chart.sections for bar in _unfolded(section.body)])]
    played = list(chart.sections)
    if chart.form:
        played = [section for section in chart.sections if section.label is None]
        for label in chart.form:
            played += [section for section in chart.sections if section.label == label]
    return [(section.label, _unfolded(section.body)) for section in played]


def _unfolded(body: Sequence[Bar | Repeat]) -> list[Bar]:
    bars: list[Bar] = []
    for part in body:
        if isinstance(part, Bar):
            bars.append(part)
            continue
        for time in range(1, part.times + 1):
            bars += _unfolded(part.body)
            for ending in part.endings:
                if time in ending.numbers:
                    bars += ending.body
    return bars


def _play(bar: Bar, section: str | None, key: Key, events: list[Sounding]) -> Played:
    """Play one bar: chords that go on go on, new ones are put at the end of ``events``."""
    played = Played(bar.number, section, key, [], False)
    for cell in bar.cells:
        if cell.chord is None:
            played.silent = True
            continue
        if not events or events[-1].chord.sound != cell.chord.sound:
            named = cell.struck and cell.written[:1] in tuple(LETTERS)
            written = cell.written if named else cell.chord.name
            events.append(Sounding(cell.chord, written, section, bar.number))
        if not played.events or played.events[-1] != len(events) - 1:
            played.events.append(len(events) - 1)
    return played
