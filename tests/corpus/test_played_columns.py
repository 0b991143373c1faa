"""What the index keeps of a chart: put together section by section, it is what the whole tune gives."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.chart_files import read_text
from corpus.codes import coded
from corpus.played_columns import STRINGS, PlayedColumns, columns_of_tunes, played_columns
from corpus.ragged import Ragged
from corpus.tunes import played
from shared.chart import Chart
from tests.bench.generated import chart_texts
from tests.helpers.moved_codes import moved
from tests.helpers.small_charts import labelled, sounds
from tests.strategies.charts import charts


def told(columns: PlayedColumns) -> list[object]:
    """Columns as plain values."""

    def plain(runs: Ragged) -> list[list[int] | None]:
        ends = np.cumsum(runs.sizes).tolist()
        lists = [runs.values[first:end].tolist() for first, end in pairwise([0, *ends])]
        there = [True] * len(lists) if runs.there is None else runs.there.tolist()
        return [each if known else None for each, known in zip(lists, there, strict=True)]

    texts = {name: plain(runs) for name, runs in columns.texts.items()}
    numbers = [columns.minor.tolist(), columns.ends.tolist(), columns.events.tolist(), columns.keys.tolist()]
    bars, begun = plain(columns.bars), plain(columns.begun)
    return [columns.homes, texts, columns.pieces, bars, begun, columns.segments, numbers]


def same(*charts: Chart) -> None:
    made, expected = played_columns(charts), columns_of_tunes(map(played, charts))
    assert told(made) == told(expected)


@settings(max_examples=200, deadline=None)
@given(st.lists(charts(), min_size=1, max_size=4))
def test_charts_of_every_kind(made: list[Chart]) -> None:
    sounding = [chart for chart in made if sounds(chart)]
    if sounding:
        same(*sounding)


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
    made = []
    for number, text in enumerate(chart_texts(60)):
        chart = read_text(text if number % 3 == 0 else text.replace("key:", "was:")).chart
        assert chart is not None
        made.append(chart)
    same(*made)


def test_bars_that_are_forgotten_are_looked_into_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("corpus.bar_contents._MOST_REMEMBERED", 0)
    test_generated_charts()


def test_no_charts_have_no_rows() -> None:
    assert told(played_columns([]))[0] == []


def test_a_chart_of_silence_has_no_strings() -> None:
    chart = labelled(("A", "N.C."))
    texts, pieces, bars, begun, segments, numbers = told(played_columns([chart]))[1:]
    assert texts == {name: [[] if name in ("tonic", "names") else None] for name in (*STRINGS, "names")}
    assert pieces == {"tonic_form": [None], "tonic_pieces": [""], "bars_form": [None], "bars_pieces": [""]}
    assert (bars, begun, segments, numbers) == ([[1]], [[0]], [""], [[False], [[-1, -1]], [0], [0]])


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
