"""Columns for the tables of the index, made straight as buffers.

Arrow's own way from Python values loads pandas first, which takes longer than a small library takes to read; the Arrow
columnar format (https://arrow.apache.org/docs/format/Columnar.html) is simple enough. A column is plain bytes and
arrays until ``arrow`` is asked for, so that a process that only reads charts starts without Arrow and hands its columns
on fast. Conventions: a column of Python values may hold None where something is missing; validity and truth are bits,
the least significant first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import TYPE_CHECKING, NamedTuple, cast

import numpy as np

from corpus.ragged import Ints, Numbers, Ragged

if TYPE_CHECKING:
    import pyarrow as pa

Buffer = bytes | Numbers | None


class Column(NamedTuple):
    """A column.

    Attributes:
        kind: The name of its type.
        size: How many values it has.
        buffers: What Arrow keeps of it: first which values are there, None where all are.
        items: The columns of what is in its lists, one; none where its values are no lists.
    """

    kind: str
    size: int
    buffers: tuple[Buffer, ...]
    items: tuple[Column, ...] = ()

    def arrow(self) -> pa.Array:
        """The column as Arrow has it."""
        import pyarrow as pa

        items = [each.arrow() for each in self.items]
        kind = pa.list_(items[0].type) if items else pa.type_for_alias(self.kind)
        buffers = [None if buffer is None else pa.py_buffer(buffer) for buffer in self.buffers]
        return pa.Array.from_buffers(kind, self.size, buffers, children=items)


Columns = Mapping[str, Column]


def arrow_table(columns: Columns) -> pa.Table:
    """A table of columns."""
    import pyarrow as pa

    return pa.table({name: column.arrow() for name, column in columns.items()})


def text_column(values: Sequence[str | None]) -> Column:
    """Strings."""
    if values.count(None) == len(values):
        return Column("string", len(values), (_bits(np.zeros(len(values))), np.zeros(len(values) + 1, np.int32), b""))
    valid = _valid(values)
    texts = cast("Sequence[str]", values) if valid is None else [value or "" for value in values]
    whole = "".join(texts)
    sized = texts if whole.isascii() else [text.encode() for text in texts]
    sizes = np.fromiter(map(len, sized), np.int64, len(values))
    return Column("string", len(values), (valid, _offsets(sizes), whole.encode()))


def code_points_column(runs: Ragged) -> Column:
    """Strings that are given by their code points."""
    values = runs.values
    sizes = 1 + (values >= 0x80).astype(np.int8) + (values >= 0x800) + (values >= 0x10000)
    offsets = np.concatenate([[0], np.cumsum(sizes)])[np.concatenate([[0], np.cumsum(runs.sizes)])]
    valid = None if runs.there is None or runs.there.all() else _bits(runs.there)
    text = values.tobytes().decode("utf-32-le").encode()
    return Column("string", len(runs.sizes), (valid, offsets.astype(np.int32), text))


def number_column(values: Sequence[float | None] | Numbers, kind: str) -> Column:
    """Numbers.

    Args:
        values: The numbers.
        kind: The name of their type: ``int32``, ``uint16``, ``float64``.
    """
    if isinstance(values, np.ndarray) or None not in values:
        return numbers_column(np.asarray(values, kind))
    if values.count(None) == len(values):
        return numbers_column(np.zeros(len(values), kind), _bits(np.zeros(len(values))))
    return numbers_column(np.array([0 if value is None else value for value in values], kind), _valid(values))


def numbers_column(numbers: Numbers, valid: Buffer = None) -> Column:
    """Numbers that stand in one run of memory already; all are valid where that is None."""
    return Column(numbers.dtype.name, len(numbers), (valid, numbers))


def higher(column: Column, by: int) -> Column:
    """A column of numbers, each so much higher."""
    valid, numbers = column.buffers
    return column._replace(buffers=(valid, np.asarray(numbers) + np.asarray(numbers).dtype.type(by)))


def truth_column(values: Sequence[bool] | Numbers) -> Column:
    """Truth values."""
    return Column("bool", len(values), (None, _bits(values)))


def list_column(sizes: Sequence[int] | Ints, values: Column) -> Column:
    """Lists.

    Args:
        sizes: How long each list is.
        values: What is in them, one behind the other.
    """
    return Column("list", len(sizes), (None, _offsets(np.asarray(sizes, np.int64))), (values,))


def texts_column(values: Sequence[Sequence[str]]) -> Column:
    """Lists of strings."""
    return list_column(list(map(len, values)), text_column(list(chain.from_iterable(values))))


def _offsets(sizes: Ints) -> Numbers:
    return np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32)


def _valid(values: Sequence[object]) -> Buffer:
    """Which values are there; None where all are."""
    return _bits([value is not None for value in values]) if None in values else None


def _bits(values: Sequence[bool] | Numbers) -> Numbers:
    return np.packbits(np.asarray(values, np.bool_), bitorder="little")
