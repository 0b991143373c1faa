"""Prints what the main job costs, as ratios within one run; nothing is asserted.

    python tests/bench/measure.py --charts 5000 --library 100000

Read the ratios, not the seconds: they hold from one machine to another far better.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from grammar.bar_lines import line_parser
from grammar.charts import read_chart
from grammar.patterns import read_pattern
from grammar.symbols import symbol_parser
from search.asking import answer, ask
from search.expressions import expression
from shared.pattern import Strength
from tests.bench.generated import chart_texts

ROOT = Path(__file__).resolve().parents[2]
PATTERNS = ("1 5m b7 4", "6m 4 1 5", "2m7 57 1maj7", "1 4", "4 4m 1", "/1 /7 /6", "1 .. 57 1", "| 1 | 4 5 |")
_TIMES = 3


def seconds(work: Callable[[], object], times: int = _TIMES) -> float:
    """The shortest of several runs."""
    best = float("inf")
    for _ in range(times):
        begun = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - begun)
    return best


def line(what: str, took: float, against: str, other: float) -> None:
    print(f"{what:<52} {took:9.3f} s   {against:<34} {other:9.3f} s   ratio {took / other:7.3f}")


def bare_lark(texts: list[str]) -> None:
    """Parses every music line and every cell of the texts with the grammars alone, nothing remembered."""
    for text in texts:
        for row in text.splitlines():
            if row.startswith("|"):
                tree = line_parser().parse(row, start="line")
                for cell in tree.scan_values(lambda token: token.type == "CELL"):
                    symbol_parser().parse(str(cell))


def reading(number: int) -> None:
    """Cold reading beside a bare lark parse of the same text."""
    texts = list(chart_texts(number))
    begun = time.perf_counter()
    faults = sum(len(read_chart(text).faults) for text in texts)
    took = time.perf_counter() - begun
    assert faults == 0
    bare = seconds(lambda: bare_lark(texts), 1)
    line(f"read {number:,} charts ({number / took:,.0f} a second)", took, "bare lark parse", bare)


INDEX = """
import sys
from pathlib import Path
import corpus.gathering
from corpus.index import make_index
from corpus.library import Library
if sys.argv[2] == "1":
    corpus.gathering.processors = lambda: 1
print(make_index(Library(Path(sys.argv[1]))).seconds)
"""


def index_seconds(library: Library, processes: int) -> float:
    """What making an index takes in a process that has read nothing before, with helpers or without."""
    library.index_path.unlink(missing_ok=True)
    command = [sys.executable, "-c", INDEX, str(library.root), str(processes)]
    return float(subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout)


def indexing(number: int, folder: Path) -> None:
    """Text to an index swapped in, beside a bare lark parse of the same text."""
    texts = list(chart_texts(number))
    # Numbers cannot be read without a key; charts of chord names can.
    keyless = [text if each % 3 == 0 else text.replace("key: ", "was: ") for each, text in enumerate(texts)]
    libraries = {}
    for name, written in (("keys written", texts), ("keys to find in two of three", keyless)):
        libraries[name] = library = Library(folder / name)
        library.root.mkdir()
        for each, text in enumerate(written):
            (library.root / f"{each}.txt").write_text(text, encoding="utf-8")
    for processes, said in ((1, "one process"), (2, "helped")):
        bare = seconds(lambda: bare_lark(texts), 1)
        taken = [index_seconds(library, processes) for library in libraries.values()]
        for name, took in zip(libraries, taken, strict=True):
            line(f"index {number:,}, {name}, {said}", took, "bare lark parse", bare)
        line("", taken[1], "keys written", taken[0])


def searching(number: int, folder: Path) -> None:
    """Indexing, then searches beside ``re`` and ripgrep over the same sequences."""
    library = Library(folder)
    for each, text in enumerate(chart_texts(number)):
        place = folder / f"{each // 1000:04}" / f"{each}.txt"
        place.parent.mkdir(exist_ok=True)
        place.write_text(text, encoding="utf-8")
    texts = [path.read_text(encoding="utf-8") for path in sorted(folder.rglob("*.txt"))[:2000]]
    begun = time.perf_counter()
    report = make_index(library)
    took = time.perf_counter() - begun
    bare = seconds(lambda: bare_lark(texts), 1) * number / len(texts)
    line(f"index {report.charts:,} charts, all new", took, "bare lark parse (from 2,000)", bare)
    again = seconds(lambda: make_index(library), 1)
    line("index again, nothing changed", again, "all new", took)
    with OpenIndex(library) as index:
        rows = index.rows("SELECT coalesce(tonic, ''), coalesce(tonic_bars, '') FROM charts")
        plain, bars = [row[0] for row in rows], [row[1] for row in rows]
        sequences = folder.parent / "sequences"
        sequences.write_text("\n".join(plain) + "\n", encoding="utf-8")
        for text in PATTERNS:
            _one_search(index, text, bars if "|" in text else plain, None if "|" in text else sequences)


def _one_search(index: OpenIndex, text: str, strings: list[str], sequences: Path | None) -> None:
    asked = ask(text)
    found = answer(index, asked)
    took = seconds(lambda: answer(index, asked))
    written = expression(read_pattern(text).pattern, Strength.FAMILY)
    compiled = re.compile(written)
    other = seconds(lambda: sum(1 for string in strings for _ in compiled.finditer(string)), 1)
    line(f"find {text}   ({found.charts:,} tunes)", took, "re over the tonic's count", other)
    ripgrep = shutil.which("rg")
    if ripgrep and sequences is not None:
        command = [ripgrep, "--count-matches", "--no-filename", "-e", written, str(sequences)]
        other = seconds(lambda: subprocess.run(command, capture_output=True, check=False))
        line("", took, "ripgrep over the same", other)


def starting() -> None:
    """The command's start beside the import of DuckDB alone, both compiled beforehand as an installation is."""
    run = "from ui.command import main; main()"
    answered = [sys.executable, "-c", run, "find", "1 5m b7 4"]
    bare = [sys.executable, "-c", "import duckdb"]
    with tempfile.TemporaryDirectory() as compiled:
        env = {**os.environ, "PYTHONPYCACHEPREFIX": compiled, "PYTHONDONTWRITEBYTECODE": ""}
        ask = partial(subprocess.run, cwd=ROOT, env=env, capture_output=True, check=True)
        took, other = seconds(lambda: ask(answered), 6), seconds(lambda: ask(bare), 6)
    line("samechanges find on the demo library, a process", took, "python -c 'import duckdb'", other)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--charts", type=int, default=7000, help="charts read cold and indexed")
    parser.add_argument("--library", type=int, default=100_000, help="charts in the library that is searched")
    options = parser.parse_args()
    reading(options.charts)
    with tempfile.TemporaryDirectory() as folder:
        indexing(options.charts, Path(folder))
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "library").mkdir()
        searching(options.library, Path(folder) / "library")
    starting()


if __name__ == "__main__":
    main()
