"""Charts as rows of the index's tables (see schema.sql), column by column, for many files at a time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, NamedTuple

from corpus.codes import slot_rows
from corpus.key_remarks import key_remarks
from corpus.once import of_each
from corpus.unpacking import (
    NONE_BEGIN,
    WrittenSection,
    first_headers,
    headers_in_short,
    runs_in_short,
    sections_in_short,
)
from shared.chart import Bar, Chart, Reading, Repeat
from shared.errors import Fault
from shared.key import Key

if TYPE_CHECKING:
    from corpus.arrow_columns import Columns
    from corpus.gram_counting import Tallies
    from corpus.played_columns import PlayedColumns

_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_LATEST = 9999


class ChartRows(NamedTuple):
    """Rows for the tables of an index.

    Attributes:
        charts: How many charts they are of, numbered from 0.
        tables: The columns of each table by its name; a table without rows is left out.
        tallies: The short sequences of the charts (see ``corpus.gram_counting``).
    """

    charts: int
    tables: dict[str, Columns]
    tallies: Tallies

    def numbered_from(self, first: int) -> ChartRows:
        """The same rows, their charts numbered from ``first``."""
        from corpus.arrow_columns import higher
        from corpus.gram_counting import tallies_from

        tables: dict[str, Columns] = {
            name: {
                column: higher(values, first) if (name, column) in _NUMBERS_OF_CHARTS else values
                for column, values in columns.items()
            }
            for name, columns in self.tables.items()
        }
        return ChartRows(self.charts, tables, tallies_from(self.tallies, first))


_NUMBERS_OF_CHARTS = frozenset([("charts", "id"), ("other_headers", "chart")])


class FileRead(NamedTuple):
    """A file that was read: its path, the hash of what is in it (empty where that is not known), what became of it."""

    path: str
    content: str
    reading: Reading


def rows_of(files: Sequence[FileRead]) -> ChartRows:
    """The rows of files that were read, their charts numbered in this order; many files at a time are much faster."""
    charts = [(file.path, file.reading.chart) for file in files if file.reading.chart is not None]
    hashes = [file.content for file in files if file.reading.chart is not None]
    rows, remarks = _rows(charts, [int(each, 16) if each else None for each in hashes])
    told = []
    of_keys = iter(remarks)
    for path, _, reading in files:
        of_key = next(of_keys) if reading.chart is not None else None
        if reading.faults or reading.remarks or of_key:
            told += [(path, "fault", fault) for fault in reading.faults]
            told += [(path, "remark", remark) for remark in (*reading.remarks, *([of_key] if of_key else []))]
    unread = [(file.path, file.content) for file in files if file.reading.chart is None]
    return _with(rows, unread=_unread_columns(unread), faults=_fault_columns(told))


def rows_of_charts(charts: Sequence[tuple[str, Chart]]) -> ChartRows:
    """The rows of charts that are not in files, each with its path, as ``rows_of`` numbers them."""
    rows, remarks = _rows(charts, [None] * len(charts))
    told = [(path, "remark", remark) for (path, _), remark in zip(charts, remarks, strict=True) if remark]
    return _with(rows, faults=_fault_columns(told))


def _rows(charts: Sequence[tuple[str, Chart]], hashes: Sequence[int | None]) -> tuple[ChartRows, list[Fault | None]]:
    """The rows of charts, and for each of them what is to be remarked on its key."""
    # Whoever finds nothing to read starts faster without what works with arrays.
    from corpus.arrow_columns import number_column
    from corpus.gram_counting import tallied
    from corpus.played_columns import played_columns

    played = played_columns([chart for _, chart in charts])
    columns, other_headers = _chart_columns(charts, played)
    tallies = tallied(played.keys, played.minor, played.texts)
    rows = _with(
        ChartRows(len(charts), {}, tallies),
        charts={**columns, "hash": number_column(hashes, "uint64")},
        other_headers=_header_columns(other_headers),
    )
    return rows, _key_remarks(charts, played)


def _with(rows: ChartRows, **tables: Columns) -> ChartRows:
    """Rows of more tables; a table of no rows needs no columns."""
    some = {name: columns for name, columns in tables.items() if next(iter(columns.values())).size}
    return rows._replace(tables=rows.tables | some)


def _chart_columns(
    charts: Sequence[tuple[str, Chart]], played: PlayedColumns
) -> tuple[Columns, list[list[tuple[str, str]]]]:
    """All columns of charts but the hash of their files, and for each chart the headers that these do not tell."""
    from corpus.arrow_columns import number_column, text_column, texts_column, truth_column

    headers = [first_headers(chart.headers) for _, chart in charts]
    keys = of_each(_key_texts, [home.key for home in played.homes])
    found = [home.keys for home in played.homes]
    sections = [
        [(section.label, *_ends(section.body)) for section in chart.sections if section.body] for _, chart in charts
    ]
    titles = [its.get("title") or PurePosixPath(path).stem for its, (path, _) in zip(headers, charts, strict=True)]
    styles, metres = [its.get("style") for its in headers], of_each(str, [chart.metre for _, chart in charts])
    tempos, levels = ([_number(its.get(name)) for its in headers] for name in ("tempo", "level"))
    years, tags = [_year(its.get("year")) for its in headers], [_tags(its.get("tags")) for its in headers]
    named, modes = [name for name, _ in keys], [mode for _, mode in keys]
    plain = [list(map(_plain, numbers)) for numbers in (tempos, levels, years)]
    texts = (titles, named, metres, plain[0], styles, plain[1], plain[2], list(map(", ".join, tags)))
    told, other_headers = headers_in_short([chart.headers for _, chart in charts], headers, texts)
    columns = {
        "id": number_column(range(len(charts)), "int32"),
        "path": text_column([path for path, _ in charts]),
        "title": text_column(titles),
        "key": text_column(named),
        "key_found": truth_column([home.found for home in played.homes]),
        "key_chance": number_column([its[0].chance if its else None for its in found], "float64"),
        "key_rival": text_column([str(its[1].key) if its else None for its in found]),
        "mode": text_column(modes),
        "minor": truth_column(played.minor),
        "metre": text_column(metres),
        "tempo": number_column(tempos, "float64"),
        "style": text_column(styles),
        "level": number_column(levels, "float64"),
        "year": number_column(years, "int32"),
        "tags": texts_column(tags),
        "told": number_column(told, "uint8"),
        **_section_columns(sections),
        **_played_columns(played),
    }
    return columns, other_headers


def _played_columns(played: PlayedColumns) -> Columns:
    """The columns that say how a chart is played."""
    from corpus.arrow_columns import code_points_column, number_column, text_column
    from corpus.played_columns import runs_of_bars
    from corpus.ragged import CODE_POINTS

    begun = played.begun
    return {
        "played": number_column(begun.sizes, "int32"),
        "events": number_column(played.events, "int32"),
        **{name: code_points_column(texts) for name, texts in played.texts.items() if name != "tonic"},
        **{name: text_column(texts) for name, texts in played.pieces.items()},
        "begun": code_points_column(begun._replace(values=begun.values.astype(CODE_POINTS) + NONE_BEGIN)),
        "written": text_column(list(map(runs_in_short, runs_of_bars(played.bars)))),
        "segments": text_column(played.segments),
    }


def _section_columns(sections: Sequence[Sequence[WrittenSection]]) -> Columns:
    """The sections of charts, and how many bars are written in them: as many as the number of the last one says."""
    from corpus.arrow_columns import number_column, text_column

    return {
        "bars": number_column([its[-1][2] if its else 0 for its in sections], "int32"),
        "sections": text_column(list(map(sections_in_short, sections))),
    }


def _header_columns(headers: Sequence[Sequence[tuple[str, str]]]) -> Columns:
    from corpus.arrow_columns import number_column, text_column

    names, values = zip(*[header for its in headers for header in its] or [("", "")], strict=True)
    of = [number for number, its in enumerate(headers) for _ in its]
    return {
        "chart": number_column(of, "int32"),
        "name": text_column(names[: len(of)]),
        "value": text_column(values[: len(of)]),
    }


def _unread_columns(unread: Sequence[tuple[str, str]]) -> Columns:
    """Files that have no chart, by path and hash."""
    from corpus.arrow_columns import text_column

    return {"path": text_column([path for path, _ in unread]), "hash": text_column([content for _, content in unread])}


def _fault_columns(told: Sequence[tuple[str, str, Fault]]) -> Columns:
    """Faults, each with the path of its file and its severity."""
    from corpus.arrow_columns import number_column, text_column

    made = {
        "path": text_column([path for path, _, _ in told]),
        "severity": text_column([severity for _, severity, _ in told]),
    }
    for column, name in (("line", "line"), ("col", "column"), ("length", "length")):
        made[column] = number_column([getattr(fault, name) for _, _, fault in told], "int32")
    for name in ("message", "expected", "nearest", "text"):
        made[name] = text_column([getattr(fault, name) for _, _, fault in told])
    return made


def _key_remarks(charts: Sequence[tuple[str, Chart]], played: PlayedColumns) -> list[Fault | None]:
    """For each chart what is to be remarked on its key; nothing where it does not stay in one."""
    made: list[Fault | None] = [None] * len(charts)
    alone = (played.keys == 1).nonzero()[0]
    numbers = alone.tolist()
    its = [charts[number][1] for number in numbers]
    found = key_remarks(its, played.events[alone], played.ends[alone], played.homely[alone])
    for number, remark in zip(numbers, found, strict=True):
        made[number] = remark
    return made


def _ends(body: Sequence[Bar | Repeat]) -> tuple[int, int]:
    """The numbers of the first and the last bar as written."""
    first, last = body[0], body[-1]
    while isinstance(first, Repeat):
        first = first.body[0]
    while isinstance(last, Repeat):
        last = last.endings[-1].body[-1] if last.endings else last.body[-1]
    return first.number, last.number


def _key_texts(key: Key) -> tuple[str, str]:
    """A key as a header has it, and its mode."""
    return str(key), key.mode.label


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


def slot_columns() -> Columns:
    """What every code point stands for, as the index's table ``slots``."""
    from corpus.arrow_columns import number_column, text_column

    first, size, slot, family, tones, name = zip(*slot_rows(), strict=True)
    numbers = {"first": first, "size": size, "slot": slot, "tones": tones}
    made = {column: number_column(values, "int32") for column, values in numbers.items()}
    made |= {"family": text_column(family), "name": text_column(name)}
    return {column: made[column] for column in ("first", "size", "slot", "family", "tones", "name")}
