"""Charts as rows of the index's tables (see schema.sql)."""

from __future__ import annotations

import re
from array import array
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any, NamedTuple

from corpus.arrow_columns import (
    list_column,
    number_column,
    numbers_column,
    struct_column,
    text_column,
    texts_column,
    truth_column,
)
from corpus.codes import slot_rows
from corpus.key_finding import FoundStretch
from corpus.key_remarks import remark_in_one_key
from corpus.played_columns import COUNTS, played_columns
from corpus.tunes import stretches_of_each
from corpus.unpacking import PIECES, headers_in_short, strings_in_pieces
from shared.chart import Bar, Chart, Metre, Reading, Repeat
from shared.errors import Fault
from shared.key import Key

if TYPE_CHECKING:
    import pyarrow as pa

_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_LATEST = 9999


@dataclass(slots=True)
class ChartRows:
    """Rows gathered for each table, as tuples in the order of ``_KINDS``.

    Attributes:
        charts: Charts, without the columns that are lists of numbers.
        other_headers: Headers that no column of a chart tells.
        unread: Files without a chart.
        faults: Faults and remarks.
        segments: The segments of all charts.
        sections: Their sections.
        bars: Their played bars, each by its number as written.
        begun: For each of these how many events begin in it.
        lengths: For each chart how many segments, sections and played bars it has.
    """

    charts: list[tuple[Any, ...]] = field(default_factory=list)
    other_headers: list[tuple[int, str, str]] = field(default_factory=list)
    unread: list[tuple[str, str]] = field(default_factory=list)
    faults: list[tuple[str | int, ...]] = field(default_factory=list)
    segments: list[tuple[str, int, int, int, int]] = field(default_factory=list)
    sections: list[tuple[str | None, int, int]] = field(default_factory=list)
    bars: array[int] = field(default_factory=lambda: array("H"))
    begun: array[int] = field(default_factory=lambda: array("H"))
    lengths: list[tuple[int, int, int]] = field(default_factory=list)

    def tables(self, first: int = 0) -> dict[str, pa.Table]:
        """The rows as Arrow tables by name; tables without rows are left out.

        Args:
            first: What is added to the numbers of the charts.
        """
        import numpy as np
        import pyarrow as pa

        made = {name: _columns(name, rows, first) for name in _KINDS if (rows := getattr(self, name))}
        segments, sections = (made.pop(name, {}) or _columns(name, (), first) for name in ("segments", "sections"))
        if self.charts:
            in_segments, in_sections, in_bars = zip(*self.lengths, strict=True)
            made["charts"] |= {
                "segments": list_column(in_segments, struct_column(segments)),
                "sections": list_column(in_sections, struct_column(sections)),
                "begun": list_column(in_bars, numbers_column(np.frombuffer(self.begun, np.uint16))),
                "written": self._written(in_bars),
            }
        return {name: pa.table(columns) for name, columns in made.items()}

    def _written(self, in_bars: Sequence[int]) -> pa.Array:
        """For each chart the runs of written bars that are played, of as many bars as each chart has."""
        import numpy as np

        bars = np.frombuffer(self.bars, np.uint16).astype(np.int32)
        ends = np.cumsum(in_bars)
        begins = np.ones(len(bars) + 1, bool)
        begins[1:-1] = np.diff(bars) != 1
        begins[ends] = True
        at = np.flatnonzero(begins[:-1])
        runs = {"first_bar": bars[at], "last_bar": bars[np.flatnonzero(begins[1:])]}
        counted = np.bincount(np.searchsorted(ends, at, side="right"), minlength=len(in_bars))
        columns = {name: numbers_column(values.astype(np.uint16)) for name, values in runs.items()}
        return list_column(counted.tolist(), struct_column(columns))


_TEXT, _TEXTS, _TRUTH, _NUMBER_OF_CHART = "text", "texts", "truth", "number of a chart"
#: The columns of every table and what is in them.
_KINDS = {
    "charts": {
        **{"id": _NUMBER_OF_CHART, "path": _TEXT, "hash": "uint64", "title": _TEXT, "key": _TEXT},
        **{"key_found": _TRUTH, "key_chance": "float64", "key_rival": _TEXT, "mode": _TEXT, "minor": _TRUTH},
        **{"metre": _TEXT, "tempo": "float64", "style": _TEXT, "level": "float64", "year": "int32", "tags": _TEXTS},
        **{"told": "uint8", "bars": "int32", "played": "int32", "events": "int32"},
        **dict.fromkeys(("names", *PIECES), _TEXT),
        **{name: _TEXT for count in COUNTS[1:] for name in (count, f"{count}_bars")},
    },
    "other_headers": {"chart": _NUMBER_OF_CHART, "name": _TEXT, "value": _TEXT},
    "unread": {"path": _TEXT, "hash": _TEXT},
    "faults": {
        **{"path": _TEXT, "severity": _TEXT, "line": "int32", "col": "int32", "length": "int32"},
        **{"message": _TEXT, "expected": _TEXT, "nearest": _TEXT, "text": _TEXT},
    },
    "segments": {"key": _TEXT, "first": "uint16", "last": "uint16", "from_bar": "uint16", "to_bar": "uint16"},
    "sections": {"label": _TEXT, "first_bar": "uint16", "last_bar": "uint16"},
}


def _columns(name: str, rows: Sequence[tuple[Any, ...]], first: int) -> dict[str, pa.Array]:
    made = {}
    kinds = _KINDS[name]
    columns: Iterable[tuple[Any, ...]] = zip(*rows, strict=True) if rows else [()] * len(kinds)
    for (column, kind), values in zip(kinds.items(), columns, strict=True):
        if kind == _TEXT:
            made[column] = text_column(values)
        elif kind == _TEXTS:
            made[column] = texts_column(values)
        elif kind == _TRUTH:
            made[column] = truth_column(values)
        elif kind == _NUMBER_OF_CHART:
            made[column] = number_column([None if value is None else value + first for value in values], "int32")
        else:
            made[column] = number_column(values, kind)
    return made


