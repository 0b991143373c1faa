"""Answers: what a search found, where, and in which count."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from shared.key import Key


class Count(Enum):
    """What a chart is counted from: its own tonic, or its relative major."""

    TONIC = "tonic"
    RELATIVE = "relative"


class Reach(Enum):
    """Where a pattern may stand: in the key of the chart, or about any tonal centre."""

    KEY = "key"
    ANYWHERE = "anywhere"


@dataclass(frozen=True, slots=True)
class Place:
    """One place of a match, as written, however often it is played.

    Attributes:
        section: The label of the section in which the first chord begins; None where there is none.
        from_bar: The bar in which the first chord begins, as written, from 1.
        to_bar: The bar in which the last chord begins; smaller where the match runs over a repeat.
        times: How often it is played.
        chords: The chords that the match takes, as written, one for each event.
        numbers: The same chords counted as the match was.
        differs: In words, what differs from the pattern (empty where nothing does).
        before: The chords before it, counted like it, as far as context is asked for; where it is played more than
            once, as it is played first.
        after: The chords after it likewise.
    """

    section: str | None
    from_bar: int
    to_bar: int
    times: int
    chords: tuple[str, ...]
    numbers: tuple[str, ...]
    differs: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Hit:
    """A tune in which the pattern was found, in one count.

    Attributes:
        title: The tune's title.
        path: Its chart, relative to the library.
        key: Its home key.
        count: The count under which the places were found.
        places: Where, in the order of the chart.
        why: What speaks for the tune, in words, weightiest first.
    """

    title: str
    path: str
    key: Key
    count: Count
    places: tuple[Place, ...]
    why: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """The whole answer to a search.

    Attributes:
        said: What was searched, as a plain sentence.
        charts: How many tunes hold the pattern.
        matches: How often it is played in them.
        hits: The tunes shown, best first.
        key: For a pattern of chord names, the key it was counted in.
        others: The other keys in which it might have been meant, likeliest first.
    """

    said: str
    charts: int
    matches: int
    hits: tuple[Hit, ...]
    key: Key | None = None
    others: tuple[Key, ...] = ()
