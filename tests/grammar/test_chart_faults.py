"""Broken charts: for each the place, what is said, what was expected, and the nearest right thing.

``FAULTS`` is the table that every friendly message stands in: the text, the line and column of the first fault, a part
of what is said, and what is offered instead.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.charts import read_chart
from shared.errors import Fault
from tests.helpers.chart_texts import SCRAPS

FAULTS = [
    # chords
    ("| C | Cmaj77 |", 1, 11, "“77” cannot stand there", "Cmaj7"),
    ("| C | H7 |", 1, 7, "“H7” is not a chord", "B7"),
    ("| C | Gm7b |", 1, 10, "“b” cannot stand there", "Gm7b5"),
    ("| C | Xyz |", 1, 7, "“Xyz” is not a chord", ""),
    ("| C | ♭7x |", 1, 9, "“♭7x” is not a chord", "b7"),
    ("key: C\n\n| 1 | 6251 |", 3, 7, "“6251” is not one chord", "6 2 5 1"),
    ("key: C\n\n| 11 | 4 |", 3, 3, "“11” is not one chord", "1 1"),
    ("| C | _ |", 1, 7, "“_” stands for any chord, which only a pattern can ask for", ""),
    ("| C | _7 |", 1, 7, "only a pattern can ask for", ""),
    ("| C | .. |", 1, 7, "“..” is not a hold", ". ."),
    ("| C | 4,2m |", 1, 8, "“,2m” cannot stand there", "4"),
    ("| C (2/4) D |", 1, 5, "the metre “(2/4)” stands behind a chord", ""),
    ("| C | %% |", 1, 7, "“%%” is not a sign for same again", "%2"),
    ("| C | %3 |", 1, 7, "“%3” is not a sign for same again", "%"),
    ("| C | F % |", 1, 9, "“%” stands beside other cells", ""),
    ("C  G\n  C  %\nla", 2, 6, "“%” stands above words", ""),
    ("Cmaj77 F G7\nla la", 1, 5, "“77” cannot stand there", "Cmaj7"),
    ("title: X\n\nF  H7  C\nla la", 3, 4, "“H7” is not a chord", "B7"),
    # what needs something before it
    ("| . | C |", 1, 3, "“.” holds the chord before it, and there is none", "N.C."),
    ("| / C |", 1, 3, "“/” holds the chord before it, and there is none", "N.C."),
    ("| | C |", 1, 1, "an empty bar holds the chord before it, and there is none", "N.C."),
    ("| /B | C |", 1, 3, "“/B” is a new bass under the chord before it, and there is none", ""),
    ("| % | C |", 1, 3, "“%” stands at the head of a section", ""),
    ("| C |\n[B]\n| % | C |", 3, 3, "“%” stands at the head of a section", ""),
    ("|: C |1. % :|2. D |", 1, 10, "“%” stands at the head of an ending", ""),
    ("|: C | D |1. E :|2. %2 |", 1, 21, "“%2” stands at the head of an ending", ""),
    ("| C | %2 |", 1, 7, "“%2” repeats two bars, and the section has only one before it", ""),
    ("| C | F | (2/4) %2 |", 1, 17, "a metre for one bar stands before “%2”", ""),
    # numbers without a key
    ("title: X\n\n| C | 4m |", 3, 7, "“4m” is counted from a key, and none is written", "key: C"),
    ("| ii7 V7 |", 1, 3, "“ii7” is counted from a key, and none is written", "key: C"),
    ("| C /7 |", 1, 5, "“/7” is counted from a key, and none is written", "key: C"),
    # repeats
    ("|: C | F |\n[B]\n| G |", 1, 1, "“|:” opens a repeat that is never closed", ""),
    ("| C |: D | E |", 1, 5, "“|:” opens a repeat that is never closed", ""),
    ("|: C |: D :|", 1, 6, "“|:” stands inside a repeat that is still open", ":| |:"),
    (":| C |", 1, 1, "“:|” has nothing to repeat", ""),
    ("|: C :| :|", 1, 9, "“:|” has nothing to repeat", ""),
    ("|: C :|x1", 1, 8, "“x1” cannot be how often something is played in all", ""),
    ("|: C :|x1000", 1, 8, "“x1000” cannot be how often", "x99"),
    ("| C | D | x0", 1, 11, "“x0” cannot be how often", ""),
    ("| C | x2 | D |", 1, 7, "“x2” stands in the middle of a line", ""),
    ("| C x2 D |", 1, 8, "something stands behind the number of times", ""),
    ("| C |\n| x2", 2, 3, "“x2” has nothing to repeat", ""),
    ("|: C :| D | x2", 1, 13, "“x2” ends a line that holds repeat marks", ""),
    ("C G x1\nla", 1, 5, "“x1” cannot be how often", ""),
    # endings
    ("| C |1. D | E |", 1, 5, "an ending without a repeat: “|1.” is never closed", ":|2."),
    ("| C |2. D |", 1, 5, "an ending without a repeat: “|2.” has no first ending before it", "|1."),
    ("| C :|2. D |", 1, 6, "an ending without a repeat: “|2.” has no first ending before it", "|1."),
    ("|1. C :|2. D |", 1, 1, "an ending without a repeat: no bars stand before “|1.”", ""),
    ("|: C |1. D |", 1, 6, "the repeat is not closed behind ending 1", ":|2."),
    ("|: C |1. D |: E :|", 1, 6, "the repeat is not closed behind ending 1", ":|2."),
    ("|: C |1. D |2. E |", 1, 12, "ending 2 starts before ending 1 is closed", ":|2."),
    ("|: C |1. D :| E |", 1, 6, "the repeat has no ending 2", "|2."),
    ("|: C |1. D :|3. E |", 1, 13, "the repeat has no ending 2", "|2."),
    ("|: C |1. D :|1,2. E |", 1, 13, "ending 1 stands twice in one repeat", "|2."),
    ("|: C |1. D :|0. E |", 1, 13, "“|0.” does not say which times the ending is for", "|1."),
    ("|: C |2-1. D :|3. E |", 1, 6, "“|2-1.” does not say which times", "|1."),
    ("|: C |1.:|2. E |", 1, 9, "ending 1 holds no bar", ""),
    ("|: C |1. D :|2.", 1, 13, "ending 2 holds no bar", ""),
    ("|: C |1. D :|2. E :|x3", 1, 21, "“x3” stands behind endings for 2 times", "x2"),
    # directions
    ("| C | D.C. |", 1, 7, "“D.C.” is not read in a chart", ""),
    ("| C | F | D.S. al Coda", 1, 11, "“D.S.” is not read in a chart", ""),
    ("| C |\nD.C. al Fine\n", 2, 1, "“D.C. al Fine” is not read in a chart", ""),
    ("| C |\n  To Coda\n", 2, 3, "“To Coda” is not read in a chart", ""),
    ("| C | Fine |", 1, 7, "“Fine” is not read in a chart", ""),
    ("| Segno | C |", 1, 3, "“Segno” is not read in a chart", ""),
    # headers
    ("key: H\n\n| C |", 1, 6, "“H” is not a key", "B"),
    ("key: Eb dorean\n\n| C |", 1, 6, "“Eb dorean” is not a key", "Eb dorian"),
    ("key: G# major\n\n| C |", 1, 6, "signature of 8 signs", "Ab"),
    ("key:\n\n| C |", 1, 1, "“key:” says nothing", ""),
    ("time: 3/5\n\n| C |", 1, 7, "“3/5” is not a metre", "3/4"),
    ("time: waltz\n\n| C |", 1, 7, "“waltz” is not a metre", ""),
    ("key: C\ntitle: X\nKey: D\n\n| C |", 3, 1, "“key:” stands twice, first in line 1", ""),
    ("count: relativ\n\n| C |", 1, 8, "“relativ” is nothing to count from", "relative"),
    ("title Blue Door\nkey: C\n\n| C |", 1, 1, "“title Blue Door” is not a header", "title: Blue Door"),
    ("title: X\nkey C\n\n| C |", 2, 1, "“key C” is not a header", "key: C"),
    ("title: X\nslowly, with feeling\n\n| C |", 2, 1, "“slowly, with feeling” is not a header", ""),
    ("title: X\n\ntempo: 90\n\n| C |", 3, 1, "“tempo:” stands behind the head of the chart", ""),
    # changes on the way
    ("| C |\nkey: Q\n| D |", 2, 6, "“Q” is not a key", ""),
    ("| C |\n key:  Dmn\n| D |", 2, 8, "“Dmn” is not a key", "Dm"),
    ("| C |\ntime: 5/3\n| D |", 2, 7, "“5/3” is not a metre", "5/2"),
    ("| C |\ntime:\n| D |", 2, 1, "“time:” says nothing", ""),
    ("| (2/3) C |", 1, 3, "“(2/3)” is not a metre", "2/2"),
    # form and sections
    ("form: A C\n\n[A]\n| C |\n[B]\n| C |", 1, 9, "no section is called “C”", ""),
    ("form: Verse, Corus\n\n[Verse]\n| C |\n[Chorus]\n| C |", 1, 14, "no section is called “Corus”", "Chorus"),
    ("form: A\n\n| C |", 1, 7, "no section is called “A”", ""),
    ("form: AABA\n\n[A]\n| C |\n[B]\n| C |", 1, 7, "no section is called “AABA”", "A, A, B, A"),
    ("form: A x3\n\n[A]\n| C |", 1, 9, "no section is called “x3”", ""),
    ("form: A, B x3\n\n[A]\n| C |\n[B]\n| C |", 1, 10, "no section is called “B x3”", "B, B, B"),
    ("form: A 1 B\n\n[A 1]\n| C |\n[B]\n| C |", 1, 7, "no section is called “A 1 B”", "A 1, B"),
    ("form: B A\n\n[A]\n| C |\n[B]\n| C |\n[a]\n| C |", 1, 9, "two sections are called “A”", ""),
    ("form:\n\n| C |", 1, 1, "“form:” says nothing", ""),
    ("[Verse\n| C |", 1, 1, "a section's name has no closing bracket", "[Verse]"),
    ("[]\n| C |", 1, 1, "a section without a name", "[A]"),
    ("[A] | C |", 1, 1, "the section's name “A” shares its line", "[A]"),
    ("| C |\n[A] x2\n| C |", 2, 1, "the section's name “A” shares its line", "[A]"),
    ("| C |\nVerse: | C |", 2, 1, "the section's name “Verse” shares its line", "[Verse]"),
    ("| C |\nVerse: C G Am", 2, 1, "the section's name “Verse” shares its line", "[Verse]"),
    # whole files
    ("", 1, 1, "no chords found", ""),
    ("\n\n  Shopping:\n eggs and milk\n", 3, 3, "no chords found", ""),
    ("title: X\nkey: C\n", 1, 1, "no chords found", ""),
    ("| C |\n| " + "C " * 2500 + "|", 2, 5001, "a line of 5003 characters", ""),
]


def first(text: str) -> Fault:
    reading = read_chart(text)
    assert reading.chart is None
    return reading.faults[0]


@pytest.mark.parametrize(("text", "line", "column", "said", "nearest"), FAULTS)
def test_every_fault_has_its_place_and_says_what_would_be_right(
    text: str, line: int, column: int, said: str, nearest: str
) -> None:
    fault = first(text)
    assert said in fault.message
    assert (fault.line, fault.column) == (line, column)
    assert fault.nearest == nearest or (not nearest and fault.nearest)
    assert fault.expected or fault.nearest


@pytest.mark.parametrize("text", [text for text, *_ in FAULTS if text and "C " * 100 not in text])
def test_every_fault_shows_its_line_as_it_stands(text: str) -> None:
    for fault in read_chart(text).faults:
        assert fault.text == text.split("\n")[fault.line - 1]
        assert 1 <= fault.column <= len(fault.text) + 1
        assert fault.length >= 1
        assert fault.column + fault.length - 1 <= max(1, len(fault.text))


def test_directions_point_to_the_form() -> None:
    for text in ("| C | D.C. |", "| C | DS |", "| C |\nD.S. al Coda", "| C | Coda |", "| C | Segno |", "| C |\nfine"):
        assert "form:" in first(text).expected


def test_a_direction_in_several_words_is_one_fault() -> None:
    assert len(read_chart("| C | D.C. al Fine |").faults) == 1
    assert len(read_chart("| C | to Coda |").faults) == 1
    assert len(read_chart("| C | Coda | D.S. al Coda |").faults) == 2


def test_one_fault_hides_no_other_and_all_stand_in_the_order_of_the_text() -> None:
    text = """title: X
