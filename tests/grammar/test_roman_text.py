"""The Roman text of the rock corpus: figures, bars, changes of tonic and metre, and what is said of broken ones."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.chart_text import write_chart
from grammar.charts import read_chart
from grammar.roman_text import figure_or_fault, read_roman_text, roman_text_parser
from grammar.symbols import read_numeral
from shared.chord import Numeral
from shared.errors import Fault
from shared.pitch import CHROMATIC, Degree

#: Figure, number of ours.
FIGURES = [
    *[(figure, figure) for figure in ("I", "ii", "bVII", "#IV", "vii", "IV", "i")],
    ("I6", "1/3"),
    ("I64", "1/5"),
    ("iv6", "4m/b6"),
    ("bVII64", "b7/4"),
    ("I7", "1maj7"),
    ("IV7", "4maj7"),
    ("V7", "57"),
    ("ii7", "2m7"),
    ("i7", "1m7"),
    ("iv7", "4m7"),
    ("v7", "5m7"),
    ("II7", "27"),
    ("VI7", "67"),
    ("III7", "37"),
    ("VII7", "77"),
    ("bII7", "b2maj7"),
    ("bIII7", "b3maj7"),
    ("bVI7", "b6maj7"),
    ("bVII7", "b7maj7"),
    ("V65", "57/7"),
    ("V43", "57/2"),
    ("V42", "57/4"),
    ("I42", "1maj7/7"),
    ("i42", "1m7/b7"),
    ("ii65", "2m7/4"),
    ("IVd7", "47"),
    ("Id42", "17/b7"),
    ("bVIId7", "b77"),
    ("iid7", "27"),
    ("Id9", "19"),
    ("iid6", "2dim/4"),
    ("iio", "2dim"),
    ("viio6", "7dim/2"),
    ("viio7", "7dim7"),
    ("iih7", "2m7b5"),
    ("iih43", "2m7b5/b6"),
    ("viix7", "7dim7"),
    ("viix42", "7dim7/b6"),
    ("Va", "5aug"),
    ("V+", "5aug"),
    ("Va7", "57#5"),
    ("V+7", "57#5"),
    ("V+11", "5add11"),
    ("bIII+9", "b3add9"),
    ("IV9", "4maj9"),
    ("V9", "59"),
    ("vi9", "6m9"),
    ("V11", "59(add11)"),
    ("ii11", "2m11"),
    ("V13", "513"),
    ("Vs4", "5sus4"),
    ("v7s4", "57sus4"),
    ("V7s4", "57sus4"),
    ("Is2", "1sus2"),
    ("I#9", "17#9"),
    ("V7b9", "57b9"),
    ("bVIb5", "b6(b5)"),
    ("V/V", "2"),
    ("V7/ii", "67"),
    ("V65/vi", "37/#5"),
    ("V42/IV", "17/b7"),
    ("viix7/V", "#4dim7"),
    ("iih65/ii", "3m7b5/5"),
    ("ii7/vi", "7m7"),
    ("IV7/IV", "b7maj7"),
    ("bVI64/ii", "b7/4"),
    ("V/V/V", "6"),
    ("V6/v", "2/#4"),
]


@pytest.mark.parametrize(("figure", "number"), FIGURES)
def test_a_figure_is_a_numeral(figure: str, number: str) -> None:
    assert figure_or_fault(figure) == read_numeral(number)


@pytest.mark.parametrize("degree", [*map(str, CHROMATIC), "#1", "b5", "#5"])
def test_the_degree_of_a_figure_is_that_of_the_major_scale(degree: str) -> None:
    roman = ("I", "II", "III", "IV", "V", "VI", "VII")[int(degree[-1]) - 1]
    expected = Degree(int(degree[-1]), degree.count("#") - degree.count("b"))
    for figure in (roman, roman.lower(), f"{roman}6", f"{roman.lower()}7"):
        numeral = figure_or_fault(degree[:-1] + figure)
        assert isinstance(numeral, Numeral)
        assert numeral.degree == expected


def written(text: str) -> str:
    """The chart of a text, as we write it, without its headers."""
    (tune,) = read_roman_text(text)
    assert tune.chart is not None
    assert read_chart(write_chart(tune.chart)).chart == tune.chart
    return write_chart(tune.chart).partition("\n\n")[2]


#: What stands in the source, what stands in the chart.
TEXTS = [
    ("[C] I | IV V | vi |", "| C | F G | Am |\n"),
    ("[C] I | | . IV | |\n", "| C | | . F | |\n"),
    ("[C] R | | I . R . |", "| N.C. | | C N.C. |\n"),
    ("[C] . | I |", "| N.C. | C |\n"),
    ("[C] I IV V . |", "| C F G . |\n"),
    ("[C] I . . IV |", "| C . . F |\n"),
    ("[C] I | [2/4] V | [4/4] I | |", "| C |\ntime: 2/4\n| G |\ntime: 4/4\n| C | |\n"),
    ("[7/8] [C] I . . . IV . V |", "| C . . . F . G |\n"),
    ("[C] I | [Eb] I | iv |", "| C |\nkey: Eb\n| Eb | Abm |\n"),
    ("[C] I |\nIV |\n\n| V | I |\n", "| C | F | G | C |\n"),
    ("[Db] I | bVI |", "| Db | Bbb |\n"),
    ("[Db] i | bVI |", "| C#m | A |\n"),
]


@pytest.mark.parametrize(("text", "expected"), TEXTS)
def test_texts(text: str, expected: str) -> None:
    assert written(text) == expected
    assert written("\ufeff" + text.replace("\n", "\r\n")) == expected
    assert read_roman_text(text)[0].remarks == ()
    assert roman_text_parser().parse(text, "song").children


def test_a_tonic_gets_the_mode_of_the_triads_on_it() -> None:
    (tune,) = read_roman_text("[E] i | | I | iv | [G] I |")
    assert tune.chart is not None
    assert [str(bar.key) for _, bar in tune.chart.bars()] == ["Em", "Em", "Em", "Em", "G"]


#: A tonic that changes inside a bar.
PARTED = [
    ("[C] I . . [G] IV | I |", "| (3/4) C |\nkey: G\n| (1/4) C | G |\n"),
    ("[C] I [D] V |", "| (2/4) C |\nkey: D\n| (2/4) A |\n"),
    ("[C] I . [D] . V |", "| (2/4) C |\nkey: D\n| (2/4) . A |\n"),
    ("[C] I . . . . . . [D] V |", "| (7/8) C |\nkey: D\n| (1/8) A |\n"),
]


@pytest.mark.parametrize(("text", "expected"), PARTED)
def test_a_tonic_that_changes_inside_a_bar_parts_it(text: str, expected: str) -> None:
    assert written(text) == expected
    (remark,) = read_roman_text(text)[0].remarks
    assert (remark.message, remark.column) == (
        "the tonic changes inside the bar, which is written as two bars",
        text.index("[", 1) + 1,
    )


#: Source, what stands in the chart, and column and words of each remark.
BROKEN = [
    ("[C] I | V8 | IV |", "| C | N.C. | F |\n", [(10, "“8” cannot stand there")]),
    ("[C] I | Q V |", "| C | N.C. G |\n", [(9, "not a figure")]),
    ("[C] I VIII |", "| C N.C. |\n", [(10, "“I” cannot stand there")]),
    ("[C] V7/ |", "| N.C. |\n", [(7, "“/” cannot stand there")]),
    ("[C] ii765 |", "| N.C. |\n", [(8, "“65” cannot stand there")]),
    ("[H] I |", "| N.C. |\n", [(1, "“[H]” is not read"), (5, "none stands before it")]),
    ("[C] I [2/ | V |", "| C | G |\n", [(7, "“[2/” is not read")]),
    ("[C] [3/5] I |", "| C |\n", [(6, "not a metre")]),
    ("[C] I | V", "| C | G |\n", [(9, "no bar line")]),
    ("[C] I IV V |", "| C F . G |\n", [(1, "nearest beats")]),
    ("[C] V | IV [D] [x |", "| G | F |\n", [(16, "“[x” is not read")]),
    ("[C] I I I I I I I I I I I I I [D] V |", None, [(1, "nearest beats"), (31, "from the next one on")]),
    ("[C] I |" + " I" * 65 + " |", "| C | N.C. |\n", [(8, "a bar of 65 chords")]),
]


@pytest.mark.parametrize(("text", "expected", "remarks"), BROKEN)
def test_what_is_broken_costs_only_itself(text: str, expected: str | None, remarks: list[tuple[int, str]]) -> None:
    assert expected in (None, written(text))
    said = read_roman_text(text)[0].remarks
    assert [(remark.line, remark.column) for remark in said] == [(1, column) for column, _ in remarks]
    for remark, (_, words) in zip(said, remarks, strict=True):
        assert words in remark.message
        assert remark.text == text


@pytest.mark.parametrize(("figure", "near"), [("V8", "V"), ("IV77", "IV7"), ("viio9x", "viio"), ("V7/iix", "V7/ii")])
def test_the_nearest_figure_is_offered(figure: str, near: str) -> None:
    fault = figure_or_fault(figure)
    assert isinstance(fault, Fault)
    assert fault.nearest == near


@pytest.mark.parametrize(("text", "line"), [("", 1), ("\n[C]\n", 2), ("\n\n|", 3)])
def test_a_text_without_bars_is_a_fault(text: str, line: int) -> None:
    (tune,) = read_roman_text(text)
    assert tune.chart is None
    assert [(fault.message, fault.line) for fault in tune.faults] == [("no bars found", line)]


PIECES = st.sampled_from(
    ["I", "ii", "bVII", "V7", "V42/IV", "iih7", ".", "R", "[C]", "[Db]", "[3/4]", "|", "| |", "Q", "[x", "é", "#", "\n",
     "I . . [G] V |"]
)  # fmt: skip


@given(st.lists(PIECES, max_size=40).map(" ".join))
def test_any_text_is_a_chart_that_is_written_and_read_or_a_fault(text: str) -> None:
    (tune,) = read_roman_text(text)
    if tune.chart is None:
        assert tune.faults
    else:
        assert read_chart(write_chart(tune.chart)).chart == tune.chart
    lines = text.split("\n")
    for said in (*tune.faults, *tune.remarks):
        assert said.text == lines[said.line - 1]
        assert 1 <= said.column <= max(1, len(said.text))
