"""What the index keeps in short is written out again, by this code and in SQL alike."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.codes import coded
from corpus.index import write_index
from corpus.library import Library
from corpus.reading import OpenIndex
from corpus.tunes import played
from corpus.unpacking import (
    TOLD_HEADERS,
    KeySegment,
    event_bars,
    event_names,
    events_begun,
    first_headers,
    headers_in_short,
    in_pieces,
    names_in_short,
    played_bars,
    runs_in_short,
    sections_in_short,
    sections_of,
    segments_in_short,
    segments_of,
    strings_in_pieces,
)
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


@pytest.mark.parametrize(
    ("text", "pieces", "form"),
    [
        ("<abc>", "<abc>", None),
        ("", "", None),
        ("<a><b>!<c>", "<a><b>!<c>", None),
        ("<a><b><a>", "<a>|<b>", "1 2 1"),
        ("d<a><a>", "d|<a>", "1 2 2"),
    ],
)
def test_pieces(text: str, pieces: str, form: str | None) -> None:
    assert in_pieces(text) == (pieces, form)


def test_bars_have_a_form_of_their_own_where_it_is_not_that_of_the_chords() -> None:
    assert strings_in_pieces("<a><b><a>", "<(a)><(b)><(a)>") == ("1 2 1", "<a>|<b>", None, "<(a)>|<(b)>")
    assert strings_in_pieces("<a><b>", "<(a)><(b)>") == (None, "<a><b>", None, "<(a)><(b)>")
    assert strings_in_pieces("<a><a>", "<(a)><(b)>") == ("1 1", "<a>", "1", "<(a)><(b)>")
    assert strings_in_pieces("<a><b>", "<(a)><(a)>") == (None, "<a><b>", "1 1", "<(a)>")


def test_bars_in_short() -> None:
    assert (events_begun("102"), event_bars("102")) == ([1, 0, 2], [0, 2, 2])
    assert (events_begun(":9"), event_bars("")) == ([10, 9], [])
    assert runs_in_short([(1, 2), (1, 1), (9, 9)]) == "1-2 1-1 9-9"
    assert (played_bars("1-2 1-1 9-9"), played_bars("")) == ([1, 2, 1, 9], [])


@pytest.mark.parametrize(
    ("sections", "short"),
    [
        ([(None, 1, 4)], "1-4"),
        ([("Verse 2", 1, 4), (None, 5, 12)], "1-4 Verse 2\n5-12"),
        ([("", 1, 1), ("2-3", 2, 2)], "1-1 \n2-2 2-3"),
        ([], ""),
    ],
)
def test_sections_in_short(sections: list[tuple[str | None, int, int]], short: str) -> None:
    assert sections_in_short(sections) == short
    assert sections_of(short) == sections


@pytest.mark.parametrize(
    ("segments", "short"),
    [
        ([("C", 0, 4, 0, 2)], None),
        ([("D", 0, 4, 0, 2)], "0-4 0-2 D"),
        ([("C", 0, 4, 1, 2)], "0-4 1-2 C"),
        ([("C", 0, 4, 0, 1)], "0-4 0-1 C"),
        ([("C", 0, 3, 0, 2)], "0-3 0-2 C"),
        ([("C", 0, 2, 0, 1), ("D dorian", 2, 4, 1, 2)], "0-2 0-1 C\n2-4 1-2 D dorian"),
        ([], ""),
    ],
)
def test_keys_in_short(segments: list[tuple[str, int, int, int, int]], short: str | None) -> None:
    made = [KeySegment(*each) for each in segments]
    assert segments_in_short(made, "C", 5, 3) == short
    assert segments_of(short, "C", "221") == made


def test_headers_in_short() -> None:
    columns = [
        ("Tune", "96"),
        ("C", "C"),
        ("4/4", "4/4"),
        ("96", None),
        (None, None),
        (None, "2"),
        ("1961", None),
        ("slow, old", ""),
    ]
    headers = [
        [("title", "Tune"), ("key", "C major"), ("tempo", "96"), ("year", "c. 1961"), ("tags", "slow, old")],
        [("mood", "calm"), ("title", "96"), ("level", "3"), ("title", "96"), ("level", "2"), ("title", "Tune")],
    ]
    told, rest = headers_in_short(headers, list(map(first_headers, headers)), columns)
    names = [[name for bit, name in enumerate(TOLD_HEADERS) if bits >> bit & 1] for bits in told]
    assert names == [["title", "tempo", "tags"], ["title"]]
    assert rest == [
        [("key", "C major"), ("year", "c. 1961")],
        [("mood", "calm"), ("level", "3"), ("title", "96"), ("level", "2"), ("title", "Tune")],
    ]


def index_of(folder: Path, made: list[Chart]) -> OpenIndex:
    library = Library(folder)
    library.index_path.parent.mkdir(parents=True, exist_ok=True)
    write_index(library.index_path, [(str(number), chart) for number, chart in enumerate(made)])
    return OpenIndex(library)


@settings(max_examples=15, deadline=None)
@given(made=st.lists(charts().filter(sounds), min_size=1, max_size=8))
def test_places_and_strings_are_the_same_in_sql(tmp_path_factory: pytest.TempPathFactory, made: list[Chart]) -> None:
    with index_of(tmp_path_factory.mktemp("library"), made) as index:
        rows = index.rows(
            "SELECT begun, written, event_bars(begun), played_bars(written), events, played, key, segments, "
            "list_transform(key_segments(segments, key, events, played), lambda one: "
            "[one.key, one.first::VARCHAR, one.last::VARCHAR, one.from_bar::VARCHAR, one.to_bar::VARCHAR]) "
            "FROM charts ORDER BY id"
        )
        sections = index.rows("SELECT * FROM sections ORDER BY chart, position")
        strings = index.rows("SELECT tonic, tonic_bars FROM charts ORDER BY id")
    expected = [coded(played(chart).tune).tonic for chart in made]
    assert strings == [(each.chords, each.bars) for each in expected]
    assert len(rows) == len(made)
    for chart, (begun, written, bars, numbers, chords, in_all, key, segments, told) in zip(made, rows, strict=True):
        assert (bars, numbers) == (event_bars(begun), played_bars(written))
        assert (len(bars), len(numbers)) == (chords, in_all)
        runs = [tuple(map(int, run.split("-"))) for run in written.split(" ")]
        assert all(before[1] + 1 != run[0] for before, run in pairwise(runs))
        its = segments_of(segments, key, begun)
        tune = played(chart).tune
        assert its == [(str(each.key), each.first, each.last, each.from_bar, each.to_bar) for each in tune.segments]
        assert [list(map(str, each)) for each in its] == told
    for number, chart in enumerate(made):
        own = [row[2:] for row in sections if row[0] == number]
        bodies = [[bar.number for bar in section.bars()] for section in chart.sections if section.body]
        labels = [section.label for section in chart.sections if section.body]
        assert own == [(label, body[0], body[-1]) for label, body in zip(labels, bodies, strict=True)]


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


HEADS = [
    "title: One\nkey: Am\ntime: 3/4\ntempo: 96.5\nstyle: slow waltz\nlevel: 2\nyear: 1961\ntags: a, b\nmood: calm",
    "title: 0\nkey: C major\ntime: C\ntempo: 96 bpm\nlevel: about 2\nyear: 1961/62\ntags: a,b\nsource: a book",
    "tempo: 1234567\nlevel: 2.50\nyear: 0099\ncapo: 2",
]


def test_every_header_is_told_as_written(tmp_path: Path) -> None:
    made = [chart for head in HEADS if (chart := read_chart(f"{head}\n\n| C | F |").chart) is not None]
    doubled = replace(made[0], headers=(*made[0].headers, ("style", "another"), ("style", "slow waltz")))
    with index_of(tmp_path, [*made, doubled]) as index:
        rows = index.rows("SELECT chart, name, value FROM headers")
        told = index.rows("SELECT told FROM charts ORDER BY id")
    expected = [(number, *header) for number, chart in enumerate([*made, doubled]) for header in chart.headers]
    assert len(made) == len(HEADS)
    assert sorted(rows) == sorted(expected)
    assert told[0] == told[3] == (255,)
    assert told[1][0] & 255 < 255
