"""Charts as rows of the index's tables (see schema.sql)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

from corpus.codes import Coded, Strings, coded, slot_rows
from corpus.key_finding import FoundKey
from corpus.key_remarks import key_remark
from corpus.tunes import PlayedChart, played
from shared.chart import Chart, Reading
from shared.errors import Fault
from shared.tune import Tune

if TYPE_CHECKING:
    import pyarrow as pa

_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_LATEST = 9999


@dataclass(slots=True)
class ChartRows:
    """Rows gathered for each table, as dictionaries of columns."""

    charts: list[dict[str, Any]] = field(default_factory=list)
    headers: list[dict[str, Any]] = field(default_factory=list)
    sections: list[dict[str, Any]] = field(default_factory=list)
    files: list[dict[str, Any]] = field(default_factory=list)
    faults: list[dict[str, Any]] = field(default_factory=list)

    def tables(self) -> dict[str, pa.Table]:
        """The rows as Arrow tables by name; tables without rows are left out."""
        import pyarrow as pa

        short = pa.list_(pa.uint16())
        parts = [("key", pa.string()), *((name, pa.uint16()) for name in ("first", "last", "from_bar", "to_bar"))]
        typed = {"event_bars": short, "played_bars": short, "segments": pa.list_(pa.struct(parts))}
        made = {}
        for name in ("charts", "headers", "sections", "files", "faults"):
            rows = getattr(self, name)
            if rows:
                columns = {column: pa.array([row[column] for row in rows], typed.get(column)) for column in rows[0]}
                made[name] = pa.table(columns)
        return made


def rows_of(readings: Mapping[str, Reading], hashes: Mapping[str, str], first: int) -> ChartRows:
    """The rows of charts that were read.

    Args:
        readings: Readings by path.
        hashes: The hash of each file's content, by path.
        first: The number that the first chart gets.
    """
    rows = ChartRows()
    number = first
    for path, reading in readings.items():
        for severity, faults in (("fault", reading.faults), ("remark", reading.remarks)):
            rows.faults += [fault_row(path, severity, fault) for fault in faults]
        chart = None
        if reading.chart is not None:
            chart = number
            number += 1
            one = add_chart(rows, chart, path, reading.chart)
            remark = key_remark(one.chart, one.tune)
            rows.faults += [fault_row(path, "remark", remark)] if remark else []
        rows.files.append({"path": path, "hash": hashes[path], "chart": chart})
    return rows


def fault_row(path: str, severity: str, fault: Fault) -> dict[str, Any]:
    """A fault or remark as a row."""
    return {
        "path": path,
        "severity": severity,
        "line": fault.line,
        "col": fault.column,
        "length": fault.length,
        "message": fault.message,
        "expected": fault.expected,
        "nearest": fault.nearest,
        "text": fault.text,
    }


def add_chart(rows: ChartRows, number: int, path: str, chart: Chart) -> PlayedChart:
    """Adds one chart to the rows, unfolded and coded.

    Returns:
        The chart as played.
    """
    one = played(chart)
    rows.charts.append(_chart_row(number, path, one))
    rows.headers += [{"chart": number, "name": name, "value": value} for name, value in chart.headers]
    for position, section in enumerate(chart.sections):
        numbers = [bar.number for bar in section.bars()]
        if numbers:
            rows.sections.append(
                {
                    "chart": number,
                    "position": position,
                    "label": section.label,
                    "first_bar": numbers[0],
                    "last_bar": numbers[-1],
                }
            )
    return one


def _chart_row(number: int, path: str, one: PlayedChart) -> dict[str, Any]:
    chart, tune = one.chart, one.tune
    found: tuple[FoundKey, ...] = one.found
    tags = [tag.strip() for tag in (chart.header("tags") or "").split(",") if tag.strip()]
    year = _number(chart.header("year"))
    return {
        "id": number,
        "path": path,
        "title": chart.title or PurePosixPath(path).stem,
        "key": str(tune.key),
        "key_found": tune.key_found,
        "key_chance": found[0].chance if found else None,
        "key_rival": str(found[1].key) if found else None,
        "mode": tune.key.mode.label,
        "metre": str(chart.metre),
        "tempo": _number(chart.header("tempo")),
        "style": chart.header("style"),
        "level": _number(chart.header("level")),
        "year": int(year) if year is not None and year <= _LATEST else None,
        "tags": tags,
        "bars": sum(1 for _ in chart.bars()),
        "events": len(tune.events),
        **_string_columns(coded(tune)),
        "chords": " ".join(event.written for event in tune.events),
        **_place_columns(tune),
    }


def _number(text: str | None) -> float | None:
    """The first number of a header's value, None where there is none."""
    found = _NUMBER.search(text or "")
    return float(found.group()) if found else None


def _string_columns(strings: Coded) -> dict[str, str | None]:
    columns: dict[str, str | None] = {}
    for name in ("tonic", "relative", "major", "fixed"):
        each: Strings | None = getattr(strings, name)
        columns[name] = each.chords if each else None
        columns[f"{name}_bars"] = each.bars if each else None
    return columns


def _place_columns(tune: Tune) -> dict[str, Any]:
    return {
        "event_bars": [event.played for event in tune.events],
        "played_bars": [bar.bar for bar in tune.bars],
        "segments": [
            {
                "key": str(segment.key),
                "first": segment.first,
                "last": segment.last,
                "from_bar": segment.from_bar,
                "to_bar": segment.to_bar,
            }
            for segment in tune.segments
        ],
    }


def slot_table() -> pa.Table:
    """What every code point stands for, as the index's table ``slots``."""
    import pyarrow as pa

    names = ("first", "size", "slot", "family", "tones", "name")
    columns = zip(*slot_rows(), strict=True)
    return pa.table({name: pa.array(list(column)) for name, column in zip(names, columns, strict=True)})
