"""A remark on a written key that the chords contradict strongly. The key stays as written.

It is made where all of this holds, so that a modal tune, a turnaround or a relative key draws none: one key is written
for the whole chart, and at least ``_LEAST`` chords are played; the tonic neither begins nor ends it and its chords last
less than ``_SELDOM`` of the time; the key finder gives the written tonic less than ``_UNLIKELY`` and another at least
``_SURE``; and that key has another signature.
"""

from __future__ import annotations

from corpus.key_finding import found_stretches, home_chances_of
from corpus.key_phrases import heard
from shared.chart import Chart
from shared.errors import Fault
from shared.tune import Tune

_LEAST = 8
_SELDOM = 0.05
_UNLIKELY = 0.01
_SURE = 0.95


def key_remark(chart: Chart, tune: Tune) -> Fault | None:
    """What is worth saying about the written key of a chart that is played as ``tune``; None where nothing is."""
    key, events = chart.key, tune.events
    if key is None or len(tune.segments) != 1 or len(events) < _LEAST:
        return None
    tonic = key.tonic.pitch_class
    if tonic in (events[0].chord.root.pitch_class, events[-1].chord.root.pitch_class):
        return None
    on_tonic = sum(float(event.length) for event in events if event.chord.root.pitch_class == tonic)
    if on_tonic >= _SELDOM * sum(float(event.length) for event in events):
        return None
    played = heard(chart, keyed=True)
    if home_chances_of(played)[tonic] >= _UNLIKELY:
        return None
    best = found_stretches(played, [event.chord.root for event in events])[0].keys[0]
    if best.chance < _SURE or best.key.signature == key.signature:
        return None
    return Fault(f"“key: {key}” is written, but the chords speak for {best.key} (found {best.chance:.0%} likely)")
