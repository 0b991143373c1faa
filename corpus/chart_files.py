"""Reads the content of a chart file: bytes that are text, text that is a chart, a chart that can be played."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

from corpus.library import LARGEST
from corpus.unfolding import playing_order
from grammar.charts import read_chart
from shared.chart import Bar, Reading, Repeat, Section
from shared.errors import Fault

#: The most cells that a chart may have as it is played, and bars as written: in the index both are 16-bit numbers.
MOST_PLAYED = 65_535
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


def read_bytes(content: bytes) -> Reading:
    """Reads a chart from the bytes of a file; bytes that are no chart text are a fault."""
    if len(content) > LARGEST:
        fault = Fault(f"the file is larger than {LARGEST:,} bytes", expected="a chart, which is a few thousand")
        return Reading(None, (fault,))
    if content.startswith(_UTF_16):
        return Reading(None, (Fault("the file is saved as UTF-16", 1, expected="plain text saved as UTF-8"),))
    if b"\x00" in content:
        offset = content.index(b"\x00")
        line = content.count(b"\n", 0, offset) + 1
        return Reading(None, (Fault("the file holds binary data", line, expected="plain text in UTF-8"),))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start]
        line = before.count(b"\n") + 1
        start = before.rfind(b"\n") + 1
        column = len(before[start:].decode("utf-8", "replace")) + 1
        end = content.find(b"\n", error.start)
        shown = content[start : end if end >= 0 else len(content)].decode("utf-8", "replace").rstrip("\r")
        message = f"byte {content[error.start]:#04x} is not UTF-8"
        fault = Fault(message, line, column, 1, shown, "text saved as UTF-8")
        return Reading(None, (fault,))
    return read_text(text)


def read_text(text: str) -> Reading:
    """Reads a chart that is to be played: one that is endless, or silent throughout, has a fault."""
    reading = read_chart(text)
    if reading.chart is None:
        return reading
    order = playing_order(reading.chart)
    cells = {id(section): _cells(section.body) for section in reading.chart.sections}
    played = sum(cells[id(section)] for section in order)
    # Only a text that is far longer than any chart can hold so many bars.
    written = sum(1 for _ in reading.chart.bars()) if len(text) > MOST_PLAYED else 0
    if written > MOST_PLAYED:
        message = f"this chart has {written:,} bars"
        fault = Fault(message, expected=f"at most {MOST_PLAYED:,}")
    elif played > MOST_PLAYED:
        message = f"played out, this chart has {played:,} cells"
        fault = Fault(message, expected=f"at most {MOST_PLAYED:,} with repeats and form unfolded")
    elif not any(_sounds(section) for section in {id(section): section for section in order}.values()):
        fault = Fault("no chord is ever played in this chart", expected="at least one chord in what is played")
    else:
        return reading
    return Reading(None, (fault,), reading.remarks)


def _cells(body: Sequence[Bar | Repeat]) -> int:
    """How many cells are played."""
    if Repeat not in map(type, body):
        return sum([len(bar.cells) for bar in cast("Sequence[Bar]", body)])
    count = 0
    for item in body:
        if isinstance(item, Bar):
            count += len(item.cells)
        else:
            count += item.times * _cells(item.body)
            count += sum(len(ending.numbers) * _cells(ending.body) for ending in item.endings)
    return count


def _sounds(section: Section) -> bool:
    """Whether a chord sounds in a section."""
    return any(cell.chord is not None for bar in section.bars() for cell in bar.cells)
