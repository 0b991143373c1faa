"""Prints what surveys of a large library cost beside a plain count of the same chords; nothing is asserted.

    python tests/bench/measure_survey.py --charts 1000000

A few thousand generated charts are read, and their rows copied until there are enough. Read the ratios, not the
seconds.
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import duckdb

from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from search.survey import survey
from tests.bench.generated import chart_texts
from tests.bench.measure import line, seconds

_READ = 2000
_PLAIN = "SELECT sign, count(*) FROM (SELECT unnest(string_split(tonic, '')) AS sign FROM charts) GROUP BY sign"


def library_of(number: int, folder: Path) -> Library:
    """A library whose index has so many charts."""
    library = Library(folder)
    for each, text in enumerate(chart_texts(min(_READ, number))):
        (folder / f"{each}.txt").write_text(text, encoding="utf-8")
    read = make_index(library).charts
    with duckdb.connect(str(library.index_path)) as connection:
        copies = -(-number // read) - 1
        connection.execute(
            "INSERT INTO charts BY NAME SELECT charts.* EXCLUDE (tonic, tonic_bars) "
            "REPLACE (id + (copy * ?)::INTEGER AS id, copy || path AS path) "
            "FROM charts, range(1, ?) AS copies(copy)",
            [read, copies + 1],
        )
    return library


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--charts", type=int, default=100_000, help="charts in the index")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, OpenIndex(library_of(options.charts, Path(folder))) as index:
        plain = seconds(partial(index.rows, _PLAIN))
        for what, more in (
            *(("sequences", {"length": length}) for length in (1, 2, 3, 4, 8)),
            ("sequences", {"length": 4, "strength": "family"}),
            ("transitions", {}),
            ("cadences", {}),
            ("roots", {"by": "style"}),
            ("roots", {"by": "style", "against": ("jazz", "pop")}),
        ):
            took = seconds(partial(survey, index, what, **more), 1)
            words = " ".join(f"{name} {value}" for name, value in more.items())
            line(f"survey {what} {words}", took, "plain count of the same chords", plain)
    print(f"largest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:,.0f} MB")


if __name__ == "__main__":
    main()
