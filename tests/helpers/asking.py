"""Asks the referee of the search as a test writes it, and tells where it found something."""

from __future__ import annotations

from grammar.patterns import read_pattern
from shared.chart import Chart
from shared.match import Count, Reach
from shared.pattern import Strength
from tests.helpers.referee import RefereeAnswer, referee


def ask(
    chart: Chart,
    pattern: str,
    strength: str = "family",
    reach: str = "key",
    rotate: bool = False,
) -> RefereeAnswer:
    return referee(chart, read_pattern(pattern).pattern, Strength(strength), Reach(reach), rotate)


def spans(answer: RefereeAnswer, of: Count = Count.TONIC) -> list[tuple[int, int, int]]:
    return [place[1:] for place in answer.places.get(of, [])]
