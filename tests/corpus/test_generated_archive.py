"""The generator of big libraries writes the very index that its charts would give."""

from __future__ import annotations

from pathlib import Path

import duckdb

from corpus.index import make_index
from corpus.library import Library
from tests.bench.archive import chart_texts, path_of, write_index

CHARTS = 120


def test_text_and_tables_agree(tmp_path: Path) -> None:
    for number, text in enumerate(chart_texts(CHARTS)):
        file = tmp_path / "charts" / path_of(number)
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    library = Library(tmp_path / "charts")
    report = make_index(library)
    assert (report.charts, report.faults) == (CHARTS, ())
    write_index(tmp_path / "straight.duckdb", CHARTS)
    with duckdb.connect() as both:
        both.execute(f"ATTACH '{library.index_path}' AS read (READ_ONLY)")
        both.execute(f"ATTACH '{tmp_path / 'straight.duckdb'}' AS straight (READ_ONLY)")
        rows = {
            schema: both.execute(f"SELECT * EXCLUDE (id) FROM {schema}.charts ORDER BY path").fetchall()
            for schema in ("read", "straight")
        }
        assert rows["read"] == rows["straight"]
        for table, columns in (
            ("headers", "name, value"),
            ("sections", "position, label, first_bar, last_bar"),
            ("grams", "gram, times"),
        ):
            read, straight = (
                both.execute(
                    f"SELECT path, {columns} FROM {schema}.{table} JOIN {schema}.charts ON id = chart ORDER BY ALL"
                ).fetchall()
                for schema in ("read", "straight")
            )
            assert read == straight
        assert both.execute("SELECT * FROM read.gram_counts ORDER BY ALL").fetchall() == (
            both.execute("SELECT * FROM straight.gram_counts ORDER BY ALL").fetchall()
        )


def test_the_same_seed_gives_the_same_charts_and_another_gives_others() -> None:
    assert list(chart_texts(5)) == list(chart_texts(5))
    assert list(chart_texts(5)) != list(chart_texts(5, seed=2))
