"""What the index keeps of a chart: put together section by section, it is what the whole tune gives."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.chart_files import read_text
from corpus.codes import coded, moved
from corpus.played_columns import columns_of_tune, played_columns
from corpus.tunes import played
from shared.chart import Chart
from tests.bench.generated import chart_texts
from tests.helpers.small_charts import labelled, sounds
from tests.strategies.charts import charts


def same(chart: Chart) -> None:
    made, expected = played_columns(chart), columns_of_tune(played(chart))
    assert made._replace(strings=list(made.strings)) == expected


@settings(max_examples=400, deadline=None)
@given(charts())
def test_charts_of_every_kind(chart: Chart) -> None:
    if sounds(chart):
        same(chart)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.sampled_from(["C", "C C", "F", "C F", "F C", "N.C.", "C N.C.", "N.C. F", "C#", "Db C#"]), min_size=1)
)
def test_chords_that_sound_on(bars: list[str]) -> None:
    half = len(bars) // 2
    text = f"key: C\nform: A B B A A\n\n[A]\n|: {' | '.join(bars)} :|\n[B]\n| {' | '.join(bars[half:])} |\n"
    reading = read_text(text)
    if reading.chart is not None:
        same(reading.chart)


@pytest.mark.parametrize(
    "text",
    [
        "key: C\n\n| C | F |",
        "key: Am\nform: A A B A\n\n[A]\n| Am |\n[B]\n| Am | F |",
        "key: Am\n\n[A]\n| Am | E7 |\n[B]\n[C]\n| Am |",
        "key: C\n\n| C |\n[A]\n| C |\n[B]\n| C | N.C. |",
        "key: C\nform: B A B\n\n[A]\n| N.C. | N.C. |\n[B]\n| C | G |",
        "key: C\n\n[A]\n| C | F |\n[B]\nkey: D\n| D | G |",
        "key: C\n\nkey: D\n| D | G |",
        "\n| D | G | A |",
        "\n| D | G |\nkey: F\n| F | C |",
        "key: C\nform: A\n\n[A]\n| D | G |\n[B]\nkey: F\n| F | C |",
        "key: C\n\n|: C | F |1. G :|2. C |\n| C | C . F . |",
        "key: D dorian\n\nDm7  G7\nwords\nDm7\nmore words",
    ],
)
def test_cases(text: str) -> None:
    chart = read_text(text).chart
    assert chart is not None
    same(chart)


def test_generated_charts() -> None:
    for number, text in enumerate(chart_texts(60)):
        chart = read_text(text if number % 3 == 0 else text.replace("key:", "was:")).chart
        assert chart is not None
        same(chart)


def test_a_chart_of_silence_has_no_strings() -> None:
    chart = labelled(("A", "N.C."))
    made = played_columns(chart)
    assert list(made.strings) == ["", "", *[None] * 6]
    assert (made.names, list(made.begun), made.segments, made.first) == ("", [0], [], -1)


@settings(max_examples=200, deadline=None)
@given(charts())
def test_strings_are_moved_as_the_relative_major_is_counted(chart: Chart) -> None:
    if sounds(chart):
        tune = played(chart).tune
        made = coded(tune)
        if len(tune.segments) == 1 and made.relative is not None:
            up = tune.segments[0].key.tonic.pitch_class - tune.segments[0].key.relative_major.tonic.pitch_class
            assert moved(made.tonic.chords, up) == made.relative.chords
            assert moved(made.tonic.bars, up) == made.relative.bars
            assert moved(made.relative.chords, -up) == made.tonic.chords
