"""The fast alignment against the slow one, and the table of costs."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.codes import chord_code
from grammar.symbols import read_chord
from search.alignment import FAMILIES, KINDS, LEAST, Unit, kinds_of, likeness, passages
from shared.pitch import Pitch
from tests.helpers import alike_referee
from tests.helpers.alike_referee import half_alike, referee_passages

TONIC = Pitch("C").pitch_class


def kinds(text: str) -> list[int]:
    return kinds_of("".join(chord_code(read_chord(name), TONIC) for name in text.split()))


def line(text: str) -> list[Unit]:
    return [(kind, kind) for kind in kinds(text)]


def plain(unit: Unit) -> alike_referee.Unit:
    first, second = (divmod(kind, len(FAMILIES)) for kind in unit)
    return (first[0], FAMILIES[first[1]]), (second[0], FAMILIES[second[1]])


@pytest.mark.parametrize(
    ("first", "second", "alike"),
    [
        ("C", "C", 50),
        ("C6", "Cmaj7", 50),
        ("C", "C7", 45),
        ("Gsus4", "G7", 45),
        ("Gsus4", "G", 45),
        ("C5", "Cm", 45),
        ("C", "Cm", 35),
        ("Dm7b5", "D", 35),
        ("C", "Am", 0),
        ("C", "Em", 0),
        ("F", "Dm7", 0),
        ("G7", "Db7", 0),
        ("C", "F", -25),
        ("C", "G", -25),
        ("C", "D", -50),
        ("C", "F#", -50),
    ],
)
def test_what_chords_are_alike(first: str, second: str, alike: int) -> None:
    one, other = kinds(f"{first} {second}")
    assert likeness(one, other) == likeness(other, one) == alike


def test_the_costs_are_those_of_the_referee() -> None:
    for first in range(KINDS):
        for second in range(KINDS):
            one, other = (divmod(kind, len(FAMILIES)) for kind in (first, second))
            expected = half_alike((one[0], FAMILIES[one[1]]), (other[0], FAMILIES[other[1]]))
            assert likeness(first, second) == expected


def test_a_passage_in_another_key() -> None:
    here = line("C Am F G C Am F G")
    there = line("Bb7 A7 D Bm G A D Bm G A Eb7")
    found, none = passages(here, [there, line("C C#")])
    assert [(each.worth, each.move) for each in found] == [(800, 10)]
    assert found[0].pairs == tuple((unit, unit + 2) for unit in range(8))
    assert none == []


def test_a_chord_left_out_and_another_third() -> None:
    ((found,),) = passages(line("C F Dm7 G7 C A7 D7 G7"), [line("C Fm Dm7 G7 F# C A7 D7 G7")])
    assert found.worth == 800 - 30 - 100
    assert found.pairs == ((0, 0), (1, 1), (2, 2), (3, 3), (4, 5), (5, 6), (6, 7), (7, 8))


def test_parts_in_another_order_are_two_passages() -> None:
    verse, bridge = "C Am Dm7 G7 C Am", "E7 A7 D7 G7 Abmaj7"
    ((first, second),) = passages(line(f"{verse} {bridge}"), [line(f"{bridge} {verse}")])
    assert {first.worth, second.worth} == {600, 500}
    assert first.move == second.move == 0


units = st.lists(
    st.tuples(st.sampled_from([1, 3, 13, 29, 41, 58, 61, 77]), st.integers(0, 3)).map(
        lambda each: (each[0], each[0] if each[1] else (each[0] + 40) % KINDS)
    ),
    max_size=24,
)


@settings(max_examples=150, deadline=None)
@given(here=units, others=st.lists(units, min_size=1, max_size=5), turn=st.integers(0, 11))
def test_the_fast_alignment_is_the_slow_one(here: list[Unit], others: list[list[Unit]], turn: int) -> None:
    shift = turn * len(FAMILIES)
    others = [*others, [((first + shift) % KINDS, (second + shift) % KINDS) for first, second in here[3:] + here[:5]]]
    for there, found in zip(others, passages(here, others), strict=True):
        expected = referee_passages([plain(unit) for unit in here], [plain(unit) for unit in there])
        assert [(each.worth, each.move, each.pairs) for each in found] == [
            (each.worth, each.move, each.pairs) for each in expected
        ]
        assert all(each.worth >= LEAST for each in found)


def test_tunes_too_long_for_small_numbers() -> None:
    """Nothing overflows where a tune is worth more than 16 bits hold, and every chord of it is found."""
    long = line("C Am F G " * 120)
    ((found,),) = passages(long, [long])
    assert found.worth == 100 * len(long)
    assert len(found.pairs) == len(long)
