"""The pattern: a question about a progression, as asked.

Conventions:
    * A pattern is a sequence of parts. In the bar form (``bars`` true) the parts at the top, and in every group, are
      whole bars and anchors; otherwise they are items, gaps, groups and anchors.
    * An item is one or more alternatives for one chord.
    * Degrees are counted against the major scale of a tonic. A pattern asked with chord names has pitches instead and
      must be counted (``counted``) before it is searched.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from enum import Enum

from shared.pitch import Degree, Pitch
from shared.quality import Family, Quality, Third


class Strength(Enum):
    """How much of a written item must agree: roots alone, families, or the very quality and bass."""

    LOOSE = "loose"
    FAMILY = "family"
    EXACT = "exact"


class Anchor(Enum):
    """Where a section starts or ends, or the tune."""

    SECTION_START = "["
    SECTION_END = "]"
    TUNE_START = "[["
    TUNE_END = "]]"


class Gap(Enum):
    """Any few chords: none to four, as few as will do."""

    FEW = ".."


@dataclass(frozen=True, slots=True)
class Wanted:
    """One alternative of an item: what is asked of a chord.

    Attributes:
        root: The degree (or, in a pattern of chord names, the pitch) of the root; None for any.
        quality: The quality as written; None where none is written.
        third: For a bare Roman numeral, the third that its case stands for; else None.
        bass: The degree (or pitch) of the bass; None where none is written.
    """

    root: Degree | Pitch | None = None
    quality: Quality | None = None
    third: Third | None = None
    bass: Degree | Pitch | None = None

    @property
    def bare_bass(self) -> bool:
        """Whether only a bass is asked for."""
        return self.root is None and self.quality is None and self.third is None and self.bass is not None

    @property
    def family(self) -> Family | None:
        """The family that the written quality stands for; a seventh without a third stands for suspended."""
        if self.quality is None:
            return None
        family = self.quality.family
        if family is Family.DOMINANT and self.quality.third is Third.NONE:
            return Family.SUSPENDED
        return family

    @property
    def minor_one(self) -> bool:
        """Whether this is a 1 that is written minor."""
        if not isinstance(self.root, Degree) or self.root.semitones:
            return False
        return self.third is Third.MINOR or self.family is Family.MINOR


@dataclass(frozen=True, slots=True)
class Item:
    """One chord of a pattern: any of its alternatives will do."""

    alternatives: tuple[Wanted, ...]
    text: str = field(default="", compare=False)

    @property
    def one_chord(self) -> bool:
        """Whether the item twice over can only be one chord struck again: it names one root, or one bass."""
        places = {(one.root, one.bass if one.root is None else None) for one in self.alternatives}
        return len(places) == 1 and places != {(None, None)}


@dataclass(frozen=True, slots=True)
class BarOf:
    """One whole bar: it holds just these parts, in this order."""

    body: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Parts that are played several times, or perhaps.

    Attributes:
        body: The parts.
        least: How often at least: 0 for a perhaps.
        most: How often at most; None for no limit (then ``least`` is 1).
    """

    body: tuple[Part, ...]
    least: int
    most: int | None


Part = Item | BarOf | Group | Anchor | Gap


@dataclass(frozen=True, slots=True)
class Pattern:
    """A pattern.

    Attributes:
        parts: The parts, in order.
        bars: Whether it is in the bar form.
        named: Whether it was asked with chord names and is not yet counted.
        text: As typed.
    """

    parts: tuple[Part, ...]
    bars: bool = False
    named: bool = False
    text: str = field(default="", compare=False)

    def items(self) -> Iterator[Item]:
        """Every item, in the order written, groups entered once."""
        return _items(self.parts)

    @property
    def minor_one(self) -> bool:
        """Whether the pattern names a minor 1, and so is also asked recounted from the relative major."""
        return any(w.minor_one for item in self.items() for w in item.alternatives)

    def counted(self, tonic: Pitch) -> Pattern:
        """A pattern of chord names, counted against the major scale of ``tonic``."""
        return replace(self, parts=_counted(self.parts, tonic), named=False)


def _items(parts: tuple[Part, ...]) -> Iterator[Item]:
    for part in parts:
        if isinstance(part, Item):
            yield part
        elif isinstance(part, BarOf | Group):
            yield from _items(part.body)


def _counted(parts: tuple[Part, ...], tonic: Pitch) -> tuple[Part, ...]:
    def degree(place: Degree | Pitch | None) -> Degree | None:
        return place.degree_in(tonic) if isinstance(place, Pitch) else place

    counted: list[Part] = []
    for part in parts:
        if isinstance(part, Item):
            counted.append(
                Item(tuple(replace(w, root=degree(w.root), bass=degree(w.bass)) for w in part.alternatives), part.text)
            )
        elif isinstance(part, BarOf | Group):
            counted.append(replace(part, body=_counted(part.body, tonic)))
        else:
            counted.append(part)
    return tuple(counted)
