"""Tunes alike among drawn charts: the same scores as a full alignment over plain lists, best first."""

from __future__ import annotations

import pytest
from hypothesis import strategies as st

from search.alike import like
from shared.chart import Chart
from tests.helpers.agreement import index_of, keys_by_bar
from tests.helpers.alike_referee import lines_of, referee_score
from tests.strategies.drawing import KINDS, TUNES, drawn

CHARTS = 12


@pytest.mark.parametrize(("made", "seed"), [(TUNES, 1), (TUNES, 2), (KINDS, 1)])
def test_a_full_alignment_of_drawn_charts_agrees(made: st.SearchStrategy[Chart], seed: int) -> None:
    charts = drawn(made, CHARTS, seed)
    lines = [lines_of(chart, keys_by_bar(chart)) for chart in charts]
    shared = 0
    with index_of(charts) as index:
        for number, here in enumerate(lines):
            expected = {}
            for other, there in enumerate(lines):
                score, passages = referee_score(here, there)
                if other != number and passages:
                    expected[str(other)] = score
            results = like(index, str(number), limit=0).results
            assert {each.path: each.score for each in results} == pytest.approx(expected, abs=1e-12)
            assert [each.score for each in results] == sorted((each.score for each in results), reverse=True)
            shared += len(results)
    assert shared >= CHARTS