class FileRead(NamedTuple):
    """A file that was read: its path, the hash of what is in it (empty where that is not known), what became of it."""

    path: str
    content: str
    reading: Reading


def add_readings(rows: ChartRows, files: Sequence[FileRead]) -> None:
    """Adds files that were read, their charts numbered on; the keys of all are found together, which is fast."""
    charts = [file.reading.chart for file in files if file.reading.chart is not None]
    found = iter(stretches_of_each(charts))
    for path, content, reading in files:
        stretches = next(found) if reading.chart is not None else ()
        add_reading(rows, len(rows.charts), path, content, reading, stretches)


def add_reading(
    rows: ChartRows, number: int, path: str, content: str, reading: Reading, stretches: tuple[FoundStretch, ...] = ()
) -> bool:
    """Adds a file that was read.

    Args:
        rows: Where to.
        number: The chart's number.
        path: The file.
        content: The hash of what is in it.
        reading: What became of it.
        stretches: The keys found for its chart, where that is done.

    Returns:
        Whether there was a chart in it.
    """
    for severity, faults in (("fault", reading.faults), ("remark", reading.remarks)):
        if faults:
            rows.faults += [_fault_row(path, severity, fault) for fault in faults]
    if reading.chart is not None:
        add_chart(rows, number, path, reading.chart, stretches, content)
    else:
        rows.unread.append((path, content))
    return reading.chart is not None


def _fault_row(path: str, severity: str, fault: Fault) -> tuple[str | int, ...]:
    place = (fault.line, fault.column, fault.length)
    return path, severity, *place, fault.message, fault.expected, fault.nearest, fault.text


def add_chart(
    rows: ChartRows, number: int, path: str, chart: Chart, stretches: tuple[FoundStretch, ...] = (), content: str = ""
) -> None:
    """Adds one chart to the rows, unfolded and coded, with what is to be remarked on its key."""
    made = played_columns(chart, stretches)
    headers = dict(reversed(chart.headers))
    key, key_found, keys = made.home
    name, mode = _key_texts(key)
    events = sum(made.begun)
    sections = [(section.label, *_ends(section.body)) for section in chart.sections if section.body]
    bars = sum(last - first + 1 for _, first, last in sections)
    title, metre, style = (
        headers.get("title") or PurePosixPath(path).stem,
        _metre_text(chart.metre),
        headers.get("style"),
    )
    tempo, level, year = _number(headers.get("tempo")), _number(headers.get("level")), _year(headers.get("year"))
    tags = _tags(headers.get("tags"))
    texts = (title, name, metre, _plain(tempo), style, _plain(level), _plain(year), ", ".join(tags))
    told, rest = headers_in_short(chart.headers, texts)
    tonic, tonic_bars, *others = made.strings
    rows.charts.append(
        (
            *(number, path, int(content, 16) if content else None, title, name, key_found),
            *((keys[0].chance, str(keys[1].key)) if keys else (None, None)),
            *(mode, made.minor, metre, tempo, style, level, year, tags, told),
            *(bars, len(made.bars), events, made.names),
            *(*strings_in_pieces(tonic or "", tonic_bars or ""), *others),
        )
    )
    rows.other_headers += [(number, name, value) for name, value in rest]
    rows.segments += [(_key_texts(key)[0], *places) for key, places in made.segments]
    rows.sections += sections
    rows.bars += made.bars
    rows.begun += made.begun
    rows.lengths.append((len(made.segments), len(sections), len(made.bars)))
    if len(made.segments) == 1:
        remark = remark_in_one_key(chart, events, made.first, made.last)
        rows.faults += [_fault_row(path, "remark", remark)] if remark else []


def _ends(body: Sequence[Bar | Repeat]) -> tuple[int, int]:
    """The numbers of the first and the last bar as written."""
    first, last = body[0], body[-1]
    while isinstance(first, Repeat):
        first = first.body[0]
    while isinstance(last, Repeat):
        last = last.endings[-1].body[-1] if last.endings else last.body[-1]
    return first.number, last.number


@lru_cache(maxsize=1024)
def _key_texts(key: Key) -> tuple[str, str]:
    """A key as a header has it, and its mode."""
    return str(key), key.mode.label


@lru_cache(maxsize=1024)
def _metre_text(metre: Metre) -> str:
    return str(metre)


@lru_cache(maxsize=4096)
def _number(text: str | None) -> float | None:
    """The first number of a header's value, None where there is none."""
    found = _NUMBER.search(text or "")
    return float(found.group()) if found else None


def _plain(number: float | None) -> str | None:
    """A number as the index writes it out."""
    return None if number is None else f"{number:g}"


def _year(text: str | None) -> int | None:
    year = _number(text)
    return int(year) if year is not None and year <= _LATEST else None


def _tags(text: str | None) -> list[str]:
    return [tag.strip() for tag in text.split(",") if tag.strip()] if text else []


def slot_table() -> pa.Table:
    """What every code point stands for, as the index's table ``slots``."""
    import pyarrow as pa

    first, size, slot, family, tones, name = zip(*slot_rows(), strict=True)
    numbers = {"first": first, "size": size, "slot": slot, "tones": tones}
    made = {column: number_column(values, "int32") for column, values in numbers.items()}
    made |= {"family": text_column(family), "name": text_column(name)}
    return pa.table({column: made[column] for column in ("first", "size", "slot", "family", "tones", "name")})
