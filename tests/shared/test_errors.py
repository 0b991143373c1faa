"""Faults and errors: where, what, expected, nearest."""

from __future__ import annotations

import pytest

from shared.errors import ChoiceError, Fault, ReadingError, SamechangesError, nearest


def test_a_fault_is_moved_into_a_larger_text() -> None:
    inner = Fault("“Cmaj77” is not a chord", column=5, length=2)
    outer = inner.at(3, "| F | Cmaj77 |", offset=6)
    assert (outer.line, outer.column, outer.length) == (3, 11, 2)
    assert outer.drawn() == "| F | Cmaj77 |\n          ^^"


@pytest.mark.parametrize(
    ("fault", "drawn"),
    [
        (Fault("x", line=1, column=1, length=3, text="abc"), "abc\n^^^"),
        (Fault("past the end", line=1, column=4, length=1, text="abc"), "abc\n   ^"),
        (Fault("longer than the line", line=1, column=2, length=9, text="abc"), "abc\n ^^"),
        (Fault("tabs stay tabs", line=1, column=3, text="a\tb"), "a\tb\n \t^"),
        (Fault("the whole line", line=1, text="abc"), "abc"),
        (Fault("no line known", column=2), ""),
    ],
)
def test_the_mark_stands_under_the_place(fault: Fault, drawn: str) -> None:
    assert fault.drawn() == drawn


@pytest.mark.parametrize(
    ("fault", "sentence"),
    [
        (Fault("wrong"), "wrong"),
        (Fault("wrong", expected="a key"), "wrong; expected a key"),
        (Fault("wrong", nearest="Eb"), "wrong; nearest: Eb"),
        (Fault("wrong", expected="a key", nearest="Eb"), "wrong; expected a key; nearest: Eb"),
    ],
)
def test_the_sentence(fault: Fault, sentence: str) -> None:
    assert fault.sentence == sentence


def test_a_reading_error_carries_all_its_faults() -> None:
    error = ReadingError([Fault("one"), Fault("two", nearest="2")])
    assert isinstance(error, SamechangesError)
    assert [f.message for f in error.faults] == ["one", "two"]
    assert str(error) == "one; two; nearest: 2"


def test_a_choice_error_offers_what_is_near() -> None:
    error = ChoiceError("no tag “walz”", ["waltz"])
    assert isinstance(error, SamechangesError)
    assert error.nearest == ("waltz",)
    assert str(error) == "no tag “walz”; nearest: waltz"
    assert str(ChoiceError("no tag “x”")) == "no tag “x”"


@pytest.mark.parametrize(
    ("name", "known", "expected"),
    [
        ("mixolidian", ["major", "mixolydian"], ("mixolydian",)),
        ("SALTMARSH", ["Saltmarsh Waltz", "Saltmarsh"], ("Saltmarsh", "Saltmarsh Waltz")),
        ("zzz", ["major", "minor"], ()),
        ("", ["major"], ()),
    ],
)
def test_nearest(name: str, known: list[str], expected: tuple[str, ...]) -> None:
    assert nearest(name, known) == expected


def test_nearest_gives_at_most_so_many() -> None:
    assert len(nearest("aa", ["aab", "aac", "aad", "aae"])) == 3
    assert len(nearest("aa", ["aab", "aac"], 1)) == 1
