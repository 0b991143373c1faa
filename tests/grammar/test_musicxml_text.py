"""Charts written as MusicXML: what is written, what comes back, and what has no room."""

from __future__ import annotations

from pathlib import Path
from xml.etree.ElementTree import Element, fromstring

import pytest
from hypothesis import given, settings

from grammar.chart_text import write_chart
from grammar.charts import read_chart
from grammar.musicxml_reading import read_musicxml
from grammar.musicxml_text import write_musicxml
from shared.chart import Chart, Section
from tests.helpers.played_chords import played_chords
from tests.strategies.charts import charts

DEMO = Path(__file__).resolve().parents[2] / "corpus" / "demo"
DEMO_CHARTS = sorted(DEMO.rglob("*.txt"))


def chart_of(text: str) -> Chart:
    reading = read_chart(text)
    assert reading.chart is not None, reading.faults
    return reading.chart


def again(chart: Chart) -> Chart:
    (tune,) = read_musicxml(write_musicxml(chart).encode())
    assert tune.chart is not None, tune.faults
    assert tune.remarks == ()
    return tune.chart


@pytest.mark.parametrize("path", DEMO_CHARTS, ids=lambda path: path.stem)
def test_charts_of_the_demo_library(path: Path) -> None:
    chart = chart_of(path.read_text(encoding="utf-8"))
    assert played_chords(again(chart)) == played_chords(chart)


@given(charts(max_sections=4, max_bars=10))
@settings(max_examples=200, deadline=None)
def test_generated_charts(chart: Chart) -> None:
    played = played_chords(chart)
    # Chords that the form leaves out are in no measure; a tune without any is refused.
    if any(chord for *_, runs in played for chord, _ in runs):
        assert played_chords(again(chart)) == played


#: Charts that come back as they are, but for numbers, which become names.
SAME = [
    "key: C\ntime: 4/4\n\n[A]\n|: C | F | G7 | C :|\n\n[B]\n| Am | Dm . . G7 |\n",
    "title: T\nby: Me\nkey: Eb\ntime: 3/4\nform: A A B A\ntempo: 96\nstyle: jazz waltz\nlevel: 2\nyear: 1900\n"
    "tags: a, b\n\n[A]\n| (1/4) Bb7 |\n|: Ebmaj7 | Cm7 | Fm7 | Bb13 :|x3\n\n[B]\n|: Abmaj7 |1. Bb7 :|2. N.C. |\n",
    "key: Am\ntime: 4/4\n\n|: Am | Dm |1,2. F :|3. E7 |\nkey: C\n| C | (2/4) F | C |\ntime: 6/8\n| G | C |\n",
    "time: 4/4\n\n| C | . F | N.C. | C7alt/E |\n",
]


@pytest.mark.parametrize("text", SAME)
def test_charts_that_come_back_as_they_are(text: str) -> None:
    assert write_chart(again(chart_of(text))) == text


#: Charts with something that has no room, and the chart that comes back.
CHANGED = [
    ("key: C\n\n| 1 | 4m . 57/7 . |\n", "key: C\ntime: 4/4\n\n| C | Fm G7/B |\n"),
    ("capo: 2\ntempo: quickly\n\n| C |\n", "time: 4/4\n\n| C |\n"),
    ("|: C | F | G :|\n\nC   F  G\nla la la\n", "time: 4/4\n\n|: C | F | G :|\n| C . F G |\n"),
    ("[A]\n| C |\n\n[Words]\n\n[B]\n| F |\n", "time: 4/4\n\n[A]\n| C |\n\n[B]\n| F |\n"),
    ("|: C |\n| F | x2\n| G :|\n", "time: 4/4\n\n|: C | F | F | G :|\n"),
    ("|: C |1,3. F :|2. G |\n", "time: 4/4\n\n| C | F | C | G |\n| C | F |\n"),
    ("|: C |1,3. F :|2,4. G |\n", "time: 4/4\n\n| C | F | C | G |\n| C | F | C | G |\n"),
    ("|: C |1. F :|2,3. G |\n", "time: 4/4\n\n|: C |1. F :|2,3. G |\n"),
    ("|: C |1,2. F :|\n", "time: 4/4\n\n|: C | F :|\n"),
]


@pytest.mark.parametrize(("text", "back"), CHANGED)
def test_what_has_no_room(text: str, back: str) -> None:
    chart = chart_of(text)
    assert write_chart(again(chart)) == back
    assert [bar[2] for bar in played_chords(again(chart))] == [bar[2] for bar in played_chords(chart)]


def measures(text: str) -> list[Element]:
    return list(fromstring(write_musicxml(chart_of(text)).encode()).iter("measure"))


def test_a_chord_that_goes_on_is_written_where_another_bar_may_have_been_played_before() -> None:
    found = measures("|: C |1. . :|2. . |\n| |\n")
    assert [len(measure.findall("harmony")) for measure in found] == [1, 1, 1, 0]


def test_signs_of_repeats() -> None:
    first, second, third = measures("|: C |1. F :|2. G |\n")
    assert [sign.attrib for sign in first.iter("repeat")] == [{"direction": "forward"}]
    assert [(e.get("number"), e.get("type")) for e in second.iter("ending")] == [("1", "start"), ("1", "stop")]
    assert [(e.get("number"), e.get("type")) for e in third.iter("ending")] == [("2", "start"), ("2", "discontinue")]
    assert not list(third.iter("repeat"))
    (thrice,) = measures("|: C :|x3\n")
    assert [sign.get("times") for sign in thrice.iter("repeat")] == [None, "3"]


def test_lengths_of_rests() -> None:
    (measure,) = measures("| C . . F . G . . |\n")
    notes = [(n.findtext("duration"), n.findtext("type"), n.find("dot") is not None) for n in measure.iter("note")]
    assert notes == [("3", "quarter", True), ("2", "quarter", False), ("3", "quarter", True)]


@pytest.mark.parametrize(
    ("time", "unit", "dots", "quarters"),
    [
        ("4/4", "quarter", 0, "100"),
        ("6/8", "quarter", 1, "150"),
        ("2/2", "half", 0, "200"),
        ("3/8", "quarter", 1, "150"),
    ],
)
def test_the_tempo_counts_beats(time: str, unit: str, dots: int, quarters: str) -> None:
    (measure,) = measures(f"time: {time}\ntempo: 100\n\n| C |\n")
    assert measure.findtext(".//beat-unit") == unit
    assert len(list(measure.iter("beat-unit-dot"))) == dots
    assert [sound.get("tempo") for sound in measure.iter("sound")] == [quarters]


def test_signs_that_xml_cannot_hold() -> None:
    text = write_musicxml(chart_of("title: a<b & \x0b“c”\n\n[<A>]\n| C |\n"))
    assert fromstring(text.encode()).findtext("work/work-title") == "a<b & “c”"


def test_bars_without_a_key_behind_bars_that_have_one() -> None:
    chart = chart_of("form: B A\n\n[A]\n| C |\n\n[B]\nkey: G\n| D |\n")
    text = write_musicxml(chart)
    assert [mode.text for mode in fromstring(text.encode()).iter("mode")] == ["major", "none"]
    (tune,) = read_musicxml(text.encode())
    assert [remark.message for remark in tune.remarks] == ["measure 2: no key from here on, so the one before stays"]


def test_a_chart_without_bars() -> None:
    with pytest.raises(ValueError, match="bars"):
        write_musicxml(Chart((), (Section("A", ()),)))
