"""Draws from strategies without a test around them: what a seed gives is the same in every run.

``judged`` draws charts and patterns for the referee of the search.
"""

from __future__ import annotations

from typing import TypeVar

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from shared.chart import Chart
from shared.key import Key
from shared.pattern import Pattern
from shared.pitch import Pitch
from tests.helpers.agreement import keys_by_bar
from tests.helpers.performance import perform
from tests.strategies.charts import charts
from tests.strategies.patterns import patterns, patterns_for
from tests.strategies.tunes import tunes

Drawn = TypeVar("Drawn")


def drawn(strategy: st.SearchStrategy[Drawn], count: int, number: int) -> list[Drawn]:
    """So many values of a strategy, as the seed ``number`` gives them."""
    made: list[Drawn] = []

    @seed(number)
    @settings(
        max_examples=count,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
        deadline=None,
        database=None,
    )
    @given(strategy)
    def draw(value: Drawn) -> None:
        made.append(value)

    draw()
    return made


def heard(chart: Chart) -> bool:
    """Whether there is a chord to be heard when the chart is played."""
    return bool(perform(chart, Key(Pitch("C"))).events)


#: Tunes that come back to a few chords, and charts of every kind.
TUNES = tunes()
KINDS = charts(max_bars=6).filter(heard)


@st.composite
def judged(draw: st.DrawFn, made: st.SearchStrategy[Chart]) -> tuple[Chart, Pattern]:
    """A chart and a pattern, as often as not written after what the chart plays."""
    chart, bars = draw(made), draw(st.booleans())
    after = patterns_for(chart, bars, keys_by_bar(chart))
    return chart, draw(st.one_of(after, after, patterns(bars)))
