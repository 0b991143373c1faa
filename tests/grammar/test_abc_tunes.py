"""ABC tune books: fields, voices, bars, repeats, endings, parts, and what is said of what cannot be read."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.abc_tunes import read_abc
from grammar.chart_text import write_chart
from grammar.charts import read_chart
from shared.chart import Chart
from shared.foreign import ForeignTune

HEAD = "X:1\nT:Tune\nM:4/4\nL:1/4\nK:C\n"


def tune(text: str) -> ForeignTune:
    (only,) = read_abc(text)
    return only


def chart_of(text: str) -> Chart:
    chart = tune(text).chart
    assert chart is not None
    assert read_chart(write_chart(chart)).chart == chart
    return chart


def body(music: str, head: str = HEAD) -> str:
    """The sections of a tune as a chart writes them, line ends as spaces."""
    return " ".join(write_chart(chart_of(head + music)).partition("\n\n")[2].split())


def remarks(text: str) -> list[tuple[int, int, str]]:
    return [(remark.line, remark.column, remark.message) for remark in tune(text).remarks]


#: Music in 4/4 and quarter notes, and its bars.
BARS = [
    ('"C"c4|"F"A4|', "| C | F |"),
    ('"C"c2"F"A2|"G7"B3"C"c|', "| C F | G7 . . C |"),
    ('"C"c4|c4|"G"B4|', "| C | | G |"),
    ('c4|c2"C"c2|', "| N.C. | . C |"),
    ('"C"c4|"N.C."z4|z4|"G"B4|', "| C | N.C. | | G |"),
    ('"C"c4|z4|x4|', "| C | | |"),
    ('"C"c4|Z2|"F"A4|', "| C | | | F |"),
    ('"C"Z2|"F"A4|', "| C | | F |"),
    ('"C"c4 "F"|A4|', "| C | F |"),
    ('"C""F"c4|', "| C |"),
    ('c|"C"c4|c3|]', "| (1/4) N.C. | C | (3/4) |"),
    ('"G7"B|"C"c4|', "| (1/4) G7 | C |"),
    ('"C"c>"F"A "G"B2|', "| C . . F G . . . |"),
    ('"C"c3/2"F"A5/2|', "| C . . F . . . . |"),
    ('"C"(3ccc "F"A2|', "| C F |"),
    ('"C"(3cc"G"B "F"A2|', "| C G F . |"),
    ('"C"c4 y|"F"{gf}A4|', "| C | F |"),
    ('"C"[CEG]2"F"[FAc]2|', "| C F |"),
    ('"C"c4|\\\n"F"A4|', "| C | F |"),
    ('"C"c2\n"F"A2|', "| C F |"),
    ('"C"c4|% "F"A4|\n"G"B4|', "| C | G |"),
    ('"C"c4-|c4 .| "G"B4 [|]', "| C | | G |"),
    ('"C"c4|"/E"c2"/F"c2|', "| C | C/E C/F |"),
    ('"C"c4||"F"A4|]', "| C | F |"),
    ('"C"c4|c4\ns:"F" * "G7" "^x" |\n', "| C | |"),
    ('"C"c4|cdef|\ns:* | "F" * "G7" "^x" |', "| C | F G7 |"),
    ('cdef|z gab|\ns:"C" * "F" * | "G7"', "| C F | . G7 . . |"),
    ('"C"c4|[L:1/8]"F"c8|', "| C | F |"),
    ('"C"c4&"G"g4|"F"A4|', "| C | F |"),
]


@pytest.mark.parametrize(("music", "bars"), BARS)
def test_bars(music: str, bars: str) -> None:
    assert body(music) == bars


#: Repeats and endings, and the chart they make.
REPEATS = [
    ('|:"C"c4:|', "|: C :|"),
    ('"C"c4:|"F"A4|', "|: C :| | F |"),
    ('"C"c4::"F"A4:|', "|: C :| |: F :|"),
    ('"C"c4:|"F"A4:|', "|: C :| |: F :|"),
    ('|:"C"c4:|:"F"A4:|', "|: C :| |: F :|"),
    ('"C"c4||"F"A4:|', "| C | |: F :|"),
    ('|:"C"c4||"F"A4:|', "|: C | F :|"),
    ('|::"C"c4::|', "|: C :|x3"),
    ('|:"C"c4|1"F"A4:|2"G"B4|]', "|: C |1. F :|2. G |"),
    ('|:"C"c4|[1"F"A4:|[2"G"B4||"Am"A4|', "|: C |1. F :|2. G | | Am |"),
    ('|:"C"c4[1,3"F"A4:|[2"G"B4:|', "|: C |1,3. F :|2. G |"),
    ('|:"C"c4|1-3"F"A4:|4"G"B4|]', "|: C |1,2,3. F :|4. G |"),
    ('|:"C"c4|1"F"A4:|2"G"B4:|3"Am"A4|]', "|: C |1. F :|2. G :|3. Am |"),
    ('"C"c4|1"F"A4:|2"G"B4|]', "|: C |1. F :|2. G |"),
    ('|:"C"c4|1"F"A4:|"G"B4|', "| C | F | C | G |"),
    ('|:"C"c4|1"F"A4:|2 c4|]', "|: C |1. F :|2. C |"),
    ('|:c4|1"F"A4:|2 c4|]', "|: N.C. |1. F :|2. N.C. |"),
    ('|:"C"c4|"F"A4|', "| C | F |"),
    ('"C"c4||\n:"F"A4:|', "| C | |: F :|"),
    ('|:"C"c2:|:"F"A2:|', "|: (2/4) C :| |: (2/4) F :|"),
    ('|:"C"c4|1"F"A4:|2"G"B4|"Am"A4|"Dm"D4:|', "|: C |1. F :|2. G | |: Am | Dm :|"),
    ('|:"C"c4|1"F"A4:|2"G"B4|"Am"A4|1"Dm"D4:|2"Em"E4|]', "|: C |1. F :|2. G | |: Am |1. Dm :|2. Em |"),
]


@pytest.mark.parametrize(("music", "chart"), REPEATS)
def test_repeats_and_endings(music: str, chart: str) -> None:
    assert body(music) == chart


def test_an_ending_holds_the_chord_at_the_end_of_what_is_repeated() -> None:
    assert body('|:"C"c4|1"F"A2"G"B2:|2 c2"Am"A2|]') == "|: C |1. F G :|2. C Am |"


#: Fields on the way.
FIELDS = [
    ('"C"c4|\nK:G\n"G"B4|', "| C | key: G | G |"),
    ('"C"c4|[K:Gm]"Gm"B4|', "| C | key: Gm | Gm |"),
    ('"C"c4|[K:clef=bass]"F"A4|', "| C | F |"),
    ('"C"c2[K:D]"D"d2|"G"B4|', "| (2/4) C | key: D | (2/4) D | G |"),
    ('"C"c4|\nM:3/4\n"F"A3|"G"B3|', "| C | time: 3/4 | F | G |"),
    ('"C"c4|[M:2/4]"F"A2|[M:4/4]"G"B4|', "| C | (2/4) F | G |"),
    ('"C"c4|[M:3/4]"F"A3|', "| C | (3/4) F |"),
    ('P:A\n"C"c4|\nP:B\n"F"A4:|', "[A] | C | [B] |: F :|"),
    ('"C"c4|[P:B]"F"A4|', "| C | [B] | F |"),
    ('P:Verse [1]\n"C"c4|', "[Verse 1] | C |"),
    ('"C"c4|]:\nP:B\n"F"A4:|', "| C | [B] |: F :|"),
    ('P:A\n|:"C"c4|\nP:B\n|:"F"A4:|', "[A] | C | [B] |: F :|"),
    ('P:A\n|:"C"c4|\nP:B\n"F"A4:|', "[A] |: C | F :|"),
    ('V:1\n"C"c4|\nV:2\n"G"g4|\nK:D\nM:3/4\nV:1\n"F"A4|', "| C | F |"),
    ('[V:1]"C"c4|\n[V:2]"G"g4|\n[V:1]"F"A4|', "| C | F |"),
    ('V:1\nP:A\n"C"c4|\nP:B\n"F"A4|\nV:2\nP:A\n"G"g4|\nP:B\ng4|', "[A] | C | [B] | F |"),
    ('"C"c4|[r:a remark|]"F"A4|', "| C | F |"),
    ('"C"c4|\nw:words and |more\nN:note\n%%text x\n"F"A4|', "| C | F |"),
]


@pytest.mark.parametrize(("music", "chart"), FIELDS)
def test_fields_on_the_way(music: str, chart: str) -> None:
    assert body(music) == chart


def test_headers() -> None:
    chart = chart_of(
        "X: 3\nT:Caf\\'e\nT:Second title\nC:One\nC:Two\n+:Three\nR:slow air\nS:from A\nO:Eire\nQ:1/4=90\nM:6/8\nL:1/8\n"
        'K:Ador\n"Am"A6|\n'
    )
    assert chart.headers == (
        ("title", "Café"),
        ("by", "One, Two Three"),
        ("key", "A dorian"),
        ("time", "6/8"),
        ("tempo", "90"),
        ("style", "slow air"),
        ("source", "from A"),
    )
    assert dict(chart_of('X:1\nO:Eire\nK:C\n"C"c8|\n').headers)["source"] == "Eire"


def test_the_default_length_follows_the_metre_of_the_header() -> None:
    assert body('"C"c8|\nM:2/4\n"F"c4|', "X:1\nM:4/4\nK:C\n") == "| C | (2/4) F |"
    assert body('"C"c8|', "X:1\nM:2/4\nK:C\n") == "| C |"
    assert body('"C"c4|', "X:1\nL:1/4\nM:4/4\nK:C\n") == "| C |"


def test_free_metre_takes_the_commonest_length() -> None:
    assert body('"C"c6|"F"A6|"G"B2|', "X:1\nM:none\nK:C\n") == "| C | F | (1/4) G |"
    assert str(chart_of('X:1\nK:C\n"C"c6|"F"A6|').metre) == "3/4"


def test_a_book() -> None:
    text = (
        'R:reel\nM:4/4\nL:1/4\n\nsome text: of no use\n\nX:1\nT:One\nK:C\n"C"c4|\n\n'
        'free text\n\nX:2\nT:Two\nM:3/4\nK:D\n"D"d3|\nX:7\nK:E\n"E"e4|'
    )
    tunes = read_abc(text)
    assert [(each.number, each.title) for each in tunes] == [("1", "One"), ("2", "Two"), ("7", None)]
    assert [str(each.chart and each.chart.metre) for each in tunes] == ["4/4", "3/4", "4/4"]
    assert [each.chart and each.chart.header("style") for each in tunes] == ["reel"] * 3
    assert [each.remarks for each in tunes] == [()] * 3


@pytest.mark.parametrize(
    ("parts", "music", "form"),
    [
        ("AAB", 'P:A\n"C"c4|\nP:B\n"F"A4|', ("A", "A", "B")),
        ("(AB)2", 'P:A\n"C"c4|\nP:B\n"F"A4|', ("A", "B", "A", "B")),
        ("AB", 'P:A\n"C"c4|\nP:B\n"F"A4|', ()),
        ("ABA", '"C"c4|\nP:B\n"F"A4|', ("A", "B", "A")),
        ("ABC", 'P:A\n"C"c4|\nP:B\n"F"A4|', ()),
        ("ABA", 'P:A\n"C"c4|\nP:B\n"F"A4|\nP:A\n"G"G4|', ()),
    ],
)
def test_parts(parts: str, music: str, form: tuple[str, ...]) -> None:
    assert chart_of(f"X:1\nM:4/4\nL:1/4\nP:{parts}\nK:C\n{music}").form == form


def test_an_explicit_signature_has_its_mode_found() -> None:
    assert str(chart_of('X:1\nL:1/1\nK:D exp _b\n"Dm"d|"Gm"g|"Dm"d|').key) == "Dm"
    assert chart_of('X:1\nL:1/1\nK:none\n"Dm"d|').key is None


#: A tune after HEAD (line 6 on), and what is said of it: line, column, a part of the message.
REMARKS = [
    ('"C"c4|"Xyz"c2"F"A2|', (6, 8, "“Xyz” is not a chord and is written as silence")),
    ('"C"c4|"4"c4|', (6, 8, "“4” is no chord symbol and is passed over")),
    ('"C"c4|c2$$%\n!D.C.!c2|', (7, 1, "“!D.C.!” is not followed")),
    ('"C"c4|[K:Q]c4|', (6, 10, "“Q” is not a key")),
    ('"C"c4|\nM:four\nc4|', (7, 3, "“four” is not a metre")),
    ('"C"c4|\nL: x\nc4|', (7, 4, "“x” is not a note length")),
    ('"C"c4|[K:none]c4|', (6, 10, "no chart goes on without a key")),
    ('"C"c4|[K:D', (6, 7, "“[K:D” is never closed")),
    ('"C"c2[K:D]c2|', (6, 9, "the key changes inside the bar")),
    ('"C"c2[M:3/4]c2|c3|', (6, 9, "the metre changes inside the bar")),
    ('"C"c4|c3|c4|', (6, 7, "a bar of 3 beats stands in 4/4 and has its own metre")),
    ('"C"c4|c5|c4|', (6, 7, "a bar of 5 beats stands in 4/4 and has its own metre")),
    ('"C"c4|(3ccc/ c2|c4|', (6, 7, "a bar of 11/3 beats stands in 4/4 and is written as a whole one")),
    ('"C"c4|c12|c4|', (6, 7, "a bar of 3 times its length is cut into bars of 4/4")),
    ('"C"(3c"F"A"G"B c2|', (6, 1, "the chords cannot share the bar as written")),
    (':|"C"c4|', (6, 1, "“:|” has nothing to repeat")),
    ('|1"C"c4|', (6, 2, "“1” has no bars before it")),
    ('|:"C"c4|:"F"A4:|', (6, 1, "“|:” opens a repeat that is never closed")),
    ('|:"C"c4|[0"F"A4:|', (6, 9, "“[0” is no ending")),
    ('|:"C"c4|1"F"A4:|2"G"B4|c4:|', (6, 17, "no bar line says where ending “2” ends")),
    ('P:\n"C"c4|', (6, 3, "a part without a name")),
    ('|:"C"c4|\nP:B\nc4:|', (7, 3, "the part “B” starts inside a repeat")),
    ('"C""F"c4|', (6, 5, "“F” is the second chord over one note")),
    ('"C"c4|"F"', (6, 8, "a chord symbol with no note behind it")),
    ('"/E"c2"C"c2|', (6, 2, "“/E” has no chord before it")),
    ('"C"c4|Z2c4|', (6, 7, "a rest of whole bars stands beside notes")),
    ('"C"c4|Z/|', (6, 8, "a rest cannot last “/” bars")),
    ('"C"c4|c4 3|', (6, 10, "“3” has no meaning here")),
    ('"C"c4|c4:c|', (6, 9, "“:” has no meaning here")),
    ('"C"c4|\n\nc4|', (8, 1, "music behind an empty line")),
]


@pytest.mark.parametrize(("music", "remark"), REMARKS)
def test_remarks_say_where(music: str, remark: tuple[int, int, str]) -> None:
    text = HEAD + music
    chart_of(text)
    line, column, message = remark
    said = remarks(text)
    assert any(at[:2] == (line, column) and message in at[2] for at in said), said
    assert all(each.text == text.split("\n")[each.line - 1] for each in tune(text).remarks)


@pytest.mark.parametrize(
    ("text", "remark"),
    [
        ('T:A\nK:C\n"C"c8|', (1, 1, "a tune without a number")),
        ('X:one\nK:C\n"C"c8|', (1, 3, "“one” is no number, so the tune is number 1")),
        ('X:1\nT:A\n"C"c8|', (3, 1, "the music starts without a key")),
        ('X:1\nK:Q\n"C"c8|', (2, 3, "“Q” is not a key")),
        ('X:1\nM:5\nK:C\n"C"c8|', (2, 3, "“5” is not a metre")),
        ('X:1\nQ:quick\nK:C\n"C"c8|', (2, 3, "“quick” is not a tempo")),
        ('X:1\nP:A(B\nK:C\n"C"c8|', (2, 5, "“A(B” is not an order of parts")),
        ('X:1\nP:AB\nK:C\nP:A\n"C"c8|', (2, 3, "the tune has no part “B”")),
        ('X:1\nP:AAB\nK:C\nP:A\n"C"c8|\nP:B\nc8|\nP:A\nc8|', (2, 3, "the part “A” stands twice")),
        ('X:1\nhello\nK:C\n"C"c8|', (2, 1, "a line that is no field")),
        ('X:1\nK:C hypo\n"C"c8|', (2, 5, "“hypo” is no mode")),
    ],
)
def test_remarks_on_headers(text: str, remark: tuple[int, int, str]) -> None:
    chart_of(text)
    line, column, message = remark
    assert any(at[:2] == (line, column) and message in at[2] for at in remarks(text)), remarks(text)


def test_numbers_that_stand_twice() -> None:
    tunes = read_abc('X:4\nK:C\n"C"c8|\n\nX:4\nK:C\n"C"c8|\n\nX:4\nK:C\n"C"c8|\n')
    assert [each.number for each in tunes] == ["4", "4 (2)", "4 (3)"]


@pytest.mark.parametrize(
    ("text", "number", "line", "message"),
    [
        ("", "1", 1, "no tune found"),
        ("just a text\nof two lines", "1", 1, "no tune found"),
        ("X:5\nT:A\nK:C\n", "5", 1, "the tune has no music"),
        ("X:5\nT:A\n", "5", 1, "the tune has no music"),
        ("X:5\nT:A\nK:C\nabc|", "5", 1, "the tune has no chords"),
        ('X:5\nT:A\nK:C\n"^C"abc|', "5", 1, "the tune has no chords"),
        ('X:5\nT:A\nK:C\n"Q"abc|', "5", 1, "the tune has no chords that can be read"),
        ('X:5\nT:A\nK:C\nV:1\nabc|\nV:2\n"C"abc|', "5", 1, "the tune has no chords"),
    ],
)
def test_why_there_is_no_chart(text: str, number: str, line: int, message: str) -> None:
    made = tune(text)
    assert (made.chart, made.number) == (None, number)
    assert [(fault.line, fault.message) for fault in made.faults] == [(line, message)]


def test_a_broken_tune_does_not_stop_the_others() -> None:
    tunes = read_abc('X:1\nK:\n|:|:[["\n\nX:2\nT:Good\nL:1/4\nK:C\n"C"c4|\n')
    assert [each.chart is not None for each in tunes] == [False, True]


LINES = st.lists(
    st.sampled_from(
        [
            "X:1",
            "X:",
            "T:a",
            "M:3/4",
            "M:none",
            "M:4",
            "L:1/16",
            "K:G",
            "K:none",
            "K:Q",
            "K:D exp ^f",
            "P:A",
            "P:AB2",
            "P:(A",
            "Q:1/4=9",
            "V:1",
            "V:2",
            's:"C" * | "F"',
            "w:la",
            "+:more",
            "%%begintext",
            "%%endtext",
            "% x",
            "",
            "H:x",
            "y",
            '"C"c4|"F"A4|',
            '|:"C"c3|1"F"A4:|2"G"B4|]',
            "|:",
            ":|",
            "::",
            "|2 c8|",
            '"C"c2[K:Eb]"Ab"c2|',
            "Z3|",
            '"Xx"c20',
            "c/4|",
            '[M:2/4]"G"B2|',
            "[P:B]",
            "||",
            '"Am"(3abc(5abcde|',
            "]|[",
            '"',
            "[K:",
            "c64|" * 3,
        ]
    ),
    max_size=25,
)


@given(LINES)
def test_no_tune_raises_and_every_chart_is_written_and_read(lines: list[str]) -> None:
    text = "\n".join(lines)
    tunes = read_abc(text)
    assert len({each.number for each in tunes}) == len(tunes) > 0
    for each in tunes:
        assert (each.chart is None) == bool(each.faults)
        assert all(1 <= said.line <= len(lines) + 1 for said in (*each.faults, *each.remarks))
        if each.chart is not None:
            assert read_chart(write_chart(each.chart)).chart == each.chart


def test_bars_written_out_behind_the_first_key_stay_in_it() -> None:
    (tune,) = read_abc('X:1\n"C"c2[K:Eb]"Ab"c2|\n|2 c8|')
    assert tune.chart is not None
    assert [str(bar.key) for _, bar in tune.chart.bars()] == ["None", *["Eb"] * 7]
    assert read_chart(write_chart(tune.chart)).chart == tune.chart


@given(st.text(alphabet=st.sampled_from(list('XKCLM:\n"|[]()ABcz1/ %+')), max_size=80))
def test_no_text_raises(text: str) -> None:
    assert read_abc("X:1\nK:C\n" + text)


@pytest.mark.parametrize(
    "music",
    [
        '"C"' + "Z999|" * 2000,
        '"C"' + "c999|" * 2000,
        '"C"c' + "[" * 5000,
        '"' * 20001 + "c|",
        '"' + "C(" * 5000 + '"c|"C"c|',
        '"C"c|' + "|:c:|" * 3000,
        '"C"c|' + "|1c:|" * 2000,
        "".join(f"P:A{n}\nc|\n" for n in range(1000)) + '"C"c|',
        '"C"' + "cdef " * 5000,
        '"C"c' + "(3" * 3000 + ">" * 3000 + "/" * 3000,
    ],
    ids=["rests", "notes", "brackets", "quotes", "symbol", "repeats", "endings", "parts", "one bar", "marks"],
)
def test_what_is_endless_stays_small(music: str) -> None:
    tunes = read_abc("X:1\nP:" + "(" * 5000 + "\nL:1/1\nK:C\n" + music)
    assert len(tunes) == 1
    chart = tunes[0].chart
    assert chart is None or sum(1 for _ in chart.bars()) < 10_000
