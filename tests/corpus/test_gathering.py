"""Reading with helper processes: the same index however many read, and the old one where something goes wrong."""

from __future__ import annotations

import subprocess
import threading
from pathlib import Path
from typing import Any

import pytest

import corpus.gathering
from corpus.index import IndexingError, make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from corpus.sharing import MOST_PARTS
from tests.bench.generated import chart_texts

TABLES = ("charts", "headers", "sections", "files", "faults", "grams", "gram_counts")
SPECIAL = {
    "changing.txt": "key: C\n\n[A]\n| C | F |\nkey: D\n| D | A7 |\n[B]\n|: D | G :|x3\n",
    "contradicted.txt": "key: F#\n\n" + "| C | G7 | F | C |\n" * 4,
    "faulty.txt": "key: C\n\n| C | H7 |\n",
    "keyless.txt": "title: No key\n\n| Dm7 | G7 | Cmaj7 | Cmaj7 |\n| Am | D7 | G | G |\n",
    "latin.txt": "| C | café |".encode("latin-1"),
    "minor.txt": "key: Am\n\n| Am | F | C | E7 |\n",
    "odd.txt": "key: C\n\n| C7(b13) | E:x |\nWords | C |\n",
    "silent.txt": "key: C\n\n| N.C. |\n",
    "words.txt": "key: C\n\nC        F\nalong the road\n",
}


@pytest.fixture
def library(tmp_path: Path) -> Library:
    library = Library(tmp_path / "charts")
    library.root.mkdir()
    for number, text in enumerate(chart_texts(60)):
        (library.root / f"{number:02}.txt").write_text(text.replace("key:", "keys:") if number % 3 == 1 else text)
    for name, content in SPECIAL.items():
        (library.root / name).write_bytes(content.encode() if isinstance(content, str) else content)
    return library


@pytest.fixture
def helped(monkeypatch: pytest.MonkeyPatch) -> list[subprocess.Popen[bytes]]:
    """Two helpers from 20 files on, in batches of 4; the processes that were started."""
    started = []

    class Counted(subprocess.Popen[bytes]):
        def __init__(self, *arguments: object, **options: object) -> None:
            super().__init__(*arguments, **options)  # type: ignore[call-overload]
            started.append(self)

    monkeypatch.setattr(subprocess, "Popen", Counted)
    monkeypatch.setattr(corpus.gathering, "processors", lambda: 3)
    monkeypatch.setattr(corpus.gathering, "WORTH_A_HELPER", 20)
    monkeypatch.setattr(corpus.gathering, "BATCH", 4)
    return started


def content(library: Library) -> dict[str, list[tuple[object, ...]]]:
    with OpenIndex(library) as opened:
        return {table: opened.rows(f"SELECT * FROM {table} ORDER BY ALL") for table in TABLES}


def test_helpers_change_nothing(library: Library, helped: list[subprocess.Popen[bytes]]) -> None:
    report = make_index(library)
    made = content(library)
    assert len(helped) == 2
    assert [process.wait() for process in helped] == [0, 0]
    library.index_path.unlink()
    helped.clear()
    corpus.gathering.WORTH_A_HELPER = 2000
    alone = make_index(library)
    assert helped == []
    assert content(library) == made
    assert (report.charts, report.faults, report.remarks) == (alone.charts, alone.faults, alone.remarks)
    assert report.charts == 65
    assert {placed.path for placed in report.faults} == {"faulty.txt", "latin.txt", "odd.txt", "silent.txt"}
    assert "contradicted.txt" in {placed.path for placed in report.remarks}


def test_a_library_with_little_that_is_new_is_read_alone(
    library: Library, helped: list[subprocess.Popen[bytes]]
) -> None:
    make_index(library)
    helped.clear()
    for number in range(10):
        (library.root / f"new {number}.txt").write_text("key: C\n\n| C | F |\n")
        (library.root / f"{number:02}.txt").write_text("key: C\n\n| C | G |\n")
    report = make_index(library)
    assert (report.charts, report.read) == (75, 20)
    assert helped == []


def test_progress_is_told_by_the_one_who_asked(library: Library, helped: list[subprocess.Popen[bytes]]) -> None:
    told: list[tuple[int, int]] = []
    threads = set()

    def progress(done: int, of: int) -> None:
        told.append((done, of))
        threads.add(threading.current_thread())

    make_index(library, progress)
    assert helped
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert told[-1] == (69, 69)
    assert {of for _, of in told} == {69}
    assert threads == {threading.current_thread()}


@pytest.mark.parametrize(
    ("script", "how"),
    [
        ("import os; os.kill(os.getpid(), 9)", "was ended by signal 9"),
        ("raise SystemExit(3)", "ended with status 3"),
        ("import os, time; os.write(1, b'no answer'); time.sleep(60)", "could not be understood .*"),
    ],
)
def test_a_helper_that_dies_leaves_the_old_index(
    library: Library, helped: list[subprocess.Popen[bytes]], monkeypatch: pytest.MonkeyPatch, script: str, how: str
) -> None:
    make_index(library)
    before = content(library)
    for number, text in enumerate(chart_texts(60, seed=2)):
        (library.root / f"more {number}.txt").write_text(text)
    monkeypatch.setattr(corpus.gathering, "HELPER", script)
    monkeypatch.setattr(corpus.gathering, "PATIENCE", 0.2)
    with pytest.raises(IndexingError, match=f"a process that helped with reading {how} before its work was done"):
        make_index(library)
    assert content(library) == before
    assert None not in [process.poll() for process in helped]
    monkeypatch.undo()
    assert make_index(library).charts == 125


def test_an_interrupt_ends_the_helpers(library: Library, helped: list[subprocess.Popen[bytes]]) -> None:
    make_index(library)
    before = content(library)
    helped.clear()
    for number, text in enumerate(chart_texts(60, seed=2)):
        (library.root / f"more {number}.txt").write_text(text)

    def interrupted(done: int, of: int) -> None:
        if done > of // 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        make_index(library, interrupted)
    assert len(helped) == 2
    assert None not in [process.poll() for process in helped]
    assert content(library) == before
    assert make_index(library).charts == 125


@pytest.mark.parametrize("number", [0, 1, 499, 7000, 20_000_000])
def test_charts_in_memory_are_shared_out_whole_and_not_in_too_many_parts(number: int) -> None:
    every: Any = range(number)
    batches: list[Any] = list(corpus.gathering._batches(every))
    assert [batch.start for batch in batches] == [0, *(batch.stop for batch in batches)][: len(batches)]
    assert (batches[-1].stop if batches else 0) == number
    assert len(batches) <= MOST_PARTS
