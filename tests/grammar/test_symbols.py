"""Chord symbols, numbers and numerals: every everyday spelling, what a symbol leaves open, and its faults."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.signs import plain
from grammar.symbols import filled, parsed, read_chord, read_numeral, read_pitch, read_symbol, symbol_or_none
from shared.chord import Chord, Numeral
from shared.errors import ReadingError
from shared.pattern import Wanted
from shared.pitch import Degree, Pitch
from shared.quality import Third
from shared.quality_names import BY_NAME
from tests.helpers.chord_strategies import chords, numerals

#: Tones and every way of writing them on C that is in everyday use (common practice).
SPELLINGS = [
    ("1 3 5", "C CM Cmaj Cma Cmajor"),
    ("1 b3 5", "Cm C- Cmin Cmi CMI Cminor"),
    ("1 b3 b5", "Cdim Co C° Cmb5 Cm(b5)"),
    ("1 3 #5", "C+ Caug C(#5) C+5"),
    ("1 3 b5", "C(b5) CMb5"),
    ("1 3 5 7", "Cmaj7 CM7 CΔ7 Cj7 CΔ Cma7 CMaj7 CMA7 C(maj7) C7M"),
    ("1 b3 5 b7", "Cm7 C-7 Cmi7 Cmin7 CMI7"),
    ("1 3 5 b7", "C7 Cdom7"),
    ("1 b3 b5 b7", "Cm7b5 Cø7 Cø Cm7-5 C-7b5 Cm7(b5) C-7(b5) Chdim7"),
    ("1 b3 b5 bb7", "Cdim7 Co7 C°7"),
    ("1 3 #5 b7", "C7#5 C7+ C+7 Caug7 C7(#5) C7+5"),
    ("1 3 b5 b7", "C7b5 C7-5 C7(b5)"),
    ("1 3 #5 7", "Cmaj7#5 CM7#5 C+M7 Cmaj7(#5) CΔ7#5"),
    ("1 b3 5 7", "Cm(maj7) CmMaj7 CmM7 C-Δ7 C-Δ Cm(M7) Cm#7 Cminmaj7"),
    ("1 3 5 6", "C6 Cmaj6 CM6 Cadd6"),
    ("1 b3 5 6", "Cm6 C-6 Cmin6"),
    ("1 3 5 6 9", "C6/9 C69 C6add9 C6(9)"),
    ("1 b3 5 6 9", "Cm6/9 Cm69"),
    ("1 3 5 9", "Cadd9 Cadd2 C2 C(add9) C(9)"),
    ("1 b3 5 9", "Cm(add9) Cmadd9 Cm(add2)"),
    ("1 3 5 11", "C(add4) Cadd11 Cadd4 C(add11)"),
    ("1 4 5", "Csus Csus4 C4"),
    ("1 2 5", "Csus2"),
    ("1 2 4 5", "Csus2sus4 Csus24"),
    ("1 4 5 b7", "C7sus C7sus4 Csus7"),
    ("1 4 5 b7 9", "C9sus4 C9sus"),
    ("1 4 5 b7 9 13", "C13sus C13sus4"),
    ("1 4 5 b7 b9", "C7b9sus C7sus4b9 C7susb9 C7sus(b9)"),
    ("1 5", "C5 C(no3) Comit3"),
    ("1 3 b7 b9 #9 #11 b13", "C7alt Calt C7(alt)"),
    ("1 3 5 b7 b9", "C7b9 C7-9 C7(b9)"),
    ("1 3 5 b7 #9", "C7#9 C7+9 C7(#9)"),
    ("1 3 5 b7 #11", "C7#11 C7+11 C7(#11) C7#4"),
    ("1 3 5 b7 b13", "C7b13 C7(b13) C7b6"),
    ("1 3 5 b7 b9 #11", "C7(b9,#11) C7b9#11 C7(b9)(#11) C7(b9#11)"),
    ("1 3 5 b7 b9 b13", "C7b9b13 C7(b9,b13)"),
    ("1 3 5 b7 9", "C9 C7(9)"),
    ("1 3 5 7 9", "Cmaj9 CM9 CΔ9 Cmaj7(9)"),
    ("1 b3 5 b7 9", "Cm9 C-9 Cmin9"),
    ("1 5 b7 9 11", "C11"),
    ("1 b3 5 b7 9 11", "Cm11 C-11 Gm11"),
    ("1 b3 5 b7 11", "Cm7(add11) Cm7add11 Cm7(11)"),
    ("1 3 5 b7 9 13", "C13 C9(13)"),
    ("1 3 5 7 9 13", "Cmaj13 CM13"),
    ("1 3 b7 9 13", "C13(no5) C13no5 C13(omit5)"),
    ("1 3 5 7 9 #11", "Cmaj9#11 Cmaj9(#11) Cmaj7(9,#11)"),
    ("1 3 5 7 #11", "Cmaj7#11 CΔ#11 Cmaj7(#4)"),
    ("1 3 #5 b7 b9", "C7#5b9 C7b9#5 C+7b9"),
    ("1 4 5 9", "Csus4add9 Csus4(add9)"),
]


@pytest.mark.parametrize(("tones", "symbols"), SPELLINGS, ids=[tones for tones, _ in SPELLINGS])
def test_everyday_spellings(tones: str, symbols: str) -> None:
    assert {symbol: str(read_chord(symbol).quality) for symbol in symbols.split()} == dict.fromkeys(
        symbols.split(), tones
    )


@pytest.mark.parametrize(
    ("written", "root", "bass"),
    [
        ("C/D", "C", "D"),
        ("C/Bb", "C", "Bb"),
        ("C6/E", "C", "E"),
        ("C6/9/E", "C", "E"),
        ("C69/E", "C", "E"),
        ("F#m7b5/E", "F#", "E"),
        ("B♭7/A♭", "Bb", "Ab"),
        ("F♯m", "F#", None),
        ("Cbb", "Cbb", None),
        ("C##7", "C##", None),
        ("Bb", "Bb", None),
        ("Bb5", "Bb", None),
        ("C/C", "C", None),
    ],
)
def test_roots_and_basses(written: str, root: str, bass: str | None) -> None:
    chord = read_chord(written)
    assert chord.root == read_pitch(root)
    assert chord.bass == (read_pitch(bass) if bass else None)


def test_a_bass_is_never_an_addition() -> None:
    assert read_chord("C/D").quality == read_chord("C").quality
    assert read_chord("C/D") != read_chord("Cadd9")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("C△7", "Cmaj7"),
        ("C∆7", "Cmaj7"),
        ("Cº7", "Cdim7"),
        ("CØ", "Cm7b5"),
        ("C∅7", "Cm7b5"),
        ("C−7", "Cm7"),
        ("C‑7", "Cm7"),
    ],
)
def test_signs_that_look_alike(one: str, other: str) -> None:
    assert read_chord(one) == read_chord(other)


@given(st.text(max_size=30))
def test_plain_signs_keep_every_column(text: str) -> None:
    assert len(plain(text)) == len(text)
    assert plain(plain(text)) == plain(text)


#: What a symbol says, and what it leaves open: root, tones, third, bass ("-" where nothing is written).
OPEN = [
    ("4", "4", "-", "-", "-"),
    ("b7", "b7", "-", "-", "-"),
    ("4m", "4", "1 b3 5", "-", "-"),
    ("1maj", "1", "1 3 5", "-", "-"),
    ("IV", "4", "-", "major", "-"),
    ("iv", "4", "-", "minor", "-"),
    ("♭VII", "b7", "-", "major", "-"),
    ("V7", "5", "1 3 5 b7", "-", "-"),
    ("ii7", "2", "1 b3 5 b7", "-", "-"),
    ("IVm", "4", "1 b3 5", "-", "-"),
    ("vi-7", "6", "1 b3 5 b7", "-", "-"),
    ("imaj7", "1", "1 b3 5 7", "-", "-"),
    ("viiø7", "7", "1 b3 b5 b7", "-", "-"),
    ("viiø", "7", "1 b3 b5 b7", "-", "-"),
    ("vii°", "7", "1 b3 b5", "-", "-"),
    ("viio7", "7", "1 b3 b5 bb7", "-", "-"),
    ("III+", "3", "1 3 #5", "-", "-"),
    ("Vsus4", "5", "1 4 5", "-", "-"),
    ("2-7", "2", "1 b3 5 b7", "-", "-"),
    ("2-", "2", "1 b3 5", "-", "-"),
    ("2m7-5", "2", "1 b3 b5 b7", "-", "-"),
    ("57", "5", "1 3 5 b7", "-", "-"),
    ("111", "1", "1 5 b7 9 11", "-", "-"),
    ("5/7", "5", "-", "-", "7"),
    ("46/9/6", "4", "1 3 5 6 9", "-", "6"),
    ("b7/#4", "b7", "-", "-", "#4"),
    ("V/7", "5", "-", "major", "7"),
    ("_", "-", "-", "-", "-"),
    ("_dim7", "-", "1 b3 b5 bb7", "-", "-"),
    ("_/b7", "-", "-", "-", "b7"),
    ("/7", "-", "-", "-", "7"),
    ("/Bb", "-", "-", "-", "Bb"),
    ("_/Bb", "-", "-", "-", "Bb"),
    ("Dm7", "D", "1 b3 5 b7", "-", "-"),
    ("D", "D", "-", "-", "-"),
    ("D/F#", "D", "-", "-", "F#"),
    ("V7/ii", "6", "1 3 5 b7", "-", "-"),
    ("V/V", "2", "-", "major", "-"),
    ("viio7/V", "#4", "1 b3 b5 bb7", "-", "-"),
    ("ii/bIII", "4", "-", "minor", "-"),
    ("V7/V/V", "6", "1 3 5 b7", "-", "-"),
]


@pytest.mark.parametrize(("text", "root", "tones", "third", "bass"), OPEN, ids=[row[0] for row in OPEN])
def test_what_a_symbol_asks_for(text: str, root: str, tones: str, third: str, bass: str) -> None:
    def said(value: object) -> str:
        return "-" if value is None else value.value if isinstance(value, Third) else str(value)

    wanted = read_symbol(text)
    assert (said(wanted.root), said(wanted.quality), said(wanted.third), said(wanted.bass)) == (
        root,
        tones,
        third,
        bass,
    )


def test_what_is_not_written_is_the_plain_triad() -> None:
    assert str(filled(Wanted(Degree(4)))) == "1 3 5"
    assert str(filled(Wanted(Degree(4), third=Third.MINOR))) == "1 b3 5"
    assert str(filled(Wanted(Degree(4), third=Third.MAJOR))) == "1 3 5"
    assert read_numeral("iv").number == "4m"
    assert read_numeral("4").number == "4"


@settings(max_examples=300)
@given(chords)
def test_a_chord_reads_back_from_its_name(chord: Chord) -> None:
    assert read_chord(chord.name) == chord


@settings(max_examples=300)
@given(numerals)
def test_a_numeral_reads_back_from_number_and_roman(numeral: Numeral) -> None:
    assert read_numeral(numeral.number) == numeral
    assert read_numeral(numeral.roman) == numeral


#: text, column and length of the mark, words of the message, the nearest right thing.
FAULTS = [
    ("Cmaj77", 5, 2, "“77” cannot stand there", "Cmaj7"),
    ("H7", 1, 2, "“H7” is not a chord", "B7"),
    ("Hm", 1, 2, "“Hm” is not a chord", "Bm"),
    ("h", 1, 1, "“h” is not a chord", "B"),
    ("cm7", 1, 3, "“cm7” is not a chord", "Cm7"),
    ("Gm7b", 4, 1, "“b” cannot stand there", "Gm7b5"),
    ("Cmja7", 4, 2, "“a7” cannot stand there", "Cmaj7"),
    ("Csus5", 5, 1, "“5” cannot stand there", "Csus4"),
    ("C(b9", 4, 1, "breaks off", "C(b9)"),
    ("C7b9)", 5, 1, "“)” cannot stand there", "C7b9"),
    ("C()", 3, 1, "“)” cannot stand there", "C"),
    ("C(b9,)", 6, 1, "“)” cannot stand there", "C(b9)"),
    ("C7(,b9)", 4, 4, "“,b9)” cannot stand there", "C7(b9)"),
    ("Cmaj7/", 6, 1, "breaks off", "Cmaj7"),
    ("Dm7/H", 5, 1, "“H” cannot stand there", "Dm7/B"),
    ("C//E", 3, 2, "“/E” cannot stand there", "C/E"),
    ("C/E/G", 4, 2, "“/G” cannot stand there", "C/E"),
    ("C/9", 3, 1, "“9” cannot stand there", "C"),
    ("C#b", 3, 1, "“b” cannot stand there", "C#"),
    ("C 7", 2, 2, "“ 7” cannot stand there", "C7"),
    ("C14", 2, 2, "“14” cannot stand there", "C"),
    ("Cadd", 2, 3, "“add” cannot stand there", "Cadd9"),
    ("Cno1", 2, 3, "“no1” cannot stand there", "C"),
    ("VIII", 4, 1, "“I” cannot stand there", "VII"),
    ("iV", 2, 1, "“V” cannot stand there", "i"),
    ("V7/x", 4, 1, "“x” cannot stand there", "V7"),
    ("V7/", 3, 1, "breaks off", "V7"),
    ("V65", 2, 2, "“65” cannot stand there", "V6"),
    ("251", 1, 3, "“251” is not one chord", "2 5 1"),
    ("6251", 1, 4, "“6251” is not one chord", "6 2 5 1"),
    ("1b7", 1, 3, "“1b7” is not one chord", "1 b7"),
    ("1-5", 1, 3, "“1-5” is not one chord", "1 5"),
    ("2-5-1", 1, 5, "“2-5-1” is not one chord", "2 5 1"),
    ("8", 1, 1, "“8” is not a chord", ""),
    ("x", 1, 1, "“x” is not a chord", ""),
    ("", 1, 1, "“” is not a chord", ""),
    ("C♭♯", 3, 1, "“♯” cannot stand there", "Cb"),
]


@pytest.mark.parametrize(("text", "column", "length", "message", "near"), FAULTS, ids=[row[0] for row in FAULTS])
def test_faults(text: str, column: int, length: int, message: str, near: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read_symbol(text)
    (fault,) = caught.value.faults
    assert (fault.column, fault.length, fault.nearest) == (column, length, near)
    assert message in fault.message
    assert fault.expected
    if near:
        assert all(symbol_or_none(each) for each in near.split())


def test_a_symbol_is_sixty_signs_at_most() -> None:
    longest = "C7" + "b9" * 29
    assert len(longest) == 60
    assert read_chord(longest).name == "C7b9"
    for too_long in (longest + "b9", "C" + "7" * 1000):
        assert symbol_or_none(too_long) is None
        with pytest.raises(ReadingError, match="too long"):
            read_symbol(too_long)


@pytest.mark.parametrize(
    ("text", "expected"), [("4m", "a letter A to G"), ("/7", "a letter A to G"), ("_", "a letter")]
)
def test_a_chord_name_has_a_letter(text: str, expected: str) -> None:
    with pytest.raises(ReadingError, match=expected):
        read_chord(text)


@pytest.mark.parametrize("text", ["Cm", "/7", "_7"])
def test_a_numeral_has_a_degree(text: str) -> None:
    with pytest.raises(ReadingError, match="a number 1 to 7 or a Roman numeral"):
        read_numeral(text)


@settings(max_examples=300)
@given(st.text(alphabet="ABCDEFGHVIvi_1234567890b#♭♯/()+-,.majdinsuo°øΔ \t", max_size=12))
def test_whatever_is_typed_is_read_or_refused_with_a_place(text: str) -> None:
    try:
        wanted = read_symbol(text)
    except ReadingError as error:
        (fault,) = error.faults
        assert symbol_or_none(text) is None
        assert 1 <= fault.column <= max(1, len(text))
        assert 1 <= fault.length <= max(1, len(text) - fault.column + 1)
        assert fault.expected
        assert all(symbol_or_none(each) for each in fault.nearest.split())
    else:
        assert wanted == symbol_or_none(text)


@pytest.mark.parametrize(("name", "pitch"), [("Bb", Pitch("B", -1)), ("F##", Pitch("F", 2)), ("E", Pitch("E"))])
def test_read_pitch(name: str, pitch: Pitch) -> None:
    assert read_pitch(name) == pitch


@pytest.mark.parametrize("head", ["C", "Bb", "F#", "Abb", "1", "b7", "#4", "bb3"])
def test_spellings_of_the_table_are_what_the_grammar_makes_of_them(head: str) -> None:
    read = {spelling: read_symbol(head + spelling) for spelling in BY_NAME}
    assert read == {spelling: parsed(plain(head + spelling)) for spelling in BY_NAME}
