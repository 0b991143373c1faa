"""Charts as bars to be drawn: a whole tune as written, and the places of a match in their context as played.

Conventions: ``writing`` is ``numbers`` or ``roman``. Written bars count from 1, played bars and events from 0, as in
``shared.tune``.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from corpus.tunes import PlayedChart
from grammar.symbols import read_chord
from shared.chart import Bar, Chart, Repeat
from shared.chord import Chord, Numeral
from shared.key import Key
from shared.match import Count, Place, Reach
from shared.pitch import CHROMATIC, Pitch
from shared.tune import PlayedBar, Tune
from ui.chart_html import BarBox, ChordBox, columns_for
from ui.showing import ShownBar, ShownTune, shown

NO_CHORD = "N.C."
#: Bars shown before and after a match.
CONTEXT = 2
#: Places that are close are shown in one run of bars, up to about this many.
_LONGEST_RUN = 12


@dataclass(frozen=True, slots=True)
class Sheet:
    """Bars under one heading.

    Attributes:
        label: The label of the section, or where a match stands; empty where there is none.
        boxes: The bars.
        columns: How many make a row.
        words: Words that stand before the first bar.
    """

    label: str
    boxes: tuple[BarBox, ...]
    columns: int = 4
    words: str = ""


@dataclass(frozen=True, slots=True)
class Located:
    """A place of a match in a tune as played: its first playing.

    Attributes:
        place: The place.
        first: The played bar in which it begins.
        last: The played bar in which its last chord begins.
        events: The events that it takes.
    """

    place: Place
    first: int
    last: int
    events: frozenset[int]


def figure(numeral: Numeral, writing: str) -> str:
    """A numeral as the reader wants it written."""
    return numeral.roman if writing == "roman" else numeral.number


def spelled(chord: Chord) -> str:
    """A chord's notes, the bass first."""
    return " ".join(map(str, chord.notes))


def written_sheets(
    one: PlayedChart, tune: ShownTune, writing: str, *, notes: bool = False, marked: Collection[int] = ()
) -> list[Sheet]:
    """A whole tune as written, section by section.

    Args:
        one: The chart.
        tune: The same, ready to be shown in some key.
        writing: How degrees are written.
        notes: Whether each chord's notes stand under it.
        marked: Written bars that are marked as part of a match.
    """
    bars = {bar.bar: bar for bar in tune.bars}
    signs = _repeat_signs(one.chart)
    sheets = []
    before: tuple[ShownBar, Bar] | None = None
    for section in one.chart.sections:
        boxes = []
        for bar in section.bars():
            shown_bar = bars[bar.number]
            box = replace(
                signs[bar.number],
                chords=_chords(shown_bar, writing, notes),
                signs=(*_changes(before, shown_bar, bar), *signs[bar.number].signs),
                words=bar.words,
                measured=bar.measured,
                starts_line=before is None or before[1].line != bar.line,
                matched=bar.number in marked,
            )
            boxes.append(box)
            before = shown_bar, bar
        if boxes or section.label or section.words:
            sheets.append(_laid_out(section.label or "", boxes, section.words))
    return sheets


def _laid_out(label: str, boxes: Sequence[BarBox], words: str) -> Sheet:
    columns, lines = columns_for(boxes)
    kept = tuple(box if lines else replace(box, starts_line=False) for box in boxes)
    return Sheet(label, kept, columns, words)


def _changes(before: tuple[ShownBar, Bar] | None, shown_bar: ShownBar, bar: Bar) -> Iterator[str]:
    """What is said at the head of a bar: a key or metre that differs from the bar before, a bar written as a repeat."""
    if before is not None and before[0].key != shown_bar.key:
        yield f"key {shown_bar.key}"
    if bar.own_metre or (before is not None and not before[1].own_metre and before[0].metre != shown_bar.metre):
        yield f"({shown_bar.metre})" if bar.own_metre else shown_bar.metre
    if bar.again:
        yield "%" if bar.again == 1 else "%2"


