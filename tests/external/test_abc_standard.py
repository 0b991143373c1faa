"""ABC as the standard describes it, section by section.

Source: the ABC music standard 2.1 (December 2011), http://abcnotation.com/wiki/abc:standard:v2.1. The small examples
are written from memory of it, or made to show what a section says; the numbers of the sections are from memory too.
"""

from __future__ import annotations

import pytest

from corpus.unfolding import played_bars
from grammar.abc_fields import read_abc_key, read_abc_metre, read_abc_parts
from grammar.abc_music import read_music
from grammar.abc_symbols import read_abc_symbol
from grammar.abc_tunes import read_abc
from shared.chart import Chart
from shared.pitch import Pitch


def chart(music: str, head: str = "X:1\nT:T\nM:4/4\nL:1/4\nK:C\n") -> Chart:
    (tune,) = read_abc(head + music)
    assert tune.chart is not None, tune.faults
    return tune.chart


def as_played(music: str, head: str = "X:1\nT:T\nM:4/4\nL:1/4\nK:C\n") -> str:
    """The chords of the bars as they are played, bars apart by spaces; a bar that holds the chord is ``-``."""
    bars = []
    for *_, bar in played_bars(chart(music, head)):
        bars.append("+".join(cell.chord.name if cell.chord else "N" for cell in bar.cells if cell.struck) or "-")
    return " ".join(bars)


def test_2_2_1_a_tune_is_ended_by_an_empty_line_and_a_file_header_holds_for_all() -> None:
    first, second = read_abc('%abc-2.1\nM:3/4\nL:1/4\n\nX:1\nK:C\n"C"c3|\n\nX:2\nM:2/4\nK:G\n"G"B2|\n')
    assert [str(tune.chart and tune.chart.metre) for tune in (first, second)] == ["3/4", "2/4"]


def test_2_2_4_comments() -> None:
    assert as_played('"C"c4|%"F"A4|\n% "G"\n"Am"A4|') == "C Am"


@pytest.mark.parametrize(
    ("metre", "read"),
    [("6/8", "6/8"), ("4/4", "4/4"), ("C", "4/4"), ("C|", "2/2"), ("none", "None"), ("(2+3+2)/8", "7/8")],
)
def test_3_1_6_metre(metre: str, read: str) -> None:
    assert str(read_abc_metre(metre)) == read


@pytest.mark.parametrize(("metre", "bar"), [("2/4", "c8"), ("3/4", "c6"), ("4/4", "c8"), ("6/8", "c6"), ("C|", "c8")])
def test_3_1_7_default_length_is_a_sixteenth_under_three_quarters(metre: str, bar: str) -> None:
    made = chart(f'"C"{bar}|"F"{bar}|', f"X:1\nM:{metre}\nK:C\n")
    assert [(each.own_metre, each.metre) for _, each in made.bars()] == [(False, made.metre)] * 2


def test_3_1_9_parts() -> None:
    assert "".join(read_abc_parts("A2B3")) == "AABBB"
    assert "".join(read_abc_parts("((AB)3.(CD)3)2")) == "ABABABCDCDCDABABABCDCDCD"
    head = "X:1\nM:4/4\nL:1/4\nP:AB2A\nK:C\n"
    assert as_played('P:A\n"C"c4|"F"A4|\nP:B\n"G"B4|\n', head) == "C F G G C F"


#: Signatures that are one and the same, as section 3.1.14 tabulates them: all of two sharps, none, and three flats.
SIGNATURES = {
    2: ["D", "Bm", "AMix", "EDor", "F#Phr", "GLyd", "C#Loc"],
    0: ["C", "Am", "GMix", "DDor", "EPhr", "FLyd", "BLoc"],
    -3: ["Eb", "Cm", "BbMix", "FDor", "GPhr", "AbLyd", "DLoc"],
}


@pytest.mark.parametrize(("signature", "name"), [(n, name) for n, names in SIGNATURES.items() for name in names])
def test_3_1_14_modes(signature: int, name: str) -> None:
    key = read_abc_key(name).key
    assert key is not None
    assert not isinstance(key, Pitch)
    assert key.signature == signature


@pytest.mark.parametrize(
    "names",
    [
        ["G", "Gmaj", "G major", "GMAJOR", "Gion", "G Ionian"],
        ["Am", "Amin", "A minor", "A MINOR", "Aaeolian", "A Aeo"],
        ["Amix", "AMix", "A mixolydian", "AMIX"],
        ["D phr", "D Phrygian", "DPHR"],
    ],
)
def test_3_1_14_only_three_letters_count_and_case_does_not(names: list[str]) -> None:
    assert len({read_abc_key(name).key for name in names}) == 1


def test_3_1_14_no_key_pipes_and_explicit_signatures() -> None:
    assert [read_abc_key(name).key for name in ("", "none", "HP", "Hp")] == [None] * 4
    assert str(read_abc_key("D Phr ^f").key) == "D phrygian"
    assert str(read_abc_key("D exp _b _e ^f").key) == "D"


def test_3_2_fields_inside_the_tune() -> None:
    made = chart('"C"c4|[M:9/8][K:G]"G"G9/2|')
    assert [(str(bar.metre), str(bar.key)) for _, bar in made.bars()] == [("4/4", "C"), ("9/8", "G")]


def test_3_3_a_field_goes_on() -> None:
    (tune,) = read_abc('X:1\nT:T\nC:One\n+:and two\nK:C\n"C"c8|\n')
    assert tune.chart is not None
    assert tune.chart.header("by") == "One and two"


