"""Writes a chart as text, so that reading it gives the same chart again.

Conventions: cells are written as they were typed; the layout is our own (four bars a line, a blank line before every
section). Headers are written as they stand: the chart's key, metre and form must be those of its headers. In a chart
without any, a bar line alone keeps what follows from being read as one.
"""

from __future__ import annotations

from collections.abc import Sequence

from grammar.headers import bare_known, named_line
from shared.chart import Bar, Chart, Ending, Metre, Repeat, Section
from shared.key import Key

BARS_A_LINE = 4
_UNFIT = frozenset("[]\r\n")


def write_chart(chart: Chart) -> str:
    """A chart as text.

    Args:
        chart: The chart.

    Returns:
        The text, ending with a line end.

    Raises:
        ValueError: If the chart holds something that has no notation: a change of key or metre (other than a bar's own
            metre) or words inside a second or later ending that is not the last time played; a repeat inside a repeat
            that is more than one line of plain bars; a label with a bracket in it; a section without a label behind
            another one.

    >>> from grammar.charts import read_chart
    >>> print(write_chart(read_chart("key:C\\n\\nA:\\nC|F|G|C:|").chart), end="")
    key: C
    <BLANKLINE>
    [A]
    |: C | F | G | C :|
    """
    writer = _Writer(chart)
    for name, value in chart.headers:
        writer.line(f"{name}: {value}".rstrip())
    for index, section in enumerate(chart.sections):
        if section.label is None and index:
            raise ValueError("a section without a label stands behind another one")
        if section.label is not None and (_UNFIT & set(section.label) or not section.label.strip()):
            raise ValueError(f"a label cannot be written: {section.label!r}")
        writer.section(section)
    return writer.text()