def _chords(bar: ShownBar, writing: str, notes: bool = False) -> tuple[ChordBox, ...]:
    return tuple(
        ChordBox(NO_CHORD, beats=cell.beats, held=not cell.struck, column=cell.column)
        if cell.chord is None
        else ChordBox(
            cell.chord.name,
            figure(cell.chord.numeral, writing),
            spelled(cell.chord.chord) if notes else "",
            cell.beats,
            not cell.struck,
            column=cell.column,
        )
        for cell in bar.cells
    )


def _repeat_signs(chart: Chart) -> dict[int, BarBox]:
    """Every written bar with its repeat signs and nothing else."""
    signs: dict[int, BarBox] = {}
    for section in chart.sections:
        _sign(section.body, signs)
    return signs


def _sign(body: Sequence[Bar | Repeat], signs: dict[int, BarBox]) -> tuple[int, int]:
    """Puts signs to the bars of a body; the numbers of its first and last bar."""
    numbers: list[int] = []
    for item in body:
        if isinstance(item, Bar):
            signs[item.number] = BarBox(item.number, ())
            numbers.append(item.number)
            continue
        first, last = _sign(item.body, signs)
        numbers += [first, last]
        signs[first] = replace(signs[first], opens=True)
        if not item.endings:
            signs[last] = replace(signs[last], closes=item.times)
        for ending in item.endings:
            begin, end = _sign(ending.body, signs)
            numbers += [begin, end]
            names = ", ".join(map(str, ending.numbers))
            signs[begin] = replace(signs[begin], signs=(f"{names}.",))
            if max(ending.numbers) < item.times:
                signs[end] = replace(signs[end], closes=2)
    return numbers[0], numbers[-1]


def located(tune: Tune, place: Place, by_bars: bool) -> Located | None:
    """Where a place stands in the tune as played; None where the chart has changed since it was indexed.

    Args:
        tune: The tune.
        place: The place, as the index has it.
        by_bars: Whether the pattern was searched bar by bar.
    """
    if by_bars:
        return _located_bars(tune, place)
    count = len(place.chords)
    for start, event in enumerate(tune.events):
        taken = tune.events[start : start + count]
        ends = taken[-1].bar == place.to_bar
        if event.bar == place.from_bar and ends and tuple(each.written for each in taken) == place.chords:
            return Located(place, event.played, taken[-1].played, frozenset(range(start, start + count)))
    return None


def _located_bars(tune: Tune, place: Place) -> Located | None:
    for first, bar in enumerate(tune.bars):
        if bar.bar != place.from_bar:
            continue
        events: list[int] = []
        for last, other in enumerate(tune.bars[first:], first):
            events += other.events
            if other.bar == place.to_bar and tuple(tune.events[each].written for each in events) == place.chords:
                return Located(place, first, last, frozenset(events))
            if len(events) > len(place.chords):
                break
    return None


@dataclass(slots=True)
class _Window:
    """Played bars to be shown, the matches in them, and what they are counted from (None: as the tune is shown)."""

    first: int
    last: int
    tonic: Pitch | None
    matches: list[Located] = field(default_factory=list)


def context_sheets(
    one: PlayedChart, path: str, places: Sequence[Located], writing: str, count: Count, reach: Reach
) -> list[Sheet]:
    """The places of a match, each with a few bars before and after, as played; places that are close are joined.

    Args:
        one: The chart.
        path: Its path.
        places: The places.
        writing: How degrees are written.
        count: What the match counted minor keys from.
        reach: Where the pattern might stand; anywhere, the numbers are counted from the centre of each match.
    """
    tune = shown(one, path, None, count)
    windows: list[_Window] = []
    for each in sorted(places, key=lambda found: (found.first, found.last)):
        tonic = centre_of(each.place, one.tune.key) if reach is Reach.ANYWHERE else None
        first, last = max(0, each.first - CONTEXT), min(len(tune.played) - 1, each.last + CONTEXT)
        before = windows[-1] if windows else None
        if before is None or tonic != before.tonic or first > before.last + 1:
            windows.append(_Window(first, last, tonic))
        elif each.first > before.last and before.last - before.first >= _LONGEST_RUN - 1:
            windows.append(_Window(before.last + 1, last, tonic))
        else:
            before.last = max(before.last, last)
        windows[-1].matches.append(each)
    return [_context(one.tune, tune, window, writing) for window in windows]


