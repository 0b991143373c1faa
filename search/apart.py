"""Whether what is found of a pattern, counted from one tonic, can be found of it counted from another.

Conventions: roots in semitones.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shared.pattern import BarOf, Group, Item, Part, Pattern
from shared.pitch import Degree


def roots_of(pattern: Pattern) -> tuple[int, ...]:
    """The roots of a pattern whose every chord names one, equal neighbours as one; else nothing."""
    roots: list[int] = []
    for part in pattern.parts:
        for item in part.body if isinstance(part, BarOf) else (part,):
            root = item.alternatives[0].root if isinstance(item, Item) and len(item.alternatives) == 1 else None
            if not isinstance(root, Degree):
                return ()
            if roots[-1:] != [root.semitones]:
                roots.append(root.semitones)
    return tuple(roots)


def no_chord_in_common(patterns: Iterable[Pattern], semitones: int) -> bool:
    """Whether no chord that a match takes can be taken by a match of these patterns raised by so many semitones.

    All chords must name their roots, or all their basses alone; marks of sections, which matches may take as well, must
    not be asked for.
    """
    places = {place for pattern in patterns for place in _places(pattern.parts)}
    if len({bare for bare, _ in places}) != 1:
        return False
    known = {place.semitones for _, place in places if isinstance(place, Degree)}
    return len(known) == len(places) and known.isdisjoint({(place + semitones) % 12 for place in known})


def _places(parts: Iterable[Part]) -> Iterable[tuple[bool, object]]:
    """For every chord that is asked for whether it is only a bass, and its root or bass; None where that is open."""
    for part in parts:
        if isinstance(part, BarOf | Group):
            yield from _places(part.body)
        elif isinstance(part, Item):
            for one in part.alternatives:
                yield one.bare_bass, one.bass if one.bare_bass else one.root
        else:
            yield False, None


def apart(patterns: Sequence[Pattern], edits: int) -> bool:
    """Whether none of some patterns comes so near to any of them in another transposition.

    Raising a root, taking one away and putting one in each count as an edit (V. Levenshtein, "Binary codes capable of
    correcting deletions, insertions, and reversals", 1966); other qualities could only add to them.
    """
    rows = [roots_of(pattern) for pattern in patterns]
    return all(rows) and all(
        distance(row, tuple((root + up) % 12 for root in other)) > edits
        for row in rows
        for other in rows
        for up in range(1, 12)
    )


def distance(one: Sequence[int], other: Sequence[int]) -> int:
    """How many edits make one sequence the other.

    >>> distance((0, 5, 7), (5, 7, 0))
    2
    """
    before = list(range(len(other) + 1))
    for place, mine in enumerate(one, 1):
        row = [place]
        for at, theirs in enumerate(other, 1):
            row.append(min(before[at] + 1, row[-1] + 1, before[at - 1] + (mine != theirs)))
        before = row
    return before[-1]
