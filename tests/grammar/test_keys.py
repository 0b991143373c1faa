"""Keys and metres as they are written, and their faults."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.keys import read_key, read_metre
from shared.chart import Metre
from shared.errors import ReadingError
from shared.key import MAJOR_KEYS, MINOR_KEYS, Key, Mode
from shared.pitch import Pitch

KEYS = [
    ("C", ["C", "c", "Cmaj", "C major", "C Ionian", "CM", " C "]),
    ("Eb", ["Eb", "eb", "E♭", "E flat", "Eflat major", "E♭ major", "Eb Major"]),
    ("Bb", ["Bb", "bb", "B♭", "B flat"]),
    ("B", ["B", "b", "B major"]),
    ("F#", ["F#", "f#", "F♯", "F sharp", "F sharp major"]),
    ("Am", ["Am", "am", "A minor", "a minor", "Amin", "A-", "A aeolian", "A MINOR"]),
    ("F#m", ["F#m", "F# minor", "F sharp minor", "f# Min"]),
    ("Bbm", ["Bbm", "bbm", "B flat minor"]),
    ("Bm", ["Bm", "b minor"]),
    ("Abm", ["Abm"]),
    ("A#m", ["A#m"]),
    ("D dorian", ["D dorian", "D Dorian", "Ddorian", "d  dorian"]),
    ("F lydian", ["F lydian"]),
    ("G mixolydian", ["G mixolydian"]),
    ("E phrygian", ["E phrygian"]),
    ("F# locrian", ["F# locrian"]),
]


@pytest.mark.parametrize(("name", "written"), KEYS, ids=[name for name, _ in KEYS])
def test_ways_of_writing_a_key(name: str, written: list[str]) -> None:
    assert {text: str(read_key(text)) for text in written} == dict.fromkeys(written, name)


@pytest.mark.parametrize("key", MAJOR_KEYS + MINOR_KEYS, ids=str)
def test_all_keys_read_back(key: Key) -> None:
    assert read_key(str(key)) == key


@given(st.sampled_from("CDEFGAB"), st.integers(-1, 1), st.sampled_from(Mode))
def test_every_mode_reads_back_where_it_has_a_signature(letter: str, alteration: int, mode: Mode) -> None:
    key = Key(Pitch(letter, alteration), mode)
    if abs(key.signature) <= 7:
        assert read_key(str(key)) == key
    else:
        with pytest.raises(ReadingError, match="seven are the most") as caught:
            read_key(str(key))
        twin = read_key(caught.value.faults[0].nearest)
        assert (twin.tonic.pitch_class, twin.mode) == (key.tonic.pitch_class, mode)


NO_KEYS = [
    ("H", "B"),
    ("Hm", "Bm"),
    ("h moll", "Bm"),
    ("H dorian", "B dorian"),
    ("Ddor", "D dorian"),
    ("D phr", "D phrygian"),
    ("D mixo", "D mixolydian"),
    ("G mixolidian", "G mixolydian"),
    ("A minro", "Am"),
    ("Em7", "Em"),
    ("Cmaj7", "C"),
    ("C blues", "C"),
    ("Cdur", "C"),
    ("C/E", "C"),
    ("G##", "A"),
    ("Bbb", "A"),
    ("Xm", ""),
    ("7", ""),
    ("", ""),
    ("  ", ""),
]


@pytest.mark.parametrize(("text", "near"), NO_KEYS)
def test_what_is_no_key(text: str, near: str) -> None:
    with pytest.raises(ReadingError, match="is not a key") as caught:
        read_key(text)
    (fault,) = caught.value.faults
    assert (fault.column, fault.length, fault.nearest) == (1, max(1, len(text)), near)
    assert "Eb, Am or D dorian" in fault.expected
    if near:
        assert str(read_key(near)) == near


@pytest.mark.parametrize(
    ("text", "signs", "near"),
    [
        ("Fb", 8, "E"),
        ("G#", 8, "Ab"),
        ("B#", 12, "C"),
        ("Dbm", 8, "C#m"),
        ("E# minor", 8, "Fm"),
        ("C# lydian", 8, "Db lydian"),
    ],
)
def test_keys_beyond_seven_signs(text: str, signs: int, near: str) -> None:
    with pytest.raises(ReadingError, match=f"{signs} signs") as caught:
        read_key(text)
    assert caught.value.faults[0].nearest == near


@given(st.text(alphabet="ABCDEFGHabm#♭♯ -majorindsx7", max_size=12))
def test_whatever_is_typed_as_a_key_is_read_or_refused(text: str) -> None:
    try:
        key = read_key(text)
    except ReadingError as error:
        (fault,) = error.faults
        assert (fault.column, fault.length) == (1, max(1, len(text)))
        if fault.nearest:
            assert str(read_key(fault.nearest)) == fault.nearest
    else:
        assert read_key(str(key)) == key


@pytest.mark.parametrize(
    ("text", "metre"),
    [
        ("4/4", Metre(4, 4)),
        ("3/4", Metre(3, 4)),
        ("(2/4)", Metre(2, 4)),
        ("12/8", Metre(12, 8)),
        (" 6 / 8 ", Metre(6, 8)),
        ("C", Metre(4, 4)),
        ("common", Metre(4, 4)),
        ("cut", Metre(2, 2)),
        ("3⁄4", Metre(3, 4)),
        ("32/32", Metre(32, 32)),
    ],
)
def test_metres(text: str, metre: Metre) -> None:
    assert read_metre(text) == metre


@pytest.mark.parametrize(
    ("text", "near"),
    [
        ("5/3", "5/2"),
        ("1/64", "1/32"),
        ("4/0", "4/1"),
        ("0/4", "4/4"),
        ("33/4", "4/4"),
        ("4", "4/4"),
        ("3:4", "3/4"),
        ("4/4/4", "4/4"),
        ("99/100", "4/4"),
        ("waltz", ""),
        ("", ""),
    ],
)
def test_what_is_no_metre(text: str, near: str) -> None:
    with pytest.raises(ReadingError, match="is not a metre") as caught:
        read_metre(text)
    (fault,) = caught.value.faults
    assert (fault.column, fault.length, fault.nearest) == (1, max(1, len(text)), near)
    assert "such as 3/4" in fault.expected
