"""How named progressions stand to each other: one is another begun elsewhere, or is held in it.

Conventions: chords are compared as teachers say them, by root, by whether the third is major, minor, or minor with a
lowered fifth, and by a bass where one is written; sevenths and suspensions play no part. A progression that is one
chord in this sense (a line over it, a suspension) holds nothing and is held in nothing. A loop that may begin anywhere
goes round; so does the circle of fifths.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice, product

from corpus.catalogue import Catalogue, Progression
from search.named_rules import CIRCLE, LEAST_ROOTS, falls
from shared.pattern import Anchor, BarOf, Group, Item, Part, Wanted
from shared.pitch import CHROMATIC, Degree
from shared.quality import Family, Third

#: Readings of one pattern, with its alternatives and its chords that may be missing, at most.
_MOST_READINGS = 256
#: Roots of the circle of fifths as it is asked whether it holds something.
_ROUND = 8

MAJOR, MINOR, DIMINISHED = "", "m", "dim"
KINDS = (MAJOR, MINOR, DIMINISHED)
_FAMILIES = {Family.MINOR: MINOR, Family.DIMINISHED: DIMINISHED, Family.HALF_DIMINISHED: DIMINISHED}
_THIRDS = {Third.MAJOR: (MAJOR,), Third.MINOR: (MINOR, DIMINISHED), Third.NONE: (MAJOR,)}


@dataclass(frozen=True, slots=True, order=True)
class Sound:
    """A chord as it is compared: its root in semitones, its kind, and its bass where one is written.

    >>> str(Sound(10, "")), str(Sound(2, "m")), str(Sound(0, "", 7))
    ('b7', '2m', '1/5')
    """

    root: int
    kind: str
    bass: int | None = None

    def __str__(self) -> str:
        bass = "" if self.bass is None else f"/{CHROMATIC[self.bass]}"
        return f"{CHROMATIC[self.root]}{self.kind}{bass}"


def kind_of_family(family: Family) -> str:
    """The kind of a chord of a family: what stands behind its number."""
    return _FAMILIES.get(family, MAJOR)


#: One chord of a reading: all that it may be.
Step = frozenset[Sound]
Reading = tuple[Step, ...]


@lru_cache(maxsize=2048)
def readings(entry: Progression, circle: int = LEAST_ROOTS) -> tuple[Reading, ...]:
    """The sequences of chords that a progression may stand for, equal neighbours joined; none of one chord alone.

    Args:
        entry: The progression.
        circle: How many roots a part of the circle of fifths has.
    """
    if entry.pattern is None:
        return tuple(_circles(circle)) if entry.text == CIRCLE else ()
    every = islice(_expanded(entry.pattern.parts), _MOST_READINGS)
    return tuple(dict.fromkeys(each for each in every if len(each) > 1))


def _circles(length: int) -> Iterator[Reading]:
    """Roots that fall by fifths, from each root."""
    for root in range(12):
        chains: list[tuple[int, ...]] = [(root,)]
        for _ in range(length - 1):
            chains = [(*chain, fall) for chain in chains for fall in falls(chain[-1])]
        for chain in chains:
            yield tuple(frozenset(Sound(each, kind) for kind in KINDS) for each in chain)


def _expanded(parts: Sequence[Part]) -> Iterator[Reading]:
    choices = [list(islice(_choices(part), _MOST_READINGS)) for part in parts]
    for chosen in product(*choices):
        joined: list[Step] = []
        for step in (step for each in chosen for step in each):
            if not joined or joined[-1] != step:
                joined.append(step)
        if joined:
            yield tuple(joined)


def _choices(part: Part) -> Iterator[Reading]:
    if isinstance(part, Item):
        for one in part.alternatives:
            yield (_step(one),)
    elif isinstance(part, BarOf):
        yield from _expanded(part.body)
    elif isinstance(part, Group):
        yield from _expanded(part.body)
        if part.least == 0:
            yield ()
    else:
        yield ()


def _step(one: Wanted) -> Step:
    kinds: Iterable[str] = KINDS
    if one.family is not None:
        kinds = (kind_of_family(one.family),)
    elif one.third is not None:
        kinds = _THIRDS[one.third]
    roots = (one.root.semitones,) if isinstance(one.root, Degree) else range(12)
    bass = one.bass.semitones if isinstance(one.bass, Degree) else None
    return frozenset(Sound(root, kind, bass) for root in roots for kind in kinds)


def _answers(asked: Step, other: Step) -> bool:
    """Whether a step asks for no more than another one says."""
    return all(any(_same(sound, each) for each in asked) for sound in other)


def _agrees(asked: Step, other: Step) -> bool:
    """Whether one chord can be what two steps ask for."""
    return any(_same(sound, each) or _same(each, sound) for sound in other for each in asked)


def _same(sound: Sound, asked: Sound) -> bool:
    alike = sound.root == asked.root and sound.kind == asked.kind
    return alike and (asked.bass is None or asked.bass == sound.bass)


def holds(outer: Progression, inner: Progression) -> bool:
    """Whether one progression, however it is read, has another inside it and is longer."""
    return bool(readings(outer)) and _holding(outer, inner, _answers, all)


def may_hold(outer: Progression, inner: Progression) -> bool:
    """Whether one progression can have another inside it where both stand in a tune, and is longer."""
    return _holding(outer, inner, _agrees, any)


def _holding(
    outer: Progression,
    inner: Progression,
    fits: Callable[[Step, Step], bool],
    often: Callable[[Iterable[bool]], bool],
) -> bool:
    if outer is inner:
        return False
    if inner.pattern is not None and inner.pattern.bars:
        # Bars are told from chords: what is counted in bars is held only in what is counted so too.
        large = _bars(outer)
        return bool(large) and _inside([_bars(inner)], large, False, fits)
    smaller = readings(inner)
    return often(_inside(smaller, each, outer.rotate, fits) for each in readings(outer, _ROUND))


def _bars(entry: Progression) -> Reading:
    """What each bar of a progression in the bar form begins with; nothing for any other."""
    if entry.pattern is None or not entry.pattern.bars:
        return ()
    first = [next(islice(_items(part), 1)) for part in entry.pattern.parts if isinstance(part, BarOf)]
    return tuple(frozenset().union(*map(_step, item.alternatives)) for item in first)


def _items(bar: BarOf) -> Iterator[Item]:
    for part in bar.body:
        if isinstance(part, Item):
            yield part
        elif isinstance(part, Group):
            yield from _items(BarOf(part.body))


def _inside(smaller: Iterable[Reading], large: Reading, loop: bool, fits: Callable[[Step, Step], bool]) -> bool:
    for small in smaller:
        if len(small) > len(large) or (len(small) == len(large) and not loop):
            continue
        line = large + large[: len(small) - 1] if loop else large
        starts = range(len(line) - len(small) + 1)
        if any(all(map(fits, small, line[at : at + len(small)])) for at in starts):
            return True
    return False


def begun_elsewhere(entry: Progression, other: Progression) -> bool:
    """Whether one progression is a loop of the same chords as another, begun at another of them.

    The last chord of a loop that comes back to its first one is left out.
    """
    if any(each.pattern is None or each.pattern.bars for each in (entry, other)) or entry is other:
        return False
    ours, theirs = (list(map(_once_round, readings(each))) for each in (entry, other))
    return any(
        len(one) == len(another) > 2 and any(one == another[at:] + another[:at] for at in range(1, len(one)))
        for one in ours
        for another in theirs
    )


def _once_round(steps: Reading) -> Reading:
    return steps[:-1] if len(steps) > 2 and steps[0] == steps[-1] else steps


def _tied(entry: Progression) -> bool:
    """Whether a progression is tied to a place in the form."""
    return entry.pattern is not None and any(isinstance(part, Anchor) for part in entry.pattern.parts)


@dataclass(frozen=True, slots=True)
class Relatives:
    """What a progression has to do with others, by their names.

    Attributes:
        rotations: The same loop begun elsewhere.
        parts: What it holds.
        wholes: What holds it.
    """

    rotations: tuple[str, ...]
    parts: tuple[str, ...]
    wholes: tuple[str, ...]

    def sentences(self) -> list[str]:
        """The relatives in words."""
        told = (
            (self.rotations, "The same loop begun elsewhere"),
            (self.parts, "It holds"),
            (self.wholes, "It is held in"),
        )
        return [f"{what}: {', '.join(names)}." for names, what in told if names]


def relatives(entry: Progression, known: Catalogue) -> Relatives:
    """The relatives of a progression among those known."""
    turned = tuple(other.name for other in known.entries if begun_elsewhere(entry, other))
    free = [other for other in known.entries if other.name not in turned and not _tied(other)]
    parts = tuple(other.name for other in free if holds(entry, other))
    wholes = () if _tied(entry) else tuple(other.name for other in free if holds(other, entry))
    return Relatives(turned, parts, wholes)
