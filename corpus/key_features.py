"""What the key finder weighs: features of phrases, counted against each of the twelve tonics.

A view of a chart (its phrases, each counted from some tonic) is described by the *shares* listed in ``BLOCKS``. Each
share belongs to a root r (a pitch class) and a small number n that says the rest (a kind of chord, the interval to the
next root); against a tonic t it is the feature (block, n, (r - t) mod 12), so turning the tonic turns the features, and
one set of weights serves all twelve keys::

    score(t) = sum over shares of  w[block, n, (r - t) mod 12] * sqrt(share)

The shares of one block add up to 1 (``first`` and ``last`` are 1 for one chord); the square root keeps a chord that is
often there from drowning those that are seldom there but telling. Where a phrase is counted from another tonic than
the first one (its shift), its roots are moved down by the shift, and pairs across the change are left out.

Many views are worked out together, as arrays (see ``corpus.key_layout``).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from corpus.key_layout import THIRDS, Laid, run_of
from corpus.ragged import Floats, Ints, Truths

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
_SIZES = [12 * numbers for numbers in BLOCKS.values()]
BASES: dict[str, int] = dict(zip(BLOCKS, (sum(_SIZES[:at]) for at in range(len(_SIZES))), strict=True))
SIZE = sum(_SIZES)

#: For each phrase, how many semitones above the first tonic its own tonic is.
Shifts = Sequence[int]


class Shares(NamedTuple):
    """The features of views before a tonic is chosen.

    Attributes:
        views: How many views there are.
        view: For each feature the view that has it, ascending; every view has some.
        place: The place of its first weight plus its root: the block's base + 12 * n + root.
        value: Its value.
    """

    views: int
    view: Ints
    place: Ints
    value: Floats


def shares_of(laid: Laid, views: Sequence[tuple[int, Shifts]]) -> Shares:
    """The features of charts.

    Args:
        laid: The charts.
        views: What is asked for: the number of a chart and the shifts of its phrases.
    """
    charts = np.array([chart for chart, _ in views], np.int64)
    first, size = laid.begin[charts], laid.begin[charts + 1] - laid.begin[charts]
    end = np.cumsum(size)
    playing = run_of(end[-1]) - np.repeat(end - size - first, size)
    view = np.repeat(run_of(len(views)), size)
    shift = np.array([each for _, shifts in views for each in shifts], np.int64)
    breaks = (np.diff(view) != 0) | (np.diff(shift) != 0)
    phrases = _Phrases(laid.phrase[playing], shift, view, np.concatenate([[0], np.cumsum(breaks)]))
    lined, sectioned = laid.lined[charts][view], laid.sectioned[charts][view]
    counts = _Counts(len(views))
    _count_inside(counts, laid, phrases)
    _count_borders(counts, laid, phrases, playing, lined, sectioned)
    _count_openings(counts, laid, phrases, ~lined & np.isin(run_of(len(view)), end - size))
    return counts.shares()


def shares_of_phrases(laid: Laid, phrases: Ints) -> Shares:
    """The features of phrases by themselves, of which nobody knows how they stand in lines and sections."""
    counts, each = _Counts(len(phrases)), run_of(len(phrases))
    _count_inside(counts, laid, _Phrases(phrases, np.zeros_like(each), each, each))
    return counts.shares()


class _Phrases(NamedTuple):
    """Phrases as they are played in some views.

    Attributes:
        phrase: The number of each.
        shift: Its shift.
        view: The view it is in.
        stretch: A number that changes where the view or the shift does.
    """

    phrase: Ints
    shift: Ints
    view: Ints
    stretch: Ints


class _Counts:
    """Counts of what there is in each block of each view."""

    def __init__(self, views: int) -> None:
        self._views = views
        self._blocks: dict[str, tuple[Ints, Ints, Floats | None]] = {}

    def add(self, name: str, view: Ints, place: Ints, weight: Floats | None = None) -> None:
        """Says all that is counted in a block, as 1 for each where no weights are given."""
        if len(view):
            self._blocks[name] = view, place, weight

    def shares(self) -> Shares:
        """Every count as the root of its share of its block."""
        made = [self._shares_of(name) for name in BLOCKS if name in self._blocks]
        view, place, value = map(np.concatenate, zip(*made, strict=True))
        # Numbers of few bytes are sorted much faster.
        order = np.argsort(view.astype(np.min_scalar_type(self._views)), kind="stable")
        return Shares(self._views, view[order], place[order], value[order])

    def _shares_of(self, name: str) -> tuple[Ints, Ints, Floats]:
        """The views and places of what is in a block, view by view, and its values."""
        view, place, weight = self._blocks[name]
        # Most places of a large block are met in no view; the table is so much smaller without them.
        met = np.zeros(12 * BLOCKS[name], bool)
        met[place] = True
        places, number = np.flatnonzero(met), np.cumsum(met) - 1
        every = np.bincount(view * len(places) + number[place], weight, self._views * len(places))
        at = np.flatnonzero(every > 0)
        counts = every[at]
        view, column = np.divmod(at, len(places))
        return view, BASES[name] + places[column], np.sqrt(counts / np.bincount(view, counts)[view])


def _pair(one: Ints, two: Ints) -> Ints:
    """The place of a pair of roots: 12 * the interval from the first to the second, plus the first."""
    place: Ints = 12 * ((two - one) % 12) + one
    return place


def _count_inside(counts: _Counts, laid: Laid, phrases: _Phrases) -> None:
    """The blocks that know nothing of lines and sections."""
    at, owner = laid.sounds_of(phrases.phrase)
    view, stretch = phrases.view[owner], phrases.stretch[owner]
    root, kind, length = (laid.root[at] - phrases.shift[owner]) % 12, laid.kind[at], laid.length[at]
    counts.add("time", view, 12 * kind + root, length)
    counts.add("chords", view, 12 * kind + root)
    counts.add("bass", view, (root + laid.bass[at]) % 12, length)
    chord = 12 * THIRDS[kind] + root
    new = _changes(chord, stretch)
    chord, stretch, view = chord[new], stretch[new], view[new]
    new_view = np.diff(view) != 0
    for name, place in (("first", np.concatenate([[True], new_view])), ("last", np.concatenate([new_view, [True]]))):
        counts.add(name, view[place], chord[place])
    one, two = chord[:-1], chord[1:]
    interval = (two - one) % 12
    keep = (stretch[1:] == stretch[:-1]) & (interval != 0)
    one, two, interval = one[keep], two[keep], interval[keep]
    counts.add("thirds", view[:-1][keep], 12 * (36 * (one // 12) + 12 * (two // 12) + interval) + one % 12)
    roots = chord % 12
    new = _changes(roots, stretch)
    roots, stretch, view = roots[new], stretch[new], view[new]
    keep = stretch[1:] == stretch[:-1]
    counts.add("pairs", view[:-1][keep], _pair(roots[:-1], roots[1:])[keep])
    keep = stretch[2:] == stretch[:-2]
    one, two, three = roots[:-2][keep], roots[1:-1][keep], roots[2:][keep]
    counts.add("triples", view[:-2][keep], 12 * (12 * ((two - one) % 12) + (three - one) % 12) + one)


def _changes(values: Ints, stretch: Ints) -> Truths:
    """Whether each value is another than the one before, or stands in another stretch."""
    return np.concatenate([[True], (values[1:] != values[:-1]) | (stretch[1:] != stretch[:-1])])


def _count_borders(
    counts: _Counts, laid: Laid, phrases: _Phrases, playing: Ints, lined: Truths, sectioned: Truths
) -> None:
    """What stands where lines, groups and sections start and end.

    Args:
        counts: Where to.
        laid: The charts.
        phrases: The phrases.
        playing: Which playings they are.
        lined: For each of them whether the phrases of its chart are lines.
        sectioned: Whether that has sections.
    """
    phrase, shift, view, stretch = phrases
    start, end = ((laid.root[at[phrase]] - shift) % 12 for at in (laid.start, laid.end))
    start_chord, end_chord = (
        12 * THIRDS[laid.kind[at[phrase]]] + root for at, root in ((laid.start, start), (laid.end, end))
    )
    close = laid.close[phrase]
    closing = _pair((laid.root[close] - shift) % 12, end)
    into = (stretch[1:] == stretch[:-1]) & (end[:-1] != start[1:])
    pair = _pair(end[:-1], start[1:])
    for unit, its in (("line", lined), ("group", ~lined)):
        counts.add(f"{unit} starts", view[its], start_chord[its])
        counts.add(f"{unit} ends", view[its], end_chord[its])
        closes, enters = its & (close >= 0), its[1:] & into
        counts.add(f"{unit} closes", view[closes], closing[closes])
        counts.add(f"into {unit}s", view[1:][enters], pair[enters])
    starts, ends = laid.starts[playing] & sectioned, laid.ends[playing] & sectioned
    counts.add("section starts", view[starts], start_chord[starts])
    counts.add("section ends", view[ends], end_chord[ends])
    across = into & starts[1:]
    counts.add("into sections", view[1:][across], pair[across])


def _count_openings(counts: _Counts, laid: Laid, phrases: _Phrases, opening: Truths) -> None:
    """What sounds in the phrases that open a view of groups."""
    if not opening.any():
        return
    at, owner = laid.sounds_of(phrases.phrase[opening])
    root = (laid.root[at] - phrases.shift[opening][owner]) % 12
    counts.add("opening", phrases.view[opening][owner], 12 * laid.kind[at] + root, laid.length[at])
