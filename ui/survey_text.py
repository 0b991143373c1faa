"""Surveys as text, JSON, CSV and Parquet.

Conventions: text gives shares in percent; data gives them from 0 to 1. What there is to know beside a table is in its
notes.
"""

from __future__ import annotations

import io
import math
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from grammar.symbols import read_numeral
from search.survey_counts import What
from search.survey_tables import ITEM_COLUMNS
from search.survey_tokens import ROMAN_ROOTS, ROOTS
from shared.pattern import Strength
from ui.text_answers import plural

if TYPE_CHECKING:
    import pandas as pd

    from search.survey import Surveyed

_DIGITS = 6
_CLEAR = 0.05
_CHORDS = frozenset(("root", "numbers", "from", "to", "chord"))
_WIDTH = 100
#: What a row of the JSON answer has beside its item.
_JSON_COUNTS = ("times", "share", "charts", "low", "high")
_JSON_TRANSITION = ("times", "share")


def shown_rows(made: Surveyed, limit: int) -> pd.DataFrame:
    """The first rows of each group; all of them where ``limit`` is 0."""
    if not limit:
        return made.table
    if "group" in made.table.columns:
        return made.table.groupby("group", sort=False).head(limit)
    return made.table.head(limit)


def in_roman(made: Surveyed) -> Surveyed:
    """The same survey with its chords as Roman numerals; a root alone is written with capitals."""
    table = made.table.copy()
    for name in _CHORDS.intersection(ITEM_COLUMNS[made.question.what]):
        table[name] = [
            [roman(each) for each in item] if isinstance(item, list) else roman(item) for item in table[name]
        ]
    return replace(made, table=table)


def roman(number: str) -> str:
    """A chord of a survey as a Roman numeral.

    >>> roman("b7"), roman("2m"), roman("57")
    ('bVII', 'ii', 'V7')
    """
    return read_numeral(number).roman


def survey_json(made: Surveyed, limit: int) -> dict[str, Any]:
    """What ``survey --json`` prints; ``limit`` rows of each group, 0 for all."""
    what = made.question.what
    table = shown_rows(made, limit)
    if made.question.against is None:
        kept = ["group", *ITEM_COLUMNS[what], *(_JSON_TRANSITION if what is What.TRANSITIONS else _JSON_COUNTS)]
        table = table[[name for name in kept if name in table.columns]]
    rows = [{name: _plain(value) for name, value in row.items()} for row in table.to_dict("records")]
    answer: dict[str, Any] = {"what": what.value, "charts": made.charts}
    if made.question.by is not None:
        answer["groups"] = made.groups
    return {**answer, "rows": rows}


def _plain(value: Any) -> Any:
    """A value as JSON has it: no NaN, and no more digits than mean something."""
    if isinstance(value, float):
        return None if math.isnan(value) else round(value, _DIGITS)
    return value


def survey_csv(made: Surveyed, limit: int) -> str:
    """The table as CSV, the numbers of a sequence apart by spaces."""
    table = shown_rows(made, limit)
    if "numbers" in table.columns:
        table = table.assign(numbers=[" ".join(each) for each in table["numbers"]])
    return table.to_csv(index=False, lineterminator="\n")


def survey_parquet(made: Surveyed, limit: int) -> bytes:
    """The table as a Parquet file; the numbers of a sequence are a list."""
    file = io.BytesIO()
    shown_rows(made, limit).to_parquet(file, index=False)
    return file.getvalue()


def notes_text(made: Surveyed) -> str:
    """The notes, one a line, and where nothing was counted why."""
    return "\n".join([*([nothing(made)] if not len(made.table) else []), *made.notes])


def nothing(made: Surveyed) -> str:
    """Why a table is empty."""
    if not made.charts:
        fits = "no tune fits" if made.question.filters.sentences() else "the library has no tunes"
        return f"There is nothing to survey: {fits}."
    return f"There is nothing to survey: none of the {plural(made.charts, 'tune')} asked has any."


def survey_text(made: Surveyed, limit: int) -> str:
    """A survey as a teacher reads it in a terminal; ``limit`` rows of each group, 0 for all."""
    question = made.question
    lines = [f"{question.sentence}."]
    if not len(made.table):
        return "\n".join([*lines, nothing(made), *made.notes])
    lines.append(f"{plural(made.charts, 'tune')} asked.")
    if question.against is not None:
        lines += ["", *_compared(made, limit)]
    elif question.by is not None:
        for name, charts in made.groups.items():
            own = made.table[made.table["group"] == name]
            if len(own):
                lines += ["", f"{question.by} {name}, {plural(charts, 'tune')}", *_counted(made, own, limit)]
    elif _matrix(made):
        lines += ["", *matrix_lines(made.table)]
    else:
        lines += ["", *_counted(made, made.table, limit)]
    said = [textwrap.fill(each, _WIDTH) for each in (explained(made), *made.notes)]
    return "\n".join([*lines, "", *said])


def _matrix(made: Surveyed) -> bool:
    """Whether the counts are told as a matrix: of roots alone, which are twelve."""
    return made.question.what is What.TRANSITIONS and made.question.strength is Strength.LOOSE


def matrix_lines(table: pd.DataFrame) -> list[str]:
    """Transitions as a matrix of times, a row for each chord that is left."""
    times = {(row["from"], row["to"]): row["times"] for row in table.to_dict("records")}
    used = [root for root in (*ROOTS, *ROMAN_ROOTS) if any(root in pair for pair in times)]
    rows = [[first, *(f"{times[first, to]:,}" if (first, to) in times else "." for to in used)] for first in used]
    return columns(["from \\ to", *used], rows, 1)


