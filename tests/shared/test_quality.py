"""Qualities as tone sets: normal form, operations, and the family decision row by row (common practice)."""

from __future__ import annotations

import pytest
from hypothesis import given

from grammar.symbols import read_chord
from shared.pitch import Degree
from shared.quality import Family, Quality, Third, tone
from shared.quality_names import BY_NAME
from tests.helpers.chord_strategies import mixtures, qualities


@pytest.mark.parametrize(
    ("written", "normal"),
    [
        ("5 3 1", "1 3 5"),
        ("1 3 5 b7 6", "1 3 5 b7 13"),
        ("1 3 5 13", "1 3 5 6"),
        ("1 2 3 5", "1 3 5 9"),
        ("1 b3 4 5", "1 b3 5 11"),
        ("1 2 5", "1 2 5"),
        ("1 4 5", "1 4 5"),
        ("1 5 b7 9 11", "1 5 b7 9 11"),
        ("1 3 5 b13", "1 3 5 b6"),
        ("1 3 #9 b9 b7", "1 3 b7 b9 #9"),
        ("1 1 3 3 5", "1 3 5"),
    ],
)
def test_one_normal_form(written: str, normal: str) -> None:
    assert str(Quality.spelled(written)) == normal


@given(mixtures)
def test_the_normal_form_is_normal(quality: Quality) -> None:
    assert Quality.of(quality.tones) == quality
    assert Quality.of(reversed(quality.tones)) == quality
    places = [(t.number, t.alteration) for t in quality.tones]
    assert places == sorted(set(places))
    assert Degree(1) in quality.tones


def test_a_chord_has_a_root() -> None:
    with pytest.raises(ValueError, match="root"):
        Quality.spelled("3 5")


@pytest.mark.parametrize(
    ("tones", "mask"),
    [("1", 0b1), ("1 3 5", 0b10010001), ("1 b3 b5 bb7", 0b1001001001), ("1 3 #11 b5 5", 0b11010001)],
)
def test_the_mask_is_the_sound(tones: str, mask: int) -> None:
    assert Quality.spelled(tones).mask == mask


def test_two_spellings_of_one_sound_share_a_mask() -> None:
    assert BY_NAME["11"] != BY_NAME["9sus4"]
    assert BY_NAME["11"].mask == BY_NAME["9sus4"].mask


#: The decision: third, then seventh or fifth, family, and chords that stand for the row.
FAMILIES = [
    ("no third, minor seventh", Family.DOMINANT, "7sus4 9sus4 13sus4 7sus4b9 7sus2 11 7(no3)"),
    ("no third, a second or fourth", Family.SUSPENDED, "sus4 sus2 sus2sus4 maj7sus4 maj9sus4 sus4(add9) 5(add9)"),
    ("no third, neither", Family.OPEN_FIFTH, "5 5(no5) 5(#5) 6(no3) 5(add7)"),
    ("major third, minor seventh", Family.DOMINANT, "7 9 13 7b9 7#5 7alt 7b5 9#5 7b13 7add11 7(no5)"),
    ("major third, raised fifth and no plain one", Family.AUGMENTED, "aug maj7#5 maj9#5"),
    ("major third, else", Family.MAJOR, "maj 6 6/9 add9 maj7 maj9 maj7#11 (b5) maj7b5 maj13 add11 (addb3) aug(add5)"),
    ("minor third, lowered fifth, minor seventh", Family.HALF_DIMINISHED, "m7b5 m9b5 m11b5 m7b5(b9)"),
    ("minor third, lowered fifth and no plain one", Family.DIMINISHED, "dim dim7 dim(maj7) dim7(add9)"),
    ("minor third, else", Family.MINOR, "m m6 m7 m9 m11 m(maj7) m6/9 mb6 m7#5 m7(add11) dim(add5)"),
]


@pytest.mark.parametrize(("row", "family", "names"), FAMILIES, ids=[row for row, _, _ in FAMILIES])
def test_families_row_by_row(row: str, family: Family, names: str) -> None:
    assert {name: read_chord(f"C{name}").quality.family for name in names.split()} == dict.fromkeys(
        names.split(), family
    )


