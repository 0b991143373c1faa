"""Every notation that a chart may use: what is written, and the bars that it stands for."""

from __future__ import annotations

import pytest

from grammar.charts import read_chart
from shared.chart import Bar, Cell, Chart, Repeat
from tests.helpers.chart_texts import MUSIC, SECTION_3, WORDS


def read(text: str) -> Chart:
    reading = read_chart(text)
    assert reading.chart is not None, [fault.sentence for fault in reading.faults]
    return reading.chart


def outline(items: tuple[Bar | Repeat, ...]) -> str:
    """The bars of a section in one line: chords, ``_`` for a hold, ``-`` for silence, repeats in brackets."""
    said = []
    for item in items:
        if isinstance(item, Bar):
            said.append(" ".join(map(cell, item.cells)))
        else:
            endings = "".join(
                f" {','.join(map(str, ending.numbers))}: {outline(ending.body)}" for ending in item.endings
            )
            said.append(f"[{outline(item.body)}{endings}]x{item.times}")
    return " | ".join(said)


def cell(each: Cell) -> str:
    if not each.struck:
        return "_"
    return each.chord.name if each.chord else "-"


@pytest.mark.parametrize(("text", "expected"), MUSIC)
def test_bars_and_repeats(text: str, expected: str | None) -> None:
    reading = read_chart(text)
    if expected is None:
        assert reading.chart is None
    else:
        assert outline(read(text).sections[-1].body) == expected


def test_bars_are_numbered_in_the_order_written_through_all_sections() -> None:
    chart = read("[A]\n|: C |1. F :|2. G |\n[B]\n| C | % |")
    assert [bar.number for _, bar in chart.bars()] == [1, 2, 3, 4, 5]
    assert [bar.line for _, bar in chart.bars()] == [2, 2, 2, 4, 4]


def test_same_again_is_marked_and_two_bars_are_two_bars() -> None:
    bars = [bar for _, bar in read("| C | F | % | %2 | G |").bars()]
    assert [bar.again for bar in bars] == [0, 0, 1, 2, 2, 0]
    assert [bar.number for bar in bars] == [1, 2, 3, 4, 5, 6]


def test_same_again_may_stand_at_the_head_of_a_repeat_and_looks_back_as_written() -> None:
    assert outline(read("| C |: % | F :|").sections[0].body) == "C | [C | F]x2"


HEADS = [
    ("title: Blue Door\nkey: Eb\n\n| C |", (("title", "Blue Door"), ("key", "Eb"))),
    ("Title :  Blue Door  \n\n| C |", (("title", "Blue Door"),)),
    ("\n\n# about\ntitle: Blue Door\n\n| C |", (("title", "Blue Door"),)),
    ("title: A: B | C\n| C |", (("title", "A: B | C"),)),
    ("by:\n| C |", (("by", ""),)),
    ("Sung By: all\n[A]\n| C |", (("sung by", "all"),)),
    ("capo: 2\ncapo: 3\n| C |", (("capo", "2"), ("capo", "3"))),
    ("source: http://example.org/x\n| C |", (("source", "http://example.org/x"),)),
    ("| C |", ()),
    ("[A]\n| C |", ()),
]


@pytest.mark.parametrize(("text", "headers"), HEADS)
def test_headers(text: str, headers: tuple[tuple[str, str], ...]) -> None:
    assert read(text).headers == headers


def test_the_head_says_key_metre_and_form() -> None:
    chart = read("key: D dorian\ntime: 6/8\nform: b, a b, B\n\n[A B]\n| C |\n[B]\n| D |")
    assert (str(chart.key), str(chart.metre)) == ("D dorian", "6/8")
    assert chart.form == ("B", "A B", "B")


