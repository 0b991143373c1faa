"""Reading an index while it is replaced, and an index that cannot be read."""

from __future__ import annotations

import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import duckdb
import pytest

import corpus.reading
from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex, UnreadableIndex, open_index

CHART = "key: C\n\n| C | F |\n"


@pytest.fixture
def library(tmp_path: Path) -> Library:
    (tmp_path / "a.txt").write_text(CHART)
    library = Library(tmp_path)
    make_index(library)
    return library


def test_an_open_reader_sees_the_index_that_was_swapped_in(library: Library) -> None:
    with OpenIndex(library) as opened, OpenIndex(library) as other:
        assert opened.known_charts() == [("a.txt", "a")]
        first = opened.stamp
        for name in "bcd":
            (library.root / f"{name}.txt").write_text(CHART)
            make_index(library)
            expected = [(f"{each}.txt", each) for each in "abcd"[: "abcd".index(name) + 1]]
            assert opened.known_charts() == expected
            assert other.known_charts() == expected
        assert opened.stamp != first
        assert opened.stamp == other.stamp


def test_a_reader_keeps_its_answers_when_nothing_changed(library: Library) -> None:
    with OpenIndex(library) as opened:
        stamp = opened.stamp
        make_index(library)
        assert opened.stamp == stamp


def test_one_reader_may_be_shared_between_threads(library: Library) -> None:
    def ask(opened: OpenIndex) -> int:
        return len(opened.known_charts())

    with OpenIndex(library) as opened, ThreadPoolExecutor(4) as pool:
        asked = [pool.submit(ask, opened) for _ in range(40)]
        (library.root / "b.txt").write_text(CHART)
        make_index(library)
        asked += [pool.submit(ask, opened) for _ in range(40)]
        found = [each.result() for each in asked]
    assert set(found) <= {1, 2}
    assert found[-1] == 2


def test_a_reader_cannot_write(library: Library) -> None:
    with OpenIndex(library) as opened, pytest.raises(duckdb.Error):
        opened.rows("DELETE FROM charts")


def test_no_index_can_be_made_first(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text(CHART)
    library = Library(tmp_path)
    with pytest.raises(UnreadableIndex, match="cannot be read"):
        OpenIndex(library)
    with open_index(library) as opened:
        assert opened.known_charts() == [("a.txt", "a")]
    with OpenIndex(library) as opened:
        assert opened.known_charts() == [("a.txt", "a")]


def test_a_question_is_answered_from_one_index_though_it_is_replaced(library: Library) -> None:
    with OpenIndex(library) as opened:
        held = opened.snapshot()
        before = held.rows("SELECT count(*) FROM charts")
        (library.root / "later.txt").write_text(CHART)
        make_index(library)
        assert opened.rows("SELECT count(*) FROM charts") == [(before[0][0] + 1,)]
        assert held.rows("SELECT count(*) FROM charts") == before


@pytest.mark.parametrize("content", [b"", b"no database", b"\x00" * 50_000])
def test_what_is_no_index_is_made_anew(library: Library, content: bytes) -> None:
    library.index_path.write_bytes(content)
    with open_index(library) as opened:
        assert opened.known_charts() == [("a.txt", "a")]


def test_another_version_is_not_read(library: Library) -> None:
    with duckdb.connect(str(library.index_path)) as connection:
        connection.execute("UPDATE about SET schema_version = schema_version - 1")
    with pytest.raises(UnreadableIndex, match="another version"):
        OpenIndex(library)


def test_an_index_that_goes_away_is_told(library: Library) -> None:
    with OpenIndex(library) as opened:
        library.index_path.unlink()
        with pytest.raises(UnreadableIndex, match="cannot be read"):
            opened.known_charts()


def test_a_question_that_needs_more_memory_gets_it(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(corpus.reading, "_ALWAYS_HELD", 8 << 20)
    monkeypatch.chdir(library.root)
    with OpenIndex(library) as opened:
        held = opened.snapshot()
        assert held.rows("SELECT current_setting('memory_limit')") == [("8.0 MiB",)]
        held.rows("CREATE TEMP TABLE much AS SELECT number, md5(number::VARCHAR) AS text FROM range(200000) t(number)")
        assert held.rows("SELECT count(*) FROM much") == [(200_000,)]
        # What can be spilled is.
        assert held.rows("SELECT current_setting('memory_limit')") == [("8.0 MiB",)]
        assert held.rows("SELECT len(list(number)) FROM range(5000000) t(number)") == [(5_000_000,)]
        assert held.rows("SELECT current_setting('memory_limit')") != [("8.0 MiB",)]
    assert sorted(path.name for path in library.root.iterdir()) == [".samechanges", "a.txt"]


def test_what_memory_does_not_hold_is_spilled_and_cleared_away(
    library: Library, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    spilled = tmp_path_factory.mktemp("spilled")
    monkeypatch.setattr(tempfile, "tempdir", str(spilled))
    with OpenIndex(library) as opened:
        held = opened.snapshot()
        held.give_room()
        held.rows("SET GLOBAL memory_limit = '24MB'")
        held.rows("CREATE TEMP TABLE much AS SELECT number, md5(number::VARCHAR) AS text FROM range(900000) t(number)")
        assert list(spilled.iterdir())
        opened.snapshot().give_room()
        assert held.rows("SELECT count(DISTINCT text) FROM much") == [(900_000,)]
    assert not list(spilled.iterdir())
