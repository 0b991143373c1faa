"""What the index keeps of a chart as it is played, put together section by section.

``columns_of_tune`` says what that is: the strings of ``corpus.codes``, the chords as written, and where they stand. For
charts that stay in one key, which most do, ``played_columns`` gives the very same without making the tune: what a bar
holds is coded once for each tonic and remembered, a section is put together once, and sections are joined as often as
they are played. Only a chord that sounds across a border belongs to both sides.

Conventions: as in ``shared.tune``; roots are pitch classes.
"""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from typing import NamedTuple

from corpus.codes import BAR_BEGINS, BAR_ENDS, SECTION_ENDS, SECTION_STARTS, SILENCE, chord_code, coded, moved
from corpus.key_finding import FoundKey, FoundStretch
from corpus.tunes import PlayedChart, played, played_in, stretches_of
from corpus.unfolding import played_parts, shown_name
from corpus.unpacking import names_in_short
from shared.chart import Bar, Cell, Chart
from shared.key import Key, Mode

#: The counts in the order of ``PlayedColumns.strings``.
COUNTS = ("tonic", "relative", "major", "fixed")
#: So many bars are remembered for one tonic.
_MOST_REMEMBERED = 16384


#: How a chord sounds, as ``Chord.sound`` has it: the root first.
Sound = tuple[int, int, int, str]


class PlayedKey(NamedTuple):
    """The home key, whether it was found rather than written, and then the keys it may be, likeliest first."""

    key: Key
    found: bool
    keys: tuple[FoundKey, ...] = ()


class PlayedColumns(NamedTuple):
    """What the index keeps of a chart as it is played.

    Attributes:
        home: The home key.
        strings: For each of ``COUNTS`` the string of chords and the one of bars, None where there is none.
        minor: Whether all of it is in one natural minor key, so that the count from the relative major is left out.
        names: The chords as written (see ``corpus.unpacking``).
        events: How many there are as played.
        bars: For each played bar its number as written.
        begun: For each played bar how many events begin in it.
        segments: The keys that the tune passes through, each with its first and last event and its first and last
            played bar.
        first: The root of the first event, -1 where there is none.
        last: The root of the last one.
    """

    home: PlayedKey
    strings: Sequence[str | None]
    minor: bool
    names: str
    events: int
    bars: array[int]
    begun: array[int]
    segments: Sequence[tuple[Key, tuple[int, int, int, int]]]
    first: int
    last: int


def columns_of_tune(one: PlayedChart) -> PlayedColumns:
    """What the index keeps of a chart that has been made into its tune."""
    tune, events = one.tune, one.tune.events
    begun = array("H", bytes(2 * len(tune.bars)))
    for event in events:
        begun[event.played] += 1
    made = coded(tune)
    strings: list[str | None] = []
    for count in COUNTS:
        each = getattr(made, count)
        strings += (each.chords, each.bars) if each else (None, None)
    minor = bool(events) and len(tune.segments) == 1 and tune.segments[0].key.mode is Mode.MINOR
    if minor:
        strings[2:6] = [None] * 4
    names = " ".join([event.written for event in events])
    return PlayedColumns(
        PlayedKey(tune.key, tune.key_found, one.found),
        strings,
        minor,
        names_in_short(names, (made.fixed or made.tonic).chords),
        len(events),
        array("H", [bar.bar for bar in tune.bars]),
        begun,
        [(each.key, (each.first, each.last, each.from_bar, each.to_bar)) for each in tune.segments],
        events[0].chord.root.pitch_class if events else -1,
        events[-1].chord.root.pitch_class if events else -1,
    )


def played_columns(chart: Chart, stretches: tuple[FoundStretch, ...] = ()) -> PlayedColumns:
    """What the index keeps of a chart, its keys found where none are written.

    Args:
        chart: The chart.
        stretches: What was found for the bars without a written key; found here where empty.

    Raises:
        ValueError: If the chart has no chord at all (reading makes that a fault).
    """
    parts = played_parts(chart)
    key = next((bars[0].key for bars in parts if bars), None)
    if [bar for bars in parts for bar in bars if bar.key is not key]:
        return columns_of_tune(played_in(chart, stretches) if stretches else played(chart))
    if key is not None:
        return _in_one_key(parts, key, PlayedKey(chart.key or key, False))
    stretches = stretches or stretches_of(chart)
    if len(stretches) > 1 or chart.key is not None:
        return columns_of_tune(played_in(chart, stretches))
    return _in_one_key(parts, stretches[0].key, PlayedKey(stretches[0].key, True, stretches[0].keys))


def _in_one_key(parts: Sequence[Sequence[Bar]], key: Key, home: PlayedKey) -> PlayedColumns:
    tonic = key.tonic.pitch_class
    made: dict[int, _Part] = {}
    for bars in parts:
        if id(bars) not in made:
            made[id(bars)] = _part(bars, tonic)
    codes, bar_codes, names, numbers, begun = _joined([made[id(bars)] for bars in parts])
    events = sum(begun)
    # Silence throughout has no segment, and so no strings.
    strings: list[str | None] = [codes, bar_codes if events else "", None, None, None, None, None, None]
    minor = bool(events) and key.mode is Mode.MINOR
    if key.minor_third and events and not minor:
        up = tonic - key.relative_major.tonic.pitch_class
        strings[2:6] = moved(codes, up), moved(bar_codes, up), "", ""
    segments = [(key, (0, events - 1, 0, len(numbers) - 1))] if events else []
    ends = [made[id(bars)] for bars in parts]
    first = next((part.first[0] for part in ends if part.first), -1)
    last = next((part.last[0] for part in reversed(ends) if part.last), -1)
    short = names_in_short(names, codes)
    return PlayedColumns(home, strings, minor, short, events, numbers, begun, segments, first, last)