def _family_by_hand(quality: Quality) -> Family:
    """The decision table once more, said in another way: by names of tones."""
    tones = set(str(quality).split())
    if "3" in tones:
        if "b7" in tones:
            return Family.DOMINANT
        return Family.AUGMENTED if "#5" in tones and "5" not in tones else Family.MAJOR
    if "b3" in tones:
        if "b5" not in tones or "5" in tones:
            return Family.MINOR
        return Family.HALF_DIMINISHED if "b7" in tones else Family.DIMINISHED
    if "b7" in tones:
        return Family.DOMINANT
    return Family.SUSPENDED if {t.lstrip("#b") for t in tones} & {"2", "4", "9", "11"} else Family.OPEN_FIFTH


@given(qualities)
def test_every_quality_has_the_family_of_its_tones(quality: Quality) -> None:
    assert quality.family is _family_by_hand(quality)


@pytest.mark.parametrize("family", Family)
def test_a_family_is_written_with_a_quality_of_its_own(family: Family) -> None:
    assert BY_NAME[family.value].family is family


def test_families_have_names_in_words() -> None:
    titles = ["augmented", "major", "dominant", "suspended", "open fifth", "minor", "half-diminished", "diminished"]
    assert [f.title for f in Family] == titles


@pytest.mark.parametrize(
    ("tones", "third"),
    [
        ("1 3 5", Third.MAJOR),
        ("1 b3 5", Third.MINOR),
        ("1 4 5", Third.NONE),
        ("1 3 5 b7 #9", Third.MAJOR),
        ("1 5 b7 #9", Third.NONE),
    ],
)
def test_thirds(tones: str, third: Third) -> None:
    assert Quality.spelled(tones).third is third


@pytest.mark.parametrize(
    ("before", "change", "after"),
    [
        ("1 3 5", "#5", "1 3 #5"),
        ("1 3 5 b7 9", "b9", "1 3 5 b7 b9"),
        ("1 3 5 b7 b9", "#9", "1 3 5 b7 b9 #9"),
        ("1 3 5 b7", "#11", "1 3 5 b7 #11"),
        ("1 3 b7", "b5", "1 3 b5 b7"),
    ],
)
def test_altered(before: str, change: str, after: str) -> None:
    assert str(Quality.spelled(before).altered(tone(change))) == after


@pytest.mark.parametrize(
    ("before", "extra", "after"),
    [
        ("1 3 5", "2", "1 3 5 9"),
        ("1 3 5", "4", "1 3 5 11"),
        ("1 4 5", "9", "1 4 5 9"),
        ("1 3 5 b7", "6", "1 3 5 b7 13"),
        ("1 3 5 9", "b9", "1 3 5 b9 9"),
        ("1 3 5", "5", "1 3 5"),
    ],
)
def test_added(before: str, extra: str, after: str) -> None:
    assert str(Quality.spelled(before).added(tone(extra))) == after


@pytest.mark.parametrize(
    ("before", "number", "after"),
    [
        ("1 3 5", 3, "1 5"),
        ("1 3 5 b7 9 13", 5, "1 3 b7 9 13"),
        ("1 3 5 b7 b9", 9, "1 3 5 b7"),
        ("1 3 #5", 5, "1 3"),
        ("1 3 5 6", 13, "1 3 5"),
        ("1 3 5", 1, "1 3 5"),
        ("1 3 5", 7, "1 3 5"),
    ],
)
def test_without(before: str, number: int, after: str) -> None:
    assert str(Quality.spelled(before).without(number)) == after


@pytest.mark.parametrize(
    ("before", "number", "after"), [("1 3 5 b7", 4, "1 4 5 b7"), ("1 b3 5", 2, "1 2 5"), ("1 2 5", 4, "1 2 4 5")]
)
def test_suspended(before: str, number: int, after: str) -> None:
    assert str(Quality.spelled(before).suspended(number)) == after


@pytest.mark.parametrize(("name", "degree"), [("b9", Degree(9, -1)), ("bb7", Degree(7, -2)), ("13", Degree(13))])
def test_tone(name: str, degree: Degree) -> None:
    assert tone(name) == degree
