"""Chord qualities: the tones above a root, the family they belong to, and the operations that alter them.

Conventions:
    * A quality is a set of spelled tones, 1 always among them, in ascending order of number.
    * Added seconds and fourths are 9 and 11 ("add 2" and "add 9" are one chord); a second or fourth that stands
      instead of the third keeps its number. A sixth beside a seventh is a 13, without one a 6.
    * Two qualities may be spelled differently and sound alike (``11`` and ``9sus4``); ``mask`` is how search sees them.

The names of the qualities are in ``shared.quality_names``; this module knows tones alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from functools import cached_property, lru_cache

from shared.pitch import Degree, alteration_of


class Family(Enum):
    """The family of a chord, as search by family sees it.

    The value is the quality that the family is written with; the order of the members is the order of the codes in the
    index, chosen so that every question about thirds and families is one run of neighbours.
    """

    AUGMENTED = "aug"
    MAJOR = "maj"
    DOMINANT = "7"
    SUSPENDED = "sus4"
    OPEN_FIFTH = "5"
    MINOR = "m"
    HALF_DIMINISHED = "m7b5"
    DIMINISHED = "dim"

    @property
    def title(self) -> str:
        """The family's name in words."""
        return self.name.lower().replace("_", "-").replace("open-", "open ")


class Third(Enum):
    """The third of a chord: where a numeral's case decides, it decides this."""

    MAJOR = "major"
    MINOR = "minor"
    NONE = "none"


def tone(text: str) -> Degree:
    """A chord tone from its usual name.

    >>> tone("b9")
    Degree(number=9, alteration=-1)
    """
    digits = text.lstrip("b#")
    return Degree(int(digits), alteration_of(text[: len(text) - len(digits)]))


@dataclass(frozen=True)
class Quality:
    """A chord quality: its spelled tones, ascending.

    Build one with ``Quality.of``, which puts the tones into their one normal form.
    """

    tones: tuple[Degree, ...]

    @classmethod
    def of(cls, tones: Iterable[Degree]) -> Quality:
        """The quality of these tones, in normal form.

        Raises:
            ValueError: If the root is not among them.
        """
        return _normal(frozenset(tones))

    @classmethod
    def spelled(cls, text: str) -> Quality:
        """The quality of tones written as words.

        >>> str(Quality.spelled("1 b3 b5 b7"))
        '1 b3 b5 b7'
        """
        return cls.of(tone(word) for word in text.split())

    @cached_property
    def mask(self) -> int:
        """The tones as sound: bit n is set where the pitch class n semitones above the root sounds."""
        return sum({1 << t.semitones for t in self.tones})

    @cached_property
    def third(self) -> Third:
        """Which third the chord has. A raised ninth beside a major third is not a minor third."""
        if MAJOR_THIRD in self.tones:
            return Third.MAJOR
        return Third.MINOR if MINOR_THIRD in self.tones else Third.NONE

    @property
    def minor_seventh(self) -> bool:
        """Whether a minor seventh sounds."""
        return MINOR_SEVENTH in self.tones

    @cached_property
    def family(self) -> Family:
        """The family: by the third first, then by seventh and fifth (common practice)."""
        third, fifth = self.third, FIFTH in self.tones
        if third is Third.NONE:
            if self.minor_seventh:
                return Family.DOMINANT
            return Family.SUSPENDED if any(t.number in (2, 4, 9, 11) for t in self.tones) else Family.OPEN_FIFTH
        if third is Third.MAJOR:
            if self.minor_seventh:
                return Family.DOMINANT
            return Family.AUGMENTED if RAISED_FIFTH in self.tones and not fifth else Family.MAJOR
        if LOWERED_FIFTH in self.tones and not fifth:
            return Family.HALF_DIMINISHED if self.minor_seventh else Family.DIMINISHED
        return Family.MINOR

    def altered(self, change: Degree) -> Quality:
        """With one tone raised or lowered (``b9``, ``#5``): it takes the place of the plain one where that sounds."""
        plain = Degree(change.number)
        return Quality.of([t for t in self.tones if t != plain] + [change])

    def added(self, extra: Degree) -> Quality:
        """With one more tone, nothing taken away. A second counts as a ninth, a fourth as an eleventh."""
        if extra.number in (2, 4):
            extra = Degree(extra.number + 7, extra.alteration)
        return Quality.of([*self.tones, extra])

    def without(self, number: int) -> Quality:
        """With the tone of this number left out, however it is altered; the root stays."""
        return Quality.of(t for t in self.tones if t.number == 1 or (t.number - number) % 7)

    def suspended(self, number: int) -> Quality:
        """With a second or fourth instead of the third."""
        return Quality.of([t for t in self.tones if t.number != 3] + [Degree(number)])

    def __str__(self) -> str:
        return " ".join(map(str, self.tones))


MAJOR_THIRD, MINOR_THIRD = Degree(3), Degree(3, -1)
FIFTH, LOWERED_FIFTH, RAISED_FIFTH = Degree(5), Degree(5, -1), Degree(5, 1)
MINOR_SEVENTH = Degree(7, -1)


@lru_cache(maxsize=4096)
def _normal(tones: frozenset[Degree]) -> Quality:
    if Degree(1) not in tones:
        raise ValueError("a chord has a root")
    seventh = any(t.number == 7 for t in tones)
    third = any(t.number == 3 for t in tones)
    number = {6: 13} if seventh else {13: 6}
    if third:
        number |= {2: 9, 4: 11}
    moved = {Degree(number.get(t.number, t.number), t.alteration) for t in tones}
    return Quality(tuple(sorted(moved, key=lambda t: (t.number, t.alteration))))
