"""A chart together with the tune it stands for, its key found where none is written."""

from __future__ import annotations

from dataclasses import dataclass

from corpus.key_finding import FoundKey, key_of_events
from corpus.unfolding import unfold
from shared.chart import Chart
from shared.key import Key
from shared.pitch import Pitch
from shared.tune import Tune

#: Any key will do to unfold a chart whose own is still to be found: the chords stay what they are.
_ANY = Key(Pitch("C"))


@dataclass(frozen=True, slots=True)
class PlayedChart:
    """A chart and its tune.

    Attributes:
        chart: The chart as written.
        tune: The tune as played.
        found: The keys it may be in, likeliest first; empty where the key is written.
    """

    chart: Chart
    tune: Tune
    found: tuple[FoundKey, ...]


def played(chart: Chart) -> PlayedChart:
    """The tune that a chart stands for, in its written key or the one found.

    Raises:
        ValueError: If the chart has no chord at all (reading makes that a fault).
    """
    if chart.key is not None:
        return PlayedChart(chart, unfold(chart), ())
    found = key_of_events(unfold(chart, _ANY).events)
    return PlayedChart(chart, unfold(chart, found[0].key), found)
