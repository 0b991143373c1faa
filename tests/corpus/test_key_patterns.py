"""The key of a few chords by themselves, as a pattern of chord names is counted: common practice."""

from __future__ import annotations

import pytest

from corpus.key_finding import keys_of
from grammar.symbols import read_chord
from search.asking import ask

CLEAR = {
    "Dm7 G7 Cmaj7": "C",
    "C F G": "C",
    "D G A": "D",
    "Gm7 C7 F": "F",
    "Cm7 F7 Bbmaj7": "Bb",
    "Fm7 Bb7 Ebmaj7 Abmaj7": "Eb",
    "Dm7b5 G7 Cm": "Cm",
    "Em7b5 A7 Dm": "Dm",
    "Am Dm E7": "Am",
    "Am G F E": "Am",
    "Cm Bb Ab G7": "Cm",
    "C7 F7 C7 G7": "C",
    "C Am F G": "C",
    "Cmaj7 Am7 Dm7 G7": "C",
    "Em7 A7 Dm7 G7 Cmaj7": "C",
    "F# B C#7 F#": "F#",
    "Gb Cb Db7 Gb": "Gb",
}


@pytest.mark.parametrize(("chords", "key"), CLEAR.items())
def test_a_clear_pattern(chords: str, key: str) -> None:
    best, second, *_ = keys_of([read_chord(name) for name in chords.split()])
    assert str(best.key) == key
    assert best.chance > 3 * second.chance


@pytest.mark.parametrize("chords", ["Am F C G", "Em C G D"])
def test_a_loop_that_begins_on_the_sixth_offers_its_relative(chords: str) -> None:
    """6m 4 1 5 or 1m b6 b3 b7: both are said."""
    asked = ask(chords)
    sixth = chords.split()[0]
    assert asked.key is not None
    said = {str(key) for key in (asked.key, *asked.others)}
    assert {sixth, str(read_chord(sixth).root.up(read_chord("Eb").root.degree_in(read_chord("C").root)))} <= said


@pytest.mark.parametrize("chords", ["C F G", "D G A", "C Am F G"])
def test_nothing_else_is_offered_where_all_is_clear(chords: str) -> None:
    assert ask(chords).others == ()
