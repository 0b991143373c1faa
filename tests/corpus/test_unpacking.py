"""What the index keeps in short is written out again, by this code and in SQL alike."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.index import write_index
from corpus.library import Library
from corpus.reading import OpenIndex
from corpus.unpacking import event_bars, event_names, names_in_short, played_bars
from grammar.charts import read_chart
from shared.chart import Chart
from tests.helpers.small_charts import sounds
from tests.strategies.charts import charts

CASES = [
    # names, codes, in short
    ("C F C G", "<c>fc!g", "C F G"),
    ("F# B Gb B", "abab", "F# B Gb B"),
    ("C", "<c>", "C"),
]


@pytest.mark.parametrize(("names", "codes", "short"), CASES)
def test_names_in_short(names: str, codes: str, short: str) -> None:
    assert names_in_short(names, codes) == short
    assert event_names(short, codes) == names.split(" ")


@given(st.lists(st.sampled_from(["C", "F#", "Gb", "G7"]), min_size=1, max_size=12))
def test_names_come_back_whatever_they_are(names: list[str]) -> None:
    codes = "".join({"C": "c", "F#": "f", "Gb": "f", "G7": "g"}[name] for name in names)
    assert event_names(names_in_short(" ".join(names), codes), codes) == names


def index_of(folder: Path, made: list[Chart]) -> OpenIndex:
    library = Library(folder)
    library.index_path.parent.mkdir(parents=True, exist_ok=True)
    write_index(library.index_path, [(str(number), chart) for number, chart in enumerate(made)])
    return OpenIndex(library)


@settings(max_examples=15, deadline=None)
@given(made=st.lists(charts().filter(sounds), min_size=1, max_size=8))
def test_places_are_the_same_in_sql(tmp_path_factory: pytest.TempPathFactory, made: list[Chart]) -> None:
    with index_of(tmp_path_factory.mktemp("library"), made) as index:
        rows = index.rows("SELECT begun, written, event_bars(begun), played_bars(written), events, played FROM charts")
    assert len(rows) == len(made)
    for begun, written, bars, numbers, events, played in rows:
        assert (bars, numbers) == (event_bars(begun), played_bars(written))
        assert (len(bars), len(numbers)) == (events, played)
        assert all(before["last_bar"] + 1 != run["first_bar"] for before, run in pairwise(written))


def test_events_have_their_names_where_one_sound_is_written_in_two_ways(tmp_path: Path) -> None:
    texts = ["key: Am\n\n[A]\n| Am | F | Am . C . |\n[B]\n| Am |", "key: B\n\n| F# | B | Gb | B |"]
    made = [chart for text in texts if (chart := read_chart(text).chart) is not None]
    with index_of(tmp_path, made) as index:
        rows = index.rows("SELECT chart, position, section, bar, chord, degree FROM events ORDER BY ALL")
        assert index.rows("SELECT minor, relative IS NULL, names FROM charts ORDER BY id") == [
            (True, True, "Am F C"),
            (False, True, "F# B Gb B"),
        ]
        assert index.rows("SELECT * FROM sections ORDER BY ALL") == [
            (0, 1, "A", 1, 3),
            (0, 2, "B", 4, 4),
            (1, 1, None, 1, 4),
        ]
    assert rows == [
        (0, 1, "A", 1, "Am", 0),
        (0, 2, "A", 2, "F", 8),
        (0, 3, "A", 3, "Am", 0),
        (0, 4, "A", 3, "C", 3),
        (0, 5, "B", 4, "Am", 0),
        (1, 1, None, 1, "F#", 7),
        (1, 2, None, 2, "B", 0),
        (1, 3, None, 3, "Gb", 7),
        (1, 4, None, 4, "B", 0),
    ]
