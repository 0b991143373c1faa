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
from collections.abc import Iterable, Iterator, Sequence
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


@dataclass(frozen=True, slots=True)
class Phrase:
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
    for chord, length in chords:
        root, kind, bass = _bare(chord)
        if made and made[-1][:3] == (root, kind, bass):
            made[-1] = Sound(root, kind, bass, made[-1].length + length)
        else:
            made.append(Sound(root, kind, bass, length))
    return tuple(made)


_BARE: dict[tuple[int, int, int, str], tuple[int, int, int]] = {}


def _bare(chord: Chord) -> tuple[int, int, int]:
    """Root, kind and bass of a chord; looked up by sound, which hashes far faster than the chord."""
    bare = _BARE.get(chord.sound)
    if bare is None:
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
    on_line = Counter([bar.line for section in chart.sections for bar in section.bars()])
    lined = any(on_line) and max(on_line.values()) <= _LONGEST
    sectioned = any(section.label for section in chart.sections)
    sounding: list[tuple[int, int, int, tuple[Sound, ...]]] = []
    known: dict[int, list[tuple[int, int, tuple[Sound, ...]]]] = {}
    position = 0
    for playing, bars in enumerate(played_parts(chart)):
        if id(bars) not in known:
            known[id(bars)] = [(first, last, sounds) for first, last, sounds in _runs(bars, lined, keyed) if sounds]
        sounding += [(playing, position + first, position + last, sounds) for first, last, sounds in known[id(bars)]]
        position += len(bars)
    phrases = []
    for index, (playing, first, last, sounds) in enumerate(sounding):
        starts = index == 0 or sounding[index - 1][0] != playing
        ends = index + 1 == len(sounding) or sounding[index + 1][0] != playing
        phrases.append(Phrase(sounds, first, last, starts, ends))
    return Heard(tuple(phrases), lined, sectioned)


def _runs(bars: Sequence[Bar], lined: bool, keyed: bool) -> Iterator[tuple[int, int, tuple[Sound, ...]]]:
    """The phrases of one playing of a section: first bar, last bar, sounds."""
    first = 0
    for position, bar in enumerate(bars):
        heard = keyed or bar.key is None
        if position > first:
            before = bars[position - 1]
            new = not heard or bar.number <= before.number
            if new or (bar.line != before.line if lined else position - first == _GROUP):
                yield first, position - 1, _sounds_in(bars[first:position])
                first = position
        if not heard:
            first = position + 1
    if first < len(bars):
        yield first, len(bars) - 1, _sounds_in(bars[first:])


#: Phrases met before, by the identity of what their bars hold, with that: music repeats itself.
_PHRASES: dict[tuple[int, ...], tuple[tuple[Sound, ...], Sequence[Bar]]] = {}
_MOST_KNOWN = 50_000


def _sounds_in(bars: Sequence[Bar]) -> tuple[Sound, ...]:
    """The sounds of bars that stand side by side."""
    place = tuple([id(part) for bar in bars for part in (bar.cells, bar.metre, bar.measured)])
    known = _PHRASES.get(place)
    if known is None:
        if len(_PHRASES) > _MOST_KNOWN:
            _PHRASES.clear()
        known = _PHRASES[place] = sounds_of(_chords(bars)), bars
    return known[0]


def _chords(bars: Sequence[Bar]) -> Iterable[tuple[Chord, float]]:
    for bar in bars:
        for cell, length in zip(bar.cells, float_lengths(len(bar.cells), bar.metre, bar.measured), strict=True):
            if cell.chord is not None:
                yield cell.chord, length


@lru_cache(maxsize=1024)
def float_lengths(cells: int, metre: Metre, measured: bool) -> tuple[float, ...]:
    """How long each cell of a bar sounds, in quarter notes (see ``cell_lengths``)."""
    return tuple(map(float, cell_lengths(cells, metre, measured)))
