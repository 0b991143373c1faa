"""Finding the key of chords where nobody wrote one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.key_finding import keys_of
from corpus.library import demo_library
from corpus.tunes import played
from grammar.symbols import read_chord
from shared.key import MAJOR_KEYS, MINOR_KEYS, Key
from shared.pitch import Pitch

TONICS = [key.tonic for key in MAJOR_KEYS]


def found(names: str) -> str:
    return str(keys_of([read_chord(name) for name in names.split()])[0].key)


@pytest.mark.parametrize(
    ("chords", "key"),
    [
        ("C F G C", "C"),
        ("G C D G", "G"),
        ("C Am F G", "C"),
        ("Dm7 G7 Cmaj7", "C"),
        ("Fm7 Bb7 Ebmaj7 Abmaj7", "Eb"),
        ("C G Am F", "C"),
        ("Am Dm E7 Am", "Am"),
        ("Dm7b5 G7 Cm", "Cm"),
        ("A7 D7 A7 E7 D7 A7", "A"),
        ("Bb", "Bb"),
        ("C#m", "C#m"),
        ("Gb Cb Db7 Gb", "Gb"),
        ("F# B C#7 F#", "F#"),
    ],
)
def test_plain_progressions(chords: str, key: str) -> None:
    """Common practice: what any teacher would say."""
    assert found(chords) == key


@pytest.mark.parametrize(
    ("chords", "keys"), [("Am F C G", {"C", "Am"}), ("F#m D A E F#m", {"A", "F#m"}), ("Gm Eb Bb F", {"Bb", "Gm"})]
)
def test_a_loop_of_relatives_is_heard_both_ways(chords: str, keys: set[str]) -> None:
    """Common practice: 6m 4 1 5 in the major is 1m b6 b3 b7 in its relative minor, and both are said."""
    told = [str(each.key) for each in keys_of([read_chord(name) for name in chords.split()])]
    assert told[0] in keys
    assert keys <= set(told[:3])


SHAPES = ["1 4 5 1", "1 6m 4 5", "1 6m 2m 57 1", "1 5 6m 4 1"]
MINOR_SHAPES = ["1m 4m 57 1m", "1m b6 b7 1m", "1m 2m7b5 57 1m", "1m b6 b3 57 1m"]


@pytest.mark.parametrize("key", [*MAJOR_KEYS, *MINOR_KEYS], ids=str)
def test_every_key_with_a_signature(key: Key) -> None:
    from grammar.symbols import read_numeral

    for shape in MINOR_SHAPES if key.minor_third else SHAPES:
        chords = [read_numeral(number).on(key.tonic) for number in shape.split()]
        assert keys_of(chords)[0].key == key, shape


NAMES = st.sampled_from(["C", "F", "G", "Am", "Dm7", "E7", "Bb", "Gm7b5", "Dsus4", "A", "F#dim7", "Eb6", "B5", "G13"])


@given(st.lists(NAMES, min_size=1, max_size=12), st.integers(0, 11))
def test_transposing_moves_the_keys(names: list[str], turn: int) -> None:
    """Chances belong to sounds: moved by any interval, every key moves with the chords."""
    chords = [read_chord(name) for name in names]
    up = Pitch("C").up(Pitch.at(turn - 5).degree_in(Pitch("C"))).degree_in(Pitch("C"))
    moved = keys_of([chord.moved(up) for chord in chords])
    plain = {((each.key.tonic.pitch_class + up.semitones) % 12, each.key.mode): each.chance for each in keys_of(chords)}
    for each in moved:
        assert each.chance == pytest.approx(plain[each.key.tonic.pitch_class, each.key.mode])


@given(st.lists(NAMES, min_size=1, max_size=12))
def test_chances_add_up_and_fall(names: list[str]) -> None:
    keys = keys_of([read_chord(name) for name in names])
    assert len(keys) == 24
    assert sum(each.chance for each in keys) == pytest.approx(1)
    assert [each.chance for each in keys] == sorted((each.chance for each in keys), reverse=True)
    assert all(abs(each.key.signature) <= 7 for each in keys)


def test_a_long_chord_weighs_more() -> None:
    chords = [read_chord(name) for name in ("C", "E")]
    assert str(keys_of(chords, [7, 1])[0].key) == "C"
    assert str(keys_of(chords, [1, 7])[0].key) == "E"


def test_no_chords_no_key() -> None:
    with pytest.raises(ValueError, match="no chords"):
        keys_of([])


def test_most_demo_keys_are_found_again() -> None:
    """Of the demo tunes whose key is written in major or minor, how many are found from their chords alone."""
    library = demo_library()
    right, asked = 0, 0
    for path in library.chart_paths():
        chart = library.read(path).chart
        assert chart is not None
        if chart.key is None or str(chart.key.mode.label) not in ("major", "minor"):
            continue
        asked += 1
        events = played(chart).tune.events
        best = keys_of([event.chord for event in events], [float(event.length) for event in events])[0].key
        same_tonic = best.tonic.pitch_class == chart.key.tonic.pitch_class
        right += same_tonic and best.mode is chart.key.mode
    assert asked >= 60
    assert right / asked > 0.8
