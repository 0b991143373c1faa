"""Charts as rows of the index's tables (see schema.sql), column by column, for many files at a time."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, NamedTuple

from corpus.codes import slot_rows
from corpus.key_remarks import key_remarks
from corpus.once import of_each
from corpus.unpacking import (
    NONE_BEGIN,
    PIECES,
    KeySegment,
    WrittenSection,
    headers_in_short,
    runs_in_short,
    sections_in_short,
    segments_in_short,
    strings_in_pieces,
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
    # Whoever finds nothing to read starts faster without what works with arrays.
    from corpus.arrow_columns import number_column
    from corpus.gram_counting import tallied
    from corpus.played_columns import played_columns

    charts = [(file.path, file.reading.chart) for file in files if file.reading.chart is not None]
    played = played_columns([chart for _, chart in charts])
    columns, other_headers = _chart_columns(charts, played)
    hashes = [file.content for file in files if file.reading.chart is not None]
    tables = {
        "charts": {**columns, "hash": number_column([int(each, 16) if each else None for each in hashes], "uint64")},
        "other_headers": _header_columns(other_headers),
        "unread": _unread_columns(files),
        "faults": _fault_columns(files, _key_remarks(charts, played)),
    }
    # A table of no rows needs no columns.
    tables = {name: columns for name, columns in tables.items() if next(iter(columns.values())).size}
    return ChartRows(len(charts), tables, tallied(played.keys, played.minor, played.texts))


def _chart_columns(
    charts: Sequence[tuple[str, Chart]], played: PlayedColumns
) -> tuple[Columns, list[list[tuple[str, str]]]]:
    """All columns of charts but the hash of their files, and for each chart the headers that these do not tell."""
    from corpus.arrow_columns import number_column, text_column, texts_column, truth_column

    headers = [dict(reversed(chart.headers)) for _, chart in charts]
    keys = of_each(_key_texts, [home.key for home in played.homes])
    found = [home.keys for home in played.homes]
    sections = [
        [(section.label, *_ends(section.body)) for section in chart.sections if section.body] for _, chart in charts
    ]
    titles = [its.get("title") or PurePosixPath(path).stem for its, (path, _) in zip(headers, charts, strict=True)]
    styles, metres = [its.get("style") for its in headers], of_each(str, [chart.metre for _, chart in charts])
    tempos, levels = ([_number(its.get(name)) for its in headers] for name in ("tempo", "level"))
    years, tags = [_year(its.get("year")) for its in headers], [_tags(its.get("tags")) for its in headers]
    in_short = [
        headers_in_short(chart.headers, (title, key, metre, _plain(tempo), style, _plain(level), _plain(year), listed))
        for (_, chart), title, (key, _), metre, tempo, style, level, year, listed in zip(
            charts, titles, keys, metres, tempos, styles, levels, years, map(", ".join, tags), strict=True
        )
    ]
    columns = {
        "id": number_column(range(len(charts)), "int32"),
        "path": text_column([path for path, _ in charts]),
        "title": text_column(titles),
        "key": text_column([name for name, _ in keys]),
        "key_found": truth_column([home.found for home in played.homes]),
        "key_chance": number_column([its[0].chance if its else None for its in found], "float64"),
        "key_rival": text_column([str(its[1].key) if its else None for its in found]),
        "mode": text_column([mode for _, mode in keys]),
        "minor": truth_column(played.minor),
        "metre": text_column(metres),
        "tempo": number_column(tempos, "float64"),
        "style": text_column(styles),
        "level": number_column(levels, "float64"),
        "year": number_column(years, "int32"),
        "tags": texts_column(tags),
        "told": number_column([told for told, _ in in_short], "uint8"),
        **_section_columns(sections),
        **_played_columns(played, [name for name, _ in keys]),
    }
    return columns, [rest for _, rest in in_short]


def _played_columns(played: PlayedColumns, homes: Sequence[str]) -> Columns:
    """The columns that say how a chart is played.

    Args:
        played: What is known of how each chart is played.
        homes: Their home keys.
    """
    from corpus.arrow_columns import code_points_column, number_column, text_column
    from corpus.played_columns import runs_of_bars
    from corpus.ragged import CODE_POINTS, texts_of

    events, begun = played.events, played.begun
    segments = [
        segments_in_short([KeySegment(str(key), *places) for key, places in its], *of)
        for its, *of in zip(played.segments, homes, events.tolist(), begun.sizes.tolist(), strict=True)
    ]
    whole = ("tonic", "tonic_bars")
    pieces = list(map(strings_in_pieces, *(texts_of(played.texts[name]) for name in whole)))
    in_pieces = zip(*pieces, strict=True) if pieces else [()] * len(PIECES)
    return {
        "played": number_column(begun.sizes, "int32"),
        "events": number_column(events, "int32"),
        **{name: code_points_column(texts) for name, texts in played.texts.items() if name not in whole},
        **{name: text_column(texts) for name, texts in zip(PIECES, in_pieces, strict=True)},
        "begun": code_points_column(begun._replace(values=begun.values.astype(CODE_POINTS) + NONE_BEGIN)),
        "written": text_column(list(map(runs_in_short, runs_of_bars(played.bars)))),
        "segments": text_column(segments),
    }


def _section_columns(sections: Sequence[Sequence[WrittenSection]]) -> Columns:
    """The sections of charts, and how many bars are written in them."""
    from corpus.arrow_columns import number_column, text_column

    return {
        "bars": number_column(list(map(_bars_in, sections)), "int32"),
        "sections": text_column(list(map(sections_in_short, sections))),
    }


def _bars_in(sections: Iterable[WrittenSection]) -> int:
    return sum(last - first + 1 for _, first, last in sections)


def _header_columns(headers: Sequence[Sequence[tuple[str, str]]]) -> Columns:
    from corpus.arrow_columns import number_column, text_column

    names, values = zip(*[header for its in headers for header in its] or [("", "")], strict=True)
    of = [number for number, its in enumerate(headers) for _ in its]
    return {
        "chart": number_column(of, "int32"),
        "name": text_column(names[: len(of)]),
        "value": text_column(values[: len(of)]),
    }


def _unread_columns(files: Sequence[FileRead]) -> Columns:
    from corpus.arrow_columns import text_column

    unread = [file for file in files if file.reading.chart is None]
    return {
        "path": text_column([file.path for file in unread]),
        "hash": text_column([file.content for file in unread]),
    }


def _fault_columns(files: Sequence[FileRead], of_keys: Iterable[Fault | None]) -> Columns:
    """The faults of files.

    Args:
        files: The files.
        of_keys: For each chart in them what is to be remarked on its key.
    """
    from corpus.arrow_columns import number_column, text_column

    told: list[tuple[str, str, Fault]] = []
    remarks = iter(of_keys)
    for path, _, reading in files:
        of_key = next(remarks) if reading.chart is not None else None
        if reading.faults or reading.remarks or of_key:
            told += [(path, "fault", fault) for fault in reading.faults]
            told += [(path, "remark", remark) for remark in (*reading.remarks, *([of_key] if of_key else []))]
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
    """For each chart what is to be remarked on its key."""
    made: list[Fault | None] = [None] * len(charts)
    alone = (played.keys == 1).nonzero()[0]
    numbers = alone.tolist()
    columns = (column[alone] for column in (played.events, played.ends, played.homely))
    for number, remark in zip(numbers, key_remarks([charts[each][1] for each in numbers], *columns), strict=True):
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
