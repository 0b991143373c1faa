"""Says in words what a near match has otherwise than its pattern, and what that costs.

The chords that a match takes are laid along the pattern with the fewest and cheapest edits that explain them (dynamic
programming over the parts still to come and the chords already used). What an edit is, and where one may stand, is told
in ``search.nearness``; what it costs in ``search.substitutions``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import NamedTuple

from corpus.codes import BAR_BEGINS, BAR_ENDS, SECTION_ENDS, SECTION_STARTS
from search.borders import BORDER_SIGNS, NONE, anchors_at
from search.expressions import Compiler
from search.nearness import MOST_EDITS
from search.places import counted, numbered
from search.substitutions import LEFT_OUT, PUT_IN, Swap, swap
from shared.chord import Numeral
from shared.pattern import Anchor, BarOf, Group, Item, Part, Pattern, Strength, Wanted
from shared.pitch import CHROMATIC, Degree, Pitch
from shared.quality import Third
from shared.quality_names import quality_name

#: So many different matches of one pattern are remembered.
_MOST_KNOWN = 4096


class NoSuchVersion(ValueError):
    """No version of a pattern that is near enough takes the chords."""


@dataclass(frozen=True, slots=True)
class Differences:
    """How a match differs from its pattern.

    Attributes:
        cost: The costs of all differences.
        steps: What was done with the pattern.
        numerals: The chords that the match takes.
        written: For each the bar as written in which it is taken.
        raised: Semitones by which the degrees of the pattern are raised to be counted as the chords are.
        bars: Whether the pattern is in the bar form.
    """

    cost: int
    steps: tuple[_Step, ...]
    numerals: Sequence[Numeral]
    written: Sequence[int]
    raised: int
    bars: bool

    @property
    def words(self) -> tuple[str, ...]:
        """Each difference in words, in the order of the match."""
        return tuple(_words(self.steps, self.numerals, self.written, self.raised, self.bars))


class Explainer:
    """Explains what is near to one pattern as it is asked of one view.

    What it found out about the pattern and the chords that tunes have again and again it keeps.
    """

    def __init__(self, pattern: Pattern, strength: Strength, shift: int = 0, raised: int = 0) -> None:
        """Explains a counted pattern.

        Args:
            pattern: The pattern.
            strength: How much must agree.
            shift: Semitones by which it was raised to be found in the strings of the view.
            raised: Semitones by which its degrees are raised to be counted as the chords are.
        """
        self._asked = _Asked(pattern, Compiler(strength, shift, NONE), raised)
        self._known: dict[tuple[str, tuple[str, ...]], tuple[_Best, Sequence[Numeral]]] = {}

    def differences(
        self, text: str, names: tuple[str, ...], tonics: tuple[Pitch, ...], written: Sequence[int]
    ) -> Differences:
        """How what a match takes differs from the pattern.

        Args:
            text: What the match takes of a string of the index, marks included.
            names: Its chords as written.
            tonics: For each the tonic that it is counted from.
            written: For each the bar as written in which the match takes it.

        Raises:
            NoSuchVersion: If no two edits explain the chords.
        """
        heard = numbered(names, tonics)
        known = self._known.get((text, heard))
        if known is None:
            if len(self._known) >= _MOST_KNOWN:
                self._known.clear()
            numerals = counted(names, tonics)
            known = self._known[text, heard] = _Alignment(self._asked, text, numerals).best(), numerals
        best, counted_as = known
        if best is None:
            raise NoSuchVersion(f"“{self._asked.pattern.text}” has no near version like {' '.join(heard)}")
        return Differences(*best, counted_as, written, self._asked.raised, self._asked.pattern.bars)


@lru_cache(maxsize=64)
def explainer(pattern: Pattern, strength: Strength, shift: int, raised: int) -> Explainer:
    """An ``Explainer``; the same question is asked again with other filters."""
    return Explainer(pattern, strength, shift, raised)


@dataclass(frozen=True, slots=True)
class _Op:
    """One thing to be done in order.

    Attributes:
        item: A chord to be taken.
        takes: Matches the codes that it takes.
        following: The item asked for after it.
        fixed: Whether the item or the bar may be missing; such an item is not edited.
        past: For what may be missing, where to go on without it.
        bar: For a bar what is done inside.
        anchor: A border that must stand here.
        swaps: What it means that a chord stands where the item was asked for, as far as that is known.
    """

    item: Item | None = None
    takes: re.Pattern[str] | None = None
    following: Item | None = None
    fixed: bool = False
    past: int = 0
    bar: _Ops | None = None
    anchor: Anchor | None = None
    swaps: dict[Numeral, Swap] = field(default_factory=dict)


@dataclass(eq=False)
class _Ops:
    """What is done in order, in the whole pattern or in one bar."""

    inside: bool
    each: list[_Op] = field(default_factory=list)

    @cached_property
    def last(self) -> int:
        """The number of the last chord that must be there."""
        return max((number for number, op in enumerate(self.each) if op.item is not None and not op.fixed), default=-1)

    @cached_property
    def sure(self) -> list[int]:
        """For each number, and for the end, how many chords must be there from it on, a bar having one at least."""
        sure = [0]
        for op in reversed(self.each):
            sure.append(sure[-1] + ((op.bar is not None or op.item is not None) and not op.fixed))
        return sure[::-1]


class _At(NamedTuple):
    """How far a pattern and its chords are explained.

    Attributes:
        ops: What is done.
        number: The next of them.
        place: The next chord.
        stop: Where the chords end.
        begun: Whether a chord asked for has gone before.
        edits: How many edits may still be made.
    """

    ops: _Ops
    number: int
    place: int
    stop: int
    begun: bool
    edits: int


class _Step(NamedTuple):
    """What has been done: an item kept, swapped for a chord, or left out; or a chord put in, which has no item."""

    item: Item | None
    chord: int | None
    bar: int
    kept: bool = False
    name: str = ""


#: A cost and what was done for it, None where nothing explains the chords.
_Best = tuple[int, tuple[_Step, ...]] | None


class _Asked:
    """A pattern as it is laid along chords.

    Attributes:
        pattern: The pattern.
        raised: Semitones by which its degrees are raised to be counted as the chords are.
        ops: What is done in order.
    """

    def __init__(self, pattern: Pattern, compiler: Compiler, raised: int) -> None:
        self.pattern = pattern
        self.raised = raised
        self._compiler = compiler
        self._items = list(pattern.items())
        self._number = 0
        self.ops = self._made(pattern.parts, inside=False)

    def _made(self, parts: Sequence[Part], inside: bool) -> _Ops:
        ops = _Ops(inside)
        self._add(parts, ops)
        return ops

    def _add(self, parts: Sequence[Part], ops: _Ops, fixed: bool = False) -> None:
        """Puts parts behind what is done already; a tune's own ends are where they are and need no telling."""
        for part in parts:
            if isinstance(part, Item):
                self._number += 1
                following = self._items[self._number] if self._number < len(self._items) else None
                ops.each.append(_Op(part, re.compile(self._compiler.item(part)), following, fixed))
            elif isinstance(part, BarOf):
                ops.each.append(_Op(bar=self._made(part.body, inside=True), fixed=fixed))
            elif part in (Anchor.SECTION_START, Anchor.SECTION_END):
                ops.each.append(_Op(anchor=part))
            elif isinstance(part, Group):
                place = len(ops.each)
                ops.each.append(_Op())
                self._add(part.body, ops, fixed=True)
                ops.each[place] = _Op(past=len(ops.each))

    def swap(self, op: _Op, item: Item, found: Numeral) -> Swap:
        """How near a chord is to the item of an op."""
        if found not in op.swaps:
            op.swaps[found] = swap(item, found, op.following, self.raised)
        return op.swaps[found]