#: Music and its length in unit note lengths.
LENGTHS = [
    ("4.3", "A A2 A3 A/ A/2 A/4 A// A3/2", "9"),
    ("4.4", "a>b", "2"),
    ("4.4", "a<b", "2"),
    ("4.4", "a>>b a>>>b", "4"),
    ("4.5", "z z2 x x3", "7"),
    ("4.11", "ab-|b".replace("|", ""), "3"),
    ("4.12", "{g}A {gef}A", "2"),
    ("4.13", "(2ab", "3"),
    ("4.13", "(3abc", "2"),
    ("4.13", "(4abcd", "3"),
    ("4.13", "(6abcdef", "2"),
    ("4.13", "(8abcdefga", "3"),
    ("4.13", "(3:2:3abc", "2"),
    ("4.13", "(3::abc", "2"),
    ("4.13", "(3:2abc", "2"),
    ("4.13", "(3::2ab", "4/3"),
    ("4.14", "~A .A uA vA !trill!A", "5"),
    ("4.17", "[CEGc]", "1"),
    ("4.17", "[C2E2G2c2]3", "6"),
    ("6.1.2", "A y B y2", "2"),
]


@pytest.mark.parametrize(("section", "music", "length"), LENGTHS)
def test_4_lengths(section: str, music: str, length: str) -> None:
    assert (section, str(read_music(music, False).length)) == (section, length)


@pytest.mark.parametrize(("music", "length"), [("(5abcde", "2"), ("(7abcdefg", "2"), ("(9abcdefgab", "2")])
def test_4_13_other_tuplets_depend_on_the_metre(music: str, length: str) -> None:
    assert str(read_music(music, False).length) == length
    assert str(read_music(music, True).length) == "3"


def test_4_5_rests_of_several_bars() -> None:
    assert as_played('"C"c4|Z4|"F"A4|') == as_played('"C"c4|z4|z4|z4|z4|"F"A4|') == "C - - - - F"


@pytest.mark.parametrize("line", ["|", "||", "|]", "[|", ".|", "[|]"])
def test_4_8_bar_lines(line: str) -> None:
    assert as_played(f'"C"c4{line}"F"A4|') == "C F"


#: Repeats (4.8), first and second endings (4.9), variant endings (4.10), and what is played.
REPEATS = [
    ("4.8", '|:"C"c4|"F"A4:|', "C F C F"),
    ("4.8", '|:"C"c4:|:"F"A4:|', "C C F F"),
    ("4.8", '|:"C"c4::"F"A4:|', "C C F F"),
    ("4.8", '|::"C"c4::|', "C C C"),
    ("4.8", '"C"c4|"F"A4:|', "C F C F"),
    ("4.8", '"C"c4||"F"A4:|', "C F F"),
    ("4.9", '|:"C"c4|[1"F"A4:|[2"G"B4|]', "C F C G"),
    ("4.9", '|:"C"c4|1"F"A4:|2"G"B4|]', "C F C G"),
    ("4.10", '|:"C"c4|[1,3"F"A4:|[2"G"B4:|[4"Am"A4|]', "C F C G C F C Am"),
    ("4.10", '|:"C"c4|[1-3"F"A4:|[4"G"B4|]', "C F C F C F C G"),
]


@pytest.mark.parametrize(("section", "music", "bars"), REPEATS)
def test_4_8_to_4_10_repeats_and_endings(section: str, music: str, bars: str) -> None:
    assert (section, as_played(music)) == (section, bars)


def test_4_15_symbol_lines() -> None:
    assert as_played('C D E F|G G A B|\ns: "C" * "F" * | "G" * * *|') == "C+F G"


#: The types of section 4.18 with their tones in semitones above the root (common practice), the bass in either case.
TYPES = [
    ("C", {0, 4, 7}),
    ("Cm", {0, 3, 7}),
    ("Cmin", {0, 3, 7}),
    ("Cmaj", {0, 4, 7}),
    ("Cdim", {0, 3, 6}),
    ("Caug", {0, 4, 8}),
    ("C+", {0, 4, 8}),
    ("Csus", {0, 5, 7}),
    ("C7", {0, 4, 7, 10}),
    ("C9", {0, 2, 4, 7, 10}),
    ("Cm7", {0, 3, 7, 10}),
    ("Cmaj7", {0, 4, 7, 11}),
    ("C/E", {0, 4, 7}),
    ("C/e", {0, 4, 7}),
    ("C7/Bb", {0, 4, 7, 10}),
    ("C7/bb", {0, 4, 7, 10}),
]


@pytest.mark.parametrize(("symbol", "tones"), TYPES)
def test_4_18_chord_symbols(symbol: str, tones: set[int]) -> None:
    read = read_abc_symbol(symbol)
    assert read.chord is not None
    assert read.chord.pitch_classes == tones


def test_4_18_a_symbol_stands_before_its_note_and_alternatives_are_for_print() -> None:
    assert as_played('"Am7"A2"D7"D2|"G(Em)"G4|') == "Am7+D7 G"


def test_4_19_annotations_are_no_chord_symbols() -> None:
    assert as_played('"^C"c"_F"c"<G"c">A"c|"C""@1,2 F"c4|') == "N C"


def test_8_2_text() -> None:
    (tune,) = read_abc('X:1\nT:\\\'El\\`eve &amp; ma\\^itre \\u00e7a\nK:C\n"C"c8|\n')
    assert tune.title == "Élève & maître ça"