class _Writer:
    """The text so far, the line of music being written, and the key and metre in force."""

    def __init__(self, chart: Chart) -> None:
        self._lines: list[str] = []
        self._row: list[str] = []
        self._bars = 0
        self._mark = "|"
        self._below_chords = -1
        self._no_wrap = self._no_break = False
        self._key: Key | None = chart.key
        self._metre: Metre = chart.metre

    def line(self, text: str) -> None:
        """One line as it is."""
        self._lines.append(text)

    def text(self) -> str:
        """The whole text."""
        return "\n".join(self._lines) + "\n"

    def section(self, section: Section) -> None:
        """A blank line, the label, words, and the bars."""
        if self._lines:
            self.line("")
        if section.label is not None:
            self.line(f"[{section.label}]")
        if not self._lines and any(named_line(1, w) or bare_known(w, True) for w in section.words.split("\n")):
            self.line("|")
        self._words(section.words)
        self._items(section.body, nested=False)
        self._end_row()

    def _words(self, words: str) -> None:
        if words:
            self._lines += words.split("\n")

    def _items(self, items: Sequence[Bar | Repeat], nested: bool) -> None:
        index = 0
        while index < len(items):
            item = items[index]
            if isinstance(item, Bar):
                index += self._bar(items, index)
            else:
                if nested:
                    self._repeated_line(item)
                else:
                    self._repeat(item)
                index += 1

    def _end_row(self, tail: str = "") -> None:
        """Ends the line of music, with ``tail`` behind its last bar line."""
        if self._row or tail:
            self.line("".join(self._row) + "|" + tail)
        self._row, self._bars = [], 0

    def _bar(self, items: Sequence[Bar | Repeat], index: int) -> int:
        """Writes a bar, or both bars of a ``%2``.

        Returns:
            How many bars it wrote.
        """
        bar = items[index]
        assert isinstance(bar, Bar)
        pair = items[index : index + max(1, bar.again)]
        last = pair[-1]
        if not isinstance(last, Bar) or len(pair) < bar.again or last.again != bar.again:
            raise ValueError("a bar of two that are played again stands alone")
        self._changes(items, index)
        if not bar.measured:
            self._chords(bar, "")
            return 1
        if self._bars >= BARS_A_LINE and not self._no_wrap:
            self._end_row()
        cells = " ".join(cell.written for cell in bar.cells)
        content = ("", "%", "%2")[bar.again] or cells
        if bar.own_metre:
            content = f"({bar.metre}) {content}".rstrip()
        self._row.append(f"{self._mark} {content} " if content else f"{self._mark} ")
        self._mark = "|"
        self._bars += len(pair)
        if last.words:
            self._end_row()
            self._words(last.words)
        return len(pair)

    def _changes(self, items: Sequence[Bar | Repeat], index: int) -> None:
        """Writes ``key:`` and ``time:`` lines where another key or metre comes into force.

        Before a bar with its own metre that of the next bars is written: within a line there is no room for it later.
        """
        bar = items[index]
        assert isinstance(bar, Bar)
        following = (item.metre for item in items[index:] if isinstance(item, Bar) and not item.own_metre)
        metre = next(following, self._metre)
        lines = []
        if bar.key != self._key:
            if bar.key is None:
                raise ValueError("a bar without a key stands behind one that has one")
            self._key = bar.key
            lines.append(f"key: {bar.key}")
        if metre != self._metre:
            self._metre = metre
            lines.append(f"time: {metre}")
        if lines:
            if not self._lines:
                self.line("|")
            self._break("a change of key or metre")
            self._lines += lines

    def _break(self, why: str) -> None:
        """Ends the line of music before its time; not in the middle of what must stand on one line."""
        if self._no_break:
            raise ValueError(f"{why} in the middle of a line that is repeated, or of an ending that is not the first")
        self._end_row()

    def _open_mark(self) -> None:
        """Writes a repeat mark that no bar on its own line follows."""
        self._end_row()
        if self._mark != "|":
            self.line(self._mark)
            self._mark = "|"

    def _chords(self, bar: Bar, tail: str) -> None:
        """A line of chord names, and the words under it."""
        self._break("a line of chords above words")
        self._open_mark()
        text = ""
        for cell in bar.cells:
            text = text.ljust(max(cell.column - 1, len(text) + bool(text))) + cell.written
        if len(self._lines) == self._below_chords:
            self.line("")
        self.line(text + tail)
        self._words(bar.words)
        if not bar.words:
            self._below_chords = len(self._lines)

    def _repeat(self, repeat: Repeat) -> None:
        if self._one_chord_line(repeat):
            self._repeated_line(repeat)
            return
        if not repeat.body:
            raise ValueError("a repeat holds no bar")
        self._end_row()
        self._mark = "|:"
        self._items(repeat.body, nested=True)
        for index, ending in enumerate(repeat.endings):
            if index:
                self._close()
            elif self._row and not self._row[-1].strip("|:. "):
                self._end_row()
            self._mark = f"|{','.join(map(str, ending.numbers))}."
            self._ending(ending, first=index == 0, final=ending.numbers == (repeat.times,))
        if len(repeat.endings) > 1:
            self._end_row()
        else:
            self._close()
            self._end_row(f"x{repeat.times}" if repeat.times != 2 and not repeat.endings else "")

    def _close(self) -> None:
        """Puts the colon of ``:|`` behind the last bar."""
        if self._row:
            self._row[-1] += ":"
        else:
            self._row.append(":")

    def _ending(self, ending: Ending, first: bool, final: bool) -> None:
        """The bars of an ending. Only the first can go on in a new line; bars behind the final one play the same."""
        if not ending.body:
            raise ValueError("an ending holds no bar")
        index = 0
        while index < len(ending.body):
            self._no_wrap = index > 0 and not first
            self._no_break = self._no_wrap and not final
            index += self._bar(ending.body, index)
            if not self._row and index < len(ending.body) and not first and not final:
                raise ValueError("words in the middle of an ending that is not the first")
        self._no_wrap = self._no_break = False

    @staticmethod
    def _one_chord_line(repeat: Repeat) -> bool:
        only = repeat.body[0] if len(repeat.body) == 1 and not repeat.endings else None
        return isinstance(only, Bar) and not only.measured

    def _repeated_line(self, repeat: Repeat) -> None:
        """A line with ``x3`` behind it: plain bars, or one line of chords above words."""
        bars = [item for item in repeat.body if isinstance(item, Bar)]
        tail = f"x{repeat.times}"
        plain = len(bars) == len(repeat.body) and not repeat.endings and bars
        if not plain or any(bar.words for bar in bars[:-1]) or (len(bars) > 1 and not all(b.measured for b in bars)):
            raise ValueError("a repeat inside a repeat is more than one line of plain bars")
        self._changes(bars, 0)
        self._open_mark()
        if not bars[0].measured:
            self._chords(bars[0], f"  {tail}")
            return
        words, bars[-1] = bars[-1].words, bars[-1]._replace(words="")
        index = 0
        while index < len(bars):
            self._no_wrap = self._no_break = index > 0
            index += self._bar(bars, index)
        self._no_wrap = self._no_break = False
        self._end_row(f" {tail}")
        self._words(words)
