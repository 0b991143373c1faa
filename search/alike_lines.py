"""Tunes as lines of units, ready to be aligned: bar by bar, and chord by chord.

Conventions: everything is counted from the home tonic, over changes of key. Events and played bars count from 0,
written bars from 1. A bar with silence in it is no unit (see ``corpus.codes``); nor is, chord by chord, a chord that
repeats the root and family before it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from corpus.codes import BAR_BEGINS, BAR_ENDS, KEY_CHANGES, SECTION_ENDS, SECTION_STARTS, SILENCE
from corpus.unpacking import event_bars, event_names, events_begun, played_bars, segments_of
from grammar.keys import read_key
from search.alignment import Unit, kinds_of
from shared.key import Key

_MARKS = str.maketrans("", "", f"{SECTION_STARTS}{SECTION_ENDS}{KEY_CHANGES}{BAR_BEGINS}{SILENCE}")

#: The columns of a chart that a line is made from, in SQL.
COLUMNS = (
    "id, title, path, key, coalesce(fixed, tonic), coalesce(fixed_bars, tonic_bars), names, begun, written, segments"
)


@dataclass(frozen=True, slots=True)
class Line:
    """A tune as units.

    Attributes:
        units: The kinds of each unit.
        events: For each unit the events that sound in it, in order.
        bars: For each unit the first and the last played bar of it.
    """

    units: list[Unit]
    events: list[range]
    bars: list[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class LinedTune:
    """A tune with both its lines.

    Attributes:
        chart: Its number in the index.
        title: Its title.
        path: Its path.
        home: Its home key.
        chords: The events' chords as written.
        keys: For each event the key in which it begins.
        played_bars: For each played bar its number as written.
        by_bars: Its line of bars.
        by_chords: Its line of chords.
    """

    chart: int
    title: str
    path: str
    home: Key
    chords: list[str]
    keys: list[Key]
    played_bars: list[int]
    by_bars: Line
    by_chords: Line


def lined(row: Sequence[Any]) -> LinedTune:
    """The tune of a row of ``COLUMNS``."""
    chart, title, path, key, codes, bars, short, begun, written, changes = row
    home = read_key(key)
    names = event_names(short, codes)
    keys = [home] * len(names)
    segments = segments_of(changes, key, begun)
    for segment in reversed(segments):
        keys[segment.first : segment.last + 1] = [read_key(segment.key)] * (segment.last - segment.first + 1)
    if len(segments) == 1:
        # The strings are those of the one segment, counted from its key and begun with its bars.
        home = keys[0]
    kinds = kinds_of(codes.translate(_MARKS).replace(BAR_ENDS, ""))
    first_bar = segments[0].from_bar if len(segments) == 1 else 0
    by_bars = _bars(bars, first_bar, kinds, events_begun(begun))
    by_chords = _chords(kinds, event_bars(begun), by_bars.bars)
    return LinedTune(chart, title, path, home, names, keys, played_bars(written), by_bars, by_chords)


def _bars(text: str, first: int, kinds: Sequence[int], begun: Sequence[int]) -> Line:
    """The line of bars; a bar of several chords is shared by them equally."""
    line = Line([], [], [])
    following = 0
    for bar, inner in enumerate(text.split(BAR_ENDS)[:-1], first):
        # The events of a bar end with the last one that begins in it, or before the next bar.
        following += begun[bar]
        sounding = len(inner.translate(_MARKS))
        if sounding:
            events = range(following - sounding, following)
            line.units.append((kinds[events[sounding // 4]], kinds[events[sounding * 3 // 4]]))
            line.events.append(events)
            line.bars.append((bar, bar))
    return line


def _chords(kinds: Sequence[int], begins: Sequence[int], bars: Sequence[tuple[int, int]]) -> Line:
    """The line of chords, neighbours of one kind joined; one lasts until the bar before the next, or its own."""
    starts = [event for event, kind in enumerate(kinds) if event == 0 or kind != kinds[event - 1]]
    line = Line([], [], [])
    last = bars[-1][1] if bars else begins[-1]
    for begin, end in pairwise([*starts, len(kinds)]):
        line.units.append((kinds[begin], kinds[begin]))
        line.events.append(range(begin, end))
        until = begins[end] - 1 if end < len(kinds) else last
        line.bars.append((begins[begin], max(begins[begin], begins[end - 1], until)))
    return line
