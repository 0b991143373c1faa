"""A chart as the key finder hears it: phrases of chords in playing order.

Conventions:
    * A written line is a phrase each time it is played. Where no lines are known, or more than 16 bars stand on one,
      groups of four bars, counted from where the line or section starts, serve instead.
    * A sound is a chord with everything that has no bearing on the key taken off: the pitch class of its root, its kind
      (see ``KINDS``) and third as small numbers, its bass in semitones above the root, its length in quarter notes.
    * Silence is dropped; then neighbours that sound alike inside a phrase are one sound.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from corpus.unfolding import cell_lengths
from shared.chart import Metre
from shared.chord import Chord
from shared.quality import Family, Quality, Third, tone

if TYPE_CHECKING:
    from corpus.ragged import Ints

_Number = TypeVar("_Number", int, "Ints")

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
    bare = [(plain(chord), length) for chord, length in chords]
    runs = [(number, sum(length for _, length in run)) for number, run in groupby(bare, key=itemgetter(0))]
    return tuple(Sound(*parts_of(number), lasts) for number, lasts in runs)


#: What ``plain`` gives, by the sound of a chord, which hashes far faster than the chord.
_PLAIN: dict[tuple[int, int, int, str], int] = {}


def plain(chord: Chord) -> int:
    """What of a chord bears on the key, as one number: (root * number of kinds + kind) * 12 + bass (see ``Sound``)."""
    number = _PLAIN.get(chord.sound)
    if number is None:
        root, bass, *_ = chord.sound
        number = _PLAIN[chord.sound] = (root * len(KINDS) + kind_of(chord.quality)) * 12 + (bass - root) % 12
    return number


def parts_of(number: _Number) -> tuple[_Number, _Number, _Number]:
    """Root, kind and bass of what ``plain`` gives, be it one number or an array."""
    return number // 12 // len(KINDS), number // 12 % len(KINDS), number % 12


def float_lengths(cells: int, metre: Metre, measured: bool) -> tuple[float, ...]:
    """How long each cell of a bar sounds, in quarter notes (see ``cell_lengths``)."""
    return _lengths(cells, metre.beats, metre.unit, measured)


@lru_cache(maxsize=1024)
def _lengths(cells: int, beats: int, unit: int, measured: bool) -> tuple[float, ...]:
    return tuple(map(float, cell_lengths(cells, Metre(beats, unit), measured)))
