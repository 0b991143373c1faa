"""Values of ABC: chord symbols, keys, metres, lengths, parts, tempi, text."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.abc_fields import (
    MOST_PARTS,
    decoded,
    encoded,
    read_abc_key,
    read_abc_length,
    read_abc_metre,
    read_abc_parts,
    read_abc_tempo,
)
from grammar.abc_symbols import AbcSymbol, read_abc_symbol
from shared.errors import ReadingError

#: What stands in the quotes, and the chord it names.
SYMBOLS = [
    ("Am7", "Am7"),
    ("Amin7", "Am7"),
    ("Cmaj7", "Cmaj7"),
    ("Bdim", "Bdim"),
    ("C+", "Caug"),
    ("Caug", "Caug"),
    ("Dsus", "Dsus4"),
    ("G9", "G9"),
    ("C/E", "C/E"),
    ("C/e", "C/E"),
    ("Eb/bb", "Eb/Bb"),
    ("D/f+", "D/F#"),
    ("D7/f#", "D7/F#"),
    ("Bd", "Bdim"),
    ("C#d7", "C#dim7"),
    ("Ca", "Caug"),
    ("Ca7", "C7#5"),
    ("Dd/f", "Ddim/F"),
    ("Cadd9", "Cadd9"),
    ("B♭m", "Bbm"),
    (" Am ", "Am"),
    ("Am / G", "Am/G"),
    ("F", "F"),
    ("F#m7-5", "F#m7b5"),
    ("C7(b9)", "C7b9"),
    ("Am(maj7)", "Am(maj7)"),
    ("G(Em)", "G"),
    ("G (Em)", "G"),
    ("C7(b9)(Gm)", "C7b9"),
    ("G;Em", "G"),
    ("(Em)", "Em"),
    ("G(A7(b9))", "G"),
]


@pytest.mark.parametrize(("text", "name"), SYMBOLS)
def test_chord_symbols(text: str, name: str) -> None:
    read = read_abc_symbol(text)
    assert read.chord is not None
    assert (read.chord.name, read.remark) == (name, None)


@pytest.mark.parametrize("text", ["N.C.", "NC", "n.c.", "N.C", "No chord", "tacet"])
def test_silence(text: str) -> None:
    assert read_abc_symbol(text) == AbcSymbol(None)


@pytest.mark.parametrize(
    "text", ["4", "1 2", "D.C.", "D.S. al Coda", "Fine", "Segno", "To Coda", "mf", "tr", "Slow", ""]
)
def test_fingerings_and_directions_hold_the_chord(text: str) -> None:
    read = read_abc_symbol(text)
    assert read.holds
    assert read.remark is not None
    assert "passed over" in read.remark.message or text == ""


@pytest.mark.parametrize(
    ("text", "column", "nearest"),
    [
        ("Xyz", 1, ""),
        ("Gq7", 1, "G7"),
        ("H7", 1, "B7"),
        ("  Cmoj7", 3, "Cmaj7"),
        ("Am(7)", 1, "Am(maj7)"),
        ("C/Em", 1, "C/E"),
        ("am", 1, "Am"),
    ],
)
def test_what_cannot_be_read_is_silence_with_a_reason(text: str, column: int, nearest: str) -> None:
    read = read_abc_symbol(text)
    assert (read.chord, read.holds) == (None, False)
    assert read.remark is not None
    assert (read.remark.column, read.remark.nearest) == (column, nearest)
    assert text in read.remark.message


def test_a_bare_bass() -> None:
    assert str(read_abc_symbol("/F#").bass) == "F#"
    assert str(read_abc_symbol("/f+").bass) == "F#"


@given(st.text(max_size=30))
def test_no_symbol_raises(text: str) -> None:
    read = read_abc_symbol(text)
    assert read.chord is None or read.remark is None
    assert read.remark is None or 1 <= read.remark.column <= max(1, len(text))


#: Keys; None is no key, a lone tonic has its mode found.
KEYS = [
    ("G", "G"),
    ("Gmaj", "G"),
    ("G Major", "G"),
    ("F#", "F#"),
    ("Bb", "Bb"),
    ("Am", "Am"),
    ("A min", "Am"),
    ("A minor", "Am"),
    ("Aaeo", "Am"),
    ("EbIon", "Eb"),
    ("AMix", "A mixolydian"),
    ("Ador", "A dorian"),
    ("D Phr", "D phrygian"),
    ("F lydian", "F lydian"),
    ("BLoc", "B locrian"),
    ("A mixolodian", "A mixolydian"),
    ("G clef=bass", "G"),
    ("G bass", "G"),
    ("Gm treble-8", "Gm"),
    ("D ^g _b", "D"),
    ("C transpose=-2 middle=d", "C"),
    ("E♭", "Eb"),
]


@pytest.mark.parametrize(("value", "name"), KEYS)
def test_keys(value: str, name: str) -> None:
    read = read_abc_key(value)
    assert (read.says, str(read.key), read.remark) == (True, name, None)


@pytest.mark.parametrize("value", ["none", "HP", "Hp", ""])
def test_no_key(value: str) -> None:
    assert read_abc_key(value)[:2] == (True, None)


def test_a_clef_alone_says_nothing_and_explicit_signs_name_no_mode() -> None:
    assert not read_abc_key("clef=bass").says
    assert not read_abc_key("alto").says
    assert str(read_abc_key("D exp _b _e ^f").key) == "D"
    unknown = read_abc_key("D hypophrygian")
    assert str(unknown.key) == "D"
    assert unknown.remark is not None
    assert (unknown.remark.column, unknown.remark.length) == (3, 12)


@pytest.mark.parametrize(("value", "column"), [("Q", 1), ("H", 1), ("G$", 2), ("G 7", 3), ("1", 1)])
def test_broken_keys_say_where(value: str, column: int) -> None:
    with pytest.raises(ReadingError) as error:
        read_abc_key(value)
    assert error.value.faults[0].column == column
    assert "is not a key" in error.value.faults[0].message


@pytest.mark.parametrize(
    ("value", "metre"),
    [
        ("4/4", "4/4"),
        ("C", "4/4"),
        ("C|", "2/2"),
        ("6/8", "6/8"),
        ("(2+3+2)/8", "7/8"),
        ("2+3/8", "5/8"),
        ("none", "None"),
        ("", "None"),
    ],
)
def test_metres(value: str, metre: str) -> None:
    assert str(read_abc_metre(value)) == metre


@pytest.mark.parametrize("value", ["4", "4/", "x", "4/5", "99/4", "4/4 or so", "0/4"])
def test_broken_metres(value: str) -> None:
    with pytest.raises(ReadingError, match="is not a metre"):
        read_abc_metre(value)


def test_lengths() -> None:
    assert read_abc_length("1/8") == Fraction(1, 8)
    assert read_abc_length("1") == 1
    for value in ("", "1/0", "0", "eighth", "1/9999", "9", "9/2"):
        with pytest.raises(ReadingError, match="is not a note length"):
            read_abc_length(value)


@pytest.mark.parametrize(
    ("value", "order"),
    [
        ("AABB", "AABB"),
        ("A.B.A", "ABA"),
        ("A2B2", "AABB"),
        ("(AB)3", "ABABAB"),
        ("A(A2B2C2B2)2", "AAABBCCBBAABBCCBB"),
        ("((AB)2C)2", "ABABCABABC"),
    ],
)
def test_parts(value: str, order: str) -> None:
    assert "".join(read_abc_parts(value)) == order


@pytest.mark.parametrize("value", ["", "(AB", "A)", "2A", "A-B", "A0", "(((A9999)9999)9999)9999", f"A{MOST_PARTS + 1}"])
def test_broken_parts(value: str) -> None:
    with pytest.raises(ReadingError):
        read_abc_parts(value)


@pytest.mark.parametrize(
    ("value", "tempo"),
    [
        ("1/4=120", "120"),
        ("120", "120"),
        ('"Allegro" 3/8=50', "50"),
        ('1/2=60 "slow"', "60"),
        ("1/4 3/8=40", "40"),
        ("C3=90", "90"),
        ('"Presto"', None),
    ],
)
def test_tempi(value: str, tempo: str | None) -> None:
    assert read_abc_tempo(value) == tempo


def test_a_broken_tempo() -> None:
    with pytest.raises(ReadingError, match="is not a tempo"):
        read_abc_tempo("fast")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        (r"Caf\'e", "Café"),
        (r"\`a \^o \~n \"u", "à ô ñ ü"),
        (r"\cC \vS", "Ç Š"),
        (r"\ae\AE\ss\/o", "æÆßø"),
        ("&eacute;&amp;", "é&"),
        (r"é", "é"),
        (r"50\% \\ \&amp;", r"50% \ &amp;"),
        ("plain", "plain"),
    ],
)
def test_text(written: str, meant: str) -> None:
    assert decoded(written) == meant


@given(st.text(max_size=30))
def test_what_is_encoded_is_decoded(text: str) -> None:
    assert decoded(encoded(text)) == text