key: H
time: 3/5

[A]
|: C | Cmaj77 | H7 |
[B
| F | 1 |2. G |
D.C.
| . | C :| | %3 |
"""
    faults = read_chart(text).faults
    assert [(f.line, f.column) for f in faults] == [
        (2, 6),
        (3, 7),
        (6, 12),
        (6, 17),
        (7, 1),
        (8, 9),
        (9, 1),
        (10, 14),
    ]


def test_a_wrong_key_makes_no_fault_of_every_number() -> None:
    assert len(read_chart("key: H\n\n| 1 | 4 | 5 |").faults) == 1
    assert len(read_chart("| 1 | 4 | 5 |\n| 1 |").faults) == 1


def test_columns_count_characters_of_the_line_as_it_stands() -> None:
    assert first("\ufeff|\tB♭ |\tH |").column == 8
    assert first("| C |\r\n|| D♯ . | H |").column == 11


def test_the_thousandth_fault_ends_the_reading() -> None:
    faults = read_chart("| Cx | Fy |\n" * 5000).faults
    assert 1000 < len(faults) < 1100
    assert "more than 1000 faults" in faults[-1].message


REMARKS = [
    ("| C | F", 1, 8, "no bar line at the end of the line", "| C | F |"),
    ("[A]\n  C | F |", 2, 3, "no bar line at the start of the line", "| C | F |"),
    ("| C D E |", 1, 3, "3 cells cannot share 4 beats equally and last 2 + 1 + 1", ""),
    ("time: 3/4\n\n| C . | D E F G |", 3, 3, "2 cells cannot share 3 beats equally and last 2 + 1", ""),
    ("time: 3/4\n\n| C | D E F G |", 3, 7, "4 cells cannot share 3 beats equally and last 1 + 1 + 1/2 + 1/2", ""),
    ("| (3/4) C D |", 1, 9, "2 cells cannot share 3 beats", ""),
    ("[A]\nC  G\nla la\nF\nla", 2, 1, "chords above words: their order is known, their lengths are not", ""),
    ("| C |\n C  G", 2, 2, "chords without bar lines: their order is known, their lengths are not", ""),
    ("form: A\n\n[A]\n| C |\n[B]\n| C |", 5, 1, "the form never names “B”", ""),
    ("[A]\n[B]\n| C |", 1, 1, "no bars stand under “A”", ""),
    ("titel: X\n\n| C |", 1, 1, "“titel:” is kept", "title:"),
    ("Kye: C\n\n| C |", 1, 1, "“Kye:” is kept", "key:"),
    ("metre: 3/4\n\n| C |", 1, 1, "“metre:” is kept", "time:"),
    ("tempo: fast, 120\n\n| C |", 1, 8, "“fast, 120” is no number", "120"),
    ("level: hard\n\n| C |", 1, 8, "“hard” is no number", ""),
    ("year: c. 1850\n\n| C |", 1, 7, "“c. 1850” is no number", "1850"),
    ("Intro: C G Am\n\n| C |", 1, 1, "“Intro:” is kept as a header", "[Intro]"),
    ("| C |\nChorus\n| F |", 2, 1, "“Chorus” is read as words", "[Chorus]"),
    ("| C |\nC G foo Am", 2, 5, "read as words, because “foo” is no chord", ""),
    ("key: C\n\n| 1 | 6 | 2 |", 3, 7, "a bare “6” is a major chord, and no chord of the chart is minor", "6m"),
    ("key: C\n\n| 1 | 2/4 |", 3, 7, "a bare “2/4” is a major chord", "2m/4"),
    ("key: C\n\n| 1 | 14 | 54 |", 3, 7, "“14” is read as one chord, 1sus4", "1 4"),
    ("key: C\n\n| 6m | 12 |", 3, 8, "“12” is read as one chord, 1add9", "1 2"),
    ("key: Am\n\n| 6m | 4 | 1 |", 3, 3, "6m stands here without any 1m", "count: relative"),
]


@pytest.mark.parametrize(("text", "line", "column", "said", "nearest"), REMARKS)
def test_remarks_stop_nothing(text: str, line: int, column: int, said: str, nearest: str) -> None:
    reading = read_chart(text)
    assert reading.chart is not None
    assert not reading.faults
    (remark,) = [each for each in reading.remarks if said in each.message]
    assert (remark.line, remark.column, remark.nearest) == (line, column, nearest)
    assert remark.text == text.split("\n")[line - 1]


SILENT = [
    "key: C\n\n| 1 | 6m | 2 |",
    "key: C\n\n| I | VI | II |",
    "key: C\n\n| 1 | 67 | 2maj |",
    "key: Am\n\n| 6m | 4 | 1m |",
    "key: Am\ncount: tonic\n\n| 6m | 4 | 1 |",
    "key: A\n\n| 6m | 4 | 1 |",
    "form: A\n\n| F |\n[A]\n| C |",
    "note: slow\ncapo: 2\n\n| C | D E | F . G A |",
    "| C | (6/8) D E F |",
    "tempo: 96\nlevel: 2\nyear: 1850\n\n| C |",
    "time: 3/4\n\n| C . D |",
    "|: C |\n| D :|",
]


@pytest.mark.parametrize("text", SILENT)
def test_what_is_right_gets_no_remark(text: str) -> None:
    assert read_chart(text).remarks == ()


def test_one_remark_for_all_bars_that_share_alike_and_one_for_all_chords_above_words() -> None:
    assert len(read_chart("| C D E | F G A |\n| C D E |").remarks) == 1
    assert len(read_chart("C G\nla\n\nF\nla\n\nC\nla").remarks) == 1


@given(st.lists(st.sampled_from(SCRAPS) | st.text(max_size=6), max_size=40).map(" ".join))
def test_reading_never_raises_and_every_fault_has_a_place(text: str) -> None:
    reading = read_chart(text)
    assert (reading.chart is None) == bool(reading.faults)
    for fault in (*reading.faults, *reading.remarks):
        assert fault.line >= 1
        assert fault.column >= 1
        assert fault.message
        assert fault.drawn().startswith(fault.text)
    places = [(fault.line, fault.column) for fault in reading.faults]
    assert places == sorted(places)
