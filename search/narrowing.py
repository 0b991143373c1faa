"""What a tune must hold to match a pattern at all, in terms of the short sequences that an index keeps.

Every match holds the chords of neighbouring items side by side. Where these name their roots, a sequence of up to four
roots follows (equal neighbours are one), and for two items side by side a pair of roots and groups of qualities. The
rarest of these narrows a search; the full expression decides. Gaps, chords that may be left out and items that leave
the root open end a sequence; marks, bar lines and held chords do not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations, pairwise, product

from corpus.codes import FIRST_GROUP, LAST_GROUP
from corpus.grams import LONGEST, RELATIVE, pair_gram, roots_gram
from search.expressions import groups_asked
from search.views import View
from shared.match import Count
from shared.pattern import Anchor, BarOf, Item, Part, Pattern, Strength
from shared.pitch import Degree

#: Sequences that may each stand for a necessary one: beyond this many, alternatives narrow too little to be worth it.
_MOST = 512

#: Above so many tunes it is worth looking up several conditions, at most so many, none that is much commoner.
_FEW, _TOGETHER, _FAR = 2000, 3, 4

#: Roots of one item (semitones, as asked) with the groups of qualities that a chord it takes may have.
_Chord = dict[int, frozenset[int]]
#: Roots in a row; for a pair also the groups of its qualities, else none.
Shape = tuple[tuple[int, ...], tuple[int, ...]]


def told_roots(pattern: Pattern, strength: Strength) -> list[tuple[int, ...]]:
    """The sequences of roots, in semitones, of which an index holds the very number of a pattern's matches.

    That is so of up to four items in a row that ask for roots and nothing else: of one root each, or of such that no
    two items could take the same chord, so that a match of one sequence never overlaps one of another. Empty where it
    is not so.
    """
    if pattern.bars or strength is Strength.EXACT or not all(isinstance(part, Item) for part in pattern.parts):
        return []
    asked: list[set[int]] = []
    for item in pattern.items():
        roots: set[int] = set()
        for one in item.alternatives:
            written = strength is Strength.FAMILY and (one.quality or one.third or one.bass)
            if one.bare_bass or written:
                return []
            roots.update([one.root.semitones] if isinstance(one.root, Degree) else range(12))
        asked.append(roots)
    single = all(len(roots) == 1 for roots in asked)
    beside = pairwise(asked) if single else combinations(asked, 2)
    if len(asked) > LONGEST or not all(one.isdisjoint(other) for one, other in beside):
        return []
    return list(product(*asked))


def told_grams(sequences: Sequence[Sequence[int]], views: Sequence[View]) -> list[list[int]]:
    """The grams of some sequences of roots in each view, without those by which an earlier view tells the same places.

    Where the relative major is counted from, that cannot be said of any gram: how far above the tonic it lies depends
    on the mode.

    Args:
        sequences: The sequences (see ``told_roots``).
        views: The views, the tonic's first.
    """
    found = []
    told: set[tuple[int, ...]] = set()
    for number, view in enumerate(views):
        raised = {tuple((root + view.shift) % 12 for root in roots): roots for roots in sequences}
        apart = view.slots == RELATIVE
        found.append(
            numbers([(tuple(roots), ()) for place, roots in raised.items() if apart or place not in told], view)
        )
        # All chords are in the first view, and about a centre in every one.
        if view.centre is not None or (number == 0 and view.count is Count.TONIC):
            told.update(raised)
    return found


def necessary(pattern: Pattern, strength: Strength) -> list[list[Shape]]:
    """The conditions that follow from a pattern: of each, at least one shape must stand in a tune that matches."""
    conditions: list[list[Shape]] = []
    for run in _runs(pattern.parts, strength):
        joined: list[_Chord] = []
        for chord in run:
            if not (joined and len(joined[-1]) == len(chord) == 1 and joined[-1].keys() == chord.keys()):
                joined.append(chord)
        for length in range(1, LONGEST + 1):
            for begin in range(len(joined) - length + 1):
                conditions.append(_root_shapes(joined[begin : begin + length]))
        for first, second in pairwise(run):
            # A chord that is held over a bar line may be what both bars ask for.
            if not (pattern.bars and first.keys() & second.keys()):
                conditions.append(_pair_shapes(first, second))
    return [condition for condition in conditions if 0 < len(condition) <= _MOST]


def together(conditions: Sequence[list[Shape]], weights: Sequence[int]) -> list[list[Shape]]:
    """The conditions that are worth asking together: the rarest, and the next that say something more.

    Args:
        conditions: What a match must hold.
        weights: In how many tunes each stands.
    """
    chosen: list[list[Shape]] = []
    least = min(weights)
    for weight, condition in sorted(zip(weights, conditions, strict=True), key=lambda each: each[0]):
        if len(chosen) == (_TOGETHER if least > _FEW else 1) or weight > _FAR * least:
            break
        if not any(_implied(condition, before) for before in chosen):
            chosen.append(condition)
    return chosen or [conditions[list(weights).index(least)]]


def _implied(condition: Sequence[Shape], stronger: Sequence[Shape]) -> bool:
    """Whether what holds one condition holds the other."""
    return all(
        any(
            groups == held[1] and any(held[0][at : at + len(roots)] == roots for at in range(len(held[0])))
            for roots, groups in condition
        )
        for held in stronger
    )


def numbers(condition: Iterable[Shape], view: View) -> list[int]:
    """The grams of a condition in a view."""
    found = []
    for (shape, groups), slot in product(condition, view.slots):
        roots = [(root + view.shift) % 12 for root in shape]
        if groups:
            found.append(pair_gram((roots[0], groups[0]), (roots[1], groups[1]), slot))
        else:
            found.append(roots_gram(roots, slot))
    return found


def _runs(parts: Sequence[Part], strength: Strength) -> Iterator[list[_Chord]]:
    """Items side by side that name their roots, as long as they do."""
    run: list[_Chord] = []
    for item in _in_a_row(parts):
        chord = None if item is None else _chord(item, strength)
        if chord is not None:
            run.append(chord)
            continue
        if run:
            yield run
        run = []
    if run:
        yield run


def _in_a_row(parts: Sequence[Part]) -> Iterator[Item | None]:
    """The items, and None where one need not follow the other."""
    for part in parts:
        if isinstance(part, BarOf):
            yield from _in_a_row(part.body)
        elif isinstance(part, Item):
            yield part
        elif not isinstance(part, Anchor):
            yield None


def _chord(item: Item, strength: Strength) -> _Chord | None:
    chord: dict[int, frozenset[int]] = {}
    for one in item.alternatives:
        if not isinstance(one.root, Degree):
            return None
        root = one.root.semitones
        chord[root] = chord.get(root, frozenset()) | groups_asked(one, strength)
    return chord


def _root_shapes(chords: Sequence[_Chord]) -> list[Shape]:
    """The sequences of roots; none where neighbours may be one root, for then fewer roots may follow each other."""
    if any(before.keys() & after.keys() for before, after in pairwise(chords)):
        return []
    return [(roots, ()) for roots in product(*chords)]


def _pair_shapes(first: _Chord, second: _Chord) -> list[Shape]:
    if all(len(groups) > LAST_GROUP - FIRST_GROUP for chord in (first, second) for groups in chord.values()):
        return []
    return [
        ((root, after), (group, other))
        for root, groups in first.items()
        for group in groups
        for after, others in second.items()
        for other in others
    ]
