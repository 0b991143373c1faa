"""Adding tunes of other notations: names, what is skipped, what is written over, and what is told of the rest."""

from __future__ import annotations

from pathlib import Path

import pytest

from corpus.adding import Source, add, chosen_notation, files_of
from corpus.library import Library, demo_library
from corpus.notations import CHART, NOTATIONS, sniffed
from corpus.saving import SavingError
from grammar.charts import read_chart
from shared.errors import ChoiceError

PHRASE = (
    "# title: Quarry Lane\n# artist: nobody\n# metre: 4/4\n# tonic: G\n\n"
    "1.5\tA, verse, | G:maj | C:maj | D:7 | G:maj |\n"
)
ANALYSIS = "[Eb] I | IV | V7 | I |\n"


def source(name: str, text: str) -> Source:
    return Source(name, lambda: text.encode())


@pytest.fixture
def library(tmp_path: Path) -> Library:
    folder = tmp_path / "library"
    folder.mkdir()
    return Library(folder)


def test_a_lone_tune_keeps_its_stem_and_names_its_source(library: Library) -> None:
    done = add(library, [source("sheets/lane.txt", PHRASE)])
    assert (done.added, done.charts, done.faults) == (1, ["lane.txt"], [])
    chart = library.read("lane.txt").chart
    assert chart is not None
    assert chart.header("source") == "lane.txt"
    assert chart.title == "Quarry Lane"
    assert [cell.written for _, bar in chart.bars() for cell in bar.cells] == ["G", "C", "D7", "G"]


def test_the_same_again_is_skipped(library: Library) -> None:
    add(library, [source("lane.txt", PHRASE)])
    before = (library.root / "lane.txt").stat().st_mtime_ns
    done = add(library, [source("elsewhere/lane.txt", PHRASE)])
    assert (done.added, done.skipped, done.replaced) == (0, 1, 0)
    assert (library.root / "lane.txt").stat().st_mtime_ns == before


def test_a_changed_tune_is_written_over_only_where_asked(library: Library) -> None:
    add(library, [source("lane.txt", PHRASE)])
    kept = (library.root / "lane.txt").read_text()
    changed = source("lane.txt", PHRASE.replace("D:7", "D:9"))
    refused = add(library, [changed])
    assert (refused.added, refused.replaced) == (0, 0)
    assert "--replace" in refused.faults[0].fault.expected
    assert (library.root / "lane.txt").read_text() == kept
    done = add(library, [changed], replace=True)
    assert done.replaced == 1
    assert "D9" in (library.root / "lane.txt").read_text()


def test_a_chart_of_the_user_is_never_written_over_unasked(library: Library) -> None:
    mine = "title: Mine\nkey: C\n\n| C | F |\n"
    (library.root / "lane.txt").write_text(mine)
    done = add(library, [source("lane.txt", PHRASE)])
    assert done.added == 0
    assert len(done.faults) == 1
    assert (library.root / "lane.txt").read_text() == mine


def test_what_cannot_be_read_is_told_and_the_rest_goes_on(library: Library, tmp_path: Path) -> None:
    sources = [
        Source("gone.abc", (tmp_path / "gone.abc").read_bytes),
        source("letter.md", "Dear all, rehearsal is on Monday.\n"),
        source("mine.txt", "title: Mine\n\n| C | F |\n"),
        source("analysis.txt", ANALYSIS),
    ]
    done = add(library, sources)
    assert done.charts == ["analysis.txt"]
    assert [placed.path for placed in done.faults] == ["gone.abc", "letter.md", "mine.txt"]
    assert "chart file already" in done.faults[2].fault.message


def test_every_file_that_is_added_reads_without_fault(library: Library) -> None:
    add(library, [source("lane.txt", PHRASE), source("analysis.txt", ANALYSIS)])
    for path in library.chart_paths():
        reading = read_chart((library.root / path).read_text())
        assert reading.chart is not None
        assert not reading.faults


def test_nothing_is_added_to_the_demo_library() -> None:
    before = demo_library().chart_paths()
    with pytest.raises(SavingError, match="demo library"):
        add(demo_library(), [source("lane.txt", PHRASE)])
    assert demo_library().chart_paths() == before


def test_a_folder_stands_for_its_files_and_hidden_ones_are_left_out(tmp_path: Path) -> None:
    (tmp_path / "inner").mkdir()
    for name in ("b.abc", "inner/a.abc", ".hidden.abc"):
        (tmp_path / name).write_text("X:1\n")
    names = [Path(each.name).relative_to(tmp_path).as_posix() for each in files_of([str(tmp_path)])]
    assert names == ["b.abc", "inner/a.abc"]


@pytest.mark.parametrize(
    ("name", "content", "notation"),
    [
        ("a.txt", b"X: 1\nT: A\nK: C\n", "abc"),
        ("a.abc", b"% a tune book\n", "abc"),
        ("a.xml", b'<?xml version="1.0"?>\n<score-partwise version="4.0">', "musicxml"),
        ("a.bin", b"PK\x03\x04....", "musicxml"),
        ("a.txt", b'{"annotations": []}', "jams"),
        ("a.txt", PHRASE.encode(), "harte"),
        ("a.txt", ANALYSIS.encode(), "roman"),
        ("a.txt", b"title: Mine\n\n| C | F |\n", "chart"),
        ("a.txt", b"[Verse]\nC  F\nwords\n", "chart"),
        ("a.txt", b"Dear all,\n", None),
    ],
)
def test_the_notation_is_told_from_the_content(name: str, content: bytes, notation: str | None) -> None:
    found = sniffed(name, content)
    assert (found.name if found else None) == notation


def test_a_notation_is_chosen_by_name_and_a_slip_gets_the_nearest() -> None:
    assert chosen_notation(None) is None
    assert all(chosen_notation(each.name.upper()) is each for each in NOTATIONS)
    assert CHART not in NOTATIONS
    with pytest.raises(ChoiceError, match="musicxml"):
        chosen_notation("musicxlm")