@pytest.mark.parametrize(
    ("form", "labels", "expected"),
    [
        ("A A B A", "A B", ("A", "A", "B", "A")),
        ("A, B,A", "A B", ("A", "B", "A")),
        ("a b", "A B", ("A", "B")),
        ("Verse 1", "Verse_1", ("Verse 1",)),
        ("verse 1,  Chorus , Verse  1", "Verse_1 Chorus", ("Verse 1", "Chorus", "Verse 1")),
    ],
)
def test_form(form: str, labels: str, expected: tuple[str, ...]) -> None:
    sections = "".join(f"[{label.replace('_', ' ')}]\n| C |\n" for label in labels.split())
    assert read(f"form: {form}\n\n{sections}").form == expected


def test_sections_by_bracket_and_by_colon_and_before_the_first_label() -> None:
    chart = read("| C |\n[Verse 2]\n| F |\nChorus:\n| G |\n| A |\n[Verse 2]\n| D |\n[ Odd   one ]:\n| E |")
    assert [(s.label, outline(s.body)) for s in chart.sections] == [
        (None, "C"),
        ("Verse 2", "F"),
        ("Chorus", "G | A"),
        ("Verse 2", "D"),
        ("Odd one", "E"),
    ]


def test_key_and_metre_govern_the_bars_written_below_them() -> None:
    chart = read("key: C\ntime: 4/4\n\n[A]\n| C |\nkey: G\ntime: 3/4\n| (2/4) D | D |\n[B]\nKEY: Am\n| Am |")
    said = [(str(bar.key), str(bar.metre), bar.own_metre) for _, bar in chart.bars()]
    assert said == [("C", "4/4", False), ("G", "2/4", True), ("G", "3/4", False), ("Am", "3/4", False)]
    assert (str(chart.key), str(chart.metre)) == ("C", "4/4")


@pytest.mark.parametrize(
    ("written", "expected"),
    [("| (2/4) C F |", "C F"), ("|(2/4)C F|", "C F"), ("| C | (3/8) |", "C | _"), ("| C | (2/4) % |", "C | C")],
)
def test_a_metre_for_one_bar(written: str, expected: str) -> None:
    chart = read(written + "\n| G |")
    assert outline(chart.sections[0].body) == f"{expected} | G"
    *_, own, last = [bar for _, bar in chart.bars()]
    assert own.own_metre
    assert (own.metre.beats, last.own_metre, str(last.metre)) != (4, False, "4/4")
    assert str(last.metre) == "4/4"


NUMBERS = [
    ("C", "1 4m b7 5/7", "C Fm Bb G/B"),
    ("Eb", "1 2- 57 6m7/5", "Eb Fm Bb7 Cm7/Bb"),
    ("C", "ii7 V7 I", "Dm7 G7 C"),
    ("C", "V7/ii IV/5 viiø7 V/V", "A7 F/G Bm7b5 D"),
    ("E", "bVI #4dim7 bvii", "C A#dim7 Dm"),
    ("Am", "1m b6 b7 57", "Am F G E7"),
    ("D dorian", "1m 4", "Dm G"),
    ("C", "1 . /7 5", "C _ C/B G"),
    ("C", "1 F G7 6m", "C F G7 Am"),
    ("C", "IV iv Imaj7 vi", "F Fm Cmaj7 Am"),
]


@pytest.mark.parametrize(("key", "written", "expected"), NUMBERS)
def test_numbers_and_roman_numerals_are_counted_from_the_key(key: str, written: str, expected: str) -> None:
    assert outline(read(f"key: {key}\n\n| {written} |").sections[0].body) == expected


def test_numbers_follow_the_key_written_above_them() -> None:
    assert outline(read("key: C\n\n| 1 |\nkey: G\n| 1 | % |").sections[0].body) == "C | G | G"
    assert outline(read("[A]\nkey: G\n| 1 |").sections[0].body) == "G"


@pytest.mark.parametrize(("key", "expected"), [("Am", "Am | F | C"), ("D dorian", "Am | F | C"), ("A", "F#m | D | A")])
def test_numbers_in_a_minor_key_may_be_counted_from_the_relative_major(key: str, expected: str) -> None:
    text = f"key: {key}\ncount: Relative\n\n| 6m | 4 | 1 |"
    assert outline(read(text).sections[0].body) == expected


