"""Chords counted in every key and read back: the spellings are common practice."""

from __future__ import annotations

import pytest

from grammar.symbols import read_chord, read_numeral
from shared.chord import Numeral
from shared.key import MAJOR_KEYS, MINOR_KEYS, Key
from shared.pitch import Pitch
from shared.quality import tone
from shared.quality_names import BY_NAME

#: All degrees that a diatonic letter and one sign make, and the double flats that diminished sevenths stand on.
DEGREES = [
    "1",
    "#1",
    "b2",
    "2",
    "#2",
    "b3",
    "3",
    "4",
    "#4",
    "b5",
    "5",
    "#5",
    "b6",
    "6",
    "#6",
    "b7",
    "7",
    "b1",
    "b4",
    "#3",
    "bb7",
    "bb3",
]
QUALITIES = [
    "",
    "m",
    "dim",
    "aug",
    "sus4",
    "5",
    "6",
    "7",
    "maj7",
    "m7",
    "m7b5",
    "dim7",
    "m(maj7)",
    "9",
    "13",
    "7alt",
    "6/9",
]


@pytest.mark.parametrize("key", MAJOR_KEYS + MINOR_KEYS, ids=str)
def test_number_and_roman_and_back_in_every_key(key: Key) -> None:
    for degree in DEGREES:
        for name in QUALITIES:
            numeral = Numeral(tone(degree), BY_NAME[name])
            chord = numeral.on(key.tonic)
            assert chord.counted(key.tonic) == numeral
            assert read_numeral(numeral.number) == numeral
            assert read_numeral(numeral.roman) == numeral
            assert numeral.number == f"{degree}{name}"


@pytest.mark.parametrize("key", MAJOR_KEYS + MINOR_KEYS, ids=str)
def test_slash_chords_keep_the_bass_apart(key: Key) -> None:
    for text in ("5/7", "1m/b7", "4/5", "2m7/5", "b6maj7/1", "57/b2", "6m/3"):
        numeral = read_numeral(text)
        chord = numeral.on(key.tonic)
        assert chord.counted(key.tonic).number == text
        assert read_numeral(numeral.roman) == numeral
        assert chord.quality == read_numeral(text.split("/")[0]).quality
        assert chord.bass is not None


#: The scale of the flattened and raised degrees as their letters go, one row a tonic: b2 b3 #4 b5 b6 b7.
@pytest.mark.parametrize(
    ("tonic", "spelled"),
    [
        ("C", "Db Eb F# Gb Ab Bb"),
        ("E", "F G A# Bb C D"),
        ("Db", "Ebb Fb G Abb Bbb Cb"),
        ("Cb", "Dbb Ebb F Gbb Abb Bbb"),
        ("C#", "D E F## G A B"),
        ("F#", "G A B# C D E"),
        ("Ab", "Bbb Cb D Ebb Fb Gb"),
        ("G#", "A B C## D E F#"),
        ("Bb", "Cb Db E Fb Gb Ab"),
    ],
)
def test_spelling_follows_the_letters(tonic: str, spelled: str) -> None:
    home = read_chord(tonic).root
    roots = [str(read_numeral(degree).on(home).root) for degree in ["b2", "b3", "#4", "b5", "b6", "b7"]]
    assert " ".join(roots) == spelled


#: Chords, the key they are counted in, their numbers and the bass line (common practice; the key is C major where
#: nothing else is said).
FACTS = [
    ("C Gm Bb F", "C", "1 5m b7 4", "1 5 b7 4"),
    ("C Fm", "C", "1 4m", "1 4"),
    ("C7 F7", "C", "17 47", "1 4"),
    ("Am F C G", "C", "6m 4 1 5", "6 4 1 5"),
    ("Am F C G", "A", "1m b6 b3 b7", "1 b6 b3 b7"),
    ("Dm7 G13 Cmaj7 A7b9", "C", "2m7 513 1maj7 67b9", "2 5 1 6"),
    ("C G/B Am C/G F C/E Dm7 G9sus4 G9", "C", "1 5/7 6m 1/5 4 1/3 2m7 59sus4 59", "1 7 6 5 4 3 2 5 5"),
    ("C C/E F Dm/G", "C", "1 1/3 4 2m/5", "1 3 4 5"),
    ("Cm G7/B Cm/Bb Am7b5", "C", "1m 57/7 1m/b7 6m7b5", "1 7 b7 6"),
    ("C Am7 Fmaj9 C", "C", "1 6m7 4maj9 1", "1 6 4 1"),
    (
        "Am7 Dm7 G7 Cmaj7 Fmaj7 Bm7b5 E7 Am7",
        "C",
        "6m7 2m7 57 1maj7 4maj7 7m7b5 37 6m7",
        "6 2 5 1 4 7 3 6",
    ),
    ("C F C C F F C C G F C G", "C", "1 4 1 1 4 4 1 1 5 4 1 5", "1 4 1 1 4 4 1 1 5 4 1 5"),
]


@pytest.mark.parametrize(("names", "tonic", "numbers", "basses"), FACTS, ids=[f"{n} in {t}" for n, t, _, _ in FACTS])
def test_known_progressions(names: str, tonic: str, numbers: str, basses: str) -> None:
    counted = [read_chord(name).counted(Pitch(tonic)) for name in names.split()]
    assert " ".join(numeral.number for numeral in counted) == numbers
    assert " ".join(str(numeral.bass or numeral.degree) for numeral in counted) == basses
    assert [read_numeral(text) for text in numbers.split()] == counted


def test_some_known_chords() -> None:
    assert [str(p) for p in read_chord("Gm11").notes] == ["G", "Bb", "D", "F", "A", "C"]
    assert read_chord("Cadd2") == read_chord("Cadd9")
    thirteenth = read_chord("G13").quality.tones
    assert {tone("b7"), tone("9"), tone("13")} <= set(thirteenth)
    assert tone("11") not in thirteenth


@pytest.mark.parametrize(
    ("applied", "number", "in_c"),
    [
        ("V7/ii", "67", "A7"),
        ("V/V", "2", "D"),
        ("V7/V", "27", "D7"),
        ("V7/vi", "37", "E7"),
        ("V7/IV", "17", "C7"),
        ("V7/bVII", "47", "F7"),
        ("viio7/V", "#4dim7", "F#dim7"),
        ("vii°7/ii", "#1dim7", "C#dim7"),
        ("iiø7/ii", "3m7b5", "Em7b5"),
        ("V7/V/V", "67", "A7"),
        ("ii7/IV", "5m7", "Gm7"),
    ],
)
def test_applied_chords(applied: str, number: str, in_c: str) -> None:
    numeral = read_numeral(applied)
    assert numeral.number == number
    assert numeral.on(Pitch("C")) == read_chord(in_c)
