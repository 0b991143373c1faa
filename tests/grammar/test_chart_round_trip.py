"""Reader and writer of charts agree: what is written reads to the same chart."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.bar_lines import Row, line_parser
from grammar.chart_text import write_chart
from grammar.charts import read_chart
from shared.chart import Bar, Cell, Chart, Ending, Metre, Repeat, Section
from shared.chord import Chord
from shared.key import Key
from shared.pitch import Pitch
from shared.quality_names import BY_NAME
from tests.helpers.chart_texts import MUSIC, SCRAPS, SECTION_3, WORDS
from tests.strategies.charts import charts, made_chart

DEMO = Path(__file__).resolve().parents[2] / "corpus" / "demo"
DEMO_CHARTS = sorted(DEMO.rglob("*.txt"))


def agree(chart: Chart) -> None:
    text = write_chart(chart)
    reading = read_chart(text)
    assert reading.faults == (), text
    assert reading.chart == chart, text


@given(charts())
@settings(max_examples=300, deadline=None)
def test_generated_charts(chart: Chart) -> None:
    agree(chart)


@given(charts(max_sections=5, max_bars=20))
@settings(max_examples=40, deadline=None)
def test_long_generated_charts(chart: Chart) -> None:
    agree(chart)


@given(st.lists(st.sampled_from(SCRAPS), max_size=25).map(" ".join))
@settings(max_examples=300)
def test_whatever_can_be_read_can_be_written(text: str) -> None:
    chart = read_chart(text.replace(" \n ", "\n")).chart
    if chart is not None:
        agree(chart)


def test_a_seed_makes_one_chart_and_the_maker_uses_all_of_the_notation() -> None:
    made = [made_chart(random.Random(seed)) for seed in range(300)]
    assert made[0] == made_chart(random.Random(0))
    bars = [bar for chart in made for _, bar in chart.bars()]
    items = [item for chart in made for section in chart.sections for item in section.body]
    repeats = [item for item in items if isinstance(item, Repeat)]
    assert {bar.again for bar in bars} == {0, 1, 2}
    assert {bar.measured for bar in bars} == {False, True}
    assert any(bar.own_metre for bar in bars)
    assert any(bar.words and bar.measured for bar in bars)
    assert any(repeat.endings for repeat in repeats)
    assert any(isinstance(item, Repeat) for repeat in repeats for item in repeat.body)
    assert any(len({bar.key for _, bar in chart.bars()}) > 1 for chart in made)
    assert any(chart.form for chart in made)
    assert any(chart.key is None for chart in made)
    cells = [cell for bar in bars for cell in bar.cells]
    assert any(cell.chord is None for cell in cells)
    assert any(cell.written == "" for cell in cells)
    assert any(cell.written.startswith("/") and len(cell.written) > 1 for cell in cells)
    for chart in made:
        assert [bar.number for _, bar in chart.bars()] == list(range(1, len(list(chart.bars())) + 1))


@pytest.mark.parametrize("text", [*(text for text, expected in MUSIC if expected), SECTION_3, WORDS])
def test_charts_of_the_tables(text: str) -> None:
    chart = read_chart(text).chart
    assert chart is not None
    agree(chart)


@pytest.mark.skipif(not DEMO_CHARTS, reason="the demo library is not there")
@pytest.mark.parametrize("path", DEMO_CHARTS, ids=lambda path: path.stem)
def test_charts_of_the_demo_library(path: Path) -> None:
    reading = read_chart(path.read_text(encoding="utf-8"))
    assert reading.faults == ()
    assert reading.chart is not None
    agree(reading.chart)


ODD = [
    "title: X\n\nkey: G\n| C |",
    "[A]\nkey: G\n| C |",
    "title: X\n\n| C |\n|:\nkey: G\n| D |1.\ntime: 3/4\n| (2/4) E | F :|2.\nkey: F\n| (2/4) G | A |",
    "| C |\n|: | | D :|\n| |\n",
    "|: C | |1. | :|2. | |\n| D |",
    "| C | (2/4) | (3/8) D |",
    "|: C |1. D | E | F | G | A :|2. D | E | F | G | A | B |",
    "|: A | B | C | D | E | F | G :|x12",
    "|:\nC  G  x3\nla\nF\n:|\n",
    "|: C |1.\nG7  C\nla\n:|2.\nF\nla\n",
    "| C | D |\nla\n| % | %2 |\nla\nla\n",
    "[A]\n[B]\nwords alone\n[A B]\n| C |\nmore\n\n[C]\n",
    "C   | F\n",
    "|\ntime: 3/4\n\n Am7\n|",
    "|:\nnote: slowly\n| C :|",
    "C\n\nGo\n\nC\n# a comment\nDo\nla",
    "| F |1-3. G :| C |",
    "| C |\n|]\nla\n| D |\n",
    "by:\nUnknown Name: a: b\n\n| C |",
    "key: Am\ncount: relative\n\n| 6m . | /5 | . /3 |\nkey: C\n| 1 |",
]


@pytest.mark.parametrize("text", ODD)
def test_odd_but_right_charts(text: str) -> None:
    chart = read_chart(text).chart
    assert chart is not None
    agree(chart)


def test_what_is_written_is_laid_out_four_bars_a_line() -> None:
    chart = read_chart("title: X\nkey: C\nA:\nC|F|G|C|F|C:|Am\nkey: G\n|D|x3").chart
    assert chart is not None
    assert write_chart(chart) == (
        "title: X\nkey: C\n\n[A]\n|: C | F | G | C |\n| F | C :|\n| Am |\nkey: G\n|: D :|x3\n"
    )


C7 = (Cell("C7", Chord(Pitch("C"), BY_NAME["7"])),)
G = Key(Pitch("G"))


def bar(number: int, **said: object) -> Bar:
    return Bar(number, C7)._replace(**said)


UNWRITABLE = [
    (Section(None, (bar(1),)), Section(None, (bar(2),))),
    (Section("A [b]", (bar(1),)),),
    (Section(" ", (bar(1),)),),
    (Section("A", (bar(1, key=G), bar(2))),),
    (Section("A", (bar(1, again=2),)),),
    (Section("A", (Repeat(()),)),),
    (Section("A", (Repeat((bar(1),), 2, (Ending((1,), (bar(2),)), Ending((2,), ()))),)),),
    (Section("A", (Repeat((Repeat((bar(1), Repeat((bar(2),)))),)),)),),
    (Section("A", (Repeat((bar(1), Repeat((bar(2), bar(3, metre=Metre(3, 4)))))),)),),
    (
        Section(
            "A",
            (
                Repeat(
                    (bar(1),),
                    3,
                    (Ending((1, 3), (bar(2),)), Ending((2,), (bar(3), bar(4, metre=Metre(3, 4))))),
                ),
            ),
        ),
    ),
    (
        Section(
            "A",
            (Repeat((bar(1),), 3, (Ending((1, 3), (bar(2),)), Ending((2,), (bar(3, words="la"), bar(4))))),),
        ),
    ),
]


@pytest.mark.parametrize("sections", UNWRITABLE)
def test_what_has_no_notation_is_refused(sections: tuple[Section, ...]) -> None:
    with pytest.raises(ValueError, match=r"\w+"):
        write_chart(Chart((), sections))


def test_a_change_inside_the_ending_played_last_is_written_behind_the_repeat() -> None:
    changed = bar(4, metre=Metre(3, 4))
    chart = Chart(
        (), (Section("A", (Repeat((bar(1),), 2, (Ending((1,), (bar(2),)), Ending((2,), (bar(3), changed)))),)),)
    )
    again = read_chart(write_chart(chart)).chart
    assert again is not None
    repeat, last = again.sections[0].body
    assert isinstance(repeat, Repeat)
    assert repeat.endings[1].body == (bar(3),)
    assert last == changed


_SIGNS = "| || |: :| |] |1. :|2. |1,3. x2 x3 (2/4) C Am7 Cm7b5/G N.C. 1 #4 ii . / /B % : :: C: a:b ( xylo x2y"
_LINE = st.lists(st.sampled_from([*_SIGNS.split(" "), " ", " ", "  "]), max_size=14).map("".join)


@given(_LINE)
@settings(max_examples=400)
def test_a_line_read_by_its_shape_is_the_line_read_by_itself(line: str) -> None:
    row = Row(1, line)
    if not row.shape.measures:
        return
    line = line.rstrip()
    found = list(line_parser().parse(line).scan_values(lambda token: token.type == "CELL"))
    places = [row.cell_place(m, index) for m in row.shape.measures for index in range(len(m.cells))]
    assert [place.text_at for place in places] == [str(token) for token in found]
    assert [place.column for place in places] == [token.start_pos + 1 for token in found]
    written = [sign for m in row.shape.measures if m.cells for sign in row.cells(m).written]
    assert written == [str(token) for token in found]
    for measure in row.shape.measures:
        if measure.mark.value:
            assert row.place(measure.mark_at).text_at.startswith("|")
        if measure.times:
            assert row.place(measure.times_at).text_at[0] == "x"
        if measure.closes:
            assert row.place(measure.closes).text_at == ":"
