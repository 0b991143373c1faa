"""The Billboard text: its whole syntax, and what is said of broken lines."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.billboard import billboard_parser, read_billboard
from grammar.chart_text import write_chart
from grammar.charts import read_chart
from shared.chart import Chart
from shared.errors import Fault
from shared.foreign import ForeignTune

HEAD = "# title: A Song\n# artist: A Singer\n# metre: 4/4\n# tonic: C\n\n0.0\tsilence\n"


def song(body: str, head: str = HEAD) -> ForeignTune:
    (tune,) = read_billboard(head + body)
    return tune


def chart(body: str, head: str = HEAD) -> Chart:
    tune = song(body, head)
    assert tune.chart is not None
    assert tune.remarks == ()
    assert tune.faults == ()
    assert read_chart(write_chart(tune.chart)).chart == tune.chart
    return tune.chart


def written(body: str, head: str = HEAD) -> str:
    """What stands under the headers of the chart as we write it."""
    return write_chart(chart(body, head)).partition("\n\n")[2]


def test_headers() -> None:
    read = chart("0.5\tA, intro, | C:maj |\n9.1\tend\n")
    assert read.headers == (("title", "A Song"), ("by", "A Singer"), ("key", "C"), ("time", "4/4"))
    assert song("0.5\t| C:maj |\n").title == "A Song"


#: What stands in the source, what stands in the chart.
NOTATIONS = [
    ("0.5\tA, intro, | C:maj | F:maj G:7 |\n", "[intro A]\n| C | F G7 |\n"),
    ("0.5\tB', verse, | C:maj |, (voice\n", "[verse B']\n| C |\n"),
    ("0.5\tC, outro, fadeout, | C:maj |\n", "[outro fadeout C]\n| C |\n"),
    ("0.5\tfadeout, flute), B, outro, | C:maj |\n", "[fadeout outro B]\n| C |\n"),
    ("0.5\tfadeout, | C:maj |, voice)\n", "[fadeout]\n| C |\n"),
    ("0.5\tB, | C:maj |\n", "[B]\n| C |\n"),
    ("0.5\tA, verse, | C:maj |\n2\t| F:maj |\n", "[verse A]\n| C | F |\n"),
    ("0.5\tA, verse, | C:maj |\n2\tA, verse, | F:maj |\n", "[verse A]\n| C |\n\n[verse A]\n| F |\n"),
    ("0.5\tA, verse, | C:maj |\n2\tsilence\n3\t| F:maj |\n", "[verse A]\n| C | F |\n"),
    ("0.5\tA, verse, | C:maj |\n2\tZ, applause\n3\tB, | F:maj |\n", "[verse A]\n| C |\n\n[B]\n| F |\n"),
    ("6.9e-2\tA, | C:maj |\n", "[A]\n| C |\n"),
    ("0.5\tA, | C:maj . . G:maj/3 |\n", "[A]\n| C . . G/B |\n"),
    ("0.5\tA, | C:maj . F:maj . |\n", "[A]\n| C F |\n"),
    ("0.5\tA, | C:maj . . . |\n", "[A]\n| C |\n"),
    ("0.5\tA, | C:maj | . G:7 |\n", "[A]\n| C | . G7 |\n"),
    ("0.5\tA, | C:maj | . . |\n", "[A]\n| C | |\n"),
    ("0.5\tA, | N | N C:maj |\n", "[A]\n| N.C. | N.C. C |\n"),
    ("0.5\tA, | (2/4) C:maj | G:maj |\n", "[A]\n| (2/4) C | G |\n"),
    ("0.5\tA, | (4/4) C:maj | G:maj |\n", "[A]\n| C | G |\n"),
    ("0.5\tA, | C:maj | F:maj | x4\n", "[A]\n|: C | F :|x4\n"),
    ("0.5\tA, | C:maj | F:maj | x2, (organ), voice)\n", "[A]\n|: C | F :|\n"),
    ("0.5\tA, | C:maj | ->\n2\tB, | F:maj | x3 ->, voice)\n", "[A]\n| C |\n\n[B]\n|: F :|x3\n"),
    ("0.5\tA, | C:maj |\n# tonic: D\n2\t| D:maj |\n", "[A]\n| C |\nkey: D\n| D |\n"),
    ("0.5\tA, | C:maj |\n# metre: 3/4\n2\t| D:min . G:7 |\n", "[A]\n| C |\ntime: 3/4\n| Dm . G7 |\n"),
    ("0.5\tA, | C:min7(*5,11) F:(1,3,7) |\n", "[A]\n| Cm7(add11,no5) Fmaj7(no5) |\n"),
]


@pytest.mark.parametrize(("body", "expected"), NOTATIONS)
def test_notation(body: str, expected: str) -> None:
    assert written(body) == expected
    assert written(body.replace("\n", "\r\n"), "\ufeff" + HEAD) == expected
    for line in body.splitlines():
        assert line.startswith("#") or billboard_parser().parse(line, "line").children


def test_a_tonic_gets_the_mode_of_the_triads_on_it() -> None:
    assert str(chart("0.5\t| C:min7 | F:min | C:maj . . C:min |\n").key) == "Cm"
    assert str(chart("0.5\t| C:5 | F:min | G:7 |\n").key) == "C"
    assert str(chart("0.5\t| C:maj |\n1\t| C:min | x3\n").key) == "Cm"


def test_a_tonic_whose_minor_has_no_signature_is_spelled_anew_with_its_chords() -> None:
    assert written("0.5\t| Db:min | A:maj | Gb:min/b3 |\n", HEAD.replace("tonic: C", "tonic: Db")) == (
        "| C#m | A | F#m/A |\n"
    )


def test_a_song_without_a_tonic_has_no_key() -> None:
    assert chart("0.5\t| C:maj |\n", "").key is None


#: Source, what stands in the chart, and line, column and words of each remark.
BROKEN = [
    ("7\tA, | C:maj | G:m", "[A]\n| C | N.C. |\n", [(7, 18, "not a chord label"), (7, 18, "no bar line")]),
    ("7\tA, | C:maj | G:maj", "[A]\n| C | G |\n", [(7, 20, "no bar line")]),
    ("7\tA, | C:maj | x", "[A]\n| C |\n", [(7, 16, "breaks off")]),
    ("7\tA, | C:majj G:7 |", "[A]\n| N.C. G7 |\n", [(7, 13, "not a chord label")]),
    ("7\tA, | * | C:maj |", "[A]\n| N.C. | C |\n", [(7, 8, "too complex")]),
    ("7\tA, | C:maj | &pause |", "[A]\n| C | N.C. |\n", [(7, 16, "outside the metre")]),
    ("7\tA, | (2/5) C:maj |", "[A]\n| C |\n", [(7, 8, "not a metre")]),
    ("7\tA, | C:maj F:maj G:maj |", "[A]\n| C F . G |\n", [(7, 8, "nearest beats")]),
    ("7\tA, | C:maj | x0", "[A]\n| C |\n", [(7, 16, "cannot be how often")]),
    ("7\tA, | C:maj | x100", "[A]\n|: C :|x99\n", [(7, 16, "cannot be how often")]),
    ("A, | C:maj |", "[A]\n| C |\n", [(7, 1, "no start time")]),
    ("nonsense\n7\tA, | C:maj |", "[A]\n| C |\n", [(7, 1, "no start time")]),
    ("# tonic: H\n7\tA, | C:maj |", "[A]\n| C |\n", [(7, 10, "no tonic")]),
    ("# metre: 4\n7\tA, | C:maj |", "[A]\n| C |\n", [(7, 10, "not a metre")]),
    ("# mood: sad\n7\tA, | C:maj |", "[A]\n| C |\n", [(7, 9, "not read")]),
    ("7\tA, | C:maj , F |", "[A]\n| N.C. |\n", [(7, 14, "cannot be read")]),
    ("7\tA, |" + " C:maj" * 65 + " | F:maj |", "[A]\n| N.C. | F |\n", [(7, 7, "a bar of 65 chords")]),
    ("7\tA, |\n8\tB, | C:maj |", "[B]\n| C |\n", [(7, 6, "no bars")]),
]


@pytest.mark.parametrize(("body", "expected", "remarks"), BROKEN)
def test_what_is_broken_costs_only_itself(body: str, expected: str, remarks: list[tuple[int, int, str]]) -> None:
    tune = song(body + "\n")
    assert tune.chart is not None
    assert write_chart(tune.chart).partition("\n\n")[2] == expected
    assert [(r.line, r.column) for r in tune.remarks] == [(line, column) for line, column, _ in remarks]
    for remark, (line, _, words) in zip(tune.remarks, remarks, strict=True):
        assert words in remark.message
        assert remark.text == (HEAD + body).splitlines()[line - 1]


@pytest.mark.parametrize(("text", "line"), [("", 1), ("\n\n# title: x\n", 3), ("0.0\tsilence\n1.0\tend\n", 1)])
def test_a_song_without_bars_is_a_fault(text: str, line: int) -> None:
    (tune,) = read_billboard(text)
    assert tune.chart is None
    assert [(fault.message, fault.line) for fault in tune.faults] == [("no bars found", line)]


PIECES = st.sampled_from(
    ["# metre: 3/4\n", "# tonic: Gb\n", "1.5\t", "A, ", "verse, ", "| ", "C:maj ", "Gb:min7/b3 ", ". ", "N ", "* ",
     "&pause ", "(2/4) ", "x3 ", "-> ", ", (voice ", "\n", "\n", "2\tB', | A:9 . | ", "x", "é", "(", ":", "#"]
)  # fmt: skip


@given(st.lists(PIECES, max_size=40).map("".join))
def test_any_text_is_a_chart_that_is_written_and_read_or_a_fault(text: str) -> None:
    (tune,) = read_billboard(text)
    if tune.chart is None:
        assert tune.faults
    else:
        assert read_chart(write_chart(tune.chart)).chart == tune.chart
    lines = text.split("\n")
    for said in (*tune.faults, *tune.remarks):
        assert_inside(said, lines)


def assert_inside(said: Fault, lines: list[str]) -> None:
    assert said.text == lines[said.line - 1]
    assert 1 <= said.column <= max(1, len(said.text))
    assert said.column + said.length - 1 <= max(1, len(said.text))
