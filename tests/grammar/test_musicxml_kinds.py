"""The kinds of MusicXML: degrees added, altered and left out, and the kind that is written for a quality."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.musicxml_kinds import (
    ALL_KINDS,
    FUNCTIONAL_SIXTHS,
    KINDS,
    WrittenDegree,
    kind_of,
    with_degrees,
)
from shared.quality import Quality, tone
from shared.quality_names import QUALITIES, NamedQuality, quality_name


def test_there_are_33_kinds() -> None:
    assert len(set(ALL_KINDS)) == len(ALL_KINDS) == 33


#: What each kind is called here.
NAMES = {
    "major": "",
    "minor": "m",
    "augmented": "aug",
    "diminished": "dim",
    "dominant": "7",
    "major-seventh": "maj7",
    "minor-seventh": "m7",
    "diminished-seventh": "dim7",
    "augmented-seventh": "7#5",
    "half-diminished": "m7b5",
    "major-minor": "m(maj7)",
    "major-sixth": "6",
    "minor-sixth": "m6",
    "dominant-ninth": "9",
    "major-ninth": "maj9",
    "minor-ninth": "m9",
    "dominant-11th": "11",
    "major-11th": "maj11",
    "minor-11th": "m11",
    "dominant-13th": "13",
    "major-13th": "maj13",
    "minor-13th": "m13",
    "suspended-second": "sus2",
    "suspended-fourth": "sus4",
    "pedal": "5(no5)",
    "power": "5",
    "Tristan": "m7b5",
}


def test_names() -> None:
    assert {kind: quality_name(each.read) for kind, each in KINDS.items()} == NAMES
    assert {kind: quality_name(each.quality) for kind, each in FUNCTIONAL_SIXTHS.items()} == {
        "Neapolitan": "",
        "Italian": "7(no5)",
        "French": "7b5",
        "German": "7",
    }


#: Kind, degrees, and the name of what they make.
DEGREES = [
    ("major", [(7, 0, "add")], "7"),
    ("major", [(7, 1, "add")], "maj7"),
    ("major", [(2, 0, "add")], "add9"),
    ("major", [(9, 0, "add")], "add9"),
    ("major", [(4, 0, "add"), (3, 0, "subtract")], "sus4"),
    ("minor", [(11, 0, "add")], "m(add11)"),
    ("suspended-fourth", [(7, 0, "add")], "7sus4"),
    ("suspended-fourth", [(7, 0, "add"), (9, -1, "add")], "7sus4b9"),
    ("suspended-fourth", [(2, 0, "add")], "sus2sus4"),
    ("dominant", [(5, -1, "alter")], "7b5"),
    ("dominant", [(9, -1, "add")], "7b9"),
    ("dominant", [(9, -1, "alter")], "7b9"),
    ("dominant", [(9, -1, "add"), (9, 1, "add")], "7(b9,add#9)"),
    ("dominant-ninth", [(9, 1, "alter")], "7#9"),
    ("dominant-ninth", [(13, 0, "add")], "13"),
    ("dominant-13th", [(11, 0, "subtract")], "13"),
    ("dominant-13th", [(11, 1, "alter")], "13#11"),
    ("dominant-13th", [(9, 0, "subtract"), (11, 0, "subtract")], "7add13"),
    ("dominant-11th", [(3, 0, "subtract")], "11"),
    ("minor-seventh", [(5, -1, "alter")], "m7b5"),
    ("diminished-seventh", [(7, 1, "alter")], "m7b5"),
    ("minor-seventh", [(7, 1, "alter")], "m(maj7)"),
    ("minor", [(3, 1, "alter")], ""),
    ("major-seventh", [(12, 1, "alter")], "maj7#5"),
    ("major", [(5, 0, "subtract")], "(no5)"),
    ("major", [(1, 0, "subtract")], ""),
    ("dominant", [(10, 0, "add")], "7"),
]


@pytest.mark.parametrize(("kind", "degrees", "name"), DEGREES)
def test_degrees(kind: str, degrees: list[tuple[int, int, str]], name: str) -> None:
    made = with_degrees(KINDS[kind].read, [WrittenDegree(*each) for each in degrees])
    if name == "7(b9,add#9)":
        assert made == Quality.spelled("1 3 5 b7 b9 #9")
    elif name == "(no5)":
        assert made == Quality.spelled("1 3")
    else:
        assert quality_name(made) == name


@pytest.mark.parametrize("degree", [(0, 0, "add"), (14, 0, "add"), (5, 0, ""), (5, 0, "omit")])
def test_no_degree(degree: tuple[int, int, str]) -> None:
    with pytest.raises(ValueError, match="no degree"):
        with_degrees(KINDS["major"].read, [WrittenDegree(*degree)])


@pytest.mark.parametrize("row", QUALITIES, ids=[row.name or "major" for row in QUALITIES])
def test_what_is_written_of_a_quality_gives_it_under_both_readings(row: NamedQuality) -> None:
    kind, degrees = kind_of(row.quality)
    assert with_degrees(KINDS[kind].tones, degrees) == row.quality
    assert with_degrees(KINDS[kind].read, degrees) == row.quality


def test_a_kind_that_says_it_all_is_written_alone() -> None:
    alone = {name for name in NAMES if kind_of(KINDS[name].tones) == (name, ())}
    assert {*NAMES} - alone == {"dominant-11th", "dominant-13th", "major-13th", "minor-13th", "pedal", "Tristan"}


_TONES = [tone(name) for name in ("b3", "3", "4", "b5", "5", "#5", "6", "bb7", "b7", "7", "b9", "9", "#9", "11", "#11")]
_TONES += [tone(name) for name in ("b13", "13", "2")]


@given(st.sets(st.sampled_from(_TONES), max_size=7))
def test_any_mixture_of_tones_can_be_written(tones: set[object]) -> None:
    quality = Quality.of([tone("1"), *tones])  # type: ignore[list-item]
    kind, degrees = kind_of(quality)
    assert with_degrees(KINDS[kind].tones, degrees) == with_degrees(KINDS[kind].read, degrees) == quality
