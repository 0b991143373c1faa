"""Short sequences of every tune, sorted, so that a question can look up which tunes may answer it.

Two kinds of sequences are kept, each with a number of its own (a gram):

- *Roots*: one to ``LONGEST`` roots as they follow each other, equal neighbours joined, with how often a tune has them,
  counted from the left without overlap. For a progression of so many plain roots that is the very number of matches.
- *Pairs*: two chords side by side by root and group of qualities (see ``corpus.codes``); here only that a tune has
  them is kept.

A number is made of, in this order, the steps between the roots (and the groups) and the slot. The slot says what the
first root is counted from; so every transposition of one sequence lies in one run of ``SLOTS`` numbers. The slots:

======  ======================================================================================
slots   the first root in semitones
======  ======================================================================================
0-11    from the tonic, in tunes of one key that has a major third
12-23   from the tonic, in tunes of one natural minor key
24-35   from the tonic, in tunes that change key, all keys with a major third
36-47   from the tonic, in other tunes that change key
48-59   from the relative major, where keys have a minor third, in all other tunes than those of slots 12-23
60-71   from the tonic, where keys have a major third, in tunes that also have keys with a minor one
72-83   from the home tonic, over changes of key, in tunes that change it
84-95   from the tonic, in tunes of one other key that has a minor third
======  ======================================================================================

Only sequences of slots 72-83 run over changes of key. After R. Cox, "Regular Expression Matching with a Trigram
Index" (2012): the index picks the tunes that may match, the full expression decides.
``corpus.gram_counting`` counts them.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from corpus.codes import LAST_GROUP

#: The longest sequence of roots that is kept.
LONGEST = 4
SLOTS = 96
#: First slots of the counts that questions are asked of: a sequence stands in a tune under a count if it has it in any.
TONIC, MINOR, RELATIVE, MAJOR, CENTRE = (0, 12, 24, 36, 84), (12,), (48,), (0, 24, 60), (0, 12, 72, 84)
GROUPS = LAST_GROUP + 1
#: Numbers of pairs begin behind those of roots.
PAIRS: int = 12**LONGEST * SLOTS


def roots_gram(roots: Sequence[int], slot: int) -> int:
    """The number of a sequence of roots.

    Args:
        roots: One to ``LONGEST`` roots in semitones, no two neighbours equal.
        slot: The first of the twelve slots of what they are counted from.
    """
    value = 1
    for before, after in pairwise(roots):
        value = value * 12 + (after - before) % 12
    return int(value * SLOTS + slot + roots[0] % 12)


def pair_gram(first: tuple[int, int], second: tuple[int, int], slot: int) -> int:
    """The number of two chords side by side, each given by its root in semitones and the group of its quality."""
    value = ((second[0] - first[0]) % 12 * GROUPS + first[1]) * GROUPS + second[1]
    return PAIRS + value * SLOTS + slot + first[0] % 12