def centre_of(place: Place, home: Key) -> Pitch | None:
    """The tonic that the chords of a place were counted from, named from the home tonic; None where there is none."""
    chords = [read_chord(name) for name in place.chords]
    for degree in CHROMATIC:
        tonic = home.tonic.up(degree)
        if all(c.counted(tonic).number == number for c, number in zip(chords, place.numbers, strict=True)):
            return tonic
    return None


def _context(tune: Tune, drawn: ShownTune, window: _Window, writing: str) -> Sheet:
    boxes = []
    for position in range(window.first, window.last + 1):
        played, bar = tune.bars[position], drawn.played[position]
        before = tune.bars[position - 1] if position > window.first else None
        through = [each for each in window.matches if each.first <= position <= each.last]
        taken = frozenset[int]().union(*(each.events for each in through))
        fresh = before is None or before.playing != played.playing or before.section != played.section
        jumps = before is not None and played.bar != before.bar + 1 and not fresh
        key = before is not None and drawn.played[position - 1].key != bar.key
        boxes.append(
            BarBox(
                bar.bar,
                _taken_chords(played, bar, tune, taken, window.tonic, writing),
                label=(bar.section or "") if fresh else "",
                signs=(*(["repeat"] if jumps else []), *([f"key {bar.key}"] if key else [])),
                words=bar.words,
                measured=bar.measured,
                matched=bool(through),
                match_starts=any(each.first == position for each in through),
                match_ends=any(each.last == position for each in through),
            )
        )
    return Sheet(_said([each.place for each in window.matches]), tuple(boxes))


def _said(places: Sequence[Place]) -> str:
    """Places in words, such as ``Verse, bars 3–6, 7–10 (5 left out); Chorus, bar 12, played twice``."""
    parts = []
    for (section, times), group in groupby(places, key=lambda place: (place.section, place.times)):
        ranges = {_range(place): "; ".join(place.differs) for place in group}
        listed = [f"{bars} ({differs})" if differs else bars for bars, differs in ranges.items()]
        bars = f"{'bar' if len(ranges) == 1 and next(iter(ranges)).isdecimal() else 'bars'} {', '.join(listed)}"
        often = "" if times == 1 else ", played twice" if times == 2 else f", played {times} times"
        parts.append(f"{section}, {bars}{often}" if section else f"{bars}{often}")
    said = "; ".join(parts)
    return said[:1].upper() + said[1:]


def _range(place: Place) -> str:
    """The bars of a place; where it runs over a repeat, the second number is the smaller."""
    if place.from_bar == place.to_bar:
        return str(place.from_bar)
    return f"{place.from_bar}{'–' if place.from_bar < place.to_bar else ' round to '}{place.to_bar}"


def _taken_chords(
    played: PlayedBar, bar: ShownBar, tune: Tune, taken: Collection[int], tonic: Pitch | None, writing: str
) -> tuple[ChordBox, ...]:
    """The chords of a played bar, those that a match takes marked, counted from ``tonic`` where one is given."""
    boxes = []
    at = -1
    sound = None
    for cell, box in zip(bar.cells, _chords(bar, writing), strict=True):
        if cell.chord is None:
            boxes.append(box)
            continue
        # Neighbours that sound alike are one event, as they are joined when the tune is unfolded.
        if cell.chord.chord.sound != sound:
            at += 1
        sound = cell.chord.chord.sound
        number = box.number if tonic is None else figure(cell.chord.chord.counted(tonic), writing)
        boxes.append(replace(box, number=number, taken=played.events[at] in taken))
    return tuple(boxes)


def place_alone(place: Place, home: Key, writing: str) -> Sheet:
    """A place by what the index says alone, for a chart that has changed since."""
    tonic = centre_of(place, home) or centre_of(place, home.relative_major)
    boxes = []
    for name, number in zip(place.chords, place.numbers, strict=True):
        shown_number = number if tonic is None else figure(read_chord(name).counted(tonic), writing)
        boxes.append(ChordBox(name, shown_number, taken=True))
    box = BarBox(place.from_bar, tuple(boxes), matched=True, match_starts=True, match_ends=True)
    return Sheet(_said([place]), (box,))
