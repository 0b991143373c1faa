"""A slow search that is meant to be obviously right: it referees the fast one.

Conventions:
    * It walks plain lists of chords, unfolded by ``tests.helpers.performance``: no regular expressions, no database,
      nothing of the fast search's own making.
    * Roots and basses are pitch classes; a count is the pitch class that stands for 1.
    * A way to match is a place in the list at which the search goes on. Ways come best first: each item as long as it
      can be, each group as often as it can, each gap with as few chords as it can; earlier choices weigh more.
    * A gap before which nothing has been taken stands at the start, and takes nothing there.
    * Near versions (``tests.helpers.near_places``) are laid along what is left of the list once nearer ones are taken
      out of it, and never across these.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from shared.chart import Chart
from shared.chord import Chord
from shared.key import Key
from shared.match import Count, Reach
from shared.pattern import Anchor, BarOf, Gap, Group, Item, Part, Pattern, Strength, Wanted
from shared.pitch import Degree, Pitch
from shared.quality import Family, Third
from tests.helpers.near_places import Place, shared_losses, versions
from tests.helpers.performance import Bounds, Performance, Played, Sounding, perform

MOST_IN_A_GAP = 4
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

    every: list[tuple[int, tuple[int, int], tuple[Count, int]]] = []
    for counted, one, bars in _counts(tune, pattern, reach):
        if count is not None and reach is Reach.KEY and counted is not count:
            continue
        for edits, span in _search(tune, bars, wordings, pattern.bars, one, strength, near):
            every.append((edits, span, (counted, one)))
    found: dict[tuple[int, int], tuple[Count, int]] = {}
    by_edits = [0] * (near + 1)
    for edits, span, told in sorted(every, key=lambda each: each[0]):
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
        for step in range(12):
            yield Count.TONIC, (tune.home.tonic.pitch_class + step) % 12, list(range(len(tune.bars)))
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


@dataclass(frozen=True)
class Way:
    """Where a match has got to.

    Attributes:
        next: What is taken next.
        begun: Whether a chord or an anchor has gone before.
    """

    next: int
    begun: bool = False


@dataclass(frozen=True)
class Taken:
    """A chord in a run, and what makes it part of it."""

    event: Sounding
    matched: bool
    companion: bool


@dataclass(frozen=True)
class Line:
    """What a pattern is laid along.

    Attributes:
        events: The chords; in the bar form those of the whole tune, to which the bars point.
        bars: The bars in the bar form, else None.
        one: The pitch class of 1.
        strength: How much must agree.
        wall: What stands here and behind is not taken; None for no such place.
        begins: Whether the tune's first sounding bar is in it: a chord that sounds on into another key begins the tune
            in the first of the two alone.
        ends: Whether the last one is.
        known: Runs that were worked out before, by item and beginning.
    """

    events: Sequence[Sounding]
    bars: Sequence[Played] | None
    one: int
    strength: Strength
    wall: int | None = None
    begins: bool = False
    ends: bool = False
    known: dict[tuple[Item, int], list[int]] = field(default_factory=dict)

    @property
    def places(self) -> Sequence[Bounds]:
        """What is taken one after the other."""
        return self.events if self.bars is None else self.bars

    @property
    def stop(self) -> int:
        """Where the places end that may be taken."""
        return len(self.places) if self.wall is None else self.wall

    def ways(self, parts: Iterable[Part], begin: Iterable[Way]) -> Iterator[Way]:
        """The ways of all the parts, one after the other, best first."""
        ways = iter(begin)
        for part in parts:
            ways = self._after(part, ways)
        return ways

    def _after(self, part: Part, before: Iterable[Way]) -> Iterator[Way]:
        """The ways of one part after each of the ways before it; one that has failed once would fail again."""
        seen: set[Way] = set()
        for way in before:
            for after in self._part(part, way):
                if after not in seen:
                    seen.add(after)
                    yield after

    def _part(self, part: Part, way: Way) -> Iterator[Way]:
        if isinstance(part, Item):
            for end in self._run_ends(part, way.next):
                yield Way(end, begun=True)
        elif isinstance(part, BarOf):
            assert self.bars is not None
            if way.next < self.stop and self._bar_holds([Place(part) for part in part.body], self.bars[way.next], 0, 0):
                yield Way(way.next + 1, begun=True)
        elif isinstance(part, Gap):
            yield from self._gap(way, MOST_IN_A_GAP, set())
        elif isinstance(part, Group):
            yield from self._group(part, way, 0, set())
        elif self._is_border(part, way.next):
            yield Way(way.next, begun=True)

    def _is_border(self, anchor: Anchor, place: int) -> bool:
        """Whether an anchor holds before a place: starts look at what comes next, ends at what went before."""
        if anchor in (Anchor.SECTION_START, Anchor.TUNE_START):
            if place == len(self.places):
                return False
            after = self.places[place]
            return self.begins and after.starts_tune if anchor is Anchor.TUNE_START else after.starts_section
        if place == 0:
            return False
        before = self.places[place - 1]
        return self.ends and before.ends_tune if anchor is Anchor.TUNE_END else before.ends_section

    def _gap(self, way: Way, most: int, tried: set[tuple[Way, int]]) -> Iterator[Way]:
        if (way, most) in tried:
            return
        tried.add((way, most))
        yield way
        if most and way.begun:
            for end in self._run_ends(Item((Wanted(),)), way.next):
                yield from self._gap(Way(end, begun=True), most - 1, tried)

    def _group(self, group: Group, way: Way, done: int, tried: set[tuple[Way, int]]) -> Iterator[Way]:
        if group.most is None:
            done = min(done, group.least)
        if (way, done) in tried:
            return
        tried.add((way, done))
        if group.most is None or done < group.most:
            for after in self.ways(group.body, [way]):
                if after.next > way.next or done < group.least:
                    yield from self._group(group, after, done + 1, tried)
        if done >= group.least:
            yield way

    def _bar_holds(self, inner: Sequence[Place], played: Played, edits: int, losses: int) -> bool:
        """Whether a bar holds just what is written, but for so many edits, and no silence."""
        if played.silent:
            return False
        held = [self.events[event] for event in played.events]
        inside = Line(held, None, self.one, self.strength)
        return any(way.next == len(held) for way in inside.edited(inner, edits, losses, Way(0, begun=True)))

    def edited(self, places: Sequence[Place], edits: int, losses: int, way: Way) -> Iterator[Way]:
        """The ways of some places with just so many edits, at most ``losses`` of which lose a chord, best first."""
        if edits == 0:
            yield from self.ways([place.part for place in places if place.part is not None], [way])
        elif len(places) == 1:
            yield from self._edited_place(places[0], edits, losses, way)
        else:
            half = len(places) // 2
            for early in range(edits + 1):
                for lost, others in shared_losses(early, edits - early, losses):
                    tried: set[Way] = set()
                    for after in self.edited(places[:half], early, lost, way):
                        if after not in tried:
                            tried.add(after)
                            yield from self.edited(places[half:], edits - early, others, after)

    def _edited_place(self, place: Place, edits: int, losses: int, way: Way) -> Iterator[Way]:
        if place.inner is not None:
            assert self.bars is not None
            if way.next < self.stop and self._bar_holds(place.inner, self.bars[way.next], edits, losses):
                yield Way(way.next + 1, begun=True)
            return
        left = self.stop - way.next
        if place.put_in and edits <= left:
            behind = Way(way.next + edits, begun=True)
            yield from self.ways([] if place.part is None else [place.part], [behind])
        if place.swapped and losses and edits <= left and (place.put_in or edits == 1):
            yield Way(way.next + edits, begun=True)
        if place.left_out and losses and edits == 1:
            yield way

    def _run_ends(self, item: Item, begin: int) -> list[int]:
        """Where a run of chords that the item takes may end, the longest first."""
        if (item, begin) in self.known:
            return self.known[item, begin]
        run: list[Taken] = []
        ends: list[int] = []
        for event in self.events[begin : self.stop]:
            if run and event.root != run[0].event.root and event.bass != run[0].event.bass:
                break
            matched = any(self._matches(wanted, event) for wanted in item.alternatives)
            run.append(Taken(event, matched, self._goes_along(item, event)))
            if self._is_run(item, run):
                ends.insert(0, begin + len(run))
            if self.strength is Strength.EXACT:
                break
        self.known[item, begin] = ends
        return ends

    def _is_run(self, item: Item, run: list[Taken]) -> bool:
        """Whether the item takes just these chords.

        They are all on one root, each matched or a companion; or, for an item that asks for basses alone, all over one
        of them.
        """
        if not any(chord.matched for chord in run):
            return False
        if all(wanted.bare_bass for wanted in item.alternatives):
            return all(chord.matched and chord.event.bass == run[0].event.bass for chord in run)
        return all((chord.matched or chord.companion) and chord.event.root == run[0].event.root for chord in run)

    def _goes_along(self, item: Item, event: Sounding) -> bool:
        """Whether a chord is a companion: it has no third, and an alternative for its root allows its bass."""
        if self.strength is not Strength.FAMILY or event.chord.quality.third is not Third.NONE:
            return False
        return any(
            (w.root is None or self._pitch(w.root) == event.root)
            and (w.bass is None or self._pitch(w.bass) == event.bass)
            for w in item.alternatives
        )

    def _matches(self, wanted: Wanted, event: Sounding) -> bool:
        """Whether a chord is what one alternative asks for."""
        if wanted.bare_bass:
            return event.bass == self._pitch(wanted.bass)
        if wanted.root is not None and event.root != self._pitch(wanted.root):
            return False
        if self.strength is Strength.LOOSE:
            return True
        if self.strength is Strength.EXACT:
            return self._is_exactly(wanted, event)
        if wanted.bass is not None and event.bass != self._pitch(wanted.bass):
            return False
        return _of_the_family(wanted, event.chord)

    def _is_exactly(self, wanted: Wanted, event: Sounding) -> bool:
        if wanted == Wanted():
            return True
        if event.bass != (event.root if wanted.bass is None else self._pitch(wanted.bass)):
            return False
        quality = event.chord.quality
        if wanted.quality is None:
            plain = (0, 3, 7) if wanted.third is Third.MINOR else (0, 4, 7)
            family = Family.MINOR if wanted.third is Third.MINOR else Family.MAJOR
            return quality.mask == sum(1 << tone for tone in plain) and quality.family is family
        return (quality.mask, quality.family) == (wanted.quality.mask, wanted.quality.family)

    def _pitch(self, degree: Degree | Pitch | None) -> int:
        """The pitch class of a degree in this count."""
        assert isinstance(degree, Degree)
        return (self.one + degree.semitones) % 12


def _of_the_family(wanted: Wanted, chord: Chord) -> bool:
    third = chord.quality.third
    if wanted.quality is None:
        return wanted.third is None or third in (wanted.third, Third.NONE)
    family = chord.quality.family
    if family is wanted.family:
        return True
    return third is Third.NONE and family is Family.DOMINANT and wanted.family is Family.SUSPENDED


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
    """The places as written, each once: the same bars and the same chords, counted alike."""
    times: dict[tuple[Count, str | None, int, int, tuple[object, ...]], int] = {}
    for (first, last), (count, one) in found.items():
        begin: Sounding | Played
        end: Sounding | Played
        if in_bars:
            begin, end = tune.bars[first], tune.bars[last]
            events = sorted({event for bar in tune.bars[first : last + 1] for event in bar.events})
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