class _Alignment:
    def __init__(self, asked: _Asked, text: str, numerals: Sequence[Numeral]) -> None:
        self.asked = asked
        self.numerals = numerals
        self.codes = ""
        #: For each chord the bar it is in, counted within the match; 0 where bars do not matter.
        self.bars: list[int] = []
        #: Borders by the number of the chord behind them.
        self.borders: set[tuple[Anchor, int]] = set()
        self.hear(text)
        self.known: dict[_At, _Best] = {}

    def hear(self, text: str) -> None:
        """Takes a match apart into codes, bars and borders."""
        bar = 0
        for sign in text:
            if sign in BORDER_SIGNS:
                self.borders.update((anchor, len(self.codes)) for anchor in anchors_at(sign))
            elif sign == BAR_BEGINS:
                bar += 1
            elif sign not in (BAR_ENDS, SECTION_STARTS, SECTION_ENDS):
                self.codes += sign
                self.bars.append(bar)

    def best(self) -> _Best:
        """The cheapest explanation with the fewest edits."""
        for edits in range(MOST_EDITS + 1):
            found = self.rest(_At(self.asked.ops, 0, 0, len(self.numerals), False, edits))
            if found is not None:
                return found
        return None

    def rest(self, at: _At) -> _Best:
        """The cheapest way from here to the end of pattern and chords, with at most so many edits."""
        if at in self.known:
            return self.known[at]
        best: _Best = None
        # What must be there takes a chord each, or is left out.
        if at.ops.sure[at.number] - (at.stop - at.place) <= at.edits:
            for way in self.ways(at):
                if way is not None and (best is None or way[0] < best[0]):
                    best = way
        self.known[at] = best
        return best

    def ways(self, at: _At) -> Iterator[_Best]:
        """The ways from here, the cheapest of each kind of beginning."""
        ops, number, place, stop, begun, edits = at
        op = ops.each[number] if number < len(ops.each) else None
        bar = self.bars[min(place, stop - 1)]
        if op is None and place == stop:
            yield 0, ()
        if op is not None and op.takes is not None:
            for end in self.ends(op.takes, place, stop):
                yield self.on(0, _Step(op.item, place, bar, True), _At(ops, number + 1, end, stop, True, edits))
        if edits and place < stop and (ops.inside or (begun and number <= ops.last)):
            yield self.on(PUT_IN, _Step(None, place, bar), _At(ops, number, place + 1, stop, begun, edits - 1))
        if op is None:
            return
        if op.bar is not None:
            yield from self.in_bar(at, op.bar, bar)
        elif op.anchor is not None:
            if (op.anchor, place) in self.borders:
                yield self.rest(_At(ops, number + 1, place, stop, begun, edits))
        elif op.item is None:
            yield self.rest(_At(ops, number + 1, place, stop, begun, edits))
            yield self.rest(_At(ops, op.past, place, stop, begun, edits))
        elif edits and not op.fixed:
            rest = self.rest(_At(ops, number + 1, place + 1, stop, True, edits - 1)) if place < stop else None
            if rest is not None:
                meant = self.asked.swap(op, op.item, self.numerals[place])
                yield meant.cost + rest[0], (_Step(op.item, place, bar, False, meant.name), *rest[1])
            yield self.on(LEFT_OUT, _Step(op.item, None, bar), _At(ops, number + 1, place, stop, begun, edits - 1))

    def on(self, cost: int, step: _Step, at: _At) -> _Best:
        """The cheapest way that begins with a step and goes on from there."""
        rest = self.rest(at)
        return None if rest is None else (cost + rest[0], (step, *rest[1]))

    def ends(self, takes: re.Pattern[str], place: int, stop: int) -> Iterator[int]:
        """Where the chords from a place on may end that an item takes, the farthest first."""
        longest = takes.match(self.codes, place, stop)
        if longest is not None:
            for end in range(longest.end(), place, -1):
                if takes.fullmatch(self.codes, place, end):
                    yield end

    def in_bar(self, at: _At, inner: _Ops, bar: int) -> Iterator[_Best]:
        ops, number, place, stop, begun, edits = at
        end = place
        while end < stop and self.bars[end] == bar:
            end += 1
        for spent in range(edits + 1 if end > place else 0):
            found = self.rest(_At(inner, 0, place, end, True, spent))
            if found is not None:
                rest = self.rest(_At(ops, number + 1, end, stop, begun, edits - spent))
                if rest is not None:
                    yield found[0] + rest[0], (*found[1], *rest[1])


