"""Says in words what a near match has otherwise than its pattern, and what that costs.

The chords that a match takes are laid along the pattern with the fewest and cheapest edits that explain them (dynamic
programming over the parts still to come and the chords already used). What an edit is, and where one may stand, is told
in ``search.nearness``; what it costs in ``search.substitutions``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from typing import Any

from corpus.codes import BAR_BEGINS, BAR_ENDS, SECTION_ENDS, SECTION_STARTS
from search.expressions import Compiler
from search.nearness import MOST_EDITS
from search.substitutions import LEFT_OUT, PUT_IN, swap
from shared.chord import Numeral
from shared.pattern import Anchor, BarOf, Group, Item, Part, Pattern, Strength, Wanted
from shared.pitch import CHROMATIC, Degree
from shared.quality import Third
from shared.quality_names import quality_name


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


def differences(
    pattern: Pattern,
    strength: Strength,
    text: str,
    numerals: Sequence[Numeral],
    written: Sequence[int],
    shift: int = 0,
    raised: int = 0,
) -> Differences:
    """How what a match takes differs from a pattern.

    Args:
        pattern: A counted pattern.
        strength: How much must agree.
        text: What the match takes of a string of the index, marks included.
        numerals: Its chords, counted from the tonic of the match.
        written: For each the bar as written in which the match takes it.
        shift: Semitones by which the pattern was raised to be found in that string.
        raised: Semitones by which its degrees are raised to be counted as the chords are.

    Raises:
        NoSuchVersion: If no two edits explain the chords.
    """
    best = _aligned(pattern, strength, text, tuple(numerals), shift, raised)
    if best is None:
        raise NoSuchVersion(f"“{pattern.text}” has no near version like {' '.join(each.number for each in numerals)}")
    return Differences(*best, numerals, written, raised, pattern.bars)


@lru_cache(maxsize=4096)
def _aligned(
    pattern: Pattern, strength: Strength, text: str, numerals: tuple[Numeral, ...], shift: int, raised: int
) -> _Best:
    """The cheapest way to explain the chords; tunes have the same versions again and again."""
    return _Alignment(pattern, Compiler(strength, shift, joint=""), text, numerals, raised).best()


@dataclass(frozen=True, slots=True)
class _Op:
    """One thing to be done in order.

    Attributes:
        item: A chord to be taken.
        following: The item asked for after it.
        fixed: Whether the item is not edited.
        past: For what may be missing, where to go on without it.
        bar: For a bar what is done inside.
        anchor: A border that must stand here.
    """

    item: Item | None = None
    following: Item | None = None
    fixed: bool = False
    past: int = 0
    bar: _Ops | None = None
    anchor: Anchor | None = None


@dataclass(eq=False)
class _Ops:
    """What is done in order, in the whole pattern or in one bar."""

    inside: bool
    each: list[_Op] = field(default_factory=list)

    @cached_property
    def last(self) -> int:
        """The number of the last chord that must be there."""
        return max((number for number, op in enumerate(self.each) if op.item is not None and not op.fixed), default=-1)


@dataclass(frozen=True, slots=True)
class _At:
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


@dataclass(frozen=True, slots=True)
class _Step:
    """What has been done: an item kept, swapped for a chord, or left out; or a chord put in, which has no item."""

    item: Item | None
    chord: int | None
    bar: int
    kept: bool = False
    name: str = ""


#: A cost and what was done for it, None where nothing explains the chords.
_Best = tuple[int, tuple[_Step, ...]] | None


class _Alignment:
    def __init__(
        self, pattern: Pattern, compiler: Compiler, text: str, numerals: Sequence[Numeral], raised: int
    ) -> None:
        self.compiler = compiler
        self.numerals = numerals
        self.raised = raised
        self.codes = ""
        #: For each chord the bar it is in, counted within the match; 0 where bars do not matter.
        self.bars: list[int] = []
        #: Borders by the number of the chord behind them.
        self.borders: set[tuple[Anchor, int]] = set()
        self.hear(text)
        self.items = list(pattern.items())
        self.number = 0
        self.expressions: dict[Item, re.Pattern[str]] = {}
        self.known: dict[_At, _Best] = {}
        self.ops = self.made(pattern.parts, inside=False)

    def hear(self, text: str) -> None:
        """Takes a match apart into codes, bars and borders."""
        bar = 0
        for sign in text:
            if sign == SECTION_STARTS:
                self.borders.add((Anchor.SECTION_START, len(self.codes)))
            elif sign == SECTION_ENDS:
                self.borders.add((Anchor.SECTION_END, len(self.codes)))
            elif sign == BAR_BEGINS:
                bar += 1
            elif sign != BAR_ENDS:
                self.codes += sign
                self.bars.append(bar)

    def made(self, parts: Sequence[Part], inside: bool) -> _Ops:
        ops = _Ops(inside)
        self.add(parts, ops)
        return ops

    def add(self, parts: Sequence[Part], ops: _Ops, fixed: bool = False) -> None:
        """Puts parts behind what is done already; a tune's own ends are where they are and need no telling."""
        for part in parts:
            if isinstance(part, Item):
                self.number += 1
                following = self.items[self.number] if self.number < len(self.items) else None
                ops.each.append(_Op(part, following, fixed))
            elif isinstance(part, BarOf):
                ops.each.append(_Op(bar=self.made(part.body, inside=True)))
            elif part in (Anchor.SECTION_START, Anchor.SECTION_END):
                ops.each.append(_Op(anchor=part))
            elif isinstance(part, Group):
                place = len(ops.each)
                ops.each.append(_Op())
                self.add(part.body, ops, fixed=True)
                ops.each[place] = _Op(past=len(ops.each))

    def best(self) -> _Best:
        """The cheapest explanation with the fewest edits."""
        for edits in range(MOST_EDITS + 1):
            found = self.rest(_At(self.ops, 0, 0, len(self.numerals), False, edits))
            if found is not None:
                return found
        return None

    def rest(self, at: _At) -> _Best:
        """The cheapest way from here to the end of pattern and chords, with at most so many edits."""
        if at not in self.known:
            ways = (way for way in self.ways(at) if way is not None)
            self.known[at] = min(ways, key=lambda way: way[0], default=None)
        return self.known[at]

    def ways(self, at: _At) -> Iterator[_Best]:
        op = at.ops.each[at.number] if at.number < len(at.ops.each) else None
        bar = self.bars[min(at.place, at.stop - 1)]
        if op is None and at.place == at.stop:
            yield 0, ()
        if op is not None and op.item is not None:
            yield from self.kept(at, op.item, bar)
        if at.edits and at.place < at.stop and (at.ops.inside or (at.begun and at.number <= at.ops.last)):
            yield self.on(at, PUT_IN, [_Step(None, at.place, bar)], edits=at.edits - 1, place=at.place + 1)
        if op is None:
            return
        if op.bar is not None:
            yield from self.in_bar(at, op.bar, bar)
        elif op.anchor is not None:
            if (op.anchor, at.place) in self.borders:
                yield self.on(at, 0, [], number=at.number + 1)
        elif op.item is None:
            yield self.on(at, 0, [], number=at.number + 1)
            yield self.on(at, 0, [], number=op.past)
        elif at.edits and not op.fixed:
            yield from self.edited(at, op, op.item, bar)

    def on(self, at: _At, cost: int, steps: Sequence[_Step], **changes: Any) -> _Best:
        """The cheapest way that begins with these steps."""
        rest = self.rest(replace(at, **changes))
        return None if rest is None else (cost + rest[0], (*steps, *rest[1]))

    def kept(self, at: _At, item: Item, bar: int) -> Iterator[_Best]:
        for end in range(at.stop, at.place, -1):
            if self.takes(item, at.place, end):
                step = _Step(item, at.place, bar, kept=True)
                yield self.on(at, 0, [step], number=at.number + 1, place=end, begun=True)

    def edited(self, at: _At, op: _Op, item: Item, bar: int) -> Iterator[_Best]:
        ahead, fewer = at.number + 1, at.edits - 1
        if at.place < at.stop:
            meant = swap(item, self.numerals[at.place], op.following, self.raised)
            step = _Step(item, at.place, bar, name=meant.name)
            yield self.on(at, meant.cost, [step], number=ahead, place=at.place + 1, edits=fewer, begun=True)
        yield self.on(at, LEFT_OUT, [_Step(item, None, bar)], number=ahead, edits=fewer)

    def in_bar(self, at: _At, inner: _Ops, bar: int) -> Iterator[_Best]:
        end = at.place
        while end < at.stop and self.bars[end] == bar:
            end += 1
        for spent in range(at.edits + 1 if end > at.place else 0):
            found = self.rest(_At(inner, 0, at.place, end, True, spent))
            if found is not None:
                yield self.on(at, *found, number=at.number + 1, place=end, edits=at.edits - spent)

    def takes(self, item: Item, begin: int, end: int) -> bool:
        """Whether an item takes just these chords."""
        if item not in self.expressions:
            self.expressions[item] = re.compile(self.compiler.item(item))
        return self.expressions[item].fullmatch(self.codes, begin, end) is not None


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
