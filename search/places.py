"""Works out where the matches of one chart stand: as played, then as written.

Conventions: a marked string is a string of the index with ``{`` and ``}`` put round every match. Events and played bars
count from 0, written bars from 1.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from corpus.codes import BAR_BEGINS, BAR_ENDS, KEY_CHANGES, SECTION_ENDS, SECTION_STARTS, SILENCE
from corpus.unpacking import WrittenSection, event_bars, event_names, played_bars, sections_of
from grammar.keys import read_key
from grammar.symbols import read_chord
from search.borders import BORDER_SIGNS
from shared.chord import Numeral
from shared.key import Key
from shared.match import Place
from shared.pitch import Pitch

MATCH_BEGINS, MATCH_ENDS = "{", "}"
_MARKS = {SECTION_STARTS, SECTION_ENDS, KEY_CHANGES, BAR_BEGINS, BAR_ENDS, SILENCE, MATCH_BEGINS, MATCH_ENDS}
_MARKS.update(BORDER_SIGNS)
_WITHOUT_MARKS = str.maketrans("", "", "".join(_MARKS))


@dataclass(frozen=True, slots=True)
class SoundingSegment:
    """A segment of a tune (see ``shared.tune.Segment``) and the tonic that a view counts it from; None where the view
    leaves it out."""

    tonic: Pitch | None
    first: int
    last: int
    from_bar: int
    to_bar: int


#: The columns that tell what is known about a chart, in SQL.
FACTS = ("title", "path", "key", "names", "coalesce(fixed, tonic)", "begun", "written", "sections")


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
    sections: Sequence[WrittenSection]

    @classmethod
    def of(cls, row: Sequence[Any]) -> FoundChart:
        """The chart of a row of ``FACTS``."""
        title, path, key, names, codes, begun, written, sections = row
        chords, bars = event_names(names, codes), event_bars(begun)
        return cls(title, path, read_key(key), chords, bars, played_bars(written), sections_of(sections))

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
        bars: For each of them the played bar in which the match takes it.
        text: What it takes of the string of its view.
        edits: How many edits away from the pattern it is.
        differs: In words, what differs from the pattern.
    """

    begin: int
    end: int
    from_bar: int
    to_bar: int
    events: tuple[int, ...]
    tonics: tuple[Pitch, ...]
    bars: tuple[int, ...]
    text: str = field(default="", compare=False)
    edits: int = 0
    differs: tuple[str, ...] = ()


def chord_spans(marked: str, segments: Sequence[SoundingSegment], event_bars: Sequence[int]) -> list[Span]:
    """The matches in a marked string of chords."""
    spans = []
    for segment, text in zip(segments, marked.split(KEY_CHANGES), strict=True):
        before, *found = text.split(MATCH_BEGINS)
        event = segment.first + _chords(before)
        for each in found:
            taken, _, behind = each.partition(MATCH_ENDS)
            events = range(event, event + _chords(taken))
            event = events.stop + _chords(behind)
            if events and segment.tonic is not None:
                bars = tuple([event_bars[each] for each in events])
                tonics = (segment.tonic,) * len(events)
                spans.append(Span(events[0], events[-1], bars[0], bars[-1], tuple(events), tonics, bars, taken))
    return spans


def places_in_all(views: Iterable[Sequence[str | None]]) -> int:
    """How many places in some tunes of one key are a match in any view: each place is counted once.

    Args:
        views: For each view the marked strings of chords of the tunes, None where it says nothing of one.
    """
    import numpy as np

    found = [np.zeros(0, np.int64)]
    for texts in views:
        signs = np.frombuffer("\n".join(text or "" for text in texts).encode("utf-32-le"), np.uint32)
        begins, ends = signs == ord(MATCH_BEGINS), signs == ord(MATCH_ENDS)
        apart = signs == ord("\n")
        tunes = np.cumsum(apart)
        # Marks are of the first code points, chords of later ones.
        chords = np.cumsum(signs > max(map(ord, _MARKS)))
        first = np.concatenate([[0], chords[apart]])
        within = chords - first[tunes]
        found.append((tunes[begins] << 32 | within[begins] << 16 | within[ends])[within[ends] > within[begins]])
    every = np.sort(np.concatenate(found))
    return int(np.count_nonzero(np.diff(every, prepend=-1)))


def _chords(text: str) -> int:
    """How many chords stand in a string."""
    return len(text.translate(_WITHOUT_MARKS))


