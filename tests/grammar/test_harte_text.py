"""Charts written as bars of Harte chords: what is written, what comes back, and what has no room."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings

from grammar.billboard import read_billboard
from grammar.chart_text import write_chart
from grammar.charts import read_chart
from grammar.harte_text import write_harte_text
from shared.chart import Chart
from tests.helpers.played_chords import played_chords
from tests.strategies.charts import charts

DEMO = Path(__file__).resolve().parents[2] / "corpus" / "demo"
DEMO_CHARTS = sorted(DEMO.rglob("*.txt"))


def chart_of(text: str) -> Chart:
    reading = read_chart(text)
    assert reading.chart is not None, reading.faults
    return reading.chart


def again(chart: Chart) -> Chart:
    (tune,) = read_billboard(write_harte_text(chart))
    assert tune.remarks == ()
    assert tune.chart is not None, tune.faults
    return tune.chart


def spelled(chart: Chart) -> list[object]:
    """Metre, tonic and chords of every bar as it is played."""
    return [(metre, key and key.tonic, chords) for metre, key, chords in played_chords(chart)]


def sounding(chart: Chart) -> list[object]:
    """The same as sound."""
    return [
        (metre, key and key.tonic.pitch_class, tuple((chord and chord.sound, beats) for chord, beats in chords))
        for metre, key, chords in played_chords(chart)
    ]


@pytest.mark.parametrize("path", DEMO_CHARTS, ids=lambda path: path.stem)
def test_charts_of_the_demo_library(path: Path) -> None:
    chart = chart_of(path.read_text(encoding="utf-8"))
    assert spelled(again(chart)) == spelled(chart)


@given(charts(max_sections=4, max_bars=10))
@settings(max_examples=200, deadline=None)
def test_generated_charts(chart: Chart) -> None:
    assert sounding(again(chart)) == sounding(chart)


#: A chart, and the text of it.
TEXTS = [
    (
        "title: A Song\nby: A Singer\nkey: C\n\n[Verse]\n| C | F . . G7/B |\n",
        "# title: A Song\n# artist: A Singer\n# metre: 4/4\n# tonic: C\n\n"
        "0.000\tVerse, | C:maj | F:maj . . G:7/3 |\n4.000\tend\n",
    ),
    (
        "tempo: 60\ntime: 3/4\n\n| C | D | E | F | G |\n",
        "# metre: 3/4\n\n0.000\t| C:maj | D:maj | E:maj | F:maj |\n12.000\t| G:maj |\n15.000\tend\n",
    ),
    ("[A]\n|: C | F :|x3\n", "# metre: 4/4\n\n0.000\tA, | C:maj | F:maj | x3\n12.000\tend\n"),
    ("|: C |1. F :|2. G |\n", "# metre: 4/4\n\n0.000\t| C:maj | F:maj | C:maj | G:maj |\n8.000\tend\n"),
    (
        "form: A B A\n\n[A]\n| C |\n[B]\n| F |\n",
        "# metre: 4/4\n\n0.000\tA, | C:maj |\n2.000\tB, | F:maj |\n4.000\tA, | C:maj |\n6.000\tend\n",
    ),
    ("| (2/4) C | F . | N.C. |\n", "# metre: 4/4\n\n0.000\t| (2/4) C:maj | F:maj . | N |\n5.000\tend\n"),
    ("| C | | . G |\n", "# metre: 4/4\n\n0.000\t| C:maj | . | . G:maj |\n6.000\tend\n"),
    ("| C F G |\n", "# metre: 4/4\n\n0.000\t| C:maj . F:maj G:maj |\n2.000\tend\n"),
    (
        "key: C\n\n| C |\nkey: D\ntime: 3/4\n| D |\n",
        "# metre: 4/4\n# tonic: C\n\n0.000\t| C:maj |\n# metre: 3/4\n# tonic: D\n2.000\t| D:maj |\n3.500\tend\n",
    ),
    ("[Solo (two times)]\n| C |\n", "# metre: 4/4\n\n0.000\tSolo two times, | C:maj |\n2.000\tend\n"),
    ("C   F  G\nla la la\n", "# metre: 4/4\n\n0.000\t| C:maj . F:maj G:maj |\n2.000\tend\n"),
]


@pytest.mark.parametrize(("text", "out"), TEXTS)
def test_texts(text: str, out: str) -> None:
    assert write_harte_text(chart_of(text)) == out


#: Charts that come back as they are.
SAME = [
    "title: T\nby: Me\nkey: C\ntime: 4/4\n\n[A]\n|: C | F | G7 | C :|\n\n[Verse 2]\n| Am | Dm . . G7 |\n",
    "key: Am\ntime: 4/4\n\n| Am | Dm |\nkey: C\n| C | (2/4) F | C |\ntime: 6/8\n| G | C |\n",
    "time: 4/4\n\n[A]\n| C | . F | N.C. | C7alt/E |\n\n[A]\n| C11 | Cm13 |\n",
]


@pytest.mark.parametrize("text", SAME)
def test_charts_that_come_back_as_they_are(text: str) -> None:
    assert write_chart(again(chart_of(text))) == text


def test_a_mode_has_no_room() -> None:
    assert str(again(chart_of("key: D dorian\n\n| Dm7 | G7 |\n")).key) == "Dm"
    chart = chart_of("key: G#m\n\n| G# | D#7 |\n")
    assert write_chart(again(chart)) == "key: Ab\ntime: 4/4\n\n| Ab | Eb7 |\n"
    assert sounding(again(chart)) == sounding(chart)
