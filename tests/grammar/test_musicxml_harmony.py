"""One harmony element of MusicXML: roots, numerals, functions, basses, inversions, texts, and what cannot be read."""

from __future__ import annotations

from xml.etree.ElementTree import fromstring

import pytest

from grammar.keys import read_key
from grammar.musicxml_harmony import read_harmony
from tests.helpers.musicxml_scores import bass, degree, harmony


def numeral(number: int, kind: str = "major", alter: int = 0, more: str = "") -> str:
    altered = f"<numeral-alter>{alter}</numeral-alter>" if alter else ""
    return f"<numeral><numeral-root>{number}</numeral-root>{altered}{more}</numeral><kind>{kind}</kind>"


def in_harmony(inner: str) -> str:
    return f"<harmony>{inner}</harmony>"


def key_of_numeral(fifths: int, mode: str) -> str:
    inner = f"<numeral-fifths>{fifths}</numeral-fifths><numeral-mode>{mode}</numeral-mode>"
    return f"<numeral-key>{inner}</numeral-key>"


#: Element, key, chord.
CHORDS = [
    (harmony("C"), None, "C"),
    (harmony("Bb", "minor-seventh"), None, "Bbm7"),
    (harmony("F#", "half-diminished"), None, "F#m7b5"),
    (harmony("Cb", "major"), None, "Cb"),
    (harmony("Dbb", "major"), None, "Dbb"),
    (harmony("C", "major", bass("E")), None, "C/E"),
    (harmony("C", "major", bass("Bb")), None, "C/Bb"),
    (harmony("C", "major", bass("C")), None, "C"),
    (harmony("C", "major", "<inversion>1</inversion>"), None, "C/E"),
    (harmony("C", "minor-seventh", "<inversion>3</inversion>"), None, "Cm7/Bb"),
    (harmony("C", "major", "<inversion>0</inversion>"), None, "C"),
    (harmony("C", "major", "<inversion>1</inversion>" + bass("G")), None, "C/G"),
    (harmony("G", "dominant", degree(9, -1, "add") + degree(11, 1, "add")), None, "G7b9#11"),
    (harmony("C", "Dominant"), None, "C7"),
    (harmony("C", "none"), None, None),
    ("<harmony><kind>none</kind></harmony>", None, None),
    (harmony("C", "other", text="7alt"), None, "C7alt"),
    (harmony("C", "other", text="m7b5"), None, "Cm7b5"),
    (harmony("C", "other", text="C7sus4"), None, "C7sus4"),
    (harmony("C", "other", degree(3, 0, "add") + degree(5, 1, "add")), None, "Caug"),
    (harmony("C", "blues", text="7#9"), None, "C7#9"),
    (harmony("Ab", "German"), "C", "Ab7"),
    (harmony("C", "German"), "C", "Ab7"),
    (harmony("C", "French"), "C", "Ab7b5"),
    (harmony("C", "Italian"), "Cm", "Ab7(no5)"),
    (harmony("C", "Neapolitan"), "C", "Db/F"),
    (harmony("Db", "Neapolitan"), "C", "Db/F"),
    (harmony("Db", "Neapolitan", bass("Db")), "C", "Db"),
    (harmony("C", "German"), None, "Ab7"),
    (in_harmony(numeral(5, "dominant")), "C", "G7"),
    (in_harmony(numeral(5, "dominant")), "Eb", "Bb7"),
    (in_harmony(numeral(7, "major", -1)), "C", "Bb"),
    (in_harmony(numeral(4, "diminished", 1)), "G", "C#dim"),
    (in_harmony(numeral(6)), "Am", "F"),
    (in_harmony(numeral(7)), "Am", "G"),
    (in_harmony(numeral(3)), "D dorian", "F"),
    (in_harmony(numeral(7, "diminished", 0, key_of_numeral(0, "harmonic minor"))), "C", "G#dim"),
    (in_harmony(numeral(6, "half-diminished", 0, key_of_numeral(0, "melodic minor"))), None, "F#m7b5"),
    (in_harmony(numeral(6, "major", 0, key_of_numeral(0, "natural minor"))), None, "F"),
    (in_harmony(numeral(5, "dominant") + numeral(2, "minor")), "C", "A7"),
    (in_harmony(numeral(5, "dominant") + numeral(5, "dominant") + numeral(2, "minor")), "C", "E7"),
    (in_harmony("<function>bVI</function><kind>major</kind>"), "C", "Ab"),
    (in_harmony("<function>ii</function><kind>minor-seventh</kind>"), "Bb", "Cm7"),
    (in_harmony("<function>♯IV</function><kind>diminished</kind>"), "C", "F#dim"),
]


@pytest.mark.parametrize(("element", "key", "name"), CHORDS)
def test_chords(element: str, key: str | None, name: str | None) -> None:
    read = read_harmony(fromstring(element), read_key(key) if key else None)
    assert read.problem == ""
    assert (read.chord.name if read.chord else None) == name


def test_functional_sixths_and_stacked_chords_are_noted() -> None:
    assert read_harmony(fromstring(harmony("C", "German")), None).note == "“German” is read as Ab7"
    stacked = harmony("D", "major", "<root><root-step>C</root-step></root><kind>major</kind>")
    read = read_harmony(fromstring(stacked), None)
    assert read.chord is not None
    assert (read.chord.name, read.note) == ("D", "the first of several stacked chords is read")


#: Element, and what the reason names.
BROKEN = [
    ("<harmony/>", "without root"),
    (harmony("H"), "“H” is no root"),
    ("<harmony><root/><kind>major</kind></harmony>", "no root A to G"),
    (harmony("C", "major", bass("X")), "“X” is no bass"),
    (harmony("C", "sort of"), "“sort of”, with the text “”"),
    (harmony("C", "other"), "“other”, with the text “”"),
    (harmony("C", "other", text="funny"), "“funny”"),
    (harmony("C", ""), "an empty kind"),
    ("<harmony><root><root-step>C</root-step></root></harmony>", "an empty kind"),
    (harmony("C", "major", degree(15, 0, "add")), "“add 15” is no degree"),
    (harmony("C", "major", degree(5, 0, "omit")), "“omit 5” is no degree"),
    (harmony("C", "major", "<degree><degree-value>x</degree-value></degree>"), "“x” is no number"),
    (harmony("C", "major", "<inversion>5</inversion>"), "no inversion 5"),
    (harmony("C", "major", "<inversion>first</inversion>"), "“first” is no number"),
    ("<harmony><root><root-step>C</root-step><root-alter>0.5</root-alter></root><kind>major</kind></harmony>", "0.5"),
    (
        "<harmony><root><root-step>C</root-step><root-alter>9</root-alter></root><kind>major</kind></harmony>",
        "too much",
    ),
    ("<harmony><root><root-step>C</root-step><root-alter>nan</root-alter></root><kind>major</kind></harmony>", "nan"),
    (in_harmony(numeral(8)), "8 is no numeral"),
    (in_harmony(numeral(2) + numeral(0)), "0 is no numeral"),
    (in_harmony("<function>tonic</function><kind>major</kind>"), "“tonic” is no function"),
    (harmony("C", "major", degree(3, 5, "alter")), "too much"),
]


@pytest.mark.parametrize(("element", "reason"), BROKEN)
def test_what_cannot_be_read_says_why(element: str, reason: str) -> None:
    read = read_harmony(fromstring(element), read_key("C"))
    assert read.chord is None
    assert reason in read.problem


def test_a_numeral_needs_a_key() -> None:
    assert "no key" in read_harmony(fromstring(in_harmony(numeral(5))), None).problem
