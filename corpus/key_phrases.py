"""A chart as the key finder hears it: phrases of chords in playing order.

Conventions:
    * A written line is a phrase each time it is played. Where no lines are known, or more than ``_LONGEST`` bars stand
      on one, groups of four bars, counted from where the line or section starts, serve instead.
    * A sound is a chord with everything that has no bearing on the key taken off: the pitch class of its root, its kind
      (see ``KINDS``) and third as small numbers, its bass in semitones above the root, its length in quarter notes.
    * Silence is dropped; then neighbours that sound alike inside a phrase are one sound.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from corpus.unfolding import cell_lengths, played_parts
from shared.chart import Bar, Chart, Metre
from shared.chord import Chord
from shared.quality import Family, Quality, Third, tone

_LONGEST = 16
_GROUP = 4

#: Kinds of chords that keys use differently: families, major and minor ones parted by their seventh.
KINDS = (
    "major",
    "major seventh",
    "dominant",
    "minor",
    "minor seventh",
    "suspended",
    "fifth",
    "diminished",
    "augmented",
)
MAJOR, MINOR, NO_THIRD = range(3)
#: The third of each kind.
THIRD_OF_KIND = (MAJOR, MAJOR, MAJOR, MINOR, MINOR, NO_THIRD, NO_THIRD, MINOR, MAJOR)
_MAJOR_SEVENTH, _MINOR_SEVENTH = tone("7"), tone("b7")
_KIND_OF_FAMILY = {
    Family.MAJOR: 0,
    Family.DOMINANT: 2,
    Family.MINOR: 3,
    Family.SUSPENDED: 5,
    Family.OPEN_FIFTH: 6,
    Family.HALF_DIMINISHED: 7,
    Family.DIMINISHED: 7,
    Family.AUGMENTED: 8,
}


class Sound(NamedTuple):
    """A chord as it bears on the key (see the conventions above)."""

    root: int
    kind: int
    bass: int
    length: float


class Phrase(NamedTuple):
    """One phrase as played.

    Attributes:
        sounds: Its chords, at least one.
        first: Its first played bar.
        last: Its last one.
        starts: Whether it is the first phrase that sounds in a playing of a section.
        ends: Whether it is the last one.
    """

    sounds: tuple[Sound, ...]
    first: int
    last: int
    starts: bool = False
    ends: bool = False


@dataclass(frozen=True, slots=True)
class Heard:
    """A chart as heard.

    Attributes:
        phrases: Its phrases, in playing order.
        lined: Whether the phrases are lines as written (else groups of bars).
        sectioned: Whether it has sections.
    """

    phrases: tuple[Phrase, ...]
    lined: bool
    sectioned: bool


def kind_of(quality: Quality) -> int:
    """The kind of a quality, as its place in ``KINDS``.

    >>> KINDS[kind_of(Quality.spelled("1 b3 5 b7"))], KINDS[kind_of(Quality.spelled("1 4 5 b7"))]
    ('minor seventh', 'suspended')
    """
    if quality.third is Third.NONE and quality.minor_seventh:
        return 5
    kind = _KIND_OF_FAMILY[quality.family]
    if (kind == 0 and _MAJOR_SEVENTH in quality.tones) or (kind == 3 and _MINOR_SEVENTH in quality.tones):
        kind += 1
    return kind


def sounds_of(chords: Iterable[tuple[Chord, float]]) -> tuple[Sound, ...]:
    """Chords and their lengths as sounds, neighbours that sound alike joined."""
    made: list[Sound] = []
    before: tuple[int, int, int] | None = None
    lasts = 0.0
    for chord, length in chords:
        bare = _BARE.get(chord.sound) or _bare(chord)
        if bare == before:
            lasts += length
            continue
        if before is not None:
            made.append(Sound(*before, lasts))
        before, lasts = bare, length
    if before is not None:
        made.append(Sound(*before, lasts))
    return tuple(made)


#: Root, kind and bass of chords, by their sound, which hashes far faster than the chord.
_BARE: dict[tuple[int, int, int, str], tuple[int, int, int]] = {}


def _bare(chord: Chord) -> tuple[int, int, int]:
    root, bass = chord.root.pitch_class, chord.bass
    above = (bass.pitch_class - root) % 12 if bass else 0
    bare = _BARE[chord.sound] = root, kind_of(chord.quality), above
    return bare


def heard(chart: Chart, keyed: bool = False) -> Heard:
    """A chart as the key finder hears it.

    Args:
        chart: The chart.
        keyed: Whether bars under a written key are heard too; else those alone that have none.
    """
    lines = [bar.line for section in chart.sections for bar in section.bars()]
    lined = any(lines) and (len(lines) <= _LONGEST or max(Counter(lines).values()) <= _LONGEST)
    sectioned = any(section.label for section in chart.sections)
    phrases: list[Phrase] = []
    known: dict[int, list[tuple[int, int, tuple[Sound, ...]]]] = {}
    position = 0
    for bars in played_parts(chart):
        runs = known.get(id(bars))
        if runs is None:
            runs = known[id(bars)] = _runs(bars, lined, keyed)
        most = len(runs) - 1
        for index, (first, last, sounds) in enumerate(runs):
            phrases.append(Phrase(sounds, position + first, position + last, index == 0, index == most))
        position += len(bars)
    return Heard(tuple(phrases), lined, sectioned)


def _runs(bars: Sequence[Bar], lined: bool, keyed: bool) -> list[tuple[int, int, tuple[Sound, ...]]]:
    """The phrases that sound in one playing of a section: first bar, last bar, sounds."""
    borders = []
    first = number = line = 0
    for position, bar in enumerate(bars):
        if not keyed and bar.key is not None:
            borders.append((first, position))
            first = position + 1
        elif position > first and (bar.number <= number or (bar.line != line if lined else position - first == _GROUP)):
            borders.append((first, position))
            first = position
        number, line = bar.number, bar.line
    borders.append((first, len(bars)))
    runs = [(first, end - 1, _sounds_in(bars[first:end])) for first, end in borders if first < end]
    return [run for run in runs if run[2]]


#: Phrases met before, by the identity of what their bars hold, with that: music repeats itself.
_PHRASES: dict[tuple[int, ...], tuple[tuple[Sound, ...], Sequence[Bar]]] = {}
_MOST_KNOWN = 50_000


def _sounds_in(bars: Sequence[Bar]) -> tuple[Sound, ...]:
    """The sounds of bars that stand side by side."""
    metre = bars[0].metre
    place = tuple([id(bar.cells) if bar.metre is metre and bar.measured else -1 for bar in bars])
    if -1 in place:
        place = tuple([id(part) for bar in bars for part in (bar.cells, bar.metre, bar.measured)])
    else:
        place += (id(metre),)
    known = _PHRASES.get(place)
    if known is None:
        if len(_PHRASES) > _MOST_KNOWN:
            _PHRASES.clear()
        chords: list[tuple[Chord, float]] = []
        for bar in bars:
            lengths = float_lengths(len(bar.cells), bar.metre, bar.measured)
            chords += [
                (cell.chord, length) for cell, length in zip(bar.cells, lengths, strict=True) if cell.chord is not None
            ]
        known = _PHRASES[place] = sounds_of(chords), bars
    return known[0]


def float_lengths(cells: int, metre: Metre, measured: bool) -> tuple[float, ...]:
    """How long each cell of a bar sounds, in quarter notes (see ``cell_lengths``)."""
    return _lengths(cells, metre.beats, metre.unit, measured)


@lru_cache(maxsize=1024)
def _lengths(cells: int, beats: int, unit: int, measured: bool) -> tuple[float, ...]:
    return tuple(map(float, cell_lengths(cells, Metre(beats, unit), measured)))
