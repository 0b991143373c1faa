"""Progressions by rule, on small charts: what holds them, and what only comes near."""

from __future__ import annotations

from pathlib import Path

import pytest

from corpus.catalogue import RULES
from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from search.filters import Filters
from search.named_rules import falls, rises, rule_answer, rule_totals

Bars = tuple[int, int]

#: Music (keys and bars), and where the rule holds in it.
PEDALS: list[tuple[str, str, list[Bars]]] = [
    ("pedal on 1", "key: C\n\n| C | F/C | G/C | C |", [(1, 4)]),
    ("pedal on 1", "key: C\n\n| F/C | G/C | Am | F |", []),
    ("pedal on 1", "key: C\n\n| F/C | G/C | C | Am |", [(1, 3)]),
    ("pedal on 1", "key: C\n\n| F/C | Fm/C | G/C | G7/C | Am |", []),
    ("pedal on 1", "key: C\n\n| F/C | G/C | Fm/C | Am |", [(1, 3)]),
    ("pedal on 1", "key: C\n\n| C7 | C | F/C | F6/C | Dm/C | Am |", [(1, 5)]),
    ("pedal on 1", "key: C\n\n[A]\n| C | F/C |\n[B]\n| C/G | C | G/C |", []),
    ("pedal on 1", "key: C\n\n[A]\n| C | F/C |\n[B]\n| G/C | G |", [(1, 3)]),
    ("pedal on 1", "key: C\n\n| C | F/C | C | F/C | G |", [(1, 4)]),
    ("pedal on 1", "key: C\n\n| C | F/C | C | G |", []),
    ("pedal on 1", "key: C\n\n| C | C7 | Cmaj7 | C |", []),
    ("pedal on 1", "key: C\n\n| C | F/C | F6/C | G |", []),
    ("pedal on 1", "key: Am\n\n| Am | Dm/A | E/A | Am |", [(1, 4)]),
    ("pedal on 1", "key: C\n\n| F/C | F |\nkey: F\n\n| Bb/F | C/F | F |", [(3, 5)]),
    ("pedal on 5", "key: C\n\n| G | C/G | F/G | G7 | C |", [(1, 4)]),
    ("pedal on 5", "key: C\n\n| C/G | G7 | C | F |", []),
    ("pedal on 5", "key: C\n\n| C/G | G7 | C/G | G7 | C |", [(1, 4)]),
]
CIRCLES: list[tuple[str, list[Bars]]] = [
    ("key: C\n\n| Em | Am | Dm | G | C | E |", [(1, 5)]),
    ("key: C\n\n| Am | Dm | G | F |", []),
    ("key: C\n\n| E7 | A7 | D7 | G7 |", [(1, 4)]),
    ("key: C\n\n| C | F | Bdim | Em | Am | G |", [(1, 5)]),
    ("key: Am\n\n| Am | Dm | G | C | F | Bm7b5 | E7 | Am |", [(1, 8)]),
    ("key: C\n\n| Dm7 | Dm/C | G | G7 | C | Cmaj7 | F |", [(1, 7)]),
    ("key: C\n\n| Eb | Ab | Db | Gb |", [(1, 4)]),
    ("key: C\n\n| C | G | D | A |", []),
    ("key: C\n\n| A7 | D7 |\nkey: F\n\n| G7 | C7 |", []),
]
KEYS: list[tuple[list[str], list[int]]] = [
    (["C", "Db"], [0]),
    (["C", "D"], [0]),
    (["B", "C"], [0]),
    (["Am", "Bbm", "Bm"], [0, 1]),
    (["Am", "B dorian"], [0]),
    (["C", "Eb"], []),
    (["C", "Dm"], []),
    (["D", "C"], []),
    (["C", "Db", "C"], []),
    (["C#", "D", "Db"], []),
    (["C", "F", "C", "D"], [2]),
    (["C"], []),
]


def answered(folder: Path, rule: str, music: str, filters: Filters | None = None) -> list[Bars]:
    (folder / "a.txt").write_text(f"title: A\n{music}\n", encoding="utf-8")
    library = Library(folder)
    make_index(library)
    with OpenIndex(library) as index:
        answer = rule_answer(index, rule, "said", filters or Filters())
        found = rule_totals(index, rule, filters or Filters())
    assert (found.charts, found.matches) == (answer.charts, answer.matches)
    assert sum(times for _, times in found.keys) == answer.charts
    assert answer.matches == sum(place.times for hit in answer.hits for place in hit.places)
    return [(place.from_bar, place.to_bar) for hit in answer.hits for place in hit.places]


@pytest.mark.parametrize(("rule", "music", "bars"), PEDALS)
def test_pedals(tmp_path: Path, rule: str, music: str, bars: list[Bars]) -> None:
    assert answered(tmp_path, rule, music) == bars


@pytest.mark.parametrize(("music", "bars"), CIRCLES)
def test_parts_of_the_circle(tmp_path: Path, music: str, bars: list[Bars]) -> None:
    assert answered(tmp_path, "part of the circle of fifths", music) == bars


@pytest.mark.parametrize(("keys", "at"), KEYS)
def test_rising_keys(keys: list[str], at: list[int]) -> None:
    assert rises(keys) == at


def test_a_key_rise_is_told_where_the_new_key_begins(tmp_path: Path) -> None:
    music = "key: C\n\n[Verse]\n| C | F |\n[Chorus]\nkey: Db\n| Db | Gb |"
    assert answered(tmp_path, "key rise", music) == [(3, 3)]
    assert answered(tmp_path, "key rise", music, Filters(section="chorus")) == [(3, 3)]
    assert answered(tmp_path, "key rise", music, Filters(section="verse")) == []


def test_filters_hold_for_rules(tmp_path: Path) -> None:
    for rule in RULES:
        assert answered(tmp_path, rule, "key: C\n\n| Em | Am | Dm | G | C |", Filters(key="D")) == []


def test_a_fall_is_a_fifth_of_the_scale() -> None:
    assert [falls(root) for root in (0, 5, 8, 11)] == [(5,), (10, 11), (1, 2), (4,)]
