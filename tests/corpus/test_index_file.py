"""The file of an index: swapped in whole, disposable, where it can be written, and the only thing written."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import duckdb
import pytest
from filelock import FileLock

import corpus.gathering
import corpus.index
from corpus.index import IndexingError, make_index
from corpus.library import Library, LibraryError, demo_library
from corpus.schema import SCHEMA_VERSION
from tests.bench.generated import chart_texts
from tests.helpers.changing_library import counts, three_tunes, titles, write, written
from tests.helpers.damage import damage

ROOT = Path(__file__).parents[2]


@pytest.fixture
def library(tmp_path: Path) -> Library:
    return three_tunes(tmp_path / "charts")


# Swapped in whole


def test_nothing_is_written_outside_its_folder(library: Library) -> None:
    before = {path: path.read_bytes() for path in library.root.rglob("*.txt")}
    make_index(library)
    write(library, "d.txt")
    make_index(library)
    new = written(library.root) - {path.relative_to(library.root).as_posix() for path in before} - {"d.txt"}
    assert "index.duckdb" in {Path(path).name for path in new}
    assert {Path(path).parts[0] for path in new} == {".samechanges"}
    assert not [path for path in new if path.endswith((".new", ".wal"))]
    assert {path: path.read_bytes() for path in before} == before


CRASH = """
import os, sys
from pathlib import Path
from corpus.index import make_index
from corpus.library import Library
os.replace = lambda *_: os._exit(9)
make_index(Library(Path(sys.argv[1])))
"""


def test_a_crash_before_the_swap_leaves_the_old_index(library: Library) -> None:
    make_index(library)
    write(library, "d.txt")
    done = subprocess.run([sys.executable, "-c", CRASH, str(library.root)], cwd=ROOT, check=False)
    assert done.returncode == 9
    assert library.index_path.with_name("index.duckdb.new").exists()
    assert titles(library) == ["Tune a", "Tune b", "Tune deep/c"]
    assert counts(make_index(library)) == (4, 1, 3, 0)
    assert not library.index_path.with_name("index.duckdb.new").exists()


def test_a_failure_while_filling_leaves_the_old_index(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    make_index(library)
    write(library, "d.txt")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(corpus.index, "write_tables", full)
        with pytest.raises(IndexingError, match="No space left on device"):
            make_index(library)
    assert len(titles(library)) == 3
    assert make_index(library).charts == 4


@pytest.mark.parametrize("left", [b"", b"half an index", b"\x00" * 100_000])
def test_what_a_crash_left_behind_is_ignored(library: Library, left: bytes) -> None:
    make_index(library)
    library.index_path.with_name("index.duckdb.new").write_bytes(left)
    library.index_path.with_name("index.duckdb.new.wal").write_bytes(left)
    assert len(titles(library)) == 3
    write(library, "d.txt")
    assert make_index(library).charts == 4
    assert len(titles(library)) == 4


# Disposable


def test_an_index_of_another_version_is_made_anew(library: Library) -> None:
    make_index(library)
    for version in (SCHEMA_VERSION - 1, SCHEMA_VERSION + 1):
        with duckdb.connect(str(library.index_path)) as connection:
            connection.execute("UPDATE about SET schema_version = ?", [version])
        assert counts(make_index(library)) == (3, 3, 0, 0)
        assert len(titles(library)) == 3


def test_a_file_of_other_tables_is_made_anew(library: Library) -> None:
    make_index(library)
    library.index_path.unlink()
    with duckdb.connect(str(library.index_path)) as connection:
        connection.execute("CREATE TABLE something (other INTEGER)")
    assert counts(make_index(library)) == (3, 3, 0, 0)


@pytest.mark.parametrize("kept", [0, 100, 4096, 12_288, 100_000])
def test_a_torn_index_is_made_anew(library: Library, kept: int) -> None:
    make_index(library)
    content = library.index_path.read_bytes()
    library.index_path.write_bytes(content[: min(kept, len(content) - 1)])
    write(library, "d.txt")
    assert make_index(library).charts == 4
    assert len(titles(library)) == 4


def test_an_index_damaged_inside_is_made_anew(tmp_path: Path) -> None:
    library = Library(tmp_path)
    for number, text in enumerate(chart_texts(1500)):
        write(library, f"{number:04}.txt", text)
    make_index(library)
    damage(library.index_path)
    write(library, "9999.txt")
    assert counts(make_index(library)) == (1501, 1501, 0, 0)
    assert len(titles(library)) == 1501


def test_an_index_that_is_a_folder(library: Library) -> None:
    library.index_path.mkdir(parents=True)
    with pytest.raises(IndexingError, match="cannot be written"):
        make_index(library)


# Several at once


WRITER = """
import sys
from pathlib import Path
from corpus.index import make_index
from corpus.library import Library
print(make_index(Library(Path(sys.argv[1]))).charts)
"""


def test_two_writers_at_once(library: Library) -> None:
    for number in range(40):
        write(library, f"many/{number}.txt")
    command = [sys.executable, "-c", WRITER, str(library.root)]
    writers = [subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    assert [writer.communicate()[0].strip() for writer in writers] == ["43", "43"]
    assert [writer.returncode for writer in writers] == [0, 0]
    assert len(titles(library)) == 43


def test_a_writer_waits_for_the_one_before_it(library: Library) -> None:
    library.index_path.parent.mkdir()
    second = threading.Thread(target=make_index, args=(library,))
    with FileLock(library.index_path.with_suffix(".lock")):
        second.start()
        second.join(0.2)
        assert second.is_alive()
        assert not library.index_path.exists()
    second.join()
    assert len(titles(library)) == 3


# Where it lives


def test_an_index_in_the_library(library: Library) -> None:
    assert library.index_path == library.root / ".samechanges" / "index.duckdb"


def cache() -> Path:
    return Path(os.environ["XDG_CACHE_HOME"])


def test_the_demo_index_is_in_the_cache() -> None:
    library = demo_library()
    assert library.index_path.is_relative_to(cache())
    assert make_index(library).faults == ()
    assert written(library.root) == set(library.chart_paths())


def test_a_library_that_cannot_be_written_to(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.access

    def read_only(place: str | Path, mode: int) -> bool:
        return not Path(place).is_relative_to(library.root) and real(place, mode)

    if os.geteuid() == 0:
        monkeypatch.setattr(os, "access", read_only)
    else:
        library.root.chmod(0o555)
    try:
        assert library.index_path.is_relative_to(cache())
        assert make_index(library).charts == 3
        assert len(titles(library)) == 3
        assert not (library.root / ".samechanges").exists()
    finally:
        library.root.chmod(0o755)


def test_two_read_only_libraries_have_indexes_of_their_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda *_: False)
    assert Library(tmp_path / "a").index_path != Library(tmp_path / "b").index_path


def test_a_cache_that_cannot_be_written_to(library: Library, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setattr(os, "access", lambda *_: False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    with pytest.raises(IndexingError, match="cannot be written"):
        make_index(library)


@pytest.mark.parametrize("name", ["it's a folder", "Männer; DROP TABLE", 'quote " and space', "$HOME"])
def test_a_library_with_an_awkward_name(tmp_path: Path, name: str) -> None:
    library = Library(tmp_path / name)
    write(library, "a.txt")
    assert make_index(library).charts == 1
    assert titles(library) == ["a"]
    assert make_index(library).unchanged == 1


def test_a_missing_folder_is_not_made(tmp_path: Path) -> None:
    with pytest.raises(LibraryError, match="does not exist"):
        make_index(Library(tmp_path / "missing"))
    assert written(tmp_path) == set()
