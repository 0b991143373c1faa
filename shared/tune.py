"""The tune: a chart as it is played, repeats and form unfolded, ready to be searched.

Conventions:
    * Silence is dropped first; then neighbours that sound alike (same root, quality and bass to the ear) are one event,
      across bars, repeats and sections.
    * An event begins at one written place; ``bar`` and ``section`` say where, as written.
    * Events count from 0, played bars count from 0, written bars from 1.
    * A run of played bars in one key is a segment. A chord that sounds across the border of two segments belongs to
      both, as a chord that sounds across the border of two sections ends the one and starts the other.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from shared.chord import Chord
from shared.key import Key


@dataclass(frozen=True, slots=True)
class Event:
    """One chord as it sounds, held or struck again without change.

    Attributes:
        chord: The chord.
        written: How it is written where it begins.
        bar: The written bar in which it begins.
        section: The label of the section in which it begins, None where there is none.
        played: The played bar in which it begins, from 0.
        length: How long it sounds, in quarter notes; in a bar above words every chord counts alike.
        starts: Whether it is the first chord to sound in a playing of a section.
        ends: Whether it is the last chord to sound in a playing of a section.
    """

    chord: Chord
    written: str
    bar: int
    section: str | None
    played: int
    length: Fraction
    starts: bool = False
    ends: bool = False


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """One bar as it is played.

    Attributes:
        bar: Its number as written.
        section: The label of its section.
        playing: Which playing of a section it belongs to, from 0 through the tune.
        events: The events that sound in it, in order, by number; an event may stand twice where it comes back.
        silent: Whether there is silence in it.
        line: The line in which it is written (see ``Bar``); it says nothing of how the bar sounds.
    """

    bar: int
    section: str | None
    playing: int
    events: tuple[int, ...]
    silent: bool
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Segment:
    """A run of played bars in one key: its events ``first`` to ``last``, its bars ``from_bar`` to ``to_bar`` (both ends
    belong to it; played bars)."""

    key: Key
    first: int
    last: int
    from_bar: int
    to_bar: int


@dataclass(frozen=True, slots=True)
class Tune:
    """A chart as played.

    Attributes:
        key: The home key: the written one, or the one found.
        key_found: Whether the home key was found rather than written.
        events: The chords, in order.
        bars: The bars, in order.
        segments: The keys it passes through, in order; every event and bar belongs to at least one.
    """

    key: Key
    key_found: bool
    events: tuple[Event, ...]
    bars: tuple[PlayedBar, ...]
    segments: tuple[Segment, ...]
