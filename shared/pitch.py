"""Spelled pitches and scale degrees, both placed on the line of fifths.

Conventions:
    * A pitch is a letter and an alteration (+1 a sharp, -1 a flat); octaves play no part in harmony here.
    * Pitch class 0 is C, one step a semitone.
    * A degree is counted against the *major* scale of some tonic: number 1 to 7, alteration as above.
      Chord tones are degrees counted from the root and may be compound (9, 11, 13).
    * Both have a place on the line of fifths (... F = -1, C = 0, G = 1 ...; degree 1 = 0, 5 = 1, 4 = -1).
      Counting and transposing are plain addition there, so spelling is never lost.
      (Common practice; the line of fifths as a model of spelling is described in Temperley,
      "The Cognition of Basic Musical Structures", 2001, chapter 5.)
"""

from __future__ import annotations

from dataclasses import dataclass

LETTERS = "CDEFGAB"
_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
_FIFTHS = (0, 2, 4, -1, 1, 3, 5)
_STEP_OF_FIFTHS = {fifths: step for step, fifths in enumerate(_FIFTHS)}
LARGEST_TONE = 13


def accidentals(alteration: int) -> str:
    """The signs of an alteration: ``2`` is ``##``, ``-1`` is ``b``."""
    return "#" * alteration if alteration > 0 else "b" * -alteration


def alteration_of(signs: str) -> int:
    """How far a run of ``#`` and ``b`` alters, in semitones."""
    return signs.count("#") - signs.count("b")


def _at(fifths: int) -> tuple[int, int]:
    """Step (0 to 6) and alteration of a place on the line of fifths."""
    alteration, rest = divmod(fifths + 1, 7)
    return _STEP_OF_FIFTHS[rest - 1], alteration


@dataclass(frozen=True, slots=True)
class Degree:
    """A scale degree or chord tone, counted against the major scale.

    Attributes:
        number: 1 to 7 for a scale degree, up to 13 for a chord tone.
        alteration: semitones above (+) or below (-) the major scale.

    Raises:
        ValueError: If the number is outside 1 to 13.

    >>> str(Degree(7, -1)), Degree(7, -1).semitones, Degree(4, 1).semitones
    ('b7', 10, 6)
    """

    number: int
    alteration: int = 0

    def __post_init__(self) -> None:
        if not 1 <= self.number <= LARGEST_TONE:
            raise ValueError(f"a degree is 1 to {LARGEST_TONE}, not {self.number}")

    @property
    def semitones(self) -> int:
        """Semitones above the tonic (or root), reduced to 0 to 11."""
        return (_SEMITONES[(self.number - 1) % 7] + self.alteration) % 12

    @property
    def fifths(self) -> int:
        """Place on the line of fifths, the tonic at 0."""
        return _FIFTHS[(self.number - 1) % 7] + 7 * self.alteration

    @classmethod
    def at(cls, fifths: int) -> Degree:
        """The simple degree (1 to 7) at a place on the line of fifths."""
        step, alteration = _at(fifths)
        return cls(step + 1, alteration)

    def above(self, other: Degree) -> Degree:
        """This degree counted from another one: 5 above 2 is 6 (the applied dominant's root)."""
        return Degree.at(self.fifths + other.fifths)

    def __str__(self) -> str:
        return f"{accidentals(self.alteration)}{self.number}"


@dataclass(frozen=True, slots=True)
class Pitch:
    """A pitch spelled by letter and alteration, without octave.

    Raises:
        ValueError: If the letter is not one of ``A`` to ``G``.

    >>> str(Pitch("E", -1)), Pitch("E", -1).pitch_class
    ('Eb', 3)
    """

    letter: str
    alteration: int = 0

    def __post_init__(self) -> None:
        if len(self.letter) != 1 or self.letter not in LETTERS:
            raise ValueError(f"a pitch is named by one letter A to G, not {self.letter!r}")

    @property
    def pitch_class(self) -> int:
        """Semitones above C, 0 to 11."""
        return (_SEMITONES[LETTERS.index(self.letter)] + self.alteration) % 12

    @property
    def fifths(self) -> int:
        """Place on the line of fifths, C at 0."""
        return _FIFTHS[LETTERS.index(self.letter)] + 7 * self.alteration

    @classmethod
    def at(cls, fifths: int) -> Pitch:
        """The pitch at a place on the line of fifths."""
        step, alteration = _at(fifths)
        return cls(LETTERS[step], alteration)

    def up(self, degree: Degree) -> Pitch:
        """The pitch that stands on a degree of this pitch's major scale.

        >>> str(Pitch("E").up(Degree(6, -1))), str(Pitch("D", -1).up(Degree(4, 1)))
        ('C', 'G')
        """
        return Pitch.at(self.fifths + degree.fifths)

    def degree_in(self, tonic: Pitch) -> Degree:
        """The degree that this pitch is in the major scale of ``tonic``."""
        return Degree.at(self.fifths - tonic.fifths)

    def __str__(self) -> str:
        return f"{self.letter}{accidentals(self.alteration)}"


def readable(pitch: Pitch) -> Pitch:
    """The pitch itself, or its enharmonic twin where it would need more than one sign.

    >>> str(readable(Pitch("E", -2)))
    'D'
    """
    fifths = pitch.fifths
    while not -9 < fifths < 13:
        fifths += 12 if fifths < 0 else -12
    return Pitch.at(fifths)


#: The twelve degrees by semitone, as surveys and centres are named: 1 b2 2 b3 3 4 #4 5 b6 6 b7 7.
CHROMATIC = tuple(Degree.at(fifths) for fifths in (0, -5, 2, -3, 4, -1, 6, 1, -4, 3, -2, 5))
