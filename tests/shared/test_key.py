"""Keys: signatures, relatives, transposition. The signatures are the circle of fifths (common practice)."""

from __future__ import annotations

import pytest
from hypothesis import given

from shared.key import MAJOR_KEYS, MINOR_KEYS, Key, Mode, simplest, usual_tonic
from shared.pitch import Degree, Pitch, alteration_of
from tests.helpers.chord_strategies import degrees, keys

CIRCLE = {
    -7: ("Cb", "Abm"),
    -6: ("Gb", "Ebm"),
    -5: ("Db", "Bbm"),
    -4: ("Ab", "Fm"),
    -3: ("Eb", "Cm"),
    -2: ("Bb", "Gm"),
    -1: ("F", "Dm"),
    0: ("C", "Am"),
    1: ("G", "Em"),
    2: ("D", "Bm"),
    3: ("A", "F#m"),
    4: ("E", "C#m"),
    5: ("B", "G#m"),
    6: ("F#", "D#m"),
    7: ("C#", "A#m"),
}


def _pitch(text: str) -> Pitch:
    return Pitch(text[0], alteration_of(text[1:]))


def test_fifteen_keys_of_each_kind() -> None:
    assert [(k.signature, str(k)) for k in MAJOR_KEYS] == [(n, major) for n, (major, _) in CIRCLE.items()]
    assert [(k.signature, str(k)) for k in MINOR_KEYS] == [(n, minor) for n, (_, minor) in CIRCLE.items()]


@pytest.mark.parametrize(("major", "minor"), CIRCLE.values())
def test_relatives_share_a_signature(major: str, minor: str) -> None:
    assert str(Key(_pitch(minor[:-1]), Mode.MINOR).relative_major) == major
    assert str(Key(_pitch(major)).relative_major) == major


#: The white keys: seven modes with no sharps and no flats.
@pytest.mark.parametrize(
    ("tonic", "mode", "minor_third"),
    [
        ("C", Mode.MAJOR, False),
        ("D", Mode.DORIAN, True),
        ("E", Mode.PHRYGIAN, True),
        ("F", Mode.LYDIAN, False),
        ("G", Mode.MIXOLYDIAN, False),
        ("A", Mode.MINOR, True),
        ("B", Mode.LOCRIAN, True),
    ],
)
def test_modes_of_c(tonic: str, mode: Mode, minor_third: bool) -> None:
    key = Key(Pitch(tonic), mode)
    assert key.signature == 0
    assert str(key.relative_major) == "C"
    assert key.minor_third is minor_third


def test_names() -> None:
    assert str(Key(Pitch("E", -1))) == "Eb"
    assert str(Key(Pitch("A"), Mode.MINOR)) == "Am"
    assert str(Key(Pitch("D"), Mode.DORIAN)) == "D dorian"


@pytest.mark.parametrize(
    ("key", "interval", "moved"),
    [
        (Key(Pitch("C")), Degree(2), "D"),
        (Key(Pitch("B")), Degree(3), "Eb"),
        (Key(Pitch("F", 1)), Degree(2), "Ab"),
        (Key(Pitch("G", -1)), Degree(3, -1), "A"),
        (Key(Pitch("A"), Mode.MINOR), Degree(7), "G#m"),
        (Key(Pitch("A", 1), Mode.MINOR), Degree(5), "Fm"),
        (Key(Pitch("C", 1)), Degree(5), "Ab"),
        (Key(Pitch("C"), Mode.LOCRIAN), Degree(5, -1), "F# locrian"),
    ],
)
def test_a_moved_key_stays_writable(key: Key, interval: Degree, moved: str) -> None:
    assert str(key.moved(interval)) == moved


@given(keys, degrees)
def test_moving_keeps_the_sound_and_seven_signs_at_most(key: Key, interval: Degree) -> None:
    moved = key.moved(interval)
    assert abs(moved.signature) <= 7
    assert moved.mode is key.mode
    assert moved.tonic.pitch_class == (key.tonic.pitch_class + interval.semitones) % 12


@given(keys)
def test_a_writable_tonic_is_left_alone(key: Key) -> None:
    assert simplest(key.tonic, key.mode) == key.tonic


#: The usual spelling of all twelve tonics (common practice; six signs either way go to the flats).
@pytest.mark.parametrize(
    ("mode", "tonics"),
    [
        (Mode.MAJOR, "C Db D Eb E F Gb G Ab A Bb B"),
        (Mode.MINOR, "C C# D Eb E F F# G G# A Bb B"),
        (Mode.DORIAN, "C C# D Eb E F F# G Ab A Bb B"),
    ],
)
def test_usual_tonics(mode: Mode, tonics: str) -> None:
    assert " ".join(str(usual_tonic(pitch_class, mode)) for pitch_class in range(12)) == tonics
