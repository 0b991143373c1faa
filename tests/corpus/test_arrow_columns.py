"""Columns made from buffers are those that Arrow makes of the same values, and pandas is left alone."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.arrow_columns import (
    Column,
    code_points_column,
    higher,
    list_column,
    number_column,
    numbers_column,
    text_column,
    texts_column,
    truth_column,
)
from corpus.ragged import of_texts

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)


def same(column: Column, expected: pa.Array) -> None:
    made = column.arrow()
    made.validate(full=True)
    assert made.type == expected.type
    assert made.equals(expected)
    assert made.null_count == expected.null_count


@given(st.lists(st.none() | TEXT, max_size=20))
def test_strings(values: list[str | None]) -> None:
    same(text_column(values), pa.array(values, pa.string()))


@given(st.lists(st.none() | TEXT, max_size=20))
def test_strings_of_code_points(values: list[str | None]) -> None:
    same(code_points_column(of_texts(values)), pa.array(values, pa.string()))


@given(st.lists(st.none() | st.integers(0, 1000), max_size=20))
def test_higher_numbers(values: list[int | None]) -> None:
    expected = [None if value is None else value + 7 for value in values]
    same(higher(number_column(values, "int32"), 7), pa.array(expected, "int32"))


@given(st.lists(st.lists(TEXT, max_size=3), max_size=10))
def test_lists_of_strings(values: list[list[str]]) -> None:
    same(texts_column(values), pa.array(values, pa.list_(pa.string())))


@given(st.lists(st.none() | st.integers(0, 65535), max_size=20))
@pytest.mark.parametrize("kind", ["int32", "uint16", "float64"])
def test_numbers(kind: str, values: list[int | None]) -> None:
    same(number_column(values, kind), pa.array(values, kind))


@given(st.lists(st.booleans(), max_size=20))
def test_truth(values: list[bool]) -> None:
    same(truth_column(values), pa.array(values, pa.bool_()))


@given(st.lists(st.lists(st.integers(0, 65535), max_size=4), max_size=8))
def test_lists(values: list[list[int]]) -> None:
    flat = np.array([each for inner in values for each in inner], np.uint16)
    lengths = [len(inner) for inner in values]
    same(list_column(lengths, numbers_column(flat)), pa.array(values, pa.list_(pa.uint16())))


def test_rows_need_no_pandas() -> None:
    code = (
        "import sys\nfrom corpus.arrow_columns import arrow_table\nfrom corpus.chart_files import read_text\n"
        "from corpus.rows import FileRead, rows_of, slot_columns\n"
        "rows = rows_of([FileRead('a.txt', '', read_text('tags: x, y\\n\\n| C | F |'))])\n"
        "assert 'pyarrow' not in sys.modules\n"
        "assert arrow_table(rows.tables['charts']).num_rows == 1 and arrow_table(slot_columns()).num_rows > 100\n"
        "assert 'pandas' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", code], cwd=Path(__file__).parents[2], check=True)
