"""Columns for the tables of the index, made straight from their buffers.

Arrow's own way from Python values loads pandas first, which takes longer than a small library takes to read; the Arrow
columnar format (https://arrow.apache.org/docs/format/Columnar.html) is simple enough. Conventions: a column of Python
values may hold None where something is missing; validity and truth are bits, the least significant first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import accumulate, chain
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    import pyarrow as pa

    Numbers = np.ndarray[Any, Any]


def text_column(values: Sequence[str | None]) -> pa.Array:
    """Strings."""
    import pyarrow as pa

    encoded = [b"" if value is None else value.encode() for value in values]
    buffers = [_valid(values), _offsets(map(len, encoded)), pa.py_buffer(b"".join(encoded))]
    return pa.Array.from_buffers(pa.string(), len(values), buffers)


def number_column(values: Sequence[float | None], kind: str) -> pa.Array:
    """Numbers.

    Args:
        values: The numbers.
        kind: The name of their type: ``uint8``, ``uint16``, ``int32``, ``uint64``, ``float64``.
    """
    import numpy as np

    return numbers_column(np.array([0 if value is None else value for value in values], kind), _valid(values))


def numbers_column(numbers: Numbers, valid: pa.Buffer | None = None) -> pa.Array:
    """Numbers that stand in one run of memory already; all are valid where that is None."""
    import pyarrow as pa

    return pa.Array.from_buffers(_type(numbers.dtype.name), len(numbers), [valid, pa.py_buffer(numbers)])


def truth_column(values: Sequence[bool]) -> pa.Array:
    """Truth values."""
    import pyarrow as pa

    return pa.Array.from_buffers(pa.bool_(), len(values), [None, _bits(values)])


def list_column(lengths: Iterable[int], values: pa.Array) -> pa.Array:
    """Lists.

    Args:
        lengths: How long each list is.
        values: What is in them, one behind the other.
    """
    import pyarrow as pa

    offsets = _offsets(lengths)
    size = offsets.size // 4 - 1
    return pa.Array.from_buffers(pa.list_(values.type), size, [None, offsets], children=[values])


def texts_column(values: Sequence[Sequence[str]]) -> pa.Array:
    """Lists of strings."""
    return list_column(map(len, values), text_column(list(chain.from_iterable(values))))


def struct_column(columns: dict[str, pa.Array]) -> pa.Array:
    """Structs of these parts, all of one length."""
    import pyarrow as pa

    kind = pa.struct([(name, column.type) for name, column in columns.items()])
    size = len(next(iter(columns.values())))
    return pa.Array.from_buffers(kind, size, [None], children=list(columns.values()))


def _type(name: str) -> pa.DataType:
    import pyarrow as pa

    kinds = (pa.uint8(), pa.uint16(), pa.int32(), pa.uint64(), pa.float64())
    return {"uint8": kinds[0], "uint16": kinds[1], "int32": kinds[2], "uint64": kinds[3], "float64": kinds[4]}[name]


def _offsets(lengths: Iterable[int]) -> pa.Buffer:
    import numpy as np
    import pyarrow as pa

    return pa.py_buffer(np.array(list(accumulate(lengths, initial=0)), np.int32))


def _valid(values: Sequence[object]) -> pa.Buffer | None:
    """Which values are there; None where all are."""
    there = [value is not None for value in values]
    return None if all(there) else _bits(there)


def _bits(values: Sequence[bool]) -> pa.Buffer:
    import numpy as np
    import pyarrow as pa

    return pa.py_buffer(np.packbits(np.array(values, np.bool_), bitorder="little"))
