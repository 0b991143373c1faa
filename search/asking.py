"""From what a teacher types to an answer: reads the pattern, counts chord names, and asks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from corpus.reading import OpenIndex
from grammar.patterns import read_pattern
from grammar.symbols import filled
from search.expressions import rotations
from search.filters import Filters
from search.finding import find
from search.questions import Question
from shared.chord import Chord
from shared.errors import Fault
from shared.key import Key
from shared.match import Answer, Count, Reach
from shared.pattern import Pattern, Strength
from shared.pitch import Pitch

if TYPE_CHECKING:
    from corpus.key_finding import FoundKey

#: Readings of chord names in another key are offered while their chance is at least this.
_WORTH_SAYING = 0.05
_MOST_OTHERS = 3


@dataclass(frozen=True, slots=True)
class Asked:
    """A question with what is worth saying about how its pattern was read.

    Attributes:
        question: The question, its pattern counted.
        remarks: Remarks of the reader.
        key: For chord names, the key they were counted in; else None.
        others: The other keys in which they may have been meant, likeliest first.
    """

    question: Question
    remarks: tuple[Fault, ...]
    key: Key | None = None
    others: tuple[Key, ...] = ()


def ask(
    text: str,
    *,
    strength: Strength = Strength.FAMILY,
    reach: Reach = Reach.KEY,
    rotate: bool = False,
    count: Count | None = None,
    filters: Filters | None = None,
    limit: int = 20,
    sort: str = "best",
    key: Key | None = None,
) -> Asked:
    """Reads a pattern as typed and makes a question of it.

    Args:
        text: The pattern; chord names are counted in ``key``, or in the likeliest key where that is None.
        strength: How much of each chord must agree.
        reach: Whether the pattern must stand in the key.
        rotate: Whether it may begin at any of its parts.
        count: Asked under this count alone.
        filters: Which charts are asked.
        limit: How many tunes are shown, 0 for all.
        sort: Their order.
        key: The key that chord names are meant in.

    Raises:
        ReadingError: If the pattern cannot be read, or cannot be rotated.
    """
    read = read_pattern(text)
    pattern = read.pattern
    if rotate:
        rotations(pattern)
    others: tuple[Key, ...] = ()
    if pattern.named:
        found = [key] if key is not None else [each.key for each in _meant(pattern)]
        key, others = found[0], tuple(found[1:])
        pattern = replace(pattern, parts=pattern.counted(key.tonic).parts, named=False)
    else:
        key = None
    question = Question(pattern, strength, reach, rotate, count, filters or Filters(), limit, sort)
    return Asked(question, read.remarks, key, others)


def answer(index: OpenIndex, asked: Asked) -> Answer:
    """Asks a question of an index; the answer says how chord names were counted."""
    return replace(find(index, asked.question), key=asked.key, others=asked.others)


def _meant(pattern: Pattern) -> Sequence[FoundKey]:
    """The keys that a pattern of chord names may be meant in, likeliest first."""
    # Only chord names need the key finder, and the others start faster without it.
    from corpus.key_finding import keys_of

    chords = []
    for item in pattern.items():
        one = item.alternatives[0]
        root = one.root if isinstance(one.root, Pitch) else one.bass
        if isinstance(root, Pitch):
            chords.append(Chord(root, filled(one)))
    keys = keys_of(chords)
    return [keys[0], *(each for each in keys[1 : 1 + _MOST_OTHERS] if each.chance >= _WORTH_SAYING)]
