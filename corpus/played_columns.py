"""What the index keeps of charts as they are played, worked out for many charts at a time.

``columns_of_tunes`` says what that is: the strings of ``corpus.codes``, the chords as written, and where they stand.
For charts that stay in one key, which most do, ``played_columns`` gives the very same without making the tunes: what a
bar holds is remembered (see ``corpus.bar_contents``), and all that follows from how bars are played is worked out for
all charts at once, as arrays.

Conventions: as in ``shared.tune`` and ``corpus.sounding``; roots are pitch classes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from operator import itemgetter
from typing import Any, NamedTuple

import numpy as np

from corpus.bar_contents import looked_into
from corpus.codes import coded
from corpus.key_finding import FoundKey, FoundStretch
from corpus.once import of_each
from corpus.ragged import (
    CODE_POINTS,
    Floats,
    Ints,
    Ragged,
    Truths,
    changes,
    joined,
    of_lists,
    of_texts,
    places,
    runs_of,
    starts,
    sums,
    texts_of,
)
from corpus.sounding import Sounding, bars_in_pieces, bars_of_parts
from corpus.tunes import PlayedChart, played, played_in, stretches_of_each
from corpus.unfolding import Parts
from corpus.unpacking import (
    PIECES,
    KeySegment,
    in_pieces,
    names_in_short,
    pieces_in_short,
    segments_in_short,
    strings_in_pieces,
)
from shared.chart import Bar, Chart
from shared.key import Key, Mode

#: The counts, each of which is a string of chords and one of bars.
COUNTS = ("tonic", "relative", "major", "fixed")
#: All strings but the bars from the tonic, which are put together from pieces alone.
STRINGS = tuple(name for count in COUNTS for name in (count, f"{count}_bars") if name != "tonic_bars")


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
        pieces: The columns ``PIECES`` (see ``corpus.unpacking``) by their names.
        minor: Whether all of it is in one natural minor key, so that the count from the relative major is left out.
        bars: For each played bar its number as written.
        begun: For each played bar how many events begin in it.
        keys: How many keys the tune passes through, one behind the other.
        segments: The column of that name, which tells them (see ``corpus.unpacking``).
        ends: The roots of the first and the last event, -1 where there is none.
        homely: The share of the cells of all played bars that is on the home tonic; not a number where bars last
            unlike, where one end is the home tonic, or that has not been worked out.
    """

    homes: list[PlayedKey]
    texts: dict[str, Ragged]
    pieces: dict[str, list[str | None]]
    minor: Truths
    bars: Ragged
    begun: Ragged
    keys: Ints
    segments: list[str | None]
    ends: Ints
    homely: Floats

    @property
    def events(self) -> Ints:
        """How many events each chart has."""
        return sums(self.begun.values, self.begun.sizes)

    def merged(self, other: PlayedColumns, order: Ints) -> PlayedColumns:
        """The charts of both, in another order: of each the number among those of this and then those of the other."""
        numbers = order.tolist()
        homes, segments = self.homes + other.homes, self.segments + other.segments
        return PlayedColumns(
            [homes[number] for number in numbers],
            {name: joined([own, other.texts[name]]).taken(order) for name, own in self.texts.items()},
            {name: list(map((own + other.pieces[name]).__getitem__, numbers)) for name, own in self.pieces.items()},
            np.concatenate([self.minor, other.minor])[order],
            joined([self.bars, other.bars]).taken(order),
            joined([self.begun, other.begun]).taken(order),
            np.concatenate([self.keys, other.keys])[order],
            [segments[number] for number in numbers],
            np.concatenate([self.ends, other.ends])[order],
            np.concatenate([self.homely, other.homely])[order],
        )


