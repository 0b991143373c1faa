"""Spelled pitches and degrees. The tables are common practice."""

from __future__ import annotations

import pytest
from hypothesis import given

from shared.pitch import LARGEST_TONE, Degree, Pitch, accidentals, alteration_of
from tests.helpers.chord_strategies import degrees, pitches

SEMITONES = {
    "1": 0,
    "b2": 1,
    "2": 2,
    "#2": 3,
    "b3": 3,
    "3": 4,
    "4": 5,
    "#4": 6,
    "b5": 6,
    "5": 7,
    "#5": 8,
    "b6": 8,
    "6": 9,
    "bb7": 9,
    "b7": 10,
    "7": 11,
    "b9": 1,
    "9": 2,
    "#9": 3,
    "11": 5,
    "#11": 6,
    "b13": 8,
    "13": 9,
}
PITCH_CLASSES = {"C": 0, "B#": 0, "Dbb": 0, "C#": 1, "Db": 1, "E": 4, "Fb": 4, "E#": 5, "Cb": 11, "Abb": 7, "F##": 7}


def _degree(text: str) -> Degree:
    digits = text.lstrip("#b")
    return Degree(int(digits), alteration_of(text[: len(text) - len(digits)]))


def _pitch(text: str) -> Pitch:
    return Pitch(text[0], alteration_of(text[1:]))


@pytest.mark.parametrize(("text", "semitones"), SEMITONES.items())
def test_semitones_above_the_tonic(text: str, semitones: int) -> None:
    assert _degree(text).semitones == semitones
    assert str(_degree(text)) == text


@pytest.mark.parametrize(("text", "pitch_class"), PITCH_CLASSES.items())
def test_pitch_classes(text: str, pitch_class: int) -> None:
    assert _pitch(text).pitch_class == pitch_class
    assert str(_pitch(text)) == text


def test_the_line_of_fifths_runs_from_flats_to_sharps() -> None:
    names = [str(Pitch.at(fifths)) for fifths in range(-8, 11)]
    assert " ".join(names) == "Fb Cb Gb Db Ab Eb Bb F C G D A E B F# C# G# D# A#"
    steps = [str(Degree.at(fifths)) for fifths in range(-6, 8)]
    assert " ".join(steps) == "b5 b2 b6 b3 b7 4 1 5 2 6 3 7 #4 #1"


@pytest.mark.parametrize(
    ("tonic", "degree", "pitch"),
    [
        ("E", "b6", "C"),
        ("Db", "#4", "G"),
        ("Cb", "b7", "Bbb"),
        ("C#", "7", "B#"),
        ("Gb", "4", "Cb"),
        ("F#", "3", "A#"),
        ("C", "#9", "D#"),
        ("B", "#11", "E#"),
        ("Ab", "b6", "Fb"),
    ],
)
def test_a_degree_of_a_scale_keeps_its_letter(tonic: str, degree: str, pitch: str) -> None:
    assert str(_pitch(tonic).up(_degree(degree))) == pitch
    simple = _degree(degree)
    assert _pitch(pitch).degree_in(_pitch(tonic)) == Degree((simple.number - 1) % 7 + 1, simple.alteration)


@given(pitches, degrees)
def test_counting_undoes_standing_on_a_degree(tonic: Pitch, degree: Degree) -> None:
    note = tonic.up(degree)
    assert note.degree_in(tonic) == degree
    assert note.pitch_class == (tonic.pitch_class + degree.semitones) % 12


@given(pitches, pitches)
def test_standing_on_a_counted_degree_gives_the_pitch_back(tonic: Pitch, note: Pitch) -> None:
    assert tonic.up(note.degree_in(tonic)) == note


@given(degrees, degrees)
def test_degrees_add_up(one: Degree, other: Degree) -> None:
    assert one.above(other) == other.above(one)
    assert one.above(other).semitones == (one.semitones + other.semitones) % 12


@pytest.mark.parametrize(
    ("upper", "lower", "sum_"),
    [("5", "2", "6"), ("5", "5", "2"), ("7", "5", "#4"), ("5", "b3", "b7"), ("4", "4", "b7")],
)
def test_a_degree_counted_from_another(upper: str, lower: str, sum_: str) -> None:
    assert str(_degree(upper).above(_degree(lower))) == sum_


@given(degrees, pitches)
def test_places_on_the_line_of_fifths_are_distinct(degree: Degree, pitch: Pitch) -> None:
    assert Degree.at(degree.fifths) == degree
    assert Pitch.at(pitch.fifths) == pitch


@pytest.mark.parametrize(("alteration", "signs"), [(0, ""), (1, "#"), (-1, "b"), (2, "##"), (-3, "bbb")])
def test_signs(alteration: int, signs: str) -> None:
    assert accidentals(alteration) == signs
    assert alteration_of(signs) == alteration


@pytest.mark.parametrize("number", [0, -1, LARGEST_TONE + 1])
def test_no_such_degree(number: int) -> None:
    with pytest.raises(ValueError, match=f"1 to 13, not {number}"):
        Degree(number)


@pytest.mark.parametrize("letter", ["H", "c", "", "CD", "#"])
def test_no_such_letter(letter: str) -> None:
    with pytest.raises(ValueError, match="A to G"):
        Pitch(letter)
