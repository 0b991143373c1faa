"""The table of qualities: what must hold of every row, and that any mixture has a name that reads back."""

from __future__ import annotations

from collections import Counter, defaultdict

import pytest
from hypothesis import given, settings

from grammar.symbols import read_chord
from shared.pitch import Degree
from shared.quality import Quality
from shared.quality_names import BY_NAME, QUALITIES, SYNONYMS, NamedQuality, quality_name
from tests.helpers.chord_strategies import mixtures

_rows = pytest.mark.parametrize("row", QUALITIES, ids=[row.name or "major" for row in QUALITIES])


def test_sixty_qualities_at_least() -> None:
    assert len(QUALITIES) >= 60


def test_every_spelling_stands_for_one_quality() -> None:
    spellings = Counter(spelling for row in QUALITIES for spelling in (row.name, *row.aliases))
    assert [spelling for spelling, times in spellings.items() if times > 1] == []
    assert len(BY_NAME) == len(spellings)


def test_no_two_rows_sound_alike_unless_declared() -> None:
    sounding: dict[int, list[str]] = defaultdict(list)
    for row in QUALITIES:
        sounding[row.quality.mask].append(row.name)
    alike = {tuple(sorted(names)) for names in sounding.values() if len(names) > 1}
    assert alike == {tuple(sorted(names)) for names in SYNONYMS}


@_rows
def test_every_spelling_reads_and_writes_back(row: NamedQuality) -> None:
    for spelling in (row.name, *row.aliases):
        chord = read_chord(f"C{spelling}")
        assert chord.quality == row.quality, spelling
        assert chord.name == f"C{row.name}", spelling


@_rows
def test_a_row_is_in_order(row: NamedQuality) -> None:
    places = [(t.number, t.alteration) for t in row.quality.tones]
    assert places == sorted(set(places))
    assert row.quality.tones[0] == Degree(1)
    assert row.family is row.quality.family
    assert row.source in ("Harte et al. 2005", "MusicXML 4.0", "common practice")
    assert quality_name(row.quality) == row.name


@pytest.mark.parametrize("root", ["C", "Bb", "F#", "Gbb", "D##"])
def test_names_read_on_any_root(root: str) -> None:
    for row in QUALITIES:
        assert read_chord(f"{root}{row.name}").quality == row.quality, row.name


@settings(max_examples=300)
@given(mixtures)
def test_any_mixture_has_a_name_that_reads_back(quality: Quality) -> None:
    name = quality_name(quality)
    assert read_chord(f"C{name}").quality == quality, name


#: Mixtures and how they are written: the nearest name with alterations, additions, omissions (common practice).
@pytest.mark.parametrize(
    ("tones", "name"),
    [
        ("1 3 b7 9 13", "13(no5)"),
        ("1 5", "5"),
        ("1 3", "(no5)"),
        ("1", "5(no5)"),
        ("1 3 5 7 13", "maj7(add13)"),
        ("1 b3 5 b7 13", "m7(add13)"),
        ("1 b3 5 9 11", "m(add9,add11)"),
        ("1 b3 5 b7 b9", "m7(b9)"),
        ("1 b3 b5 bb7 9", "dim7(add9)"),
        ("1 4 5 9", "sus4(add9)"),
        ("1 4 5 b7 b13", "7sus4(b13)"),
        ("1 3 5 b7 9 11 13", "13(add11)"),
        ("1 3 5 b9", "(b9)"),
        ("1 b3 5 6 7", "m(maj7)(add13)"),
        ("1 3 5 b7 b9 #9", "7b9(#9)"),
        ("1 3 5 b5", "(b5,add5)"),
    ],
)
def test_how_mixtures_are_written(tones: str, name: str) -> None:
    quality = Quality.spelled(tones)
    assert quality_name(quality) == name
    assert read_chord(f"C{name}").quality == quality
