"""Degrees, Roman numerals and keys against music21 (``roman`` and ``key``), in 24 keys.

Source: music21 (M. S. Cuthbert and C. Ariza). The mapping between its numerals and ours:

* We count against the major scale of the tonic in every mode. It counts from the key's own scale, but not alike for all
  degrees. Writing in minor it calls our b3 ``III`` and our 3 ``#III``, yet our b6 and b7 ``bVI`` and ``bVII`` and our 6
  and 7 ``VI`` and ``VII``. Reading in minor it takes ``III``, ``VI`` and ``VII`` for our b3, b6 and b7.
* Case, ``o``, ``+`` and ``ø`` mean the same. A ``7`` of its own is the seventh of the scale (``I7`` is our Imaj7), and
  chromatic sevenths are figured bass (``Ib753``), so figures are compared by what they sound, not by how they look.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from grammar.symbols import read_numeral, read_pitch
from shared.chord import Chord, Numeral
from shared.key import MAJOR_KEYS, MINOR_KEYS, Key, Mode, usual_tonic
from shared.quality import tone
from shared.quality_names import BY_NAME

music21 = pytest.importorskip("music21", reason="music21 is not installed")

KEYS = [Key(usual_tonic(pitch_class, mode), mode) for mode in (Mode.MAJOR, Mode.MINOR) for pitch_class in range(12)]
_keys = pytest.mark.parametrize("key", KEYS, ids=str)
DEGREES = ["1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7"]
TRIADS = ["", "m", "dim", "aug"]
SEVENTHS = ["7", "maj7", "m7", "m7b5", "dim7", "m(maj7)"]

_FIGURE = re.compile(r"([#b]*)([IViv]+)([o+ø°]?)")
#: Diminished sevenths that music21 writes with the mark of the half-diminished one (iiø7 for D F Ab Cb in C): on
#: these degrees, which have a perfect fifth and a minor seventh in its scale, the flat of the seventh is lost.
HALF_FOR_WHOLE = {Mode.MAJOR: {"b2", "2", "b3", "3", "5", "b6", "6"}, Mode.MINOR: {"1", "4", "#4", "5", "b7"}}


def _their_key(key: Key) -> Any:
    name = str(key.tonic).replace("b", "-")
    return music21.key.Key(name if key.mode is Mode.MAJOR else name[0].lower() + name[1:])


def _their_chord(chord: Chord) -> Any:
    """The chord as close notes from the root up."""
    notes: list[Any] = []
    for pitch in chord.notes:
        note = music21.pitch.Pitch(str(pitch).replace("b", "-") + "4")
        while notes and note.ps <= notes[-1].ps:
            note.octave += 1
        notes.append(note)
    return music21.chord.Chord(notes)


def _written_in(mode: Mode, degree: str) -> str:
    """Our degree as music21 signs it when it writes a numeral: in minor its third degree is our b3."""
    return (
        {"b3": "", "3": "#"}.get(degree, degree.rstrip("1234567")) if mode is Mode.MINOR else degree.rstrip("1234567")
    )


@_keys
def test_the_numerals_that_it_writes(key: Key) -> None:
    home = _their_key(key)
    for degree in DEGREES:
        for name in TRIADS + SEVENTHS:
            numeral = Numeral(tone(degree), BY_NAME[name])
            theirs = music21.roman.romanNumeralFromChord(_their_chord(numeral.on(key.tonic)), home)
            signs, figure, mark = _FIGURE.match(theirs.figure).groups()
            ours = _FIGURE.match(numeral.roman).groups()
            assert signs == _written_in(key.mode, degree), numeral
            assert figure == ours[1], numeral
            wrong = name == "dim7" and degree in HALF_FOR_WHOLE[key.mode]
            assert mark == ("ø" if wrong else ours[2].replace("°", "o")), numeral


#: Figures of the scale's own chords, as music21 reads them, and our numbers.
MAJOR_FIGURES = {
    "I": "1",
    "ii": "2m",
    "iii": "3m",
    "IV": "4",
    "V": "5",
    "vi": "6m",
    "viio": "7dim",
    "I7": "1maj7",
    "ii7": "2m7",
    "iii7": "3m7",
    "IV7": "4maj7",
    "V7": "57",
    "vi7": "6m7",
    "viiø7": "7m7b5",
    "bVI": "b6",
    "bVII": "b7",
    "bIII": "b3",
    "bII": "b2",
    "#ivo": "#4dim",
    "iv": "4m",
    "V+": "5aug",
    "viio7": "7dim7",
    "I6": "1/3",
    "I64": "1/5",
    "V42": "57/4",
    "V65": "57/7",
    "V/V": "2",
    "V7/ii": "67",
    "V7/IV": "17",
    "V7/vi": "37",
    "viio7/V": "#4dim7",
    "viio/ii": "#1dim",
}
MINOR_FIGURES = {
    "i": "1m",
    "iio": "2dim",
    "III": "b3",
    "iv": "4m",
    "v": "5m",
    "VI": "b6",
    "VII": "b7",
    "i7": "1m7",
    "iiø7": "2m7b5",
    "III7": "b3maj7",
    "iv7": "4m7",
    "v7": "5m7",
    "VI7": "b6maj7",
    "VII7": "b77",
    "V": "5",
    "V7": "57",
    "viio": "7dim",
    "viio7": "7dim7",
    "bII": "b2",
    "IV": "4",
    "I": "1",
    "i6": "1m/b3",
    "i64": "1m/5",
    "V7/iv": "17",
    "V/V": "2",
}


@_keys
def test_the_numerals_that_it_reads(key: Key) -> None:
    home = _their_key(key)
    for figure, number in (MAJOR_FIGURES if key.mode is Mode.MAJOR else MINOR_FIGURES).items():
        theirs = music21.roman.RomanNumeral(figure, home)
        ours = read_numeral(number).on(key.tonic)
        assert {p.name.replace("-", "b") for p in theirs.pitches} == set(map(str, ours.notes)), figure
        assert theirs.root().name.replace("-", "b") == str(ours.root), figure
        assert theirs.bass().name.replace("-", "b") == str(ours.bass or ours.root), figure


@pytest.mark.parametrize("key", MAJOR_KEYS + MINOR_KEYS, ids=str)
def test_key_signatures_and_relatives(key: Key) -> None:
    home = music21.key.Key(str(key.tonic).replace("b", "-"), key.mode.label)
    assert home.sharps == key.signature
    if key.mode is Mode.MINOR:
        assert home.relative.tonic.name.replace("-", "b") == str(key.relative_major.tonic)


@pytest.mark.parametrize("mode", Mode, ids=[mode.label for mode in Mode])
def test_mode_signatures(mode: Mode) -> None:
    for tonic in ("C", "D", "E", "F", "G", "A", "B", "Bb", "Eb"):
        key = Key(read_pitch(tonic), mode)
        assert music21.key.Key(tonic.replace("b", "-"), mode.label).sharps == key.signature
