"""Which parts of a pattern may be edited in a near version, for the referee of the search.

Conventions:
    * An edit swaps a chord for any one chord, puts one in, or leaves one out; the latter and a swap lose a chord asked
      for. At least two are kept, three where the first or the last may be left out.
    * Versions come in the order that the search is said to keep: of the edits, late ones before early ones, by halves
      of the pattern; at one place first a chord put in, then swapped, then left out.
"""

from __future__ import annotations

from dataclasses import dataclass

from shared.pattern import BarOf, Item, Part

KEPT = 2
KEPT_WITHOUT_AN_END = 3


@dataclass(frozen=True)
class Place:
    """A part of a pattern and what may be done to it.

    Attributes:
        part: The part; None at the end of a bar.
        swapped: Whether any one chord may stand in its stead.
        put_in: Whether chords may be put in before it.
        left_out: Whether it may be left out.
        inner: For a bar its own places.
    """

    part: Part | None
    swapped: bool = False
    put_in: bool = False
    left_out: bool = False
    inner: tuple[Place, ...] | None = None


@dataclass(frozen=True)
class Versions:
    """The versions of a pattern.

    Attributes:
        places: Its parts.
        losses: How many of the edits may lose a chord.
    """

    places: list[Place]
    losses: int


def versions(parts: tuple[Part, ...], edits: int) -> Versions:
    """The versions of a pattern that many edits away."""
    chords = [number for number, part in enumerate(parts) if isinstance(part, Item | BarOf)]
    in_bars = any(isinstance(part, BarOf) for part in parts)
    asked = sum(_chords(part) for part in parts)
    ends = asked - edits >= KEPT_WITHOUT_AN_END
    places = []
    for number, part in enumerate(parts):
        if isinstance(part, BarOf):
            places.append(Place(part, inner=_bar(part)))
            continue
        chord, between = isinstance(part, Item), chords[0] < number < chords[-1]
        put_in = not in_bars and chords[0] < number <= chords[-1]
        places.append(Place(part, chord, put_in, chord and (ends or between)))
    return Versions(places, min(edits, asked - KEPT))


def _chords(part: Part) -> int:
    """How many chords a part asks for that must be there."""
    return sum(map(_chords, part.body)) if isinstance(part, BarOf) else int(isinstance(part, Item))


def _bar(bar: BarOf) -> tuple[Place, ...]:
    places = []
    for part in bar.body:
        chord = isinstance(part, Item)
        places.append(Place(part, chord, True, chord and _chords(bar) > 1))
    return (*places, Place(None, put_in=True))


def shared_losses(early: int, late: int, both: int) -> list[tuple[int, int]]:
    """What two halves with these edits may lose if both together may lose so many: the early half first."""
    if early + late <= both:
        return [(early, late)]
    return [(lost, both - lost) for lost in range(min(early, both), -1, -1) if both - lost <= late]
