"""A chart together with the tune it stands for, its keys found where none are written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from corpus.key_finding import FoundKey, FoundStretch, found_stretches
from corpus.unfolding import played_bars, unfold
from shared.chart import Chart
from shared.key import Key
from shared.tune import Tune


@dataclass(frozen=True, slots=True)
class PlayedChart:
    """A chart and its tune.

    Attributes:
        chart: The chart as written.
        tune: The tune as played.
        found: The keys that home may be, likeliest first; empty where the home key is written.
        stretches: What was found for the bars without a written key, stretch by stretch; empty where all have one.
    """

    chart: Chart
    tune: Tune
    found: tuple[FoundKey, ...]
    stretches: tuple[FoundStretch, ...] = ()


def played(chart: Chart) -> PlayedChart:
    """The tune that a chart stands for, in its written keys or those found.

    Raises:
        ValueError: If the chart has no chord at all (reading makes that a fault).
    """
    return played_in(chart, () if _all_written(chart) else stretches_of(chart))


def _all_written(chart: Chart) -> bool:
    """Whether all bars have a written key."""
    return not [section for section in chart.sections if [bar for bar in section.bars() if bar.key is None]]


def stretches_of(chart: Chart) -> tuple[FoundStretch, ...]:
    """The keys found for the bars without a written one, at least one stretch.

    Raises:
        ValueError: If the chart has no chord at all.
    """
    (stretches,) = _stretches([chart])
    return stretches


def stretches_of_each(charts: Sequence[Chart]) -> list[tuple[FoundStretch, ...]]:
    """For each chart what ``stretches_of`` gives, none where all bars have a written key.

    Many charts at a time are much faster than one by one.
    """
    asked = [(number, chart) for number, chart in enumerate(charts) if not _all_written(chart)]
    made: list[tuple[FoundStretch, ...]] = [()] * len(charts)
    for (number, _), found in zip(asked, _stretches([chart for _, chart in asked]), strict=True):
        made[number] = found
    return made


def _stretches(charts: Sequence[Chart]) -> list[tuple[FoundStretch, ...]]:
    found = found_stretches(charts)
    if not all(found):
        raise ValueError("a chart without chords has no key")
    return found


def played_in(chart: Chart, stretches: tuple[FoundStretch, ...]) -> PlayedChart:
    """The tune that a chart stands for, in its written keys and those found (none where all are written)."""
    if not stretches:
        return PlayedChart(chart, unfold(chart), ())
    tune = unfold(chart, stretches[0].key if len(stretches) == 1 else _by_bar(chart, stretches))
    return PlayedChart(chart, tune, stretches[0].keys if tune.key_found else (), stretches)


def _by_bar(chart: Chart, stretches: Sequence[FoundStretch]) -> list[Key]:
    """The found key of each played bar; what comes before the first stretch goes with it."""
    bars = sum(1 for _ in played_bars(chart))
    keys = [stretches[0].key] * bars
    for stretch in stretches[1:]:
        keys[stretch.from_bar :] = [stretch.key] * (bars - stretch.from_bar)
    return keys