def bar_spans(marked: str, segments: Sequence[SoundingSegment], event_bars: Sequence[int]) -> list[Span]:
    """The matches in a marked string of bars."""
    begun: dict[int, list[int]] = {}
    for event, bar in enumerate(event_bars):
        begun.setdefault(bar, []).append(event)
    spans = []
    taken: list[tuple[int, Pitch, int]] | None = None
    first = 0
    for segment, text in zip(segments, marked.split(KEY_CHANGES), strict=True):
        bar, count, opened = segment.from_bar, 0, 0
        for place, sign in enumerate(text):
            if sign == MATCH_BEGINS:
                taken, first, opened = [], bar, place + 1
            elif sign == MATCH_ENDS and taken:
                events, tonics, bars = zip(*taken, strict=True)
                spans.append(Span(first, bar - 1, first, bar - 1, events, tonics, bars, text[opened:place]))
                taken = None
            elif sign == BAR_BEGINS:
                count = 0
            elif sign == BAR_ENDS:
                if taken is not None and segment.tonic is not None:
                    taken += [(event, segment.tonic, bar) for event in _sounding(bar, count, begun)]
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


def places(spans: Iterable[Span], chart: FoundChart, respelled: bool = False, context: int = 0) -> tuple[Place, ...]:
    """The places of matches as written, each once with how often it is played, in the order of the chart.

    Args:
        spans: The matches as played.
        chart: Where its chords and bars stand as written.
        respelled: Whether a chord may be counted as its enharmonic twin, where that leaves fewer signs in its number
            (a tonal centre that no key names has no spelling of its own).
        context: How many bars before and after each are told.
    """
    found: dict[tuple[object, ...], Place] = {}
    times: Counter[tuple[object, ...]] = Counter()
    turns = (0, -12, 12) if respelled else (0,)
    for span in spans:
        names = tuple([chart.chords[event] for event in span.events])
        numbers = numbered(names, span.tonics, turns)
        from_bar, to_bar = chart.played_bars[span.from_bar], chart.played_bars[span.to_bar]
        section = chart.label(from_bar)
        key = (section, from_bar, to_bar, names, numbers, span.differs)
        times[key] += 1
        if key not in found:
            around = _around(span, chart, turns, context) if context else ((), ())
            found[key] = Place(section, from_bar, to_bar, 1, names, numbers, span.differs, *around)
    told = [replace(place, times=times[key]) if times[key] > 1 else place for key, place in found.items()]
    return tuple(sorted(told, key=lambda place: (place.from_bar, place.to_bar)))


@lru_cache(maxsize=16384)
def numbered(names: tuple[str, ...], tonics: tuple[Pitch, ...], turns: tuple[int, ...] = (0,)) -> tuple[str, ...]:
    """The numbers of chords (see ``counted``)."""
    return tuple([_number(name, tonic, turns) for name, tonic in zip(names, tonics, strict=True)])


@lru_cache(maxsize=16384)
def _number(name: str, tonic: Pitch, turns: tuple[int, ...]) -> str:
    return _counted(name, tonic, turns).number


def _around(
    span: Span, chart: FoundChart, turns: Sequence[int], context: int
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The chords before and after a match in so many bars, counted from the tonics of its first and last chord."""
    first, last = span.events[0], span.events[-1]
    bars = chart.event_bars
    before = [event for event in range(first) if bars[event] >= span.from_bar - context]
    after = [event for event in range(last + 1, len(bars)) if bars[event] <= span.to_bar + context]

    def numbers(events: Sequence[int], tonic: Pitch) -> tuple[str, ...]:
        names = [chart.chords[event] for event in events]
        return tuple(each.number for each in counted(names, [tonic] * len(names), turns))

    return numbers(before, span.tonics[0]), numbers(after, span.tonics[-1])


def counted(names: Sequence[str], tonics: Sequence[Pitch], turns: Sequence[int] = (0,)) -> list[Numeral]:
    """Chords counted, the tonic of each moved by the turn (in fifths) that leaves the fewest signs."""
    return [_counted(name, tonic, tuple(turns)) for name, tonic in zip(names, tonics, strict=True)]


@lru_cache(maxsize=16384)
def _counted(name: str, tonic: Pitch, turns: tuple[int, ...]) -> Numeral:
    chord = read_chord(name)
    ways = (chord.counted(Pitch.at(tonic.fifths + turn)) for turn in turns)
    return min(ways, key=lambda numeral: abs(numeral.degree.alteration))
