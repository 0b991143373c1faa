"""A remark on a written key that the chords contradict strongly. The key stays as written.

It is made where all of this holds, so that a modal tune, a turnaround or a relative key draws none: one key is written
for the whole chart, and at least ``_LEAST`` chords are played; the tonic neither begins nor ends it and its chords last
less than ``_SELDOM`` of the time; the key finder gives the written tonic less than ``_UNLIKELY`` and another at least
``_SURE``; and that key has another signature.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, nan

from corpus.key_finding import found_stretches, home_chances
from corpus.key_phrases import float_lengths, heard
from corpus.unfolding import playing_order, unfolded
from shared.chart import Bar, Chart, Metre
from shared.errors import Fault

_LEAST = 8
_SELDOM = 0.05
_UNLIKELY = 0.01
_SURE = 0.95


def remark_in_one_key(chart: Chart, events: int, first: int, last: int, homely: float = nan) -> Fault | None:
    """What is worth saying about the written key of a chart that stays in one key; None where nothing is.

    Args:
        chart: The chart.
        events: How many chords are played, equal neighbours joined.
        first: The root of the first one, as a pitch class.
        last: The root of the last one.
        homely: The share of the cells of all played bars that is on the tonic, where it is known.
    """
    key = chart.key
    if key is None or events < _LEAST:
        return None
    tonic = key.tonic.pitch_class
    if tonic in (first, last) or _often(chart, homely) or not _seldom(chart, tonic):
        return None
    played = heard(chart, keyed=True)
    if home_chances(played)[tonic] >= _UNLIKELY:
        return None
    ((first_stretch, *_),) = found_stretches([(chart, played)])
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