def test_what_was_written_is_kept() -> None:
    bars = [bar for _, bar in read("key: C\n\n| CM7 | C△7 . | /B | %\n| V7/ii | N.C. | |").bars()]
    assert [[each.written for each in bar.cells] for bar in bars] == [
        ["CM7"],
        ["C△7", "."],
        ["/B"],
        ["/B"],
        ["V7/ii"],
        ["N.C."],
        [""],
    ]


def test_chords_above_words() -> None:
    chart = read(WORDS)
    first, verse = chart.sections
    assert (first.label, first.body, first.words) == (None, (), "an old song")
    assert verse.words == "with feeling"
    assert outline(verse.body) == "G D7/F# Em | [C G]x2 | C | G | -"
    bars = [bar for _, bar in chart.bars()]
    assert [bar.measured for bar in bars] == [False, False, True, True, False]
    assert [bar.words for bar in bars] == [
        "When I go walking by",
        "The river in the rain\n  and so on",
        "",
        "(played twice)",
        "",
    ]
    assert [[each.column for each in bar.cells] for bar in bars] == [[1, 9, 18], [6, 19], [0], [0], [1]]


LINES_OF_CHORDS = [
    ("Am", True),
    ("C G Am F", True),
    ("C   .   /B", True),
    ("Bb6/9 C°7 NC", True),
    ("Cmaj77 F G7", True),
    ("H7", True),
    ("Hm G", True),
    ("1 4 5", True),
    ("ii V I", True),
    ("A", True),
    ("A long time", False),
    ("I", False),
    ("la la", False),
    ("Be", False),
    ("Add", False),
    ("A I", False),
    ("C G foo", False),
    ("...", False),
    ("x2", False),
]


@pytest.mark.parametrize(("line", "chords"), LINES_OF_CHORDS)
def test_a_line_of_chords_is_told_from_a_line_of_words(line: str, chords: bool) -> None:
    reading = read_chart(f"key: C\n\n[A]\n{line}\n[B]\n| C |")
    if reading.chart is None:
        assert chords
        assert {fault.line for fault in reading.faults} == {4}
    else:
        assert bool(reading.chart.sections[0].body) == chords
        assert (reading.chart.sections[0].words == line) != chords


def test_a_word_like_a_chord_directly_below_chords_is_a_word() -> None:
    chart = read("C G\nGo\nC F\nI\n\nGo")
    assert outline(chart.sections[0].body) == "C G | C F | Gdim"
    assert [bar.words for _, bar in chart.bars()] == ["Go", "I", ""]


def test_comments_and_line_ends_and_byte_order_marks_change_nothing() -> None:
    plain = "title: X\n\n[A]\n| C | F |\n| G |\n"
    expected = read(plain)
    for text in (
        "\ufeff" + plain,
        plain.replace("\n", "\r\n"),
        plain.replace("\n", "\r"),
        plain.replace("| C", "# a comment | with ]\n| C"),
        plain.replace("| C | F |", "\t| C\t|\u00a0F |  "),
        plain.replace("\n| G", "\n\n\n| G"),
    ):
        assert read(text) == expected


def test_number_signs_behind_the_start_of_a_line_are_no_comment() -> None:
    assert outline(read("key: C\n\n| #4dim |\n #4dim 5").sections[0].body) == "F#dim | F#dim G"


def test_a_whole_chart() -> None:
    chart = read(SECTION_3)
    assert chart.title == "Saltmarsh Waltz"
    assert chart.form == ("A", "B", "A")
    assert outline(chart.sections[0].body) == "[Ebmaj7 | Cm7 | Fm7 | Bb7]x2"
    assert outline(chart.sections[1].body) == "[Abmaj7 | Abm6 | Gm7 _ C7b9 | Fm7 Bb7/D 1: Eb6 2: Eb6]x2"
    assert all(str(bar.metre) == "3/4" and str(bar.key) == "Eb" for _, bar in chart.bars())
