"""Charts as they sound, each in one key: their strings, worked out for many charts at a time.

Conventions: as in ``shared.tune``; roots are pitch classes. A *sounding* is a chord of a bar each time that the bar is
played; the first of those that sound alike one behind the other begins an event.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count

import numpy as np
import numpy.typing as npt

from corpus.bar_contents import Tables
from corpus.codes import BAR_BEGINS, BAR_ENDS, SECTION_ENDS, SECTION_STARTS, SILENCE
from corpus.ragged import CODE_POINTS, Floats, Ints, Ragged, ceases, changes, places, starts, sums
from corpus.unpacking import PIECES_APART, form_of

Codes = npt.NDArray[np.uint32]


def bars_of_parts(tables: Tables, contents: Ints, sizes: Ints, tonics: Ints) -> Ragged:
    """The string of the bars of each part.

    Args:
        tables: What bars hold.
        contents: For each bar of each part its number there.
        sizes: How many bars each part has.
        tonics: What it is counted from, as a pitch class.
    """
    held = tables.sizes[contents]
    tonic = np.repeat(np.repeat(tonics, sizes), held)
    return _bars(tables, contents, sizes, tables.codes[tables.kind[places(tables.first[contents], held)], tonic])


def bars_in_pieces(parts: Sequence[str], order: Sequence[int]) -> tuple[str, str | None]:
    """What ``in_pieces`` makes of the string of a tune's bars, by its parts.

    Args:
        parts: The strings of the bars of its parts, in the order in which these are first played.
        order: The parts as they are played, by number from 0.
    """
    different = dict.fromkeys(parts)
    if "" in different:
        # What has no bars is not heard.
        order = [part for part in order if parts[part]]
        del different[""]
    if len(different) == len(order):
        return "".join(different), None
    if len(different) < len(parts):
        numbers = dict(zip(different, count(), strict=False))
        order = [numbers[parts[part]] for part in order]
    return PIECES_APART.join(different), form_of(tuple(order))


def _ends(sizes: Ints) -> tuple[Ints, Ints]:
    """The places of the first and of the last item of each run of these sizes that has any."""
    ends = np.cumsum(sizes)
    return (ends - sizes)[sizes > 0], ends[sizes > 0] - 1


def _bars(tables: Tables, contents: Ints, sizes: Ints, codes: Codes) -> Ragged:
    """The string of the bars of each of several runs of bars, all of them playings of a section.

    Args:
        tables: What bars hold.
        contents: For each bar of each run its number there.
        sizes: How many bars each run has.
        codes: The code points of all that the bars hold.
    """
    held = tables.sizes[contents]
    first, last = np.zeros((2, len(contents)), bool)
    for flags, bar in zip((first, last), _ends(sizes), strict=True):
        flags[bar] = True
    silent = tables.silent[contents]
    inside = np.where(silent, 1, held)
    widths = 2 + inside + first + last
    ends = np.cumsum(widths)
    begins = ends - widths + first
    made = np.empty(widths.sum(), CODE_POINTS)
    made[begins[first] - 1] = ord(SECTION_STARTS)
    made[begins] = ord(BAR_BEGINS)
    made[begins[silent] + 1] = ord(SILENCE)
    # Where the bar of each chord begins, and its place there.
    at = np.repeat(begins + 1 - starts(held), held) + np.arange(len(codes))
    shown = ~np.repeat(silent, held)
    made[at[shown]] = codes[shown]
    made[begins + inside + 1] = ord(BAR_ENDS)
    made[ends[last] - 1] = ord(SECTION_ENDS)
    return Ragged(made, sums(widths, sizes))


class Sounding:
    """Charts as they sound, each in one key.

    Attributes:
        bars: How many bars of each chart are played.
        begun: For each of them how many events begin in it.
        events: How many events each chart has.
    """

    def __init__(self, tables: Tables, contents: Ints, sizes: Ints, counts: Ints) -> None:
        """Charts laid out.

        Args:
            tables: What bars hold.
            contents: For each played bar its number there.
            sizes: How many bars each playing of a section has.
            counts: How many playings of sections each chart has.
        """
        self._tables, self._contents, self._sizes, self._counts = tables, contents, sizes, counts
        self.bars = sums(sizes, counts)
        held = tables.sizes[contents]
        at = places(tables.first[contents], held)
        self._kind, self._name = tables.kind[at], tables.name[at]
        # How many soundings each playing has, and each chart.
        of_playings = sums(held, sizes)
        self._soundings = sums(of_playings, counts)
        self._begins = changes(tables.sound[self._kind])
        self._begins[_ends(self._soundings)[0]] = True
        # How many events begin before each sounding.
        before = np.concatenate([[0], np.cumsum(self._begins)])
        self.begun = np.diff(before[np.concatenate([[0], np.cumsum(held)])])
        self.events = sums(self.begun, self.bars)
        # Whether each event is the first to sound in a playing of a section, and whether it is the last.
        self._first, self._last = np.zeros((2, before[-1]), np.int64)
        for flags, sounding in zip((self._first, self._last), _ends(of_playings), strict=True):
            flags[before[sounding + 1] - 1] = 1

    def ends(self) -> Ints:
        """The roots of the first and the last event of each chart, -1 where there is none."""
        made = np.full((len(self.events), 2), -1, np.int64)
        for place, at in enumerate(_ends(self._soundings)):
            made[self._soundings > 0, place] = self._tables.root[self._kind[at]]
        return made

    def shares(self, tonics: Ints) -> Floats:
        """The share of the cells of each chart's bars that is on a root of its own."""
        chart = np.repeat(np.arange(len(self.bars)), self.bars)
        shares = self._tables.shares[self._contents, tonics[chart]]
        return np.bincount(chart, shares, len(self.bars)) / np.maximum(self.bars, 1)

    def codes(self, tonics: Ints) -> Codes:
        """The code point of each sounding, each chart counted from a tonic of its own."""
        codes: Codes = self._tables.codes[self._kind, np.repeat(tonics, self._soundings)]
        return codes

    def chords(self, codes: Codes) -> Ragged:
        """The string of each chart's events."""
        codes = codes[self._begins]
        first, last = self._first, self._last
        widths = 1 + first + last
        at = starts(widths)
        made = np.empty(widths.sum(), CODE_POINTS)
        made[at[first > 0]] = ord(SECTION_STARTS)
        made[at + first] = codes
        made[(at + first + 1)[last > 0]] = ord(SECTION_ENDS)
        return Ragged(made, sums(widths, self.events))

    def bars_of(self, codes: Codes) -> Ragged:
        """The string of its bars."""
        bars = _bars(self._tables, self._contents, self._sizes, codes)
        sizes = sums(bars.sizes, self._counts)
        # Silence throughout has no string.
        sounds = self.events > 0
        made = bars.values if sounds.all() else bars.values[np.repeat(sounds, sizes)]
        return Ragged(made, np.where(sounds, sizes, 0))

    def names(self, codes: Codes) -> Ragged:
        """The names of its chords, as ``names_in_short`` gives them."""
        codes = codes[self._begins]
        chart, name = np.repeat(np.arange(len(self.events)), self.events), self._name[self._begins]
        events = np.arange(len(codes))
        # The first event of each code in its chart, found by writing the numbers of events from behind.
        numbers = np.zeros(int(codes.max(initial=0)) + 1, np.int64)
        numbers[codes] = 1
        which = np.flatnonzero(numbers)
        numbers[which] = np.arange(len(which))
        place = chart * len(which) + numbers[codes]
        first_of = np.empty(len(self.events) * len(which), np.int64)
        first_of[place[::-1]] = events[::-1]
        first = first_of[place]
        twice_named = np.zeros(len(self.events), bool)
        twice_named[chart[name != name[first]]] = True
        kept = (first == events) | twice_named[chart]
        chart, name = chart[kept], name[kept]
        names = self._tables.names
        # Each name with a space behind it, which the last one of a chart goes without.
        spaced = ceases(chart)
        widths = names.sizes[name] + ~spaced
        at = starts(widths)
        made = np.full(widths.sum(), ord(" "), CODE_POINTS)
        made[places(at, names.sizes[name])] = names.values[places(starts(names.sizes)[name], names.sizes[name])]
        return Ragged(made, sums(widths, np.bincount(chart, minlength=len(self.events))))