def columns_of_tunes(charts: Iterable[PlayedChart]) -> PlayedColumns:
    """What the index keeps of charts that have been made into their tunes."""
    strings: list[tuple[str | None, ...]] = []
    pieces: list[tuple[str | None, ...]] = []
    homes, minors, bars, begun, keys, segments, ends = [], [], [], [], [], [], []
    for one in charts:
        tune, events = one.tune, one.tune.events
        homes.append(PlayedKey(tune.key, tune.key_found, one.found))
        minor = bool(events) and len(tune.segments) == 1 and tune.segments[0].key.mode is Mode.MINOR
        minors.append(minor)
        counts = coded(tune)
        made: list[str | None] = [counts.tonic.chords]
        for count in COUNTS[1:]:
            each = None if minor and count in ("relative", "major") else getattr(counts, count)
            made += (each.chords, each.bars) if each else (None, None)
        pieces.append(strings_in_pieces(counts.tonic.chords, counts.tonic.bars))
        names = " ".join([event.written for event in events])
        strings.append((*made, names_in_short(names, (counts.fixed or counts.tonic).chords)))
        bars.append([bar.bar for bar in tune.bars])
        begun.append([0] * len(tune.bars))
        for event in events:
            begun[-1][event.played] += 1
        its = [KeySegment(str(each.key), each.first, each.last, each.from_bar, each.to_bar) for each in tune.segments]
        keys.append(len(its))
        segments.append(segments_in_short(its, str(tune.key), len(events), len(tune.bars)))
        ends.append([event.chord.root.pitch_class for event in (events[0], events[-1])] if events else [-1, -1])
    columns = zip((*STRINGS, "names"), zip(*strings, strict=True), strict=True)
    return PlayedColumns(
        homes,
        {name: of_texts(texts) for name, texts in columns},
        _columns_of(pieces),
        np.array(minors, bool),
        of_lists(bars, np.uint16),
        of_lists(begun, np.uint16),
        np.array(keys, np.int64),
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
    return runs_of(runs, np.bincount(chart[first], minlength=len(bars.sizes)))


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
            self._parts.add(chart)
            ends.append(len(self._parts.bars))
        runs = list(pairwise([0, *ends]))
        keys = self._of_bars("key")
        same = [_same(keys, *run) for run in runs]
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
        self._runs = [runs[number] for number in self.numbers]

    def columns(self) -> PlayedColumns:
        """What the index keeps of them."""
        parts = self._parts
        contents, tables = looked_into(self._of_bars("cells"))
        numbers = np.fromiter(map(itemgetter(0), parts.bars), np.uint16, len(parts.bars))
        sizes, playings, counts = (np.array(each, np.int64) for each in (parts.sizes, parts.playings, parts.counts))
        kept = np.zeros(len(counts), bool)
        kept[self.numbers] = True
        playings, counts = playings[np.repeat(kept, counts)], counts[kept]
        of = places(starts(sizes)[playings], sizes[playings])
        sounding = Sounding(tables, contents[of], sizes[playings], counts)
        tonics = self._of_keys(lambda key: key.tonic.pitch_class)
        codes = sounding.codes(tonics)
        texts = {"tonic": sounding.chords(codes), "names": sounding.names(codes)}
        own, every = np.array(parts.kept, np.int64), np.zeros(len(kept), np.int64)
        every[kept] = tonics
        bars = texts_of(bars_of_parts(tables, contents, sizes, np.repeat(every, own)))
        firsts = starts(own)[kept]
        order = runs_of((playings - np.repeat(firsts, counts)).tolist(), counts)
        rows = zip(texts_of(texts["tonic"]), firsts.tolist(), (firsts + own[kept]).tolist(), order, strict=True)
        pieces = [
            pieces_in_short(in_pieces(chords), bars_in_pieces(bars[first:end], played) if chords else ("", None))
            for chords, first, end, played in rows
        ]
        some, ends = sounding.events > 0, sounding.ends()
        natural = self._of_keys(lambda key: key.mode is Mode.MINOR) > 0
        return PlayedColumns(
            self.homes,
            texts | self._relative(sounding, tonics),
            _columns_of(pieces),
            natural & some,
            Ragged(numbers[of], sounding.bars),
            Ragged(sounding.begun.astype(np.uint16), sounding.bars),
            some.astype(np.int64),
            self._segments(sounding),
            ends,
            self._homely(sounding, tonics, ends),
        )

    def _segments(self, sounding: Sounding) -> list[str | None]:
        """The column ``segments``: each has one, of all that is played; silence throughout has none."""
        sizes = zip(sounding.events.tolist(), sounding.bars.tolist(), strict=True)
        return [
            None
            if key is home.key and events
            else segments_in_short(
                [KeySegment(str(key), 0, events - 1, 0, bars - 1)] if events else [], str(home.key), events, bars
            )
            for key, home, (events, bars) in zip(self._keys, self.homes, sizes, strict=True)
        ]

    def _homely(self, sounding: Sounding, tonics: Ints, ends: Ints) -> Floats:
        """The share of the home tonic, where a chart neither begins nor ends with it (see ``PlayedColumns``)."""
        home = np.array(of_each(lambda key: key.tonic.pitch_class, [each.key for each in self.homes]), np.int64)
        asked = (ends != home[:, None]).all(1)
        for number in np.flatnonzero(asked).tolist():
            bars = self._parts.bars[slice(*self._runs[number])]
            metre = bars[0].metre
            asked[number] = not [bar for bar in bars if bar.metre is not metre or not bar.measured]
        return np.where(asked, sounding.shares(tonics), np.nan)

    def _of_bars(self, name: str) -> list[Any]:
        """What all bars have of one name, in a row."""
        return list(map(itemgetter(Bar._fields.index(name)), self._parts.bars))

    def _of_keys(self, what: Callable[[Key], int]) -> Ints:
        """What is to be said of the key of each chart."""
        return np.array(of_each(what, self._keys), np.int64)

    def _relative(self, sounding: Sounding, tonics: Ints) -> dict[str, Ragged]:
        """The strings that stand beside those of the tonic: where a minor third does not mean natural minor."""
        wanted = self._of_keys(lambda key: key.minor_third and key.mode is not Mode.MINOR) > 0
        wanted &= sounding.events > 0
        nothing = Ragged(np.zeros(0, CODE_POINTS), np.zeros(wanted.sum(), np.int64)).spread(wanted)
        missing = nothing._replace(there=np.zeros(len(wanted), bool))
        made = dict.fromkeys(STRINGS[1:], missing)
        if wanted.any():
            lower = self._of_keys(lambda key: key.relative_major.tonic.pitch_class)
            codes, chosen = sounding.codes(np.where(wanted, lower, tonics)), np.flatnonzero(wanted)
            made["relative"] = sounding.chords(codes).taken(chosen).spread(wanted)
            made["relative_bars"] = sounding.bars_of(codes).taken(chosen).spread(wanted)
            made["major"] = made["major_bars"] = nothing
        return made


def _columns_of(pieces: Sequence[tuple[str | None, ...]]) -> dict[str, list[str | None]]:
    """The columns ``PIECES`` of charts, by the rows of them."""
    return {name: [row[place] for row in pieces] for place, name in enumerate(PIECES)}


def _same(values: list[Any], first: int, end: int) -> tuple[bool, Any]:
    """Whether there is one value alone from ``first`` on, before ``end``; and the first."""
    its = values[first:end]
    return bool(its) and its.count(its[0]) == len(its), its[0] if its else None
