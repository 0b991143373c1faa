"""Prints what searches of a big library cost, as ratios to plain work over the same sequences in the same run.

    python tests/bench/measure_search.py --charts 1000000

The library is a generated one (``archive``). A scan counts all matches of the pattern's expression in one column of all
charts (``sum(len(regexp_extract_all(...)))``); ripgrep counts the same roots, each once or more, in a text file of a
line a chart and a letter a chord. Every answer has its totals and the first 20 tunes with their places. The memory is
that of a process that asks all of this and does nothing else.
"""

from __future__ import annotations

import argparse
import resource
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any, TypeVar

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from corpus.catalogue import installed
from corpus.codes import slot_groups
from corpus.library import Library
from corpus.reading import OpenIndex
from search.alike import like
from search.asking import ask
from search.expressions import expression
from search.finding import find
from search.progressions import answer_named, question_of, uses
from search.questions import Question
from shared.match import Reach
from shared.pattern import Strength
from shared.pitch import Degree
from tests.bench.measure import seconds

_T = TypeVar("_T")

#: How often both sides are measured.
_TURNS = 5

LOOSE, EXACT = {"strength": Strength.LOOSE}, {"strength": Strength.EXACT}
ANYWHERE: dict[str, Any] = {"reach": Reach.ANYWHERE}
#: What is searched, how, and what it is measured against.
WORK: list[tuple[str, dict[str, Any], str]] = [
    ("6m 4 1 5", LOOSE, "ripgrep"),
    ("2 5 1", LOOSE, "ripgrep"),
    ("1 4 1 5 4 1", LOOSE, "ripgrep"),
    ("b6 b7 1 5 b6 b7", LOOSE, "ripgrep"),
    ("1m b7 b6 57", {}, "scan"),
    ("2m7 57 1maj7", {}, "scan"),
    ("1 5/7 6m", EXACT, "scan"),
    ("2m7 57 1maj7", ANYWHERE, "scan"),
    ("1 4 5", ANYWHERE, "scan"),
    ("2m7 57 1maj7", {"rotate": True}, "scan"),
    ("1 5 6m 4", {"near": 1}, "scan"),
    ("1 5 6m 4", {"near": 2}, "scan"),
    ("57", {}, "scan"),
    (".. 57 1", {}, "scan"),
    ("| 1 | 4 | 1 | 1 |", {}, "scan"),
    ("/1 /7 /6", {}, "scan"),
]


class _Letters(dict[int, str]):
    """A letter for the root of every code point, nothing for marks."""

    def __missing__(self, code: int) -> str:
        made = ""
        for base, groups in slot_groups():
            if base <= code < base + 144 * len(groups):
                made = chr(ord("a") + (code - base) // (12 * len(groups)))
        self[code] = made
        return made


def apart(work: Callable[..., _T], *arguments: object) -> _T:
    """Does work in a process of its own, so that the memory it takes is not counted with that of the searches."""
    with ProcessPoolExecutor(1, get_context("spawn")) as pool:
        return pool.submit(work, *arguments).result()


def write_index(library: Library, charts: int) -> None:
    """Writes the index of so many generated charts."""
    from tests.bench import archive

    library.index_path.parent.mkdir()
    archive.write_index(library.index_path, charts)


def text_bytes(charts: int) -> float:
    """How many bytes the text of so many generated charts has, told by the first of them."""
    from tests.bench.archive import chart_texts

    sample = min(charts, 2000)
    return sum(len(text.encode()) for text in chart_texts(sample)) * charts / sample


def write_roots(library: Library, place: Path) -> None:
    """Writes the text file that ripgrep reads."""
    letters = _Letters()
    with OpenIndex(library) as index, place.open("w", encoding="utf-8") as file:
        for (text,) in index.rows("SELECT tonic FROM charts"):
            file.write(f"{text.translate(letters)}\n")


def question(text: str, options: dict[str, Any]) -> Question:
    """The question of a line of ``WORK``."""
    asked = {name: value for name, value in options.items() if name != "near"}
    return replace(ask(text, **asked).question, near=options.get("near", 0))


def searching(index: OpenIndex, text: str, options: dict[str, Any], against: Callable[[Question], float]) -> None:
    """One search beside what it is measured against, in turn: a machine is not alike from one second to the next."""
    asked = question(text, options)
    found = find(index, asked)
    turns = [(seconds(lambda: find(index, asked), 1), against(asked)) for _ in range(_TURNS)]
    took, other = map(min, zip(*turns, strict=True))
    how = " ".join(f"{getattr(value, 'value', value)}" for value in options.values())
    tunes = f"{found.charts:,} tunes"
    print(f"{text:<20} {how:<10} {tunes:>16} {took:9.3f} s   other {other:9.3f} s   ratio {took / other:7.3f}")


def progressions(index: OpenIndex) -> None:
    """The whole catalogue counted, beside single searches for each of its entries, with the tunes that are shown."""
    entries = installed()
    uses(index, entries)
    whole = seconds(lambda: uses(index, entries), 1)
    asked = [(entry, question_of(entry)) for entry in entries]
    single = sum(seconds(partial(answer_named, index, *each), 1) for each in asked) / len(asked)
    said = f"{len(entries)} progressions counted {whole:.2f} s, a search for one {single:.3f} s"
    print(f"{said}: ratio {whole / single:.1f}")


def memory(when: str, size: int) -> None:
    """How much this process has held, beside the size of the index in bytes."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(f"memory {when} at most {peak:,} bytes: {peak / size:.2f} of the index")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--charts", type=int, default=1_000_000)
    parser.add_argument("--library", type=Path, help="a library of so many charts that archive.py made, with its index")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        library = Library(options.library or Path(folder))
        roots = Path(folder) / "roots.txt"
        if options.library is None:
            apart(write_index, library, options.charts)
        apart(write_roots, library, roots)
        texts = apart(text_bytes, options.charts)
        size = library.index_path.stat().st_size
        print(f"index on disk {size:,} bytes, chart text {texts:,.0f}: ratio {size / texts:.2f}")
        with OpenIndex(library) as index:

            def scan(asked: Question) -> float:
                column = "tonic_bars" if asked.pattern.bars else "tonic"
                text = expression(asked.pattern, asked.strength)
                sql = f"SELECT sum(len(regexp_extract_all({column}, ?))) FROM charts"
                return seconds(lambda: index.rows(sql, [text]), 1)

            def ripgrep(asked: Question) -> float:
                degrees = [item.alternatives[0].root for item in asked.pattern.items()]
                text = "".join(f"{chr(ord('a') + each.semitones)}+" for each in degrees if isinstance(each, Degree))
                command = ["rg", "--count-matches", "--no-filename", "-e", text]
                if shutil.which("rg") is None:
                    return float("nan")
                run = [*command, str(roots)]
                return seconds(lambda: subprocess.run(run, capture_output=True, check=False), 1)

            for text, how, against in WORK:
                searching(index, text, how, ripgrep if against == "ripgrep" else scan)
            ((path,),) = index.rows("SELECT path FROM charts ORDER BY path LIMIT 1")
            print(f"like {path}: {seconds(lambda: like(index, path), 2):.3f} s")
            memory("so far", size)
            progressions(index)
        memory("in all", size)


if __name__ == "__main__":
    main()
