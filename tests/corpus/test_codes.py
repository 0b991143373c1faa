"""Tunes as strings of code points, and the tables and view that explain them."""

from __future__ import annotations

from itertools import pairwise, product
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.chart_files import read_text
from corpus.codes import (
    DOMINANT_WITHOUT_THIRD,
    FIRST_GROUP,
    LAST_GROUP,
    chord_code,
    coded,
    group_code_ranges,
    group_of,
    quality_code_range,
    slot_rows,
)
from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from corpus.tunes import played
from grammar.symbols import read_chord
from shared.chord import Chord
from shared.pitch import Pitch
from shared.quality import Family, Quality, Third
from shared.quality_names import QUALITIES
from tests.helpers.chord_strategies import chords

SLOTS = list(slot_rows())


def explained(code: int) -> tuple[int, int, str, int, str | None]:
    """Degree, bass, family, sound and name of a code point, by the table alone and the arithmetic of the README."""
    for first, size, slot, family, tones, name in SLOTS:
        if (code >= 65_536) == (first >= 65_536) and (code - first) % size == slot:
            return (code - first) // size // 12, (code - first) // size % 12, family, tones, name
    raise AssertionError(f"code {code} stands for nothing")


@pytest.mark.parametrize("row", QUALITIES, ids=lambda row: row.name or "major triad")
def test_every_named_quality_comes_back(row: object) -> None:
    quality, name, family = row.quality, row.name, row.family  # type: ignore[attr-defined]
    for root, bass in ((Pitch("C"), None), (Pitch("B"), Pitch("F", 1)), (Pitch("E", -1), Pitch("D", -1))):
        degree, under, found, tones, told = explained(ord(chord_code(Chord(root, quality, bass), 2)))
        assert degree == (root.pitch_class - 2) % 12
        assert under == ((bass or root).pitch_class - 2) % 12
        assert (found, tones) == (family.value, quality.mask)
        twins = {each.name for each in QUALITIES if (each.quality.mask, each.family) == (quality.mask, family)}
        assert name in twins
        assert told in twins


@given(chords, st.integers(0, 11))
def test_any_mixture_comes_back(chord: Chord, tonic: int) -> None:
    degree, bass, family, tones, _ = explained(ord(chord_code(chord, tonic)))
    assert degree == (chord.root.pitch_class - tonic) % 12
    assert bass == ((chord.bass or chord.root).pitch_class - tonic) % 12
    assert tones == chord.quality.mask
    assert family == chord.quality.family.value


@given(chords, chords)
def test_codes_are_equal_where_chords_sound_alike(one: Chord, other: Chord) -> None:
    def heard(chord: Chord) -> tuple[object, ...]:
        return *chord.sound, chord.quality.third is Third.NONE

    assert (chord_code(one, 0) == chord_code(other, 0)) == (heard(one) == heard(other))


@given(chords, st.integers(0, 11))
def test_counted_from_a_tonic(chord: Chord, turn: int) -> None:
    """Moving chord and tonic together changes nothing."""
    interval = Pitch.at(turn - 5).degree_in(Pitch("C"))
    assert chord_code(chord, 0) == chord_code(chord.moved(interval), interval.semitones)


def group(quality: Quality) -> int:
    if quality.family is Family.DOMINANT and quality.third is Third.NONE:
        return DOMINANT_WITHOUT_THIRD
    return group_of(quality.family)


def within(code: int, ranges: list[tuple[int, int]]) -> bool:
    return any(first <= code <= last for first, last in ranges)


@given(chords, st.integers(FIRST_GROUP, LAST_GROUP), st.integers(FIRST_GROUP, LAST_GROUP))
def test_a_range_holds_just_its_groups(chord: Chord, first: int, last: int) -> None:
    code = ord(chord_code(chord, 0))
    root, bass = chord.root.pitch_class, (chord.bass or chord.root).pitch_class
    meant = first <= group(chord.quality) <= last
    assert within(code, list(group_code_ranges(root, bass, first, last))) == meant
    assert within(code, list(group_code_ranges(root, None, first, last))) == meant
    assert not within(code, list(group_code_ranges((root + 1) % 12, None, first, last)))
    assert not within(code, list(group_code_ranges(root, (bass + 1) % 12, first, last)))
    assert within(code, list(quality_code_range(root, bass, chord.quality)))


def test_a_degree_is_two_ranges_and_a_family_over_a_bass_two() -> None:
    for root, bass in product(range(12), range(12)):
        assert len(list(group_code_ranges(root, None, FIRST_GROUP, LAST_GROUP))) == 2
        assert len(list(group_code_ranges(root, bass, FIRST_GROUP, LAST_GROUP))) == 2
        for family in Family:
            assert 1 <= len(list(group_code_ranges(root, bass, group_of(family), group_of(family)))) <= 2


