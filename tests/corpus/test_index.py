"""The index: made from what changed, and from charts without files."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

import corpus.gathering
import corpus.index
from corpus.index import make_index, write_index
from corpus.library import Library
from corpus.reading import OpenIndex
from tests.helpers.changing_library import CHART, counts, three_tunes, titles, write

FAULTY = "key: C\n\n| C | H7 |\n"


@pytest.fixture
def library(tmp_path: Path) -> Library:
    return three_tunes(tmp_path / "charts")


# What changed


def test_only_what_changed_is_read_again(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    assert counts(make_index(library)) == (3, 3, 0, 0)
    read: list[bytes] = []
    real = corpus.gathering.read_bytes
    monkeypatch.setattr(corpus.gathering, "read_bytes", lambda content: read.append(content) or real(content))
    assert counts(make_index(library)) == (3, 0, 3, 0)
    assert read == []
    os.utime(library.root / "a.txt")
    assert counts(make_index(library)) == (3, 0, 3, 0)
    write(library, "b.txt", f"title: New\n{CHART}")
    write(library, "d.txt")
    assert counts(make_index(library)) == (4, 2, 2, 0)
    assert len(read) == 2
    assert titles(library) == ["Tune a", "New", "d", "Tune deep/c"]


def test_what_is_gone_is_taken_out(library: Library) -> None:
    make_index(library)
    (library.root / "a.txt").unlink()
    assert counts(make_index(library)) == (2, 0, 2, 1)
    (library.root / "b.txt").rename(library.root / "z.txt")
    assert counts(make_index(library)) == (2, 1, 1, 1)
    assert titles(library) == ["Tune deep/c", "Tune b"]
    with OpenIndex(library) as opened:
        for table in ("headers", "sections"):
            assert opened.rows(f"SELECT count(*) FROM {table} WHERE chart NOT IN (SELECT id FROM charts)") == [(0,)]


def test_an_index_brought_up_to_date_equals_one_made_afresh(library: Library, tmp_path: Path) -> None:
    make_index(library)
    write(library, "a.txt", "key: Am\nmood: calm\n\n[A]\n| Am | E7 |\n[B]\n| Dm | N.C. |\n")
    write(library, "b.txt", FAULTY)
    write(library, "e.txt", "| C | F | G | C")
    (library.root / "deep/c.txt").unlink()
    make_index(library)
    dumped = [dump(library)]
    (library.index_path).unlink()
    make_index(library)
    dumped.append(dump(library))
    assert dumped[0] == dumped[1]


def dump(library: Library) -> dict[str, list[tuple[object, ...]]]:
    """Everything in an index but the numbers that charts happen to have, and when it was made."""
    named = "SELECT path, {0}.* EXCLUDE (chart) FROM {0} JOIN charts ON charts.id = {0}.chart ORDER BY ALL"
    with OpenIndex(library) as opened:
        return {
            "charts": opened.rows("SELECT * EXCLUDE (id) FROM charts ORDER BY path"),
            "files": opened.rows("SELECT path, hash, chart IS NULL FROM files ORDER BY path"),
            "faults": opened.rows("SELECT * FROM faults ORDER BY ALL"),
            "slots": opened.rows("SELECT * FROM slots ORDER BY ALL"),
            **{table: opened.rows(named.format(table)) for table in ("headers", "sections", "events")},
        }


def test_faults_are_kept_beside_the_charts_until_mended(library: Library) -> None:
    write(library, "b.txt", FAULTY)
    first = make_index(library)
    assert counts(first) == (2, 3, 0, 0)
    (placed,) = first.faults
    assert (placed.path, placed.fault.line, placed.fault.column, placed.fault.nearest) == ("b.txt", 3, 7, "B7")
    assert placed.fault.drawn() == "| C | H7 |\n      ^^"
    again = make_index(library)
    assert counts(again) == (2, 0, 3, 0)
    assert again.faults == first.faults
    write(library, "d.txt")
    assert make_index(library).faults == first.faults
    with OpenIndex(library) as opened:
        assert opened.faulty_charts() == ["b.txt"]
    write(library, "b.txt")
    mended = make_index(library)
    assert counts(mended) == (4, 1, 3, 0)
    assert mended.faults == ()


def test_remarks_are_kept_too(library: Library) -> None:
    write(library, "b.txt", "key: C\n\n| C | F | G")
    first = make_index(library)
    assert [(placed.path, placed.fault.line) for placed in first.remarks] == [("b.txt", 3)]
    assert first.charts == 3
    assert make_index(library).remarks == first.remarks


@pytest.mark.skipif(os.geteuid() == 0, reason="to root every file is readable")
def test_a_file_without_permission(library: Library) -> None:
    (library.root / "a.txt").chmod(0)
    assert [placed.path for placed in make_index(library).faults] == ["a.txt"]


def test_a_file_that_cannot_be_opened_is_a_fault_of_its_own(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Library.read_bytes

    def refusing(self: Library, path: str) -> bytes:
        if path == "a.txt":
            raise PermissionError(13, "Permission denied")
        return real(self, path)

    with monkeypatch.context() as patch:
        patch.setattr(Library, "read_bytes", refusing)
        patch.setattr("corpus.library._small_file", lambda whole: None)
        first = make_index(library)
        assert counts(first) == (2, 3, 0, 0)
        (placed,) = first.faults
        assert (placed.path, placed.fault.message) == ("a.txt", "the file cannot be read: Permission denied")
        assert counts(make_index(library)) == (2, 0, 3, 0)
    assert counts(make_index(library)) == (3, 1, 2, 0)


def test_bad_files_of_every_kind_stop_nothing(library: Library, tmp_path: Path) -> None:
    files = {
        "binary.txt": b"\x89PNG\r\n\x1a\n\x00\x00",
        "latin.txt": "| C | caf\u00e9 |".encode("latin-1"),
        "empty.txt": b"",
        "large.txt": b"| C | F |\n" * 100_001,
        "silent.txt": b"key: C\n\n| N.C. |",
        "endless.txt": b"key: C\n\n|: " + b"C | F | " * 400 + b"G :|x99\n",
        "endless-unplayed.txt": b"form: B\n\n[A]\n" + (b"|" + b"C|" * 2000 + b"\n") * 34 + b"[B]\n| C |\n",
        "wrong.txt": b"key: H\n\n| C | F |",
        "odd-year.txt": b"key: C\nyear: 99999999999\nlevel: 1e999\ntempo: " + b"9" * 400 + b"\n\n| C | F |",
    }
    for name, content in files.items():
        (library.root / name).write_bytes(content)
    (tmp_path / "outside.txt").write_text(CHART)
    (library.root / "link.txt").symlink_to(tmp_path / "outside.txt")
    (library.root / "away").symlink_to(tmp_path)
    os.mkfifo(library.root / "pipe.txt")
    report = make_index(library)
    faulty = [
        "away",
        "binary.txt",
        "empty.txt",
        "endless-unplayed.txt",
        "endless.txt",
        "large.txt",
        "latin.txt",
        "link.txt",
        "pipe.txt",
    ]
    assert sorted({placed.path for placed in report.faults}) == [*faulty, "silent.txt", "wrong.txt"]
    assert report.charts == 4
    assert counts(make_index(library)) == (4, 0, 15, 0)


def test_an_empty_library_has_an_empty_index(tmp_path: Path) -> None:
    library = Library(tmp_path)
    assert counts(make_index(library)) == (0, 0, 0, 0)
    assert titles(library) == []
    write(library, "a.txt")
    assert counts(make_index(library)) == (1, 1, 0, 0)


def test_progress_is_told_file_by_file(library: Library) -> None:
    told: list[tuple[int, int]] = []
    make_index(library, lambda done, of: told.append((done, of)))
    assert told == [(1, 3), (2, 3), (3, 3)]


# Without files


@pytest.mark.parametrize("at_once", [1, 2, 122_880])
def test_charts_in_memory_give_the_index_of_their_files(
    library: Library, monkeypatch: pytest.MonkeyPatch, at_once: int
) -> None:
    tables = [f"SELECT * FROM {table} ORDER BY ALL" for table in ("headers", "sections")]
    tables.append("SELECT * EXCLUDE (hash) FROM charts ORDER BY id")
    write(library, "minor.txt", "key: Am\ntags: slow, old\n\n[A]\n|: Am | F :|\n[B]\n| E7 | Am |\n")
    make_index(library)
    with OpenIndex(library) as opened:
        expected = [opened.rows(sql) for sql in tables]
    monkeypatch.setattr(corpus.index, "_AT_ONCE", at_once)
    monkeypatch.setattr(corpus.gathering, "BATCH", 1)
    write_index(library.index_path, [(path, library.read(path).chart) for path in library.chart_paths()])
    with OpenIndex(library) as opened:
        made = [opened.rows(sql) for sql in tables]
        assert opened.rows("SELECT path, hash FROM files ORDER BY path")[0] == ("a.txt", "")
    assert made == expected


def test_charts_in_memory_give_one_index_with_help_and_without(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    charts = [(path, library.read(path).chart) for path in library.chart_paths()]
    several = [(f"{number}.txt", chart) for number in range(20) for _, chart in charts if chart is not None]
    monkeypatch.setattr(corpus.gathering, "BATCH", 3)
    monkeypatch.setattr(corpus.gathering, "WORTH_A_HELPER", 1)
    library.index_path.parent.mkdir()
    made = []
    for processors in (1, 2):
        monkeypatch.setattr(corpus.gathering, "processors", lambda number=processors: number)
        write_index(library.index_path, several)
        with OpenIndex(library) as opened:
            # A chance is a sum, whose last digit goes with what was heard before.
            charts_sql = "charts SELECT * EXCLUDE (key_chance)"
            made.append([opened.rows(f"FROM {each}") for each in (charts_sql, "grams", "gram_counts")])
    assert made[0] == made[1]
    assert len(made[0][0]) == len(several)


def test_a_chart_that_takes_the_number_of_one_that_is_gone_has_only_its_own_sequences(library: Library) -> None:
    def sequences() -> tuple[list[tuple[object, ...]], ...]:
        make_index(library)
        with OpenIndex(library) as index:
            return tuple(index.rows(f"SELECT * FROM {table} ORDER BY ALL") for table in ("grams", "gram_counts"))

    first = sequences()
    write(library, library.chart_paths()[-1], "key: C\n\n| C | E |\n")
    changed = sequences()
    library.index_path.unlink()
    assert changed == sequences() != first
