"""What the key finder weighs: features of a run of chords, counted against each of the twelve tonics.

A run of phrases is described by the *shares* listed in ``BLOCKS``. Each share belongs to a root r (a pitch class) and a
small number n that says the rest (a kind of chord, the interval to the next root); against a tonic t it is the feature
(block, n, (r - t) mod 12), so turning the tonic turns the features, and one set of weights serves all twelve keys::

    score(t) = sum over shares of  w[block, n, (r - t) mod 12] * sqrt(share)

The shares of one block add up to 1 (``first`` and ``last`` are 1 for one chord); the square root keeps a chord that is
often there from drowning those that are seldom there but telling. Where a phrase is counted from another tonic than
the first one (its shift), its roots are moved down by the shift, and pairs across the change are left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import chain, groupby, pairwise
from math import sqrt

from corpus.key_phrases import THIRD_OF_KIND, Heard, Phrase, Sound

#: The blocks of shares, each with how many numbers n it has.
BLOCKS = {
    "time": 9,  # time by kind of chord
    "chords": 9,  # chords by kind
    "bass": 1,  # time by bass note
    "pairs": 12,  # pairs of roots, by interval
    "thirds": 108,  # pairs of roots with their thirds
    "triples": 144,  # three roots in a row
    "first": 3,  # the first chord, by third
    "last": 3,
    "line starts": 3,  # first chords of lines, by third
    "line ends": 3,
    "into lines": 12,  # pairs of roots across the start of a line
    "line closes": 12,  # the last two roots of lines
    "group starts": 3,  # the same for groups of four bars, where lines are not known
    "group ends": 3,
    "into groups": 12,
    "group closes": 12,
    "opening": 9,  # time in the first group, by kind
    "section starts": 3,
    "section ends": 3,
    "into sections": 12,
}
BASES: dict[str, int] = {}
_SIZE = 0
for _name, _numbers in BLOCKS.items():
    BASES[_name] = _SIZE
    _SIZE += 12 * _numbers
SIZE = _SIZE

#: A feature before a tonic is chosen: the place of its first weight plus its root, and its value.
Shares = list[tuple[int, float]]


def shares_of(heard: Heard, shifts: Sequence[int] | None = None) -> Shares:
    """The features of all phrases together.

    Args:
        heard: The chart as heard, with a phrase at least.
        shifts: For each phrase, how many semitones above the first tonic its own tonic is; all 0 where None.

    Returns:
        Pairs of a number and a value; the number is the block's base + 12 * n + root.
    """
    shifts = shifts or [0] * len(heard.phrases)
    lines = [_moved(phrase, shift) for phrase, shift in zip(heard.phrases, shifts, strict=True)]
    breaks = [index for index in range(1, len(shifts)) if shifts[index] != shifts[index - 1]]
    made = _inner([chain.from_iterable(lines[a:b]) for a, b in pairwise([0, *breaks, len(lines)])])
    starts = [12 * THIRD_OF_KIND[line[0][1]] + line[0][0] for line in lines]
    ends = [12 * THIRD_OF_KIND[line[-1][1]] + line[-1][0] for line in lines]
    broken = set(breaks)
    into: list[tuple[int, int]] = [
        (index, _pair(ends[index - 1] % 12, starts[index] % 12))
        for index in range(1, len(lines))
        if index not in broken and ends[index - 1] % 12 != starts[index] % 12
    ]
    unit = "line" if heard.lined else "group"
    _block(made, f"{unit} starts", Counter(starts))
    _block(made, f"{unit} ends", Counter(ends))
    _block(made, f"into {unit}s", Counter(pair for _, pair in into))
    _block(made, f"{unit} closes", Counter(_pair(*close) for line in lines if (close := _close(line))))
    if not heard.lined:
        opening: dict[int, float] = {}
        for root, kind, _, length in lines[0]:
            opening[12 * kind + root] = opening.get(12 * kind + root, 0.0) + length
        _block(made, "opening", opening)
    if heard.sectioned:
        firsts = [index for index, phrase in enumerate(heard.phrases) if phrase.starts]
        _block(made, "section starts", Counter(starts[index] for index in firsts))
        closing = (end for end, phrase in zip(ends, heard.phrases, strict=True) if phrase.ends)
        _block(made, "section ends", Counter(closing))
        _block(made, "into sections", Counter(pair for index, pair in into if heard.phrases[index].starts))
    return made


def shares_of_run(sounds: Sequence[Sound]) -> Shares:
    """The features of a run of chords by itself, of which nobody knows how it stands in lines and sections."""
    return _inner([[(root, kind, (root + bass) % 12, length) for root, kind, bass, length in sounds]])


#: A sound counted from the tonic in force: its root, kind, bass and length.
_Counted = tuple[int, int, int, float]


def _moved(phrase: Phrase, shift: int) -> list[_Counted]:
    return [
        ((root - shift) % 12, kind, (root + bass - shift) % 12, length) for root, kind, bass, length in phrase.sounds
    ]


def _close(line: Sequence[_Counted]) -> tuple[int, int] | None:
    """The last two roots of a line, None where it has but one."""
    last = line[-1][0]
    return next(((root, last) for root, *_ in reversed(line) if root != last), None)


def _pair(root: int, following: int) -> int:
    return 12 * ((following - root) % 12) + root


def _block(made: Shares, name: str, counts: Mapping[int, float]) -> None:
    """Adds the shares of one block, by their places in it."""
    base, total = BASES[name], sum(counts.values())
    made += [(base + place, sqrt(count / total)) for place, count in counts.items()]


def _inner(stretches: Iterable[Iterable[_Counted]]) -> Shares:
    """The blocks that know nothing of lines and sections; each stretch is counted from one tonic."""
    time: dict[int, float] = {}
    bass: dict[int, float] = {}
    chords: list[int] = []
    pairs: list[int] = []
    thirds: list[int] = []
    triples: list[int] = []
    first = last = -1
    for stretch in stretches:
        run: list[int] = []
        for root, kind, low, length in stretch:
            place = 12 * kind + root
            chords.append(place)
            time[place] = time.get(place, 0.0) + length
            bass[low] = bass.get(low, 0.0) + length
            last = 12 * THIRD_OF_KIND[kind] + root
            if not run or run[-1] != last:
                run.append(last)
        first = run[0] if first < 0 else first
        for one, two in pairwise(run):
            if (interval := (two - one) % 12) != 0:
                thirds.append(12 * (36 * (one // 12) + 12 * (two // 12) + interval) + one % 12)
        roots = [root for root, _ in groupby(place % 12 for place in run)]
        pairs += [_pair(one, two) for one, two in pairwise(roots)]
        triples += [
            12 * (12 * ((two - one) % 12) + (three - one) % 12) + one
            for one, two, three in zip(roots, roots[1:], roots[2:], strict=False)
        ]
    made: Shares = [(BASES["first"] + first, 1.0), (BASES["last"] + last, 1.0)]
    _block(made, "time", time)
    _block(made, "chords", Counter(chords))
    _block(made, "bass", bass)
    _block(made, "pairs", Counter(pairs))
    _block(made, "thirds", Counter(thirds))
    _block(made, "triples", Counter(triples))
    return made
