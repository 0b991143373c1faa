"""Pieces of ABC music: the time that passes in them, and where chord symbols stand in it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.abc_music import read_line, read_music


def placed(text: str, compound: bool = False) -> tuple[str, str]:
    """The length of a piece, and its chord symbols with the time before each."""
    music = read_music(text, compound)
    symbols = " ".join(f"{text[each.start : each.end]}@{each.offset}" for each in music.symbols)
    return str(music.length), symbols


#: A piece, its length in unit lengths, its symbols.
PIECES = [
    ("ABcd", "4", ""),
    ("A2B/c3/2d//", "17/4", ""),
    ("A,,2 c''/2 ^f=g__a", "11/2", ""),
    ("z4 x2", "6", ""),
    ('"Am"A2"G7"B2', "4", "Am@0 G7@2"),
    ('A"G"B', "2", "G@1"),
    ('A"G"', "1", "G@1"),
    ('"^slow""_x""<y"">z""@1,2 w""C"A', "1", "C@0"),
    ('A>B "C"c<d', "4", "C@2"),
    ('A>"C"B', "2", "C@3/2"),
    ('A>>"C"B', "2", "C@7/4"),
    ('A<<<"C"B', "2", "C@1/8"),
    ('A>{g}"C"B', "2", "C@3/2"),
    ('(3ABc "D"d', "3", "D@2"),
    ("(3A2B2c2", "4", ""),
    ("(2AB(4ABcd", "6", ""),
    ("(5ABcde", "2", ""),
    ("(5:4:6ABcdef g", "29/5", ""),
    ("(3::2AB c", "7/3", ""),
    ("(3:2AB c", "2", ""),
    ('[CEG]2 "F"[FAc]', "3", "F@2"),
    ("[C2E2G2]", "2", ""),
    ("[C4E2]/2 d", "3", ""),
    ('["C"CEG]', "1", "C@0"),
    ("{gf}A2{/b}c", "3", ""),
    ("(AB) .c -d | ".replace("|", ""), "4", ""),
    ("(A(Bc)) .(de.)", "5", ""),
    ("!trill!A !fermata!B ~c .d vuTHe", "5", ""),
    ("AyB y4 c`d", "4", ""),
    ('"C"A2&c2', "2", "C@0"),
    ("Ab* \\", "2", ""),
]


@pytest.mark.parametrize(("text", "length", "symbols"), PIECES)
def test_time_passes(text: str, length: str, symbols: str) -> None:
    assert placed(text) == (length, symbols)
    assert read_music(text, False).remarks == ()


def test_some_tuplets_depend_on_the_metre() -> None:
    assert placed("(5ABcde") == ("2", "")
    assert placed("(5ABcde", compound=True) == ("3", "")
    assert placed("(7ABcdefg(9ABcdefgab", compound=True) == ("6", "")


def test_rests_of_whole_bars() -> None:
    assert [read_music(text, False).bars for text in ("Z", "Z4", "X2", "Z3Z2", "z4")] == [1, 4, 2, 5, 0]


def test_notes_are_told_from_rests() -> None:
    assert [str(at) for at in read_music("A2 z [CE]B", False).notes] == ["0", "3", "4"]


#: A piece, the column and a part of the remark, its length.
ODD = [
    ("A0", 2, "is no length", "1"),
    ("A/0", 2, "is no length", "1"),
    ("A99999", 2, "is no length", "1"),
    ("Z/2", 2, "cannot last", "0"),
    ("A 3 B", 3, "“3” has no meaning here", "2"),
    ('A "Am B', 3, '“"” is never closed', "2"),
    ("A {gf B", 3, "“{” is never closed", "2"),
    ("A!B", 2, "“!” is never closed", "2"),
    ("A]B", 2, "“]” has no meaning", "2"),
    ("[AB", 0, "", "1"),
    ("A!D.C.!B", 2, "“!D.C.!” is not followed", "2"),
    ("!segno!A", 1, "is not followed", "1"),
]


@pytest.mark.parametrize(("text", "column", "message", "length"), ODD)
def test_odd_signs_are_passed_over(text: str, column: int, message: str, length: str) -> None:
    music = read_music(text, False)
    assert str(music.length) == length
    said = [(remark.column, message in remark.message) for remark in music.remarks]
    assert said == ([(column, True)] if column else [])


@pytest.mark.parametrize(
    ("text", "pieces"),
    [
        ("A2|B2||c|]", "MUSIC A2|BAR_LINE ||MUSIC B2|BAR_LINE |||MUSIC c|BAR_LINE |]"),
        ("|:A:|:B::c:|", "BAR_LINE |:|MUSIC A|BAR_LINE :|:|MUSIC B|BAR_LINE ::|MUSIC c|BAR_LINE :|"),
        ("A|1B:|2c|]", "MUSIC A|BAR_LINE ||ENDING 1|MUSIC B|BAR_LINE :||ENDING 2|MUSIC c|BAR_LINE |]"),
        ("A[1,3B:|[2 c", "MUSIC A|ENDING_MARK [1,3|MUSIC B|BAR_LINE :||ENDING_MARK [2|MUSIC  c"),
        ("A[K:G]B[|c[|]", "MUSIC A|FIELD [K:G]|MUSIC B|BAR_LINE [||MUSIC c|BAR_LINE [|]"),
        ('"a|b"A|[CE]', 'MUSIC "a|b"A|BAR_LINE ||MUSIC [CE]'),
        ("(3:2:2AB c|", "MUSIC (3:2:2AB c|BAR_LINE |"),
        ("|::A::|", "BAR_LINE |::|MUSIC A|BAR_LINE ::|"),
        ("A:B", "MUSIC A|STRAY :|MUSIC B"),
        ("[M:C|]A", "FIELD [M:C|]|MUSIC A"),
    ],
)
def test_a_line_is_cut_at_bar_lines_and_fields(text: str, pieces: str) -> None:
    assert "|".join(f"{piece.kind} {piece.text}" for piece in read_line(text)) == pieces


SIGNS = st.sampled_from([*"ABcdzxZXy0123456789/|:[]()<>{}\"!^_=~.,'&-+ %\\$hKM", '"Am7"', "[K:G]", "(3", ":|", "|1"])


@given(st.lists(SIGNS, max_size=40).map("".join))
def test_any_line_is_read_whole(text: str) -> None:
    pieces = read_line(text)
    assert "".join(piece.text for piece in pieces) == text
    for piece in pieces:
        music = read_music(piece.text, False)
        assert music.length >= 0
        assert all(symbol.offset <= music.length for symbol in music.symbols)
        assert all(1 <= remark.column <= len(piece.text) for remark in music.remarks)
