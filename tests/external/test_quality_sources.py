"""The chord qualities of three published tables: Harte et al. 2005, MusicXML 4.0 and the ABC standard 2.1."""

from __future__ import annotations

import pytest

from grammar.symbols import read_chord
from shared.quality import Quality
from shared.quality_names import QUALITIES, quality_name
from tests.helpers.harte import to_symbol

#: Harte, Sandler, Abdallah and Gomez, "Symbolic representation of musical chords", ISMIR 2005: shorthand and degrees.
HARTE_2005 = {
    "maj": "1 3 5",
    "min": "1 b3 5",
    "dim": "1 b3 b5",
    "aug": "1 3 #5",
    "maj7": "1 3 5 7",
    "min7": "1 b3 5 b7",
    "7": "1 3 5 b7",
    "dim7": "1 b3 b5 bb7",
    "hdim7": "1 b3 b5 b7",
    "minmaj7": "1 b3 5 7",
    "maj6": "1 3 5 6",
    "min6": "1 b3 5 6",
    "9": "1 3 5 b7 9",
    "maj9": "1 3 5 7 9",
    "min9": "1 b3 5 b7 9",
    "sus4": "1 4 5",
}

#: MusicXML 4.0 (W3C Music Notation Community Group), kind-value: the kinds that are stacks of tones, and our name for
#: each. Its elevenths are ninths with a perfect 11th, its thirteenths elevenths with a major 13th; C11 and C13 here
#: leave out the 3rd and the 11th, so that those kinds are written with "add".
MUSICXML = {
    "major": ("1 3 5", ""),
    "minor": ("1 b3 5", "m"),
    "augmented": ("1 3 #5", "aug"),
    "diminished": ("1 b3 b5", "dim"),
    "dominant": ("1 3 5 b7", "7"),
    "major-seventh": ("1 3 5 7", "maj7"),
    "minor-seventh": ("1 b3 5 b7", "m7"),
    "diminished-seventh": ("1 b3 b5 bb7", "dim7"),
    "augmented-seventh": ("1 3 #5 b7", "7#5"),
    "half-diminished": ("1 b3 b5 b7", "m7b5"),
    "major-minor": ("1 b3 5 7", "m(maj7)"),
    "major-sixth": ("1 3 5 6", "6"),
    "minor-sixth": ("1 b3 5 6", "m6"),
    "dominant-ninth": ("1 3 5 b7 9", "9"),
    "major-ninth": ("1 3 5 7 9", "maj9"),
    "minor-ninth": ("1 b3 5 b7 9", "m9"),
    "dominant-11th": ("1 3 5 b7 9 11", "9(add11)"),
    "major-11th": ("1 3 5 7 9 11", "maj11"),
    "minor-11th": ("1 b3 5 b7 9 11", "m11"),
    "dominant-13th": ("1 3 5 b7 9 11 13", "13(add11)"),
    "major-13th": ("1 3 5 7 9 11 13", "maj11(add13)"),
    "minor-13th": ("1 b3 5 b7 9 11 13", "m11(add13)"),
    "suspended-second": ("1 2 5", "sus2"),
    "suspended-fourth": ("1 4 5", "sus4"),
    "power": ("1 5", "5"),
    "pedal": ("1", "5(no5)"),
}
#: Kinds that name a function or nothing, not a stack of tones on the root.
FUNCTIONS = {"Neapolitan", "Italian", "French", "German", "Tristan", "other", "none"}

#: The ABC music standard 2.1 (2011), section 4.18: the chord types, on G as there.
ABC = {
    "Gm": "1 b3 5",
    "Gmin": "1 b3 5",
    "Gmaj": "1 3 5",
    "Gdim": "1 b3 b5",
    "Gaug": "1 3 #5",
    "G+": "1 3 #5",
    "Gsus": "1 4 5",
    "G7": "1 3 5 b7",
    "G9": "1 3 5 b7 9",
    "Gm7": "1 b3 5 b7",
    "G": "1 3 5",
}


@pytest.mark.parametrize(("shorthand", "tones"), HARTE_2005.items())
def test_harte(shorthand: str, tones: str) -> None:
    assert str(read_chord(to_symbol(f"C:{shorthand}")).quality) == tones


@pytest.mark.parametrize(("kind", "tones", "name"), [(kind, *row) for kind, row in MUSICXML.items()])
def test_musicxml(kind: str, tones: str, name: str) -> None:
    quality = Quality.spelled(tones)
    assert quality_name(quality) == name, kind
    assert read_chord(f"C{name}").quality == quality


def test_all_thirty_three_kinds_are_spoken_for() -> None:
    assert len(MUSICXML) + len(FUNCTIONS) == 33


@pytest.mark.parametrize(("symbol", "tones"), ABC.items())
def test_abc(symbol: str, tones: str) -> None:
    assert str(read_chord(symbol).quality) == tones


def test_the_abc_bass() -> None:
    chord = read_chord("C/E")
    assert str(chord.bass) == "E"
    assert str(read_chord("Am7").quality) == "1 b3 5 b7"


def test_a_row_that_names_a_source_is_found_there() -> None:
    published = {
        "Harte et al. 2005": {Quality.spelled(tones) for tones in HARTE_2005.values()},
        "MusicXML 4.0": {Quality.spelled(tones) for tones, _ in MUSICXML.values()},
    }
    strays = [row.name for row in QUALITIES if row.quality not in published.get(row.source, {row.quality})]
    assert strays == []


def test_a_row_of_common_practice_is_in_neither_table() -> None:
    published = {Quality.spelled(tones) for tones in HARTE_2005.values()}
    published |= {Quality.spelled(tones) for tones, _ in MUSICXML.values()}
    assert [row.name for row in QUALITIES if row.source == "common practice" and row.quality in published] == []
