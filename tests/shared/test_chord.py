"""Chords and numerals: names, notes, sound, and counting against a tonic."""

from __future__ import annotations

import pytest
from hypothesis import given

from shared.chord import Chord, Numeral
from shared.key import Key
from shared.pitch import Degree, Pitch, alteration_of
from shared.quality import Quality
from shared.quality_names import BY_NAME
from tests.helpers.chord_strategies import chords, degrees, keys, numerals


def _pitch(text: str) -> Pitch:
    return Pitch(text[0], alteration_of(text[1:]))


def _chord(root: str, name: str, bass: str = "") -> Chord:
    return Chord(_pitch(root), BY_NAME[name], _pitch(bass) if bass else None)


@pytest.mark.parametrize(
    ("chord", "name", "notes"),
    [
        (_chord("C", ""), "C", "C E G"),
        (_chord("Bb", "m7b5", "Ab"), "Bbm7b5/Ab", "Ab Bb Db Fb"),
        (_chord("C", "dim7"), "Cdim7", "C Eb Gb Bbb"),
        (_chord("F#", "7#9"), "F#7#9", "F# A# C# E G##"),
        (_chord("C", "", "D"), "C/D", "D C E G"),
        (_chord("C", "", "E"), "C/E", "E C G"),
        (_chord("C", "", "Fb"), "C/Fb", "Fb C G"),
        (_chord("G", "m11"), "Gm11", "G Bb D F A C"),
        (_chord("Ab", "13"), "Ab13", "Ab C Eb Gb Bb F"),
    ],
    ids=str,
)
def test_names_and_notes(chord: Chord, name: str, notes: str) -> None:
    assert chord.name == str(chord) == name
    assert " ".join(map(str, chord.notes)) == notes


@pytest.mark.parametrize("bass", ["C", "B#", "Dbb"])
def test_the_root_in_the_bass_is_no_slash_chord(bass: str) -> None:
    assert _chord("C", "7", bass) == _chord("C", "7")
    assert Numeral(Degree(1), BY_NAME[""], Degree(7, 1)) == Numeral(Degree(1), BY_NAME[""])


@given(chords)
def test_what_sounds_is_root_tones_and_bass(chord: Chord) -> None:
    upper = {(chord.root.pitch_class + t.semitones) % 12 for t in chord.quality.tones}
    bass = {chord.bass.pitch_class} if chord.bass else set()
    assert chord.pitch_classes == upper | bass
    assert chord.notes[0] == (chord.bass or chord.root)


def test_sound_forgets_spelling_and_keeps_bass_and_root() -> None:
    assert _chord("C#", "m7").sound == _chord("Db", "m7").sound
    assert _chord("C", "11").sound == _chord("C", "9sus4").sound
    assert _chord("C", "").sound != _chord("C", "", "E").sound
    assert _chord("C", "6").sound != _chord("A", "m7").sound
    assert _chord("C", "6").pitch_classes == _chord("A", "m7").pitch_classes


@pytest.mark.parametrize(
    ("chord", "tonic", "number", "roman"),
    [
        (_chord("G", "", "B"), "C", "5/7", "V/7"),
        (_chord("C", "maj7"), "E", "b6maj7", "bVImaj7"),
        (_chord("G", "7"), "Db", "#47", "#IV7"),
        (_chord("B", "m7b5"), "C", "7m7b5", "viiø7"),
        (_chord("B", "dim7"), "C", "7dim7", "vii°7"),
        (_chord("B", "dim"), "C", "7dim", "vii°"),
        (_chord("E", "aug"), "C", "3aug", "III+"),
        (_chord("A", "m(maj7)"), "A", "1m(maj7)", "i(maj7)"),
        (_chord("D", "m", "G"), "C", "2m/5", "ii/5"),
        (_chord("G", "sus4"), "C", "5sus4", "Vsus4"),
        (_chord("Bb", "5"), "C", "b75", "bVII5"),
        (_chord("A", "m7", "G"), "C", "6m7/5", "vi7/5"),
        (_chord("F", "m6"), "C", "4m6", "iv6"),
        (_chord("C", "m", "Bb"), "C", "1m/b7", "i/b7"),
        (_chord("Gb", ""), "C", "b5", "bV"),
        (_chord("F#", ""), "C", "#4", "#IV"),
    ],
    ids=str,
)
def test_counting(chord: Chord, tonic: str, number: str, roman: str) -> None:
    numeral = chord.counted(_pitch(tonic))
    assert numeral.number == str(numeral) == number
    assert numeral.roman == roman
    assert numeral.on(_pitch(tonic)) == chord


@given(keys, numerals)
def test_a_numeral_stands_in_any_key_and_is_counted_back(key: Key, numeral: Numeral) -> None:
    chord = numeral.on(key.tonic)
    assert chord.counted(key.tonic) == numeral
    assert chord.quality == numeral.quality


@given(keys, chords)
def test_a_chord_counted_in_any_key_comes_back(key: Key, chord: Chord) -> None:
    numeral = chord.counted(key.tonic)
    assert numeral.on(key.tonic) == chord
    assert (numeral.bass is None) == (chord.bass is None)


@given(keys, chords, degrees)
def test_moving_key_and_chord_together_changes_no_number(key: Key, chord: Chord, interval: Degree) -> None:
    bass = chord.bass.up(interval) if chord.bass else None
    moved = Chord(chord.root.up(interval), chord.quality, bass)
    assert moved.counted(key.tonic.up(interval)) == chord.counted(key.tonic)


@pytest.mark.parametrize(
    ("number", "quality", "of", "total"),
    [
        (Degree(5), "7", Degree(2), "67"),
        (Degree(7), "dim7", Degree(5), "#4dim7"),
        (Degree(2), "m7", Degree(3, -1), "4m7"),
    ],
)
def test_applied_chords_are_recounted(number: Degree, quality: str, of: Degree, total: str) -> None:
    assert Numeral(number, BY_NAME[quality]).above(of).number == total


def test_an_applied_chord_takes_its_bass_along() -> None:
    assert Numeral(Degree(5), Quality.spelled("1 3 5"), Degree(7)).above(Degree(2)).number == "6/#1"