class _Inside(NamedTuple):
    """What a bar holds, counted from one tonic.

    Attributes:
        cells: Its cells, kept so that no others can have their identity.
        first: How its first event sounds (see ``Chord.sound``), None where nothing sounds.
        last: How its last event sounds.
        events: How many there are.
        names: Their chords as written.
        later_names: The same without the first.
        codes: Their codes.
        bar: The bar as a string.
    """

    cells: tuple[Cell, ...]
    first: Sound | None
    last: Sound | None
    events: int
    names: str
    later_names: str
    codes: str
    bar: str


def _inside(cells: tuple[Cell, ...], tonic: int) -> _Inside:
    sounds: list[Sound] = []
    names, codes = [], []
    silent = False
    for cell in cells:
        if cell.chord is None:
            silent = True
        elif not sounds or cell.chord.sound != sounds[-1]:
            sounds.append(cell.chord.sound)
            names.append(shown_name(cell))
            codes.append(chord_code(cell.chord, tonic))
    joined = "".join(codes)
    bar = f"{BAR_BEGINS}{SILENCE if silent else joined}{BAR_ENDS}"
    first, last = (sounds[0], sounds[-1]) if sounds else (None, None)
    return _Inside(cells, first, last, len(sounds), " ".join(names), " ".join(names[1:]), joined, bar)


#: Bars met before, for each tonic by the identity of their cells: music repeats itself.
_INSIDES: dict[int, dict[int, _Inside]] = {tonic: {} for tonic in range(12)}


class _Part(NamedTuple):
    """One playing of a section by itself.

    Attributes:
        first: How its first event sounds, None where nothing sounds.
        last: How its last event sounds.
        codes: The codes of its events.
        names: Their chords as written.
        bar_codes: Its bars as one string.
        bars: The bars' numbers as written.
        begun: For each bar how many events begin in it.
        first_at: The bar in which the first event begins, from 0.
    """

    first: Sound | None
    last: Sound | None
    codes: str
    names: str
    bar_codes: str
    bars: array[int]
    begun: array[int]
    first_at: int


def _part(bars: Sequence[Bar], tonic: int) -> _Part:
    known = _INSIDES[tonic]
    if len(known) > _MOST_REMEMBERED:
        known.clear()
    first: Sound | None = None
    sounding: Sound | None = None
    first_at = 0
    codes: list[str] = []
    names: list[str] = []
    bar_codes: list[str] = []
    begun: list[int] = []
    for bar in bars:
        inside = known.get(id(bar.cells))
        if inside is None:
            inside = known[id(bar.cells)] = _inside(bar.cells, tonic)
        _, begins, ends, events, name, later, code, bar_code = inside
        bar_codes.append(bar_code)
        if events:
            if sounding is None:
                first, first_at = begins, len(begun)
            if begins != sounding:
                codes.append(code)
                names.append(name)
            else:
                events -= 1
                if events:
                    codes.append(code[1:])
                    names.append(later)
            sounding = ends
        begun.append(events)
    numbers = array("H", [bar.number for bar in bars])
    return _Part(
        first,
        sounding,
        "".join(codes),
        " ".join(names),
        "".join(bar_codes),
        numbers,
        array("H", begun),
        first_at,
    )


def _joined(parts: Sequence[_Part]) -> tuple[str, str, str, array[int], array[int]]:
    """Sections as they follow each other: codes, bars as codes, names, bars and how many events begin in them.

    The last event of a section is held back until it is clear whether it sounds on into the next one.
    """
    codes: list[str] = []
    names: list[str] = []
    bar_codes: list[str] = []
    bars, begun = array("H"), array("H")
    held, starts = "", ""
    sounding: Sound | None = None
    for part in parts:
        if not part.bars:
            continue
        bar_codes += (SECTION_STARTS, part.bar_codes, SECTION_ENDS)
        own, name = part.codes, part.names
        bars += part.bars
        begun += part.begun
        if not own:
            continue
        if part.first == sounding:
            begun[len(begun) - len(part.begun) + part.first_at] -= 1
            starts = SECTION_STARTS
            if len(own) == 1:
                continue
            codes += (starts, held, SECTION_ENDS, own[1:-1])
            name = name.partition(" ")[2]
            starts = ""
        else:
            if held:
                codes += (starts, held, SECTION_ENDS)
            starts = SECTION_STARTS if len(own) == 1 else ""
            if len(own) > 1:
                codes += (SECTION_STARTS, own[:-1])
        names.append(name)
        held, sounding = own[-1], part.last
    if held:
        codes += (starts, held, SECTION_ENDS)
    return "".join(codes), "".join(bar_codes), " ".join(names), bars, begun
