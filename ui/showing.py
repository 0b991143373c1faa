"""A whole tune to be shown: its bars with chords, numbers and Roman numerals, in its own key or another."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import PurePosixPath

from corpus.tunes import PlayedChart
from corpus.unfolding import played_bars, shown_name
from shared.chart import Bar, Cell, Section
from shared.chord import Chord, Numeral
from shared.key import Key, simplest
from shared.match import Count
from shared.pitch import Degree, Pitch


@dataclass(frozen=True, slots=True)
class ShownChord:
    """One sounding chord of a bar.

    Attributes:
        name: How it is shown: as written, or its name in the key asked for.
        chord: The chord, in that key.
        numeral: The chord counted.
    """

    name: str
    chord: Chord
    numeral: Numeral


@dataclass(frozen=True, slots=True)
class ShownCell:
    """What sounds in a bar from one change to the next.

    Attributes:
        chord: The chord; None for silence.
        beats: How long it lasts in this bar, in beats of the metre.
        struck: False for what is carried into the bar.
        column: Its column above words, from 1; 0 in every other bar.
    """

    chord: ShownChord | None
    beats: Fraction
    struck: bool
    column: int


@dataclass(frozen=True, slots=True)
class ShownBar:
    """One bar: number as written, section label, key, metre, words, whether lengths are known, what sounds in it."""

    bar: int
    section: str | None
    key: Key
    metre: str
    words: str
    measured: bool
    cells: tuple[ShownCell, ...]

    @property
    def chords(self) -> tuple[ShownChord, ...]:
        """The chords in it. Holds are left out; the chord carried into the bar is the first."""
        return tuple(cell.chord for cell in self.cells if cell.chord is not None)


@dataclass(frozen=True, slots=True)
class ShownTune:
    """A tune to be shown.

    Attributes:
        title: The title as written, else the file's stem.
        key: The key it is shown in.
        key_found: Whether the home key was found rather than written.
        bars: The bars as written.
        played: The bars in playing order, repeats unfolded.
    """

    title: str
    key: Key
    key_found: bool
    bars: tuple[ShownBar, ...]
    played: tuple[ShownBar, ...]


def shown(one: PlayedChart, path: str, to: Key | None = None, count: Count = Count.TONIC) -> ShownTune:
    """A chart ready to be shown.

    Args:
        one: The chart and its tune.
        path: Its path; the stem serves where no title is written.
        to: A key with the tonic to move the tune to; None for its own. The mode stays the tune's own.
        count: What minor keys are counted from.
    """
    home = one.tune.key
    key = home if to is None else Key(simplest(to.tonic, home.mode), home.mode)
    interval = None if key == home else key.tonic.degree_in(home.tonic)
    maker = _Maker(home, interval, count)
    bars = {bar.number: maker.bar(section, bar) for section, bar in one.chart.bars()}
    played = tuple(bars[bar.number] for _, _, bar in played_bars(one.chart))
    return ShownTune(one.chart.title or PurePosixPath(path).stem, key, one.tune.key_found, tuple(bars.values()), played)


@dataclass(frozen=True, slots=True)
class _Maker:
    home: Key
    interval: Degree | None
    count: Count

    def bar(self, section: Section, bar: Bar) -> ShownBar:
        key = bar.key or self.home
        tonic = key.relative_major.tonic if self.count is Count.RELATIVE and key.minor_third else key.tonic
        shown_key = key.moved(self.interval) if self.interval else key
        # A key on the way may be respelled where its signature would pass seven signs: its chords go with it.
        interval = shown_key.tonic.degree_in(key.tonic) if self.interval else None
        cells: list[ShownCell] = []
        for cell, beats in zip(bar.cells, bar.beats(), strict=True):
            if cells and not cell.struck:
                cells[-1] = replace(cells[-1], beats=cells[-1].beats + beats)
                continue
            chord = None if cell.chord is None else _chord(cell, cell.chord, tonic, interval)
            cells.append(ShownCell(chord, beats, cell.struck, cell.column))
        return ShownBar(bar.number, section.label, shown_key, str(bar.metre), bar.words, bar.measured, tuple(cells))


def _chord(cell: Cell, written: Chord, tonic: Pitch, interval: Degree | None) -> ShownChord:
    """One chord, moved where that is asked, counted from a tonic."""
    chord = written.moved(interval) if interval else written
    name = chord.name if interval else shown_name(cell)
    return ShownChord(name, chord, written.counted(tonic))
