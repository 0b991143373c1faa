"""Whole tunes and matches in their context, as bars."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from corpus.tunes import PlayedChart, played
from grammar.charts import read_chart
from search.asking import answer, ask
from shared.match import Count, Hit, Reach
from ui.page_bars import Sheet, context_sheets, located, place_alone, written_sheets
from ui.showing import shown


def _chart(text: str) -> PlayedChart:
    chart = read_chart(text).chart
    assert chart is not None
    return played(chart)


def _sheets(text: str, **how: bool) -> list[Sheet]:
    one = _chart(text)
    return written_sheets(one, shown(one, "tune.txt"), "numbers", **how)


def _found(
    folder: Path, text: str, pattern: str, reach: Reach = Reach.KEY
) -> tuple[PlayedChart, tuple[Hit, ...], bool]:
    (folder / "tune.txt").write_text(text, encoding="utf-8")
    library = Library(folder)
    make_index(library)
    asked = ask(pattern, reach=reach)
    with OpenIndex(library) as index:
        return _chart(text), answer(index, asked).hits, asked.question.pattern.bars


def _context(tmp_path: Path, text: str, pattern: str, reach: Reach = Reach.KEY) -> list[Sheet]:
    one, hits, by_bars = _found(tmp_path, text, pattern, reach)
    sheets = []
    for hit in hits:
        places = [located(one.tune, place, by_bars) for place in hit.places]
        assert all(places)
        sheets += context_sheets(one, "tune.txt", [p for p in places if p], "numbers", hit.count, reach)
    return sheets


def _marked(sheet: Sheet) -> list[int]:
    return [box.bar for box in sheet.boxes if box.matched]


def test_repeats_endings_and_changes_are_signed() -> None:
    sheets = _sheets("key: C\n\n[A]\n|: C | (2/4) F | G |1. C :|2. Am |\n[B]\nkey: G\n|: D | % :|x3\n")
    first, second = (sheet.boxes for sheet in sheets)
    assert [box.opens for box in first] == [True, False, False, False, False]
    assert [box.closes for box in first] == [0, 0, 0, 2, 0]
    assert [box.signs for box in first] == [(), ("(2/4)",), (), ("1.",), ("2.",)]
    assert second[0].signs == ("key G",)
    assert second[1].closes == 3
    assert second[1].signs == ("%",)


def test_holds_are_lengths_and_silence_is_shown() -> None:
    (sheet,) = _sheets("key: C\ntime: 3/4\n\n| C . G/B | N.C. | % | Am | |\n")
    assert [[(chord.name, chord.beats) for chord in box.chords] for box in sheet.boxes[:2]] == [
        [("C", 2), ("G/B", 1)],
        [("N.C.", 3)],
    ]
    assert sheet.boxes[4].chords[0].held
    assert sheet.boxes[4].chords[0].name == "Am"


def test_notes_are_spelled_bass_first() -> None:
    (sheet,) = _sheets("key: Eb\n\n| Abm6/Cb |\n", notes=True)
    assert sheet.boxes[0].chords[0].notes == "Cb Ab Eb F"


def test_words_come_with_their_columns() -> None:
    (sheet,) = _sheets("key: G\n\nG      C\nDown by the river\n")
    assert sheet.boxes[0].words == "Down by the river"
    assert [chord.column for chord in sheet.boxes[0].chords] == [1, 8]
    assert not sheet.boxes[0].measured


def test_a_place_is_marked_in_its_context(tmp_path: Path) -> None:
    (sheet,) = _context(tmp_path, "key: C\n\n| C | C | C | Dm7 | G7 | C | F | F | F |\n", "2m7 57 1")
    assert [box.bar for box in sheet.boxes] == [2, 3, 4, 5, 6, 7, 8]
    assert _marked(sheet) == [4, 5, 6]
    assert sheet.label == "Bars 4–6"
    assert [box.bar for box in sheet.boxes if box.match_starts] == [4]
    assert [box.bar for box in sheet.boxes if box.match_ends] == [6]


def test_only_the_chords_taken_are_marked_in_a_bar(tmp_path: Path) -> None:
    (sheet,) = _context(tmp_path, "key: C\n\n| F Dm7 | G7 C . F |\n", "2m7 57 1")
    taken = [[chord.name for chord in box.chords if chord.taken] for box in sheet.boxes]
    assert taken == [["Dm7"], ["G7", "C"]]


def test_a_match_over_a_repeat_runs_on_as_played(tmp_path: Path) -> None:
    (sheet,) = _context(tmp_path, "key: C\n\n[Loop]\n|: C | Am | F | G :|\n[End]\n| Bdim | Bdim | C |\n", "4 5 1")
    assert sheet.label == "Loop, bars 3 round to 1"
    assert _marked(sheet) == [3, 4, 1]
    assert [box.signs for box in sheet.boxes if box.matched] == [(), (), ("repeat",)]


def test_a_match_across_sections_names_both(tmp_path: Path) -> None:
    text = "key: C\nform: A, C\n\n[A]\n| Am | Dm |\n[B]\n| Eb | Ab |\n[C]\n| G7 | C |\n"
    (sheet,) = _context(tmp_path, text, "2m 57 1")
    assert [(box.label, box.bar) for box in sheet.boxes] == [("A", 1), ("", 2), ("C", 5), ("", 6)]
    assert _marked(sheet) == [2, 5, 6]


def test_minor_places_are_counted_as_they_matched(tmp_path: Path) -> None:
    (sheet,) = _context(tmp_path, "key: Am\n\n| Am | F | C | G |\n", "6m 4 1 5")
    assert [chord.number for box in sheet.boxes for chord in box.chords] == ["6m", "4", "1", "5"]


def test_anywhere_counts_from_the_centre_of_the_place(tmp_path: Path) -> None:
    (sheet,) = _context(tmp_path, "key: C\n\n| C | Fm7 | Bb7 | Ebmaj7 | G |\n", "2m7 57 1maj7", Reach.ANYWHERE)
    numbers = [chord.number for box in sheet.boxes for chord in box.chords]
    assert numbers == ["6", "2m7", "57", "1maj7", "3"]


@pytest.mark.parametrize(
    ("text", "pattern", "marked"),
    [
        ("key: C\n\n| F | C | F | C | C | G |\n", "| 1 | 4 | 1 | 1 |", [2, 3, 4, 5]),
        ("key: C\n\n| C | C | C | F G | C |\n", "| 1 | 4 5 | 1 |", [3, 4, 5]),
    ],
)
def test_the_bar_form(tmp_path: Path, text: str, pattern: str, marked: list[int]) -> None:
    (sheet,) = _context(tmp_path, text, pattern)
    assert _marked(sheet) == marked


def test_close_places_are_joined_and_far_ones_apart(tmp_path: Path) -> None:
    text = "key: C\n\n| G7 | C | F | G7 | C | F | Dm | Dm | Em | Em | F | Dm | Em | G7 | C |\n"
    first, second = _context(tmp_path, text, "57 1")
    assert first.label == "Bars 1–2, 4–5"
    assert _marked(first) == [1, 2, 4, 5]
    assert _marked(second) == [14, 15]


def test_a_chart_that_changed_is_shown_from_the_index(tmp_path: Path) -> None:
    _, hits, by_bars = _found(tmp_path, "key: C\n\n| Dm7 | G7 | C |\n", "2m7 57 1")
    changed = _chart("key: C\n\n| F | F | F |\n")
    place = hits[0].places[0]
    assert located(changed.tune, place, by_bars) is None
    sheet = place_alone(place, hits[0].key, "roman")
    assert [(chord.name, chord.number) for chord in sheet.boxes[0].chords] == [
        ("Dm7", "ii7"),
        ("G7", "V7"),
        ("C", "I"),
    ]
    assert located(changed.tune, replace(place, chords=("F",), from_bar=1, to_bar=1), by_bars) is not None


def test_every_place_of_the_demo_library_is_found_again() -> None:
    from corpus.library import demo_library

    library = demo_library()
    readings = {path: library.read(path).chart for path in library.chart_paths()}
    from corpus.reading import open_index

    with open_index(library) as index:
        for text in ("2 5 1", "| 1 | 4 |", "/1 /7 /6", "1m b7"):
            asked = ask(text, limit=0)
            hits = answer(index, asked).hits
            assert hits
            for hit in hits:
                chart = readings[hit.path]
                assert chart is not None
                tune = played(chart).tune
                for place in hit.places:
                    assert located(tune, place, asked.question.pattern.bars), (hit.path, place)


def test_relative_count_reaches_every_bar(tmp_path: Path) -> None:
    one = _chart("key: Am\n\n| Am | E7 |\n")
    (sheet,) = written_sheets(one, shown(one, "x.txt", None, Count.RELATIVE), "roman")
    assert [chord.number for box in sheet.boxes for chord in box.chords] == ["vi", "III7"]
