"""Runs of numbers of unlike length, one behind the other in one array: lists, or strings as their code points.

Conventions: sizes and places count in items; places are whole numbers from 0.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Any, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Truths = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[Any]

Values = TypeVar("Values", str, list[Any])

#: The kind of arrays of code points.
CODE_POINTS = np.uint32


class Ragged(NamedTuple):
    """Several runs.

    Attributes:
        values: What is in them, one behind the other.
        sizes: How long each is.
        there: Whether each is there at all; None where all are. One that is not has no size.
    """

    values: Numbers
    sizes: Ints
    there: Truths | None = None

    @property
    def known(self) -> Truths:
        """Whether each is there."""
        return np.ones(len(self.sizes), bool) if self.there is None else self.there

    def taken(self, order: Ints) -> Ragged:
        """The runs of these numbers, in this order."""
        sizes = self.sizes[order]
        values = self.values[places(starts(self.sizes)[order], sizes)]
        return Ragged(values, sizes, None if self.there is None else self.there[order])

    def spread(self, among: Truths) -> Ragged:
        """The same runs where ``among`` says so, and none elsewhere."""
        sizes = np.zeros(len(among), np.int64)
        sizes[among] = self.sizes
        return Ragged(self.values, sizes, among)


def joined(parts: Sequence[Ragged]) -> Ragged:
    """The runs of all parts, one part behind the other."""
    if len(parts) == 1:
        return parts[0]
    there = None
    if any(part.there is not None for part in parts):
        there = np.concatenate([part.known for part in parts])
    values = np.concatenate([part.values for part in parts])
    return Ragged(values, np.concatenate([part.sizes for part in parts]), there)


def of_texts(texts: Sequence[str | None]) -> Ragged:
    """Strings as runs of code points."""
    return Ragged(
        np.frombuffer("".join([text for text in texts if text]).encode("utf-32-le"), CODE_POINTS),
        np.array([len(text) if text else 0 for text in texts], np.int64),
        None if None not in texts else np.array([text is not None for text in texts], bool),
    )


def texts_of(runs: Ragged) -> list[str]:
    """Runs of code points as strings; one that is not there is empty."""
    return runs_of(runs.values.astype(CODE_POINTS).tobytes().decode("utf-32-le"), runs.sizes)


def runs_of(values: Values, sizes: Ints) -> list[Values]:
    """A string or list in runs of these sizes."""
    ends: list[int] = np.cumsum(sizes).tolist()
    return [values[begin:end] for begin, end in pairwise([0, *ends])]


def of_lists(lists: Iterable[Sequence[int]], kind: type[np.generic]) -> Ragged:
    """Lists of numbers."""
    lists = list(lists)
    values = np.array([each for inner in lists for each in inner], kind)
    return Ragged(values, np.array(list(map(len, lists)), np.int64))


def starts(sizes: Ints) -> Ints:
    """Where runs of these sizes start that stand one behind the other."""
    ends: Ints = np.cumsum(sizes)
    return ends - sizes


def places(first: Ints, sizes: Ints) -> Ints:
    """The places of all items of runs that start at ``first``, one run behind the other."""
    made: Ints = np.arange(sizes.sum(), dtype=np.int64)
    made += np.repeat(first - starts(sizes), sizes)
    return made


def sums(values: Numbers, sizes: Ints) -> Ints:
    """The sum of each run; 0 for one without items."""
    whole = np.concatenate([[0], np.cumsum(values, dtype=np.int64)])
    ends = np.cumsum(sizes)
    made: Ints = whole[ends] - whole[ends - sizes]
    return made


def changes(values: Numbers) -> Truths:
    """Whether each value differs from the one before; the first one does."""
    return np.concatenate([[True], values[1:] != values[:-1]])[: len(values)]


def ceases(values: Numbers) -> Truths:
    """Whether each value differs from the one behind; the last one does."""
    return np.concatenate([values[1:] != values[:-1], [True]])[: len(values)]
