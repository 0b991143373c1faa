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
from typing import NamedTuple

from corpus.key_phrases import THIRD_OF_KIND, Heard, Sound

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
    phrases = heard.phrases
    shifts = shifts or (0,) * len(phrases)
    breaks = [index for index in range(1, len(shifts)) if shifts[index] != shifts[index - 1]]
    made = _inner(
        (list(chain.from_iterable(phrase.sounds for phrase in phrases[first:end])), shifts[first])
        for first, end in pairwise((0, *breaks, len(phrases)))
    )
    edges: dict[tuple[int, int], _Edges] = {}
    lines = []
    for phrase, shift in zip(phrases, shifts, strict=True):
        known = id(phrase.sounds), shift
        if known not in edges:
            edges[known] = _edges(phrase.sounds, shift)
        lines.append(edges[known])
    into = [
        _PAIR[before.end % 12][line.start % 12] if before.end % 12 != line.start % 12 else None
        for before, line in pairwise(lines)
    ]
    for index in breaks:
        into[index - 1] = None
    unit = "line" if heard.lined else "group"
    _block(made, f"{unit} starts", Counter(line.start for line in lines))
    _block(made, f"{unit} ends", Counter(line.end for line in lines))
    _block(made, f"into {unit}s", Counter(pair for pair in into if pair is not None))
    _block(made, f"{unit} closes", Counter(line.close for line in lines if line.close is not None))
    if not heard.lined:
        opening: dict[int, float] = {}
        for root, kind, _, length in phrases[0].sounds:
            opening[12 * kind + root] = opening.get(12 * kind + root, 0.0) + length
        _block(made, "opening", opening)
    if heard.sectioned:
        firsts = [index for index, phrase in enumerate(phrases) if phrase.starts]
        _block(made, "section starts", Counter(lines[index].start for index in firsts))
        closing = (line.end for line, phrase in zip(lines, phrases, strict=True) if phrase.ends)
        _block(made, "section ends", Counter(closing))
        across = (into[index - 1] for index in firsts if index)
        _block(made, "into sections", Counter(pair for pair in across if pair is not None))
    return made


def shares_of_run(sounds: Sequence[Sound]) -> Shares:
    """The features of a run of chords by itself, of which nobody knows how it stands in lines and sections."""
    return _inner([(sounds, 0)])


class _Edges(NamedTuple):
    """Places of a phrase's first and last chord, by third, and of the pair of its last two roots, if it has two."""

    start: int
    end: int
    close: int | None


def _edges(sounds: Sequence[Sound], shift: int) -> _Edges:
    first, last = ((sound.root - shift) % 12 for sound in (sounds[0], sounds[-1]))
    before = next((sound.root for sound in reversed(sounds) if sound.root != sounds[-1].root), None)
    close = None if before is None else _PAIR[(before - shift) % 12][last]
    start, end = (12 * THIRD_OF_KIND[sounds[at].kind] for at in (0, -1))
    return _Edges(start + first, end + last, close)


#: The place of a pair of roots: 12 * the interval from the first to the second, plus the first.
_PAIR = tuple(tuple(12 * ((two - one) % 12) + one for two in range(12)) for one in range(12))


def _block(made: Shares, name: str, counts: Mapping[int, float]) -> None:
    """Adds the shares of one block, by their places in it."""
    if counts:
        base, whole = BASES[name], 1 / sum(counts.values())
        made += [(base + place, sqrt(count * whole)) for place, count in counts.items()]


def _add(counts: dict[int, float], place: int, count: float) -> None:
    counts[place] = counts.get(place, 0.0) + count


def _inner(stretches: Iterable[tuple[Sequence[Sound], int]]) -> Shares:
    """The blocks that know nothing of lines and sections.

    Args:
        stretches: Runs of sounds, each with its shift. Music repeats itself, so what is equal is counted first and
            worked out once.
    """
    time: dict[int, float] = {}
    bass: dict[int, float] = {}
    chords: dict[int, float] = {}
    pairs: dict[int, float] = {}
    thirds: dict[int, float] = {}
    triples: dict[int, float] = {}
    first = last = -1
    for sounds, shift in stretches:
        for (heard_root, kind, above, length), times in Counter(sounds).items():
            root = (heard_root - shift) % 12
            _add(chords, 12 * kind + root, times)
            _add(time, 12 * kind + root, times * length)
            _add(bass, (root + above) % 12, times * length)
        run = [each for each, _ in groupby(12 * THIRD_OF_KIND[kind] + root for root, kind, _, _ in sounds)]
        for (one, two), times in Counter(pairwise(run)).items():
            interval = (two - one) % 12
            if interval:
                _add(thirds, 12 * (36 * (one // 12) + 12 * (two // 12) + interval) + (one - shift) % 12, times)
        roots = [root for root, _ in groupby(place % 12 for place in run)]
        for (one, two), times in Counter(pairwise(roots)).items():
            _add(pairs, _PAIR[(one - shift) % 12][(two - shift) % 12], times)
        for (one, two, three), times in Counter(zip(roots, roots[1:], roots[2:], strict=False)).items():
            _add(triples, 12 * (12 * ((two - one) % 12) + (three - one) % 12) + (one - shift) % 12, times)
        if first < 0:
            first = 12 * (run[0] // 12) + (run[0] - shift) % 12
        last = 12 * (run[-1] // 12) + (run[-1] - shift) % 12
    made: Shares = [(BASES["first"] + first, 1.0), (BASES["last"] + last, 1.0)]
    _block(made, "time", time)
    _block(made, "chords", chords)
    _block(made, "bass", bass)
    _block(made, "pairs", pairs)
    _block(made, "thirds", thirds)
    _block(made, "triples", triples)
    return made
