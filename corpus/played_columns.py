"""What the index keeps of charts as they are played, worked out for many charts at a time.

``columns_of_tunes`` says what that is: the strings of ``corpus.codes``, the chords as written, and where they stand.
For charts that stay in one key, which most do, ``played_columns`` gives the very same without making the tunes: what a
bar holds is remembered (see ``corpus.bar_contents``), and all that follows from how bars are played is worked out for
all charts at once, as arrays.

Conventions: as in ``shared.tune``; roots are pitch classes. A *sounding* is a chord of a bar each time that the bar is
played; the first of those that sound alike one behind the other begins an event.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from corpus.bar_contents import Tables, looked_into
from corpus.codes import BAR_BEGINS, BAR_ENDS, SECTION_ENDS, SECTION_STARTS, SILENCE, coded
from corpus.key_finding import FoundKey, FoundStretch
from corpus.once import of_each
from corpus.ragged import (
    CODE_POINTS,
    Floats,
    Ints,
    Ragged,
    Truths,
    ceases,
    changes,
    joined,
    of_lists,
    of_texts,
    places,
    starts,
    sums,
)
from corpus.tunes import PlayedChart, played, played_in, stretches_of_each
from corpus.unfolding import Parts, played_parts
from corpus.unpacking import names_in_short
from shared.chart import Bar, Chart
from shared.key import Key, Mode

#: The counts, each of which is a string of chords and one of bars.
COUNTS = ("tonic", "relative", "major", "fixed")
STRINGS = tuple(name for count in COUNTS for name in (count, f"{count}_bars"))

Codes = npt.NDArray[np.uint32]


class PlayedKey(NamedTuple):
    """The home key, whether it was found rather than written, and then the keys it may be, likeliest first."""

    key: Key
    found: bool
    keys: tuple[FoundKey, ...] = ()


class PlayedColumns(NamedTuple):
    """What the index keeps of charts as they are played; every attribute has an item for each.

    Attributes:
        homes: The home keys.
        texts: By the name of their column the strings of ``STRINGS``, and as ``names`` the chords as written (see
            ``corpus.unpacking``); code points.
        minor: Whether all of it is in one natural minor key, so that the count from the relative major is left out.
        bars: For each played bar its number as written.
        begun: For each played bar how many events begin in it.
        segments: The keys that the tune passes through, each with its first and last event and its first and last
            played bar.
        ends: The roots of the first and the last event, -1 where there is none.
        homely: The share of the cells of all played bars that is on the home tonic; not a number where bars last
            unlike, or that has not been worked out.
    """

    homes: list[PlayedKey]
    texts: dict[str, Ragged]
    minor: Truths
    bars: Ragged
    begun: Ragged
    segments: list[list[tuple[Key, tuple[int, int, int, int]]]]
    ends: Ints
    homely: Floats

    @property
    def events(self) -> Ints:
        """How many events each chart has."""
        return sums(self.begun.values, self.begun.sizes)

    @property
    def keys(self) -> Ints:
        """How many segments it has."""
        return np.fromiter(map(len, self.segments), np.int64, len(self.segments))

    def merged(self, other: PlayedColumns, order: Ints) -> PlayedColumns:
        """The charts of both, in another order: of each the number among those of this and then those of the other."""
        numbers = order.tolist()
        homes, segments = self.homes + other.homes, self.segments + other.segments
        return PlayedColumns(
            [homes[number] for number in numbers],
            {name: joined([own, other.texts[name]]).taken(order) for name, own in self.texts.items()},
            np.concatenate([self.minor, other.minor])[order],
            joined([self.bars, other.bars]).taken(order),
            joined([self.begun, other.begun]).taken(order),
            [segments[number] for number in numbers],
            np.concatenate([self.ends, other.ends])[order],
            np.concatenate([self.homely, other.homely])[order],
        )


def columns_of_tunes(charts: Iterable[PlayedChart]) -> PlayedColumns:
    """What the index keeps of charts that have been made into their tunes."""
    strings: list[tuple[str | None, ...]] = []
    homes, minors, bars, begun, segments, ends = [], [], [], [], [], []
    for one in charts:
        tune, events = one.tune, one.tune.events
        homes.append(PlayedKey(tune.key, tune.key_found, one.found))
        minor = bool(events) and len(tune.segments) == 1 and tune.segments[0].key.mode is Mode.MINOR
        minors.append(minor)
        counts = coded(tune)
        made: list[str | None] = []
        for count in COUNTS:
            each = None if minor and count in ("relative", "major") else getattr(counts, count)
            made += (each.chords, each.bars) if each else (None, None)
        names = " ".join([event.written for event in events])
        strings.append((*made, names_in_short(names, (counts.fixed or counts.tonic).chords)))
        bars.append([bar.bar for bar in tune.bars])
        begun.append([0] * len(tune.bars))
        for event in events:
            begun[-1][event.played] += 1
        segments.append([(each.key, (each.first, each.last, each.from_bar, each.to_bar)) for each in tune.segments])
        ends.append([event.chord.root.pitch_class for event in (events[0], events[-1])] if events else [-1, -1])
    columns = zip((*STRINGS, "names"), zip(*strings, strict=True), strict=True)
    return PlayedColumns(
        homes,
        {name: of_texts(texts) for name, texts in columns},
        np.array(minors, bool),
        of_lists(bars, np.uint16),
        of_lists(begun, np.uint16),
        segments,
        np.array(ends, np.int64),
        np.full(len(homes), np.nan),
    )


def played_columns(charts: Sequence[Chart]) -> PlayedColumns:
    """What the index keeps of charts, their keys found where none are written.

    Raises:
        ValueError: If a chart has no chord at all (reading makes that a fault).
    """
    alone = _OneKey(charts)
    if not alone.others:
        return alone.columns()
    changing = columns_of_tunes(
        played_in(charts[number], stretches) if stretches else played(charts[number])
        for number, stretches in alone.others.items()
    )
    if not alone.homes:
        return changing
    order = np.empty(len(charts), np.int64)
    order[[*alone.numbers, *alone.others]] = np.arange(len(charts))
    return alone.columns().merged(changing, order)


def runs_of_bars(bars: Ragged) -> list[list[tuple[int, int]]]:
    """For each chart the runs of written bars that are played: their first and last bars.

    Args:
        bars: For each played bar of each chart its number as written.
    """
    numbers = bars.values.astype(np.int32)
    chart = np.repeat(np.arange(len(bars.sizes)), bars.sizes)
    begins = np.concatenate([[True], np.diff(numbers) != 1])[: len(numbers)] | changes(chart)
    first = np.flatnonzero(begins)
    last = np.append(first[1:], len(numbers))[: len(first)] - 1
    runs = list(zip(numbers[first].tolist(), numbers[last].tolist(), strict=True))
    ends = np.cumsum(np.bincount(chart[first], minlength=len(bars.sizes))).tolist()
    return [runs[begin:end] for begin, end in pairwise([0, *ends])]


class _OneKey:
    """Those of some charts that stay in one key.

    Attributes:
        numbers: Their numbers among the charts.
        homes: Their home keys.
        others: The numbers of all others, with what was found for their bars without a written key.
    """

    def __init__(self, charts: Sequence[Chart]) -> None:
        self._parts = Parts()
        ends = []
        for chart in charts:
            self._parts.add(played_parts(chart))
            ends.append(len(self._parts.bars))
        # Each attribute of all bars in a row.
        self._of_bars = dict(zip(Bar._fields, zip(*self._parts.bars, strict=True), strict=False))
        runs = list(pairwise([0, *ends]))
        same = [_same(self._of_bars.get("key", ()), *run) for run in runs]
        unsure = [number for number, (one, key) in enumerate(same) if not one or key is None]
        found = dict(zip(unsure, stretches_of_each([charts[number] for number in unsure]), strict=True))
        self.numbers: list[int] = []
        self.homes: list[PlayedKey] = []
        self.others: dict[int, tuple[FoundStretch, ...]] = {}
        self._keys: list[Key] = []
        for number, (chart, (one, key)) in enumerate(zip(charts, same, strict=True)):
            if key is not None and one:
                self.homes.append(PlayedKey(chart.key or key, False))
            elif one and chart.key is None and len(found[number]) == 1:
                key = found[number][0].key
                self.homes.append(PlayedKey(key, True, found[number][0].keys))
            else:
                self.others[number] = found[number]
                continue
            self.numbers.append(number)
            self._keys.append(key)
        metres, measured = self._of_bars.get("metre", ()), self._of_bars.get("measured", ())
        self._alike = [
            _same(metres, *runs[number])[0] and _same(measured, *runs[number]) == (True, True)
            for number in self.numbers
        ]

    def columns(self) -> PlayedColumns:
        """What the index keeps of them."""
        parts = self._parts
        contents, tables = looked_into(self._of_bars.get("cells", ()))
        numbers = np.array(self._of_bars.get("number", ()), np.uint16)
        sizes, playings, counts = (np.array(each, np.int64) for each in (parts.sizes, parts.playings, parts.counts))
        kept = np.zeros(len(counts), bool)
        kept[self.numbers] = True
        playings, counts = playings[np.repeat(kept, counts)], counts[kept]
        of = places(starts(sizes)[playings], sizes[playings])
        sounding = _Sounding(tables, contents[of], sizes[playings], counts)
        tonics = self._of_keys(lambda key: key.tonic.pitch_class)
        codes = sounding.codes(tonics)
        texts = {"tonic": sounding.chords(codes), "tonic_bars": sounding.bars_of(codes), "names": sounding.names(codes)}
        some = sounding.events > 0
        natural = self._of_keys(lambda key: key.mode is Mode.MINOR) > 0
        last = zip(self._keys, (sounding.events - 1).tolist(), (sounding.bars - 1).tolist(), strict=True)
        return PlayedColumns(
            self.homes,
            texts | self._relative(sounding, tonics),
            natural & some,
            Ragged(numbers[of], sounding.bars),
            Ragged(sounding.begun.astype(np.uint16), sounding.bars),
            # Silence throughout has no segment.
            [[(key, (0, event, 0, bar))] if event >= 0 else [] for key, event, bar in last],
            sounding.ends(),
            np.where(self._alike, sounding.shares(tonics), np.nan),
        )

    def _of_keys(self, what: Callable[[Key], int]) -> Ints:
        """What is to be said of the key of each chart."""
        return np.array(of_each(what, self._keys), np.int64)

    def _relative(self, sounding: _Sounding, tonics: Ints) -> dict[str, Ragged]:
        """The strings that stand beside those of the tonic: where a minor third does not mean natural minor."""
        wanted = self._of_keys(lambda key: key.minor_third and key.mode is not Mode.MINOR) > 0
        wanted &= sounding.events > 0
        nothing = Ragged(np.zeros(0, CODE_POINTS), np.zeros(wanted.sum(), np.int64)).spread(wanted)
        missing = nothing._replace(there=np.zeros(len(wanted), bool))
        made = dict.fromkeys(STRINGS[2:], missing)
        if wanted.any():
            lower = self._of_keys(lambda key: key.relative_major.tonic.pitch_class)
            codes, chosen = sounding.codes(np.where(wanted, lower, tonics)), np.flatnonzero(wanted)
            made["relative"] = sounding.chords(codes).taken(chosen).spread(wanted)
            made["relative_bars"] = sounding.bars_of(codes).taken(chosen).spread(wanted)
            made["major"] = made["major_bars"] = nothing
        return made


def _same(values: tuple[Any, ...], first: int, end: int) -> tuple[bool, Any]:
    """Whether there is one value alone from ``first`` on, before ``end``; and the first."""
    its = values[first:end]
    return bool(its) and its.count(its[0]) == len(its), its[0] if its else None


class _Sounding:
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
        self._tables, self._contents = tables, contents
        self.bars = sums(sizes, counts)
        self._playing_of_bar = np.repeat(np.arange(len(sizes)), sizes)
        self._held = tables.sizes[contents]
        at = places(tables.first[contents], self._held)
        self._bar = np.repeat(np.arange(len(contents)), self._held)
        self._chart = np.repeat(np.arange(len(counts)), self.bars)[self._bar]
        self._kind, self._name = tables.kind[at], tables.name[at]
        self._begins = changes(tables.sound[self._kind]) | changes(self._chart)
        self.begun = np.bincount(self._bar[self._begins], minlength=len(contents))
        self.events = np.bincount(self._chart[self._begins], minlength=len(counts))
        # Whether each event is the first to sound in a playing of a section, and whether it is the last.
        event, playing = np.cumsum(self._begins) - 1, self._playing_of_bar[self._bar]
        self._first, self._last = np.zeros((2, self.events.sum()), np.int64)
        self._first[event[changes(playing)]] = 1
        self._last[event[ceases(playing)]] = 1

    def ends(self) -> Ints:
        """The roots of the first and the last event of each chart, -1 where there is none."""
        made = np.full((len(self.events), 2), -1, np.int64)
        for place, at in enumerate((changes(self._chart), ceases(self._chart))):
            made[self._chart[at], place] = self._tables.root[self._kind[at]]
        return made

    def shares(self, tonics: Ints) -> Floats:
        """The share of the cells of each chart's bars that is on a root of its own."""
        chart = np.repeat(np.arange(len(self.bars)), self.bars)
        shares = self._tables.shares[self._contents, tonics[chart]]
        return np.bincount(chart, shares, len(self.bars)) / np.maximum(self.bars, 1)

    def codes(self, tonics: Ints) -> Codes:
        """The code point of each sounding, each chart counted from a tonic of its own."""
        codes: Codes = self._tables.codes[self._kind, tonics[self._chart]]
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
        first, last = changes(self._playing_of_bar), ceases(self._playing_of_bar)
        silent = self._tables.silent[self._contents]
        inside = np.where(silent, 1, self._held)
        widths = 2 + inside + first + last
        ends = np.cumsum(widths)
        begins = ends - widths + first
        made = np.empty(widths.sum(), CODE_POINTS)
        made[begins[first] - 1] = ord(SECTION_STARTS)
        made[begins] = ord(BAR_BEGINS)
        made[begins[silent] + 1] = ord(SILENCE)
        shown = np.flatnonzero(~silent[self._bar])
        made[(begins + 1 - starts(self._held))[self._bar[shown]] + shown] = codes[shown]
        made[begins + inside + 1] = ord(BAR_ENDS)
        made[ends[last] - 1] = ord(SECTION_ENDS)
        sizes = sums(widths, self.bars)
        # Silence throughout has no string.
        sounds = self.events > 0
        return Ragged(made if sounds.all() else made[np.repeat(sounds, sizes)], np.where(sounds, sizes, 0))

    def names(self, codes: Codes) -> Ragged:
        """The names of its chords, as ``names_in_short`` gives them."""
        codes = codes[self._begins]
        chart, name = self._chart[self._begins], self._name[self._begins]
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
