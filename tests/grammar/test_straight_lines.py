"""Straight lines: known ahead, they are read as any other line is read bar by bar."""

from __future__ import annotations

from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.chart_text import write_chart
from grammar.charts import read_chart
from grammar.straight_lines import straight_line
from shared.chart import Chart, Reading
from shared.pitch import Pitch
from tests.bench.generated import chart_texts
from tests.strategies.charts import charts

C = Pitch("C")


@pytest.mark.parametrize(
    ("text", "bars"),
    [
        ("| C | F |", "C, F"),
        ("|C|F G|", "C, F G"),
        ("  | C . F | N.C. | Bb7/D |]  ", "C . F, N.C., Bb7/D"),
        ("| 1 | 4 57 |", "1, 4 57"),
        ("| ii7 V7 | . |", None),
        ("| C | . F |", None),
        ("| C | |", None),
        ("| C | % |", None),
        ("| C | /B |", None),
        ("|: C | F :|", None),
        ("| C |1. F :|2. G |", None),
        ("| (2/4) C | F |", None),
        ("| C | F | x3", None),
        ("| C | F", None),
        ("C | F |", None),
        ("| C | H |", None),
        ("|", None),
        ("||", None),
        ("| C || F |", "C, F"),
    ],
)
def test_what_is_straight(text: str, bars: str | None) -> None:
    straight = straight_line(text, C)
    if bars is None:
        assert straight is None
    else:
        assert straight is not None
        assert ", ".join(" ".join(cell.written for cell in cells) for cells in straight.bars) == bars
        assert straight.sounding is straight.bars[-1][-1]
        assert straight.numbers == bars[0].isdigit()


def test_numbers_without_a_tonic_are_not_straight() -> None:
    assert straight_line("| 1 | 4 |", None) is None
    assert straight_line("| C | F |", None) is not None


def bar_by_bar(text: str) -> Reading:
    with patch("grammar.charts.straight_lines", lambda _: lambda _: None):
        return read_chart(text)


@settings(max_examples=300, deadline=None)
@given(charts())
def test_straight_lines_change_nothing(chart: Chart) -> None:
    text = write_chart(chart)
    assert read_chart(text) == bar_by_bar(text)


@settings(max_examples=1500, deadline=None)
@given(st.text("||| CFHx×(2/4).:%]1m7-\t\xa0", max_size=14))
def test_lines_of_any_signs_are_read_alike(signs: str) -> None:
    text = f"key: C\n\n| C |\n|{signs}|\n"
    assert read_chart(text) == bar_by_bar(text)


MIXED = """key: Am

| 1m | 4m 57 1m | {} |
[A]
| 1m | b6 . b7 | % |
(words) | C |
| 6m 2 3 | 4 5 |
{}
key: C
| 2 | 3 | 6 |
[B]
| C | F | :|
|: C | F |
| G | C |1. F :|
| G |
"""


@pytest.mark.parametrize("one", ["C", ".", "H", "C F G", "/B", "%2"])
@pytest.mark.parametrize("two", ["", "and words", "time: 3/4", "| C F |", "| 1 4 . |"])
def test_straight_lines_beside_others_change_nothing(one: str, two: str) -> None:
    text = MIXED.format(one, two)
    assert read_chart(text) == bar_by_bar(text)


def test_straight_lines_of_generated_charts_change_nothing() -> None:
    for text in chart_texts(60):
        assert read_chart(text) == bar_by_bar(text)
        keyless = text.replace("key:", "was:")
        assert read_chart(keyless) == bar_by_bar(keyless)
