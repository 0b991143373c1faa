"""Keys: a tonic and a mode.

Chords are always counted against the major scale of the tonic, whatever the mode; the mode says which key signature is
written and whether the chart also answers when it is counted from its relative major.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from shared.pitch import Degree, Pitch


class Mode(Enum):
    """A mode, with its place on the line of fifths: how many fifths its signature lies from the major one.

    D dorian has the signature of C major, two fifths below D (common practice).
    """

    MAJOR = "major", 0
    MINOR = "minor", -3
    DORIAN = "dorian", -2
    PHRYGIAN = "phrygian", -4
    LYDIAN = "lydian", 1
    MIXOLYDIAN = "mixolydian", -1
    LOCRIAN = "locrian", -5

    def __init__(self, label: str, fifths: int) -> None:
        self.label = label
        self.fifths = fifths

    @property
    def minor_third(self) -> bool:
        """Whether the tonic triad has a minor third."""
        return self.fifths <= -2


@dataclass(frozen=True, slots=True)
class Key:
    """A key as a header spells it: ``Eb``, ``Am``, ``D dorian``.

    >>> str(Key(Pitch("A"), Mode.MINOR)), str(Key(Pitch("A"), Mode.MINOR).relative_major)
    ('Am', 'C')
    """

    tonic: Pitch
    mode: Mode = Mode.MAJOR

    @property
    def signature(self) -> int:
        """Sharps (+) or flats (-) in the key signature."""
        return self.tonic.fifths + self.mode.fifths

    @property
    def relative_major(self) -> Key:
        """The major key with the same signature; a major key is its own."""
        return Key(Pitch.at(self.signature))

    @property
    def minor_third(self) -> bool:
        """Whether charts in this key also answer when counted from the relative major."""
        return self.mode.minor_third

    def moved(self, interval: Degree) -> Key:
        """The key an interval higher, respelled where its signature would pass seven sharps or flats."""
        return Key(simplest(self.tonic.up(interval), self.mode), self.mode)

    def __str__(self) -> str:
        if self.mode is Mode.MAJOR:
            return str(self.tonic)
        if self.mode is Mode.MINOR:
            return f"{self.tonic}m"
        return f"{self.tonic} {self.mode.label}"


def simplest(tonic: Pitch, mode: Mode) -> Pitch:
    """The tonic itself, or its enharmonic twin where the signature would pass seven sharps or flats."""
    fifths = tonic.fifths
    while fifths + mode.fifths > 7:
        fifths -= 12
    while fifths + mode.fifths < -7:
        fifths += 12
    return Pitch.at(fifths)


def usual_tonic(pitch_class: int, mode: Mode) -> Pitch:
    """The usual spelling of a tonic given by sound: the one with the fewest signs in its signature, flats on a tie.

    >>> str(usual_tonic(6, Mode.MAJOR)), str(usual_tonic(8, Mode.MINOR))
    ('Gb', 'G#')
    """
    near = [f for f in range(-12, 13) if Pitch.at(f).pitch_class == pitch_class % 12]
    return Pitch.at(min(near, key=lambda f: (abs(f + mode.fifths), f)))


#: The fifteen major and fifteen minor keys that have a signature of at most seven signs.
MAJOR_KEYS = tuple(Key(Pitch.at(f)) for f in range(-7, 8))
MINOR_KEYS = tuple(Key(Pitch.at(f + 3), Mode.MINOR) for f in range(-7, 8))
