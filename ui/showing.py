"""A whole tune to be shown: its bars with chords, numbers and Roman numerals, in its own key or another.

A written bar that is played in several keys is shown in that of its first playing, in ``played`` in each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import PurePosixPath

from corpus.key_finding import FoundStretch
from corpus.tunes import PlayedChart, played_in
from corpus.unfolding import played_bars, shown_name
from shared.chart import Bar, Cell, Section
from shared.chord import Chord, Numeral
from shared.errors import SamechangesError
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
class Finding:
    """What is known of a key that was found, not written: its chance, 0 to 1, and the rival, in the key asked for."""

    chance: float
    rival: Key | None


@dataclass(frozen=True, slots=True)
class ShownBar:
    """One bar.

    Attributes:
        bar: Its number as written.
        section: The label of its section.
        key: The key it is in.
        finding: Where that key was found, how sure it is; None where it is written.
        metre: Its metre.
        words: The words below its chords.
        measured: Whether the lengths of its chords are known.
        cells: What sounds in it.
    """

    bar: int
    section: str | None
    key: Key
    finding: Finding | None
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
        finding: Where the home key was found, how sure it is; None where it is written.
        bars: The bars as written.
        played: The bars in playing order, repeats unfolded.
    """

    title: str
    key: Key
    finding: Finding | None
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
    maker = _Maker(interval, count)
    order = list(played_bars(one.chart))
    found = _by_bar(one.stretches, len(order))
    made: dict[tuple[int, Key], ShownBar] = {}
    played = []
    for (_, section, bar), stretch in zip(order, found, strict=True):
        own = bar.key or (stretch.key if stretch else home)
        if (bar.number, own) not in made:
            made[bar.number, own] = maker.bar(section, bar, own, None if bar.key else stretch)
        played.append(made[bar.number, own])
    first: dict[int, ShownBar] = {}
    for each in played:
        first.setdefault(each.bar, each)
    bars = [first.get(bar.number) or maker.bar(part, bar, bar.key or home, None) for part, bar in one.chart.bars()]
    finding = maker.finding(one.stretches[0]) if one.tune.key_found else None
    title = one.chart.title or PurePosixPath(path).stem
    return ShownTune(title, key, finding, tuple(bars), tuple(played))


def in_rival_key(one: PlayedChart) -> PlayedChart:
    """A chart read in the next likeliest key; where its key changes on the way, the first stretch is read so.

    Raises:
        SamechangesError: If its key is written, or found beyond doubt.
    """
    if not one.tune.key_found:
        raise SamechangesError(f"--rival is for a key that was found, and “key: {one.tune.key}” is written")
    home, *others = one.stretches
    if len(home.keys) == 1:
        raise SamechangesError(f"--rival: no other key than {home.key} was found")
    told, rival, *rest = home.keys
    return played_in(one.chart, (replace(home, keys=(rival, told, *rest)), *others))


def _by_bar(stretches: Sequence[FoundStretch], bars: int) -> list[FoundStretch | None]:
    """The stretch of each played bar; what comes before the first one goes with it."""
    if not stretches:
        return [None] * bars
    found: list[FoundStretch | None] = [stretches[0]] * bars
    for stretch in stretches[1:]:
        found[stretch.from_bar :] = [stretch] * (bars - stretch.from_bar)
    return found


@dataclass(frozen=True, slots=True)
class _Maker:
    interval: Degree | None
    count: Count

    def finding(self, stretch: FoundStretch) -> Finding:
        rival = stretch.keys[1].key if len(stretch.keys) > 1 else None
        return Finding(stretch.keys[0].chance, self._moved(rival) if rival else None)

    def _moved(self, key: Key) -> Key:
        return key.moved(self.interval) if self.interval else key

    def bar(self, section: Section, bar: Bar, key: Key, stretch: FoundStretch | None) -> ShownBar:
        tonic = key.relative_major.tonic if self.count is Count.RELATIVE and key.minor_third else key.tonic
        shown_key = self._moved(key)
        finding = self.finding(stretch) if stretch else None
        # A key on the way may be respelled where its signature would pass seven signs: its chords go with it.
        interval = shown_key.tonic.degree_in(key.tonic) if self.interval else None
        cells: list[ShownCell] = []
        for cell, beats in zip(bar.cells, bar.beats(), strict=True):
            if cells and not cell.struck:
                cells[-1] = replace(cells[-1], beats=cells[-1].beats + beats)
                continue
            chord = None if cell.chord is None else _chord(cell, cell.chord, tonic, interval)
            cells.append(ShownCell(chord, beats, cell.struck, cell.column))
        metre = str(bar.metre)
        return ShownBar(bar.number, section.label, shown_key, finding, metre, bar.words, bar.measured, tuple(cells))


def _chord(cell: Cell, written: Chord, tonic: Pitch, interval: Degree | None) -> ShownChord:
    """One chord, moved where that is asked, counted from a tonic."""
    chord = written.moved(interval) if interval else written
    name = chord.name if interval else shown_name(cell)
    return ShownChord(name, chord, written.counted(tonic))
