"""A slow search that is meant to be obviously right: it referees the fast one.

Conventions:
    * It walks plain lists of chords, unfolded by ``tests.helpers.performance``: no regular expressions, no database,
      nothing of the fast search's own making.
    * A count is the pitch class that stands for 1.
    * How a pattern is laid along the list is in ``tests.helpers.referee_line``.
    * Near versions (``tests.helpers.near_places``) are laid along what is left of the list once nearer ones are taken
      out of it, and never across these.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from shared.chart import Chart
from shared.key import Key
from shared.match import Count, Reach
from shared.pattern import Item, Part, Pattern, Strength
from tests.helpers.near_places import versions
from tests.helpers.performance import Performance, Played, Sounding, perform
from tests.helpers.referee_line import Line, Way

RELATIVE_MINOR = 9  # semitones from the tonic of a major key up to the tonic of its relative minor

PlaceFound = tuple[str | None, int, int, int]


@dataclass(frozen=True)
class RefereeAnswer:
    """How often a pattern is played in a chart, and where it stands as written.

    Attributes:
        matches: How often, as played.
        places: For each count under which something was found: section, first bar, last bar, times; in that order.
        by_edits: How many of the matches are no edit away, one edit, and so on.
    """

    matches: int
    places: dict[Count, list[PlaceFound]]
    by_edits: tuple[int, ...] = field(default=(), compare=False)


def referee(
    chart: Chart,
    pattern: Pattern,
    strength: Strength,
    reach: Reach,
    rotate: bool = False,
    count: Count | None = None,
    found_keys: Key | Sequence[Key] | None = None,
    near: int = 0,
) -> RefereeAnswer:
    """Search one chart for one pattern.

    Args:
        chart: The chart.
        pattern: The pattern, counted.
        strength: How much must agree.
        reach: In the key, or about any tonal centre.
        rotate: Whether any rotation of the parts at the top will do.
        count: Asked under this count alone; None for both. Elsewhere than in the key there is but one.
        found_keys: The key of the bars above which no key is written: one, or one for each played bar.
        near: How many edits away a version may be; of one place found in several counts the nearest stays.

    Raises:
        ValueError: If the pattern has chord names, or a bar has no key and none is given.
    """
    if pattern.named:
        raise ValueError("count a pattern of chord names first")
    tune = perform(chart, found_keys)
    wordings = _rotations(pattern.parts) if rotate else [pattern.parts]

    every: list[tuple[int, int, tuple[int, int], tuple[Count, int]]] = []
    kinds: dict[object, int] = {}
    for counted, one, bars in _counts(tune, pattern, reach):
        if count is not None and reach is Reach.KEY and counted is not count:
            continue
        kind = kinds.setdefault(one if reach is Reach.ANYWHERE else counted, len(kinds))
        for edits, span in _search(tune, bars, wordings, pattern.bars, one, strength, near):
            every.append((edits, kind, span, (counted, one)))
    # Near versions count where the tune comes nearest: under one count, or about one centre.
    nearest = min(((edits, kind) for edits, kind, *_ in every), default=(0, 0))[1]
    every = [each for each in every if each[0] == 0 or each[1] == nearest]
    found: dict[tuple[int, int], tuple[Count, int]] = {}
    by_edits = [0] * (near + 1)
    for edits, _, span, told in sorted(every, key=lambda each: each[0]):
        if span not in found:
            found[span] = told
            by_edits[edits] += 1
    return RefereeAnswer(len(found), _places(tune, found, pattern.bars), tuple(by_edits))


# Counts


def _counts(tune: Performance, pattern: Pattern, reach: Reach) -> Iterator[tuple[Count, int, list[int]]]:
    """What to search: a count, the pitch class that is 1 in it, and the played bars it is asked of."""
    if not tune.bars:
        return
    if reach is Reach.ANYWHERE:
        # A tune that is all in one key is at home there, whatever its header says.
        heard = [run for run in tune.key_runs if any(tune.bars[bar].events for bar in run)]
        home = tune.bars[heard[0][0]].key if len(heard) == 1 else tune.home
        for step in range(12):
            yield Count.TONIC, (home.tonic.pitch_class + step) % 12, list(range(len(tune.bars)))
        return
    for run in tune.key_runs:
        yield Count.TONIC, tune.bars[run[0]].key.tonic.pitch_class, run
    for run in tune.key_runs:
        key = tune.bars[run[0]].key
        if key.minor_third:
            yield Count.RELATIVE, key.relative_major.tonic.pitch_class, run
        elif pattern.minor_one:
            # The 1 of the pattern is the 6 of the key.
            yield Count.RELATIVE, (key.tonic.pitch_class + RELATIVE_MINOR) % 12, run


# Searching


def _search(
    tune: Performance,
    bars: list[int],
    wordings: list[tuple[Part, ...]],
    in_bars: bool,
    one: int,
    strength: Strength,
    near: int,
) -> Iterator[tuple[int, tuple[int, int]]]:
    """First and last event (bar in the bar form) of every match in these bars, from the left, and its edits.

    Exact matches come first, then those one edit away in what is left, and so on.
    """
    if in_bars:
        numbers = bars
        events: Sequence[Sounding] = tune.events
        places: Sequence[Played] | None = [tune.bars[number] for number in numbers]
    else:
        numbers = sorted({event for bar in bars for event in tune.bars[bar].events})
        events, places = [tune.events[number] for number in numbers], None
    free = [True] * len(numbers)
    sounding = [number for number, bar in enumerate(tune.bars) if bar.events]
    begins, ends = (sounding[place] in bars if sounding else False for place in (0, -1))
    for edits in range(near + 1):
        start = 0
        while start < len(numbers):
            wall = next((place for place in range(start, len(numbers)) if not free[place]), len(numbers))
            line = Line(events, places, one, strength, wall, begins or in_bars, ends or in_bars)
            while start < wall:
                end = _match(line, wordings, start, edits)
                if end is None:
                    start += 1
                    continue
                free[start:end] = [False] * (end - start)
                yield edits, (numbers[start], numbers[end - 1])
                start = end
            start += 1


def _match(line: Line, wordings: list[tuple[Part, ...]], start: int, edits: int) -> int | None:
    """Where the best match that begins at a place, so many edits away, ends."""
    for parts in wordings:
        for way in _versions(line, parts, start, edits):
            if way.next > start:
                return way.next
    return None


def _versions(line: Line, parts: tuple[Part, ...], start: int, edits: int) -> Iterator[Way]:
    """The ways of all versions that many edits away, best first."""
    if edits == 0:
        yield from line.ways(parts, [Way(start)])
        return
    near = versions(parts, edits)
    yield from line.edited(near.places, edits, near.losses, Way(start))


def _rotations(parts: tuple[Part, ...]) -> list[tuple[Part, ...]]:
    """The parts begun at each of them in turn, each wording once; neighbours that can only be one chord are one."""
    wordings: list[tuple[Part, ...]] = []
    for begin in range(len(parts)):
        turned: list[Part] = []
        for part in parts[begin:] + parts[:begin]:
            if not (isinstance(part, Item) and part.one_chord and turned and turned[-1] == part):
                turned.append(part)
        if tuple(turned) not in wordings:
            wordings.append(tuple(turned))
    return wordings


def _places(
    tune: Performance, found: dict[tuple[int, int], tuple[Count, int]], in_bars: bool
) -> dict[Count, list[PlaceFound]]:
    """The places as written, each once: the same bars and the same chords (bar by bar for bars), counted alike."""
    times: dict[tuple[Count, str | None, int, int, tuple[object, ...]], int] = {}
    for (first, last), (count, one) in found.items():
        begin: Sounding | Played
        end: Sounding | Played
        if in_bars:
            begin, end = tune.bars[first], tune.bars[last]
            events = [event for bar in tune.bars[first : last + 1] for event in bar.events]
        else:
            begin, end = tune.events[first], tune.events[last]
            events = list(range(first, last + 1))
        chords = [(tune.events[event].written, tune.events[event].chord.sound) for event in events]
        place = (count, begin.section, begin.bar, end.bar, (one, *chords))
        times[place] = times.get(place, 0) + 1
    places: dict[Count, list[PlaceFound]] = {}
    for (count, section, from_bar, to_bar, _), played in times.items():
        places.setdefault(count, []).append((section, from_bar, to_bar, played))
    for each in places.values():
        each.sort(key=lambda found: found[1:])
    return places
