"""A remark on a written key that the chords contradict strongly. The key stays as written.

It is made where all of this holds, so that a modal tune, a turnaround or a relative key draws none: one key is written
for the whole chart, and at least ``_LEAST`` chords are played; the tonic neither begins nor ends it and its chords last
less than ``_SELDOM`` of the time; the key finder gives the written tonic less than ``_UNLIKELY`` and another at least
``_SURE``; and that key has another signature.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, nan
from typing import NamedTuple

from corpus.key_finding import found_stretches, home_chances
from corpus.key_phrases import float_lengths
from corpus.unfolding import playing_order, unfolded
from shared.chart import Bar, Chart, Metre
from shared.errors import Fault
from shared.key import Key

_LEAST = 8
_SELDOM = 0.05
_UNLIKELY = 0.01
_SURE = 0.95


class InOneKey(NamedTuple):
    """A chart that stays in one key, as played.

    Attributes:
        chart: The chart.
        events: How many chords are played, equal neighbours joined.
        first: The root of the first one, as a pitch class.
        last: The root of the last one.
        homely: The share of the cells of all played bars that is on the home tonic, where it is known.
    """

    chart: Chart
    events: int
    first: int
    last: int
    homely: float = nan


def key_remarks(charts: Sequence[InOneKey]) -> list[Fault | None]:
    """For each chart what is worth saying about its written key; None where nothing is."""
    made: list[Fault | None] = [None] * len(charts)
    asked = [number for number, one in enumerate(charts) if _odd(one)]
    for number, chances in zip(asked, home_chances([charts[number].chart for number in asked]), strict=True):
        chart = charts[number].chart
        assert chart.key is not None
        if chances[chart.key.tonic.pitch_class] < _UNLIKELY:
            made[number] = _remark(chart, chart.key)
    return made


def _odd(one: InOneKey) -> bool:
    """Whether the written tonic neither begins nor ends the tune and is seldom heard."""
    key = one.chart.key
    if key is None or one.events < _LEAST:
        return False
    tonic = key.tonic.pitch_class
    return tonic not in (one.first, one.last) and not _often(one.chart, one.homely) and _seldom(one.chart, tonic)


def _remark(chart: Chart, key: Key) -> Fault | None:
    """The remark on a key that is unlikely, unless no other one is likely enough."""
    ((first_stretch, *_),) = found_stretches([chart])
    best = first_stretch.keys[0]
    if best.chance < _SURE or best.key.signature == key.signature:
        return None
    return Fault(f"“key: {key}” is written, but the chords speak for {best.key} (found {best.chance:.0%} likely)")


def _often(chart: Chart, homely: float) -> bool:
    """Whether the tonic is surely heard often: bars last alike, and a cell half of its equal share at least."""
    bars = [bar for section in chart.sections for bar in unfolded(section.body)] if homely >= 2 * _SELDOM else []
    return bool(bars) and _most(bars) < inf


def _seldom(chart: Chart, tonic: int) -> bool:
    """Whether chords on the tonic are seldom heard."""
    order = playing_order(chart)
    times: dict[int, int] = {}
    for section in order:
        times[id(section)] = times.get(id(section), 0) + 1
    parts = [(unfolded(section.body), times.pop(id(section))) for section in order if id(section) in times]
    on_tonic = whole = 0.0
    # Of most charts it is known long before their end that the tonic is heard often enough, whatever follows.
    enough = _SELDOM * sum([count * _most(bars) for bars, count in parts])
    for bars, count in parts:
        for bar in bars:
            lengths = float_lengths(len(bar.cells), bar.metre, bar.measured)
            for cell, length in zip(bar.cells, lengths, strict=True):
                if cell.chord is not None:
                    whole += length * count
                    if cell.chord.sound[0] == tonic:
                        on_tonic += length * count
            if on_tonic >= enough:
                return False
    return on_tonic < _SELDOM * whole


def _most(bars: Sequence[Bar]) -> float:
    """The longest that so many bars last together, in quarter notes, where that is soon seen."""
    metre = bars[0].metre if bars else Metre()
    if [bar for bar in bars if bar.metre is not metre or not bar.measured]:
        return inf
    return len(bars) * float_lengths(1, metre, True)[0]