def columns(heads: Sequence[str], rows: Sequence[Sequence[str]], names: int) -> list[str]:
    """Rows in columns under heads, the first ``names`` of them to the left, figures to the right."""
    widths = [max(map(len, column)) for column in zip(heads, *rows, strict=True)]
    lines = []
    for row in (heads, *rows):
        cells = [
            cell.ljust(width) if place < names else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return lines


def _counted(made: Surveyed, table: pd.DataFrame, limit: int) -> list[str]:
    items = ITEM_COLUMNS[made.question.what]
    of_tunes = made.question.what.of_tunes
    heads = [*map(head_of, items), "tunes", "of tunes", "95%"] if of_tunes else None
    heads = heads or [*map(head_of, items), "times", "share", "95%", "tunes", "of tunes", "95%"]
    shown = table.head(limit) if limit else table
    rows = []
    for row in shown.to_dict("records"):
        cells = [item_text(row[name]) for name in items]
        if of_tunes:
            share = row["share"]
        else:
            share = row["of_tunes"]
            cells += [f"{row['times']:,}", percent(row["share"]), span(row["share_low"], row["share_high"])]
        rows.append([*cells, f"{row['charts']:,}", percent(share), span(row["low"], row["high"])])
    lines = columns(heads, rows, len(items))
    hidden = len(table) - len(shown)
    return [*lines, f"… and {hidden:,} more (--limit 0 shows all)"] if hidden else lines


def _compared(made: Surveyed, limit: int) -> list[str]:
    items = ITEM_COLUMNS[made.question.what]
    sizes = [f"{name} ({plural(charts, 'tune')})" for name, charts in made.groups.items()]
    heads = [*map(head_of, items), *made.groups, "difference", "95%", "G²", "q", "log-odds", "z", ""]
    shown = made.table.head(limit) if limit else made.table
    rows = []
    for row in shown.to_dict("records"):
        rows.append(
            [
                *(item_text(row[name]) for name in items),
                percent(row["share_1"]),
                percent(row["share_2"]),
                f"{100 * row['difference']:+.1f}",
                span(row["difference_low"], row["difference_high"], signed=True),
                f"{row['g2']:.1f}",
                chance(row["q"]),
                f"{row['log_odds']:+.2f}",
                f"{row['z']:+.1f}",
                "*" if clear(row) else "",
            ]
        )
    lines = [" against ".join(sizes), "", *columns(heads, rows, len(items))]
    hidden = len(made.table) - len(shown)
    return [*lines, f"… and {hidden:,} more (--limit 0 shows all)"] if hidden else lines


def clear(row: Mapping[Any, Any]) -> bool:
    """Whether a difference of two groups is to be trusted: by the corrected chance and by the bootstrap."""
    outside = row["difference_low"] > 0 or row["difference_high"] < 0
    return bool(row["q"] < _CLEAR and outside)


def explained(made: Surveyed, table: bool = False) -> str:
    """What the columns are; ``table`` where transitions are told row by row rather than as a matrix."""
    what = made.question.what
    if made.question.against is not None:
        whole = "of the tunes" if what.of_tunes else f"of all {counted_things(what)}"
        mark = "“clear”" if table else "*"
        return (
            f"Shares are {whole} of a group, in percent; above 0 the first group has more. {mark} marks the "
            f"differences to be trusted: q under {_CLEAR}, and an interval that leaves out 0."
        )
    if what.of_tunes:
        return "of tunes: in percent, with the 95% Wilson interval."
    if not table and made.question.by is None and _matrix(made):
        return "How often the chord on the left is followed by the chord above, as played, within one key."
    return (
        f"share: of all {counted_things(what)}, as played, with the 95% interval by the bootstrap over tunes. "
        "of tunes: those that have it, with the 95% Wilson interval. All in percent."
    )


def counted_things(what: What) -> str:
    """What the share of a survey is a share of."""
    named = {
        What.SEQUENCES: "sequences of that length",
        What.TRANSITIONS: "transitions",
        What.BEFORE: "chords before it",
        What.AFTER: "chords after it",
        What.CADENCES: "cadences",
    }
    return named.get(what, "chords")


def head_of(name: str) -> str:
    """A column's head for people."""
    return {"numbers": "sequence"}.get(name, name)


def item_text(value: Any) -> str:
    """An item for people."""
    return " ".join(value) if isinstance(value, list) else str(value)


def percent(share: float) -> str:
    """A share in percent.

    >>> percent(0.3274), percent(0.0004), percent(0.00001)
    ('32.7', '0.04', '<0.01')
    """
    if 0 < share < 0.0001:
        return "<0.01"
    return f"{100 * share:.1f}" if share >= 0.001 or share == 0 else f"{100 * share:.2f}"


def span(low: float, high: float, signed: bool = False) -> str:
    """An interval in percent; empty where it was not worked out.

    >>> span(0.1, 0.254), span(-0.02, 0.013, signed=True)
    ('10.0–25.4', '-2.0 to +1.3')
    """
    if math.isnan(low):
        return ""
    return f"{100 * low:+.1f} to {100 * high:+.1f}" if signed else f"{100 * low:.1f}–{100 * high:.1f}"


def chance(value: float) -> str:
    """A chance with two digits that mean something.

    >>> chance(0.034), chance(0.0000001)
    ('0.034', '<0.001')
    """
    return f"{value:.2g}" if value >= 0.001 else "<0.001"
