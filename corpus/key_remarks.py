"""A remark on a written key that the chords contradict strongly. The key stays as written.

It is made where all of this holds, so that a modal tune, a turnaround or a relative key draws none: one key is written
for the whole chart, and at least ``_LEAST`` chords are played; the tonic neither begins nor ends it and its chords last
less than ``_SELDOM`` of the time; the key finder gives the written tonic less than ``_UNLIKELY`` and another at least
``_SURE``; and that key has another signature.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import TYPE_CHECKING

from corpus.key_finding import found_stretches, home_chances
from corpus.key_phrases import float_lengths
from corpus.once import of_each
from corpus.unfolding import playing_order, unfolded
from shared.chart import Bar, Chart, Metre
from shared.errors import Fault
from shared.key import Key

if TYPE_CHECKING:
    from corpus.ragged import Floats, Ints

_LEAST = 8
_SELDOM = 0.05
_UNLIKELY = 0.01
_SURE = 0.95


def key_remarks(charts: Sequence[Chart], events: Ints, ends: Ints, homely: Floats) -> list[Fault | None]:
    """For each chart what is worth saying about its written key; None where nothing is.

    Args:
        charts: Charts that stay in one key.
        events: How many chords of each are played, equal neighbours joined.
        ends: The roots of the first one and the last one, as pitch classes.
        homely: The share of the cells of all played bars that is on the home tonic; not a number where that is not
            known, or bars last unlike. It is asked only where neither end is the home tonic.
    """
    import numpy as np

    made: list[Fault | None] = [None] * len(charts)
    tonics = np.array(of_each(_tonic, [chart.key for chart in charts]), np.int64)
    # Where bars last alike a cell has half of its equal share at least.
    odd = (tonics >= 0) & (events >= _LEAST) & (ends != tonics[:, None]).all(1) & ~(homely >= 2 * _SELDOM)
    asked = [number for number in np.flatnonzero(odd).tolist() if _seldom(charts[number], tonics[number])]
    for number, chances in zip(asked, home_chances([charts[number] for number in asked]), strict=True):
        chart = charts[number]
        assert chart.key is not None
        if chances[tonics[number]] < _UNLIKELY:
            made[number] = _remark(chart, chart.key)
    return made


def _tonic(key: Key | None) -> int:
    """The tonic of a key as a pitch class, -1 where there is no key."""
    return -1 if key is None else key.tonic.pitch_class


def _remark(chart: Chart, key: Key) -> Fault | None:
    """The remark on a key that is unlikely, unless no other one is likely enough."""
    ((first_stretch, *_),) = found_stretches([chart])
    best = first_stretch.keys[0]
    if best.chance < _SURE or best.key.signature == key.signature:
        return None
    return Fault(f"“key: {key}” is written, but the chords speak for {best.key} (found {best.chance:.0%} likely)")


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
