"""Works out where the matches of one chart stand: as played, then as written.

Conventions: a marked string is a string of the index with ``{`` and ``}`` put round every match. Events and played bars
count from 0, written bars from 1.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from corpus.codes import BAR_BEGINS, BAR_ENDS, KEY_CHANGES, SECTION_ENDS, SECTION_STARTS, SILENCE
from grammar.symbols import read_chord
from shared.key import Key
from shared.match import Place
from shared.pitch import Pitch

MATCH_BEGINS, MATCH_ENDS = "{", "}"
_MARKS = {SECTION_STARTS, SECTION_ENDS, KEY_CHANGES, BAR_BEGINS, BAR_ENDS, SILENCE, MATCH_BEGINS, MATCH_ENDS}


@dataclass(frozen=True, slots=True)
class SoundingSegment:
    """A segment of a tune (see ``shared.tune.Segment``) and the tonic that a view counts it from; None where the view
    leaves it out."""

    tonic: Pitch | None
    first: int
    last: int
    from_bar: int
    to_bar: int


@dataclass(frozen=True, slots=True)
class FoundChart:
    """What the index knows about one chart and its places.

    Attributes:
        title: Its title.
        path: Its path in the library.
        key: Its home key.
        chords: The events' chords as written.
        event_bars: For each event the played bar in which it begins.
        played_bars: For each played bar its number as written.
        sections: Label, first and last bar of each section, as written.
    """

    title: str
    path: str
    key: Key
    chords: Sequence[str]
    event_bars: Sequence[int]
    played_bars: Sequence[int]
    sections: Sequence[tuple[str | None, int, int]]

    def label(self, bar: int) -> str | None:
        """The label of the section that a written bar belongs to."""
        return next((label for label, first, last in self.sections if first <= bar <= last), None)


@dataclass(frozen=True, slots=True)
class Span:
    """One match as played.

    Attributes:
        begin: Where it begins: an event, or a played bar in the bar form.
        end: Where it ends, that one included.
        from_bar: The played bar in which its first chord begins, or its first bar in the bar form.
        to_bar: The played bar in which its last chord begins, or its last bar in the bar form.
        events: The events that it takes, in order.
        tonics: For each of them the tonic it was counted from.
    """

    begin: int
    end: int
    from_bar: int
    to_bar: int
    events: tuple[int, ...]
    tonics: tuple[Pitch, ...]


def chord_spans(marked: str, segments: Sequence[SoundingSegment], event_bars: Sequence[int]) -> list[Span]:
    """The matches in a marked string of chords."""
    spans = []
    taken: list[tuple[int, Pitch]] | None = None
    for segment, text in zip(segments, marked.split(KEY_CHANGES), strict=True):
        event = segment.first
        for sign in text:
            if sign == MATCH_BEGINS:
                taken = []
            elif sign == MATCH_ENDS and taken:
                events, tonics = zip(*taken, strict=True)
                bars = event_bars[events[0]], event_bars[events[-1]]
                spans.append(Span(events[0], events[-1], *bars, events, tonics))
                taken = None
            elif sign not in _MARKS:
                if taken is not None and segment.tonic is not None:
                    taken.append((event, segment.tonic))
                event += 1
    return spans


def bar_spans(marked: str, segments: Sequence[SoundingSegment], event_bars: Sequence[int]) -> list[Span]:
    """The matches in a marked string of bars."""
    begun: dict[int, list[int]] = {}
    for event, bar in enumerate(event_bars):
        begun.setdefault(bar, []).append(event)
    spans = []
    taken: list[tuple[int, Pitch]] | None = None
    first = 0
    for segment, text in zip(segments, marked.split(KEY_CHANGES), strict=True):
        bar, count = segment.from_bar, 0
        for sign in text:
            if sign == MATCH_BEGINS:
                taken, first = [], bar
            elif sign == MATCH_ENDS and taken:
                events, tonics = zip(*taken, strict=True)
                spans.append(Span(first, bar - 1, first, bar - 1, events, tonics))
                taken = None
            elif sign == BAR_BEGINS:
                count = 0
            elif sign == BAR_ENDS:
                if taken is not None and segment.tonic is not None:
                    taken += [(event, segment.tonic) for event in _sounding(bar, count, begun)]
                bar += 1
            elif sign not in _MARKS:
                count += 1
    return spans


def _sounding(bar: int, count: int, begun: dict[int, list[int]]) -> list[int]:
    """The events that sound in a bar without silence: those that begin in it, and the one held from before if any."""
    own = begun.get(bar, [])
    if len(own) == count:
        return own
    held = own[0] - 1 if own else max(event for past, events in begun.items() if past < bar for event in events)
    return [held, *own]


def unlike(spans: Iterable[Span]) -> list[Span]:
    """The spans, each place once: of two that begin and end alike the first stays."""
    seen: dict[tuple[int, int], Span] = {}
    for span in spans:
        seen.setdefault((span.begin, span.end), span)
    return list(seen.values())


def places(spans: Iterable[Span], chart: FoundChart, respelled: bool = False) -> tuple[Place, ...]:
    """The places of matches as written, each once with how often it is played, in the order of the chart.

    Args:
        spans: The matches as played.
        chart: Where its chords and bars stand as written.
        respelled: Whether a tonic may be taken for its enharmonic twin, where that leaves fewer signs in the numbers
            (a tonal centre that no key names has no spelling of its own).
    """
    times: dict[tuple[str | None, int, int, tuple[str, ...], tuple[str, ...]], int] = {}
    for span in spans:
        names = tuple(chart.chords[event] for event in span.events)
        numbers = tuple(read_chord(name).counted(tonic).number for name, tonic in zip(names, span.tonics, strict=True))
        from_bar, to_bar = chart.played_bars[span.from_bar], chart.played_bars[span.to_bar]
        place = (chart.label(from_bar), from_bar, to_bar, names, numbers)
        times[place] = times.get(place, 0) + 1
    ordered = sorted(times.items(), key=lambda each: (each[0][1], each[0][2]))
    return tuple(
        Place(section, from_bar, to_bar, often, names, numbers)
        for (section, from_bar, to_bar, names, numbers), often in ordered
    )


def _numbers(names: Sequence[str], tonics: Sequence[Pitch], turns: Sequence[int]) -> tuple[str, ...]:
    """The chords counted, each tonic moved by the turn (fifths) that leaves the fewest signs."""
    chords = [read_chord(name) for name in names]
    counted = [
        [chord.counted(Pitch.at(tonic.fifths + turn)) for chord, tonic in zip(chords, tonics, strict=True)]
        for turn in turns
    ]
    fewest = min(counted, key=lambda numerals: sum(abs(numeral.degree.alteration) for numeral in numerals))
    return tuple(numeral.number for numeral in fewest)
