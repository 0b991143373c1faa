"""Chords and numerals: one chord model, absolute or counted against a tonic.

Conventions:
    * A chord has a root, a quality and, where it is not the root, a bass. The bass need not be a chord tone.
    * A numeral is the same three things counted against the major scale of a tonic.
    * No chord (silence) is ``None`` wherever a chord may be missing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from shared.pitch import Degree, Pitch, accidentals, readable
from shared.quality import Quality, Third
from shared.quality_names import quality_name

_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")


@dataclass(frozen=True)
class Chord:
    """A chord by name.

    Attributes:
        root: The root as spelled.
        quality: The tones above it.
        bass: The bass where it is not the root, else None.
    """

    root: Pitch
    quality: Quality
    bass: Pitch | None = None

    def __post_init__(self) -> None:
        if self.bass is not None and self.bass.pitch_class == self.root.pitch_class:
            object.__setattr__(self, "bass", None)

    @cached_property
    def name(self) -> str:
        """The chord in its one spelling, such as ``Bbm7b5/Ab``."""
        bass = f"/{self.bass}" if self.bass else ""
        return f"{self.root}{quality_name(self.quality)}{bass}"

    @property
    def notes(self) -> tuple[Pitch, ...]:
        """The notes as spelled, the bass first where it is not the root, each once, then the tones from the root up."""
        upper = [self.root.up(t) for t in self.quality.tones]
        if self.bass is None:
            return tuple(upper)
        return (self.bass, *(p for p in upper if p.pitch_class != self.bass.pitch_class))

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Everything that sounds, bass included, as pitch classes (0 is C)."""
        return frozenset(p.pitch_class for p in self.notes)

    @cached_property
    def sound(self) -> tuple[int, int, int, str]:
        """Root, bass (pitch classes), tones (as sound) and family: equal where two spellings sound as one chord."""
        bass = self.root if self.bass is None else self.bass
        return self.root.pitch_class, bass.pitch_class, self.quality.mask, self.quality.family.value

    def counted(self, tonic: Pitch) -> Numeral:
        """The chord counted against the major scale of ``tonic``.

        >>> from shared.quality import Quality
        >>> Chord(Pitch("G"), Quality.spelled("1 3 5"), Pitch("B")).counted(Pitch("C")).number
        '5/7'
        """
        bass = self.bass.degree_in(tonic) if self.bass else None
        return Numeral(self.root.degree_in(tonic), self.quality, bass)

    def moved(self, interval: Degree) -> Chord:
        """The chord an interval higher; a root or bass that would need two signs is respelled with one or none.

        >>> from shared.quality import Quality
        >>> Chord(Pitch("A", -1), Quality.spelled("1 3 5")).moved(Degree(5, -1)).name
        'D'
        """
        bass = readable(self.bass.up(interval)) if self.bass else None
        return Chord(readable(self.root.up(interval)), self.quality, bass)

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True, slots=True)
class Numeral:
    """A chord counted against the major scale of a tonic.

    Attributes:
        degree: The degree that the root is.
        quality: The tones above it.
        bass: The degree in the bass where it is not the root, else None.
    """

    degree: Degree
    quality: Quality
    bass: Degree | None = None

    def __post_init__(self) -> None:
        if self.bass is not None and self.bass.semitones == self.degree.semitones:
            object.__setattr__(self, "bass", None)

    @property
    def number(self) -> str:
        """Written with numbers: ``2m7``, ``5/7``."""
        return f"{self.degree}{quality_name(self.quality)}{self._bass}"

    @property
    def roman(self) -> str:
        """Written as a Roman numeral, the case giving the third: ``ii7``, ``V/7``, ``viiø7``."""
        sign, figure = accidentals(self.degree.alteration), _ROMAN[self.degree.number - 1]
        name = quality_name(self.quality)
        if self.quality.third is Third.MINOR:
            figure = figure.lower()
            if name.startswith("dim"):
                name = "°" + name[3:]
            elif name == "m7b5":
                name = "ø7"
            else:
                name = name.removeprefix("m")
        elif name == "aug":
            name = "+"
        return f"{sign}{figure}{name}{self._bass}"

    @property
    def _bass(self) -> str:
        return f"/{self.bass}" if self.bass else ""

    def on(self, tonic: Pitch) -> Chord:
        """The chord that this is in the major scale of ``tonic``."""
        return Chord(tonic.up(self.degree), self.quality, tonic.up(self.bass) if self.bass else None)

    def above(self, degree: Degree) -> Numeral:
        """The numeral counted from a degree, recounted from the tonic: V7 of ii is 67."""
        return Numeral(self.degree.above(degree), self.quality, self.bass.above(degree) if self.bass else None)

    def __str__(self) -> str:
        return self.number
