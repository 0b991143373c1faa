"""Prints what an index of charts that are in memory costs beside a bare lark parse of their text; nothing is asserted.

    python tests/bench/measure_build.py --charts 10000 100000 1000000

A million charts take some 7 GB of memory and ten minutes, most of which is their reading.
"""

from __future__ import annotations

import argparse
import gc
import sys
import tempfile
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from corpus.index import write_index
from grammar.charts import read_chart
from shared.chart import Chart
from tests.bench.generated import chart_texts
from tests.bench.measure import bare_lark, line, seconds

#: So many charts are parsed by lark alone, which takes each as long as the next.
_PARSED = 3000
#: How often both sides are measured, in turn; machines are not alike from one minute to the next.
_TURNS = 3


def building(number: int, folder: Path) -> None:
    """Several builds in turn with bare parses, and the shortest of each side."""
    charts: list[tuple[str, Chart]] = []
    texts: list[str] = []
    # The collector would go through all that is kept, again and again, and find nothing.
    gc.disable()
    for each, text in enumerate(chart_texts(number)):
        chart = read_chart(text).chart
        assert chart is not None
        charts.append((f"{each}.txt", chart))
        if each < _PARSED:
            texts.append(text)
    gc.enable()
    # Libraries are loaded before either side is measured.
    bare_lark(texts[:1])
    write_index(folder / "loaded.duckdb", charts[:1])
    every = []
    for turn in range(1, _TURNS + 1):
        bare = seconds(partial(bare_lark, texts), 1) * number / len(texts)
        took = seconds(partial(write_index, folder / "parsed.duckdb", charts), 1)
        every.append((took, bare))
        line(f"index {number:,} from charts in memory, turn {turn}", took, "bare lark parse", bare)
    shortest = [min(side) for side in zip(*every, strict=True)]
    line(f"index {number:,} from charts in memory, shortest", shortest[0], "bare lark parse, shortest", shortest[1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--charts", type=int, nargs="+", default=[10_000, 100_000])
    for number in parser.parse_args().charts:
        with tempfile.TemporaryDirectory() as folder:
            building(number, Path(folder))


if __name__ == "__main__":
    main()