def _words(
    steps: Sequence[_Step], numerals: Sequence[Numeral], written: Sequence[int], raised: int, bars: bool
) -> Iterator[str]:
    for number, step in enumerate(steps):
        if step.kept:
            continue
        asked = "" if step.item is None else _asked(step.item, raised)
        chord = "" if step.chord is None else numerals[step.chord].number
        if step.item is None:
            before = _neighbour(reversed(steps[:number]), step.bar if bars else None, raised)
            behind = _neighbour(steps[number + 1 :], step.bar if bars else None, raised)
            said = f"{chord} {_between(before, behind)}"
        elif step.chord is None:
            said = f"{asked} left out"
        else:
            said = f"{chord} instead of {asked}" + (f" ({step.name})" if step.name else "")
        if bars or (step.item is not None and step.chord is not None):
            said = f"bar {_bar_of(step, steps, written)}: {said}"
        yield said


def _bar_of(step: _Step, steps: Sequence[_Step], written: Sequence[int]) -> int:
    """The bar of a step as written: that of its chord, or of any chord in the same played bar."""
    chords = [step.chord] if step.chord is not None else [each.chord for each in steps if each.bar == step.bar]
    return next(written[chord] for chord in chords if chord is not None)


def _neighbour(steps: Iterator[_Step] | Sequence[_Step], bar: int | None, raised: int) -> str:
    """The nearest chord asked for that is there, within one bar where that is given; empty where there is none."""
    for step in steps:
        if step.item is not None and step.chord is not None and bar in (None, step.bar):
            return _asked(step.item, raised)
    return ""


def _between(before: str, behind: str) -> str:
    if before and behind:
        return f"between {before} and {behind}"
    return f"before {behind}" if behind else f"after {before}"


def _asked(item: Item, raised: int) -> str:
    """An item in numbers, counted as the chords are."""
    return ",".join(_number(one, raised) for one in item.alternatives)


def _number(one: Wanted, raised: int) -> str:
    def degree(place: object) -> str:
        assert isinstance(place, Degree)
        return str(place.above(CHROMATIC[raised % 12]) if raised % 12 else place)

    bass = "" if one.bass is None else f"/{degree(one.bass)}"
    if one.bare_bass:
        return bass
    quality = "" if one.quality is None else quality_name(one.quality) or "maj"
    if one.third is Third.MINOR:
        quality = "m"
    return f"{'_' if one.root is None else degree(one.root)}{quality}{bass}"
