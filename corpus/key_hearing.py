"""Charts heard, many at a time: from what their bars hold to phrases laid out (see ``corpus.key_phrases``).

What a bar holds is remembered (see ``corpus.bar_contents``), and each part of a chart is heard once, however often it
is played.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import chain
from typing import NamedTuple

import numpy as np

from corpus.bar_contents import looked_into
from corpus.key_layout import Laid, run_of
from corpus.key_phrases import Heard, Phrase, Sound, float_lengths, parts_of
from corpus.ragged import Floats, Ints, Truths, ceases, changes, places, starts, sums
from corpus.unfolding import Parts
from shared.chart import Bar, Chart, Metre

_LONGEST = 16
_GROUP = 4


def heard(chart: Chart) -> Heard:
    """A chart as the key finder hears it."""
    laid, (sounds,) = heard_together([chart])
    (lined,), (sectioned,) = _lined([chart]).tolist(), _sectioned([chart])
    if not sounds:
        return Heard((), lined, sectioned)
    rows = zip(*(each.tolist() for each in (laid.root, laid.kind, laid.bass, laid.length)), strict=True)
    every = [Sound(*row) for row in rows]
    phrases = [tuple(every[start : start + size]) for start, size in zip(laid.start, laid.size, strict=True)]
    played = zip(*(each.tolist() for each in (laid.phrase, laid.first, laid.last, laid.starts, laid.ends)), strict=True)
    return Heard(tuple(Phrase(phrases[phrase], *rest) for phrase, *rest in played), lined, sectioned)


def heard_together(charts: Sequence[Chart]) -> tuple[Laid, list[bool]]:
    """Charts laid out as they are heard, and which of them are: those in which something sounds.

    Bars under a written key are left out, unless nothing else sounds.
    """
    parts = Parts()
    for chart in charts:
        parts.add(chart)
    sizes, playings, counts = (np.array(each, np.int64) for each in (parts.sizes, parts.playings, parts.counts))
    lined = _lined(charts)
    owner = np.zeros(len(sizes), np.int64)
    owner[playings] = np.repeat(run_of(len(charts)), counts)
    runs = _runs(parts.bars, sizes, owner, lined)
    # Runs as they are played.
    many = np.bincount(runs.part, minlength=len(sizes))
    each = many[playings]
    phrase = places(starts(many)[playings], each)
    playing = np.repeat(run_of(len(playings)), each)
    chart_of_playing = owner[playings]
    before = starts(sizes[playings])
    whole = sums(sizes[playings], counts)
    bar = (before - starts(whole)[chart_of_playing])[playing] - starts(sizes)[playings][playing]
    of_chart = np.bincount(chart_of_playing[playing], minlength=len(charts))
    sounds = of_chart > 0
    root, kind, bass = parts_of(runs.sound)
    laid = Laid(
        root=root,
        kind=kind,
        bass=bass,
        length=runs.length,
        start=starts(runs.size),
        size=runs.size,
        phrase=phrase,
        begin=np.concatenate([[0], np.cumsum(of_chart[sounds])]),
        first=runs.first[phrase] + bar,
        last=runs.last[phrase] + bar,
        starts=changes(playing),
        ends=ceases(playing),
        lined=lined[sounds],
        sectioned=np.array(_sectioned(charts), bool)[sounds],
    )
    return laid, sounds.tolist()


class _Runs(NamedTuple):
    """The phrases that sound in parts of charts, part by part.

    Attributes:
        part: For each the part that it is in.
        first: Its first bar, among the bars of all parts.
        last: Its last one.
        size: How many sounds it has.
        sound: For each sound the number that says its root, kind and bass.
        length: How long it lasts.
    """

    part: Ints
    first: Ints
    last: Ints
    size: Ints
    sound: Ints
    length: Floats


def _runs(bars: Sequence[Bar], sizes: Ints, owner: Ints, lined: Truths) -> _Runs:
    """The phrases of parts.

    Args:
        bars: The bars of all parts.
        sizes: How many each part has.
        owner: The chart of each part.
        lined: For each chart whether its lines are phrases.
    """
    numbers, cells, keys, metres, _, _, _, measured, lines = zip(*bars, strict=True) if bars else [()] * 9
    number, line = (np.fromiter(each, np.int64, len(bars)) for each in (numbers, lines))
    keyed = np.fromiter([key is not None for key in keys], bool, len(bars))
    contents, tables = looked_into(cells)
    part = np.repeat(run_of(len(sizes)), sizes)
    chart = owner[part]
    sounding = np.zeros(len(lined), bool)
    sounding[chart[~keyed & (tables.sounding[contents] > 0)]] = True
    left_out = keyed & sounding[chart]
    begins = changes(part)
    begins[1:] |= left_out[:-1] | (number[1:] <= number[:-1]) | (lined[chart[1:]] & (line[1:] != line[:-1]))
    at = run_of(len(bars))
    begins |= ~lined[chart] & ((at - np.maximum.accumulate(np.where(begins, at, 0))) % _GROUP == 0)
    kept = np.flatnonzero(~left_out)
    run = np.cumsum(begins[kept]) - 1
    first = kept[begins[kept]]
    last = np.append(kept[:-1][begins[kept[1:]]], kept[-1:])
    # What sounds in them.
    many = tables.sounding[contents[kept]]
    cell = places(starts(tables.sounding)[contents[kept]], many)
    table, row = _lengths(tables.cells[contents], metres, measured)
    length = table[np.repeat(row[kept], many) + tables.place[cell]]
    sound, run = tables.plain[tables.kind_of_cell[cell]], np.repeat(run, many)
    new = changes(sound) | changes(run)
    size = np.bincount(run[new], minlength=len(first))
    some = size > 0
    return _Runs(
        part[first[some]],
        first[some],
        last[some],
        size[some],
        sound[new],
        np.bincount(np.cumsum(new) - 1, length).astype(np.float64),
    )


def _lengths(cells: Ints, metres: Sequence[Metre], measured: Sequence[bool]) -> tuple[Floats, Ints]:
    """How long the cells of bars sound, in quarter notes: a table, and for each bar where in it its cells start.

    Args:
        cells: How many cells each bar has.
        metres: Its metre.
        measured: Whether it is measured.
    """
    places = list(map(id, metres))
    different = dict(zip(places, metres, strict=True))
    numbers = {metre: number for number, metre in enumerate(dict.fromkeys(different.values()))}
    number_at = {place: numbers[metre] for place, metre in different.items()}
    metre = np.fromiter(map(number_at.__getitem__, places), np.int64, len(metres))
    ways = len(numbers)
    way = (2 * cells + np.fromiter(measured, bool, len(measured))) * ways + metre
    which = np.flatnonzero(np.bincount(way))
    known = list(numbers)
    rows = [float_lengths(each // ways // 2, known[each % ways], each // ways % 2 > 0) for each in which.tolist()]
    row = np.zeros(which[-1] + 1 if len(which) else 0, np.int64)
    row[which] = starts(np.array(list(map(len, rows)), np.int64))
    return np.array([length for each in rows for length in each], np.float64), row[way]


def _lined(charts: Sequence[Chart]) -> Truths:
    """For each chart whether its lines are phrases: lines are known, and not too many bars stand on one."""
    bodies = [[bar.line for section in chart.sections for bar in section.bars()] for chart in charts]
    sizes = np.array(list(map(len, bodies)), np.int64)
    chart = np.repeat(run_of(len(charts)), sizes)
    lines = np.fromiter(chain.from_iterable(bodies), np.int64, len(chart))
    known = np.bincount(chart[lines > 0], minlength=len(charts)) > 0
    # Where so few bars are written, no line has too many.
    for number in np.flatnonzero(known & (sizes > _LONGEST)).tolist():
        known[number] = max(Counter(bodies[number]).values()) <= _LONGEST
    return known


def _sectioned(charts: Sequence[Chart]) -> list[bool]:
    """Whether each chart has sections."""
    return [any(section.label for section in chart.sections) for chart in charts]