def test_families_are_runs_of_slots() -> None:
    order = [family.value for family in Family]
    for base in {first for first, *_ in SLOTS}:
        rows = sorted((slot, order.index(family)) for first, _, slot, family, _, _ in SLOTS if first == base)
        assert [slot for slot, _ in rows] == list(range(len(rows)))
        assert all(one <= other for (_, one), (_, other) in pairwise(rows))


def test_no_code_is_a_mark_or_a_surrogate() -> None:
    for first, size, slot, *_ in SLOTS:
        for place in (0, 143):
            code = first + place * size + slot
            assert 0x800 <= code <= 0x10FFFF
            assert not 0xD800 <= code <= 0xDFFF


# Strings


def read(codes: str, tonic: str) -> str:
    """A string of codes as degrees in semitones, marks as they stand."""
    return "".join(sign if sign in "<>!()-" else f" {explained(ord(sign))[0]} " for sign in codes).replace("  ", " ")


def strings(text: str) -> dict[str, str | None]:
    chart = read_text(text).chart
    assert chart is not None
    made = coded(played(chart).tune)
    found = {}
    for name in ("tonic", "relative", "major", "fixed"):
        each = getattr(made, name)
        found[name] = None if each is None else f"{read(each.chords, '')} {read(each.bars, '')}"
    return found


def test_a_major_tune() -> None:
    assert strings("key: G\n\n[A]\n| G C | N.C. |\n[B]\n| D |") == {
        "tonic": "< 0  5 >< 7 > <( 0  5 )(-)><( 7 )>".replace("  ", " "),
        "relative": None,
        "major": None,
        "fixed": None,
    }


def test_a_minor_tune() -> None:
    found = strings("key: Am\n\n| Am | F | C |")
    assert found["tonic"] == "< 0 8 3 > <( 0 )( 8 )( 3 )>"
    assert found["relative"] == "< 9 5 0 > <( 9 )( 5 )( 0 )>"
    assert found["major"] == " "
    assert found["fixed"] is None


def test_a_tune_that_changes_key() -> None:
    found = strings("key: C\n\n| C | G |\nkey: Am\n| Am | E |")
    assert found["tonic"] == "< 0 7 ! 0 7 > <( 0 )( 7 )!( 0 )( 7 )>"
    assert found["relative"] == "! 9 4 > !( 9 )( 4 )>"
    assert found["major"] == "< 0 7 ! <( 0 )( 7 )!"
    assert found["fixed"] == "< 0 7 9 4 > <( 0 )( 7 )( 9 )( 4 )>"


# The view


def test_the_view_of_events(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text(
        "key: G\n\n[A]\n|: G | D/F# | Em7 |1. D7 :|2. G |\n"
        "[B]\n| C . Cm | G/D D7b9 | N.C. |\n[Out]\nkey: A\n| E9sus4 A |\n"
    )
    (tmp_path / "b.txt").write_text("key: Cm\n\n| Cm | Abmaj7(add13) |\n")
    make_index(Library(tmp_path))
    sql = """
        SELECT position, section, bar, chord, degree, bass, family, quality
        FROM events JOIN charts ON charts.id = events.chart WHERE path = ? ORDER BY position
    """
    with OpenIndex(Library(tmp_path)) as opened:
        assert opened.rows(sql, ["a.txt"]) == [
            (1, "A", 1, "G", 0, 0, "maj", ""),
            (2, "A", 2, "D/F#", 7, 11, "maj", ""),
            (3, "A", 3, "Em7", 9, 9, "m", "m7"),
            (4, "A", 4, "D7", 7, 7, "7", "7"),
            (5, "A", 1, "G", 0, 0, "maj", ""),
            (6, "A", 2, "D/F#", 7, 11, "maj", ""),
            (7, "A", 3, "Em7", 9, 9, "m", "m7"),
            (8, "A", 5, "G", 0, 0, "maj", ""),
            (9, "B", 6, "C", 5, 5, "maj", ""),
            (10, "B", 6, "Cm", 5, 5, "m", "m"),
            (11, "B", 7, "G/D", 0, 7, "maj", ""),
            (12, "B", 7, "D7b9", 7, 7, "7", "7b9"),
            (13, "Out", 9, "E9sus4", 9, 9, "7", "9sus4"),
            (14, "Out", 9, "A", 2, 2, "maj", ""),
        ]
        assert opened.rows(sql, ["b.txt"]) == [
            (1, None, 1, "Cm", 0, 0, "m", "m"),
            (2, None, 2, "Abmaj7(add13)", 8, 8, "maj", None),
        ]
        assert (
            read_chord("Abmaj7(add13)").quality.mask
            == opened.rows("SELECT tones FROM events WHERE quality IS NULL")[0][0]
        )
