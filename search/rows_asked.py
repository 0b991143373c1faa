"""What is asked of a row of ``charts``, in SQL with its parameters, and a tune as it is answered."""

from __future__ import annotations

from typing import Any, NamedTuple

from corpus.unpacking import KeySegment
from search.places import MATCH_BEGINS, MATCH_ENDS


class Told(NamedTuple):
    """What is asked of a row of ``charts``, in SQL with its parameters."""

    sql: str
    parameters: list[Any]


#: What is so of every tune.
TRUE = Told("TRUE", [])


class MarkedChart(NamedTuple):
    """A tune that matches.

    Attributes:
        chart: Its number.
        key: Its home key, as a header spells it.
        segments: The keys that it passes through.
        begun: How many chords begin in each bar (the column of that name).
        rest: The further columns that were asked for.
        texts: For each view its string with every match between two signs, None where it has none, and for a near
            search how many edits each match has.
    """

    chart: int
    key: str
    segments: list[KeySegment]
    begun: str
    rest: tuple[Any, ...]
    texts: list[tuple[str | None, list[int]]]


def counted(column: str, text: str) -> Told:
    """How many matches of an expression there are."""
    return Told(f"len(regexp_extract_all({column}, ?))", [text])


def put_marks(column: str) -> str:
    """A string with every match of an expression between two signs, in SQL."""
    return f"regexp_replace({column}, ?, '{MATCH_BEGINS}\\0{MATCH_ENDS}', 'g')"
