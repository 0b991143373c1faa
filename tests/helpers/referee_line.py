"""How the referee of the search lays a pattern along a plain list of chords or bars.

Conventions:
    * Roots and basses are pitch classes.
    * A way to match is a place in the list at which the search goes on. Ways come best first: each item as long as it
      can be, each group as often as it can, each gap with as few chords as it can; earlier choices weigh more.
    * A gap before which nothing has been taken stands at the start, and takes nothing there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from shared.chord import Chord
from shared.pattern import Anchor, BarOf, Gap, Group, Item, Part, Strength, Wanted
from shared.pitch import Degree, Pitch
from shared.quality import Family, Third
from tests.helpers.near_places import Place, shared_losses
from tests.helpers.performance import Bounds, Played, Sounding

MOST_IN_A_GAP = 4
ANY = Item((Wanted(),))


class Way(NamedTuple):
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
        known: Runs that were worked out before, by the item (as an object) and their beginning; with the item.
    """

    events: Sequence[Sounding]
    bars: Sequence[Played] | None
    one: int
    strength: Strength
    wall: int | None = None
    begins: bool = False
    ends: bool = False
    known: dict[tuple[int, int], tuple[Item, list[int]]] = field(default_factory=dict)

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
            for end in self._run_ends(ANY, way.next):
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
        before = self.known.get((id(item), begin))
        if before is not None:
            return before[1]
        run: list[Taken] = []
        ends: list[int] = []
        for event in self.events[begin : self.stop]:
            if run and event.root != run[0].event.root and event.bass != run[0].event.bass:
                break
            matched = any(self._matches(wanted, event) for wanted in item.alternatives)
            run.append(Taken(event, matched, self._goes_along(item, event)))
            if not (matched or run[-1].companion):
                # No run goes on over a chord that is neither.
                break
            if self._is_run(item, run):
                ends.insert(0, begin + len(run))
            if self.strength is Strength.EXACT:
                break
        self.known[id(item), begin] = item, ends
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
