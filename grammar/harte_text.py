"""Writes a chart as Harte chords in bars: the plain text of an annotation, one phrase a line.

Conventions:
    * What is written is the notation that ``grammar.billboard`` reads: a start time, a label where a section begins,
      bars, and ``x2`` where they are played again. Times follow from ``tempo:``, 120 where there is none.
    * Sections are written in playing order, a form written out. A repeat of plain bars is one line; endings, repeats in
      repeats and repeats with a change inside are written out. Cells share a bar equally, so a long chord has dots.
    * The key is a tonic: the notation has no modes, and a reader finds the mode from the chords on the tonic. Where
      that makes a key of more than seven signs (G# major), it is read under its other name, chords and all.
    * A line of chords above words is one bar, which they share. Words, other headers, and the brackets of a label have
      no room.

Source of the chord labels: see ``grammar.harte``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from grammar.bar_content import MOST_CELLS, cell_counts
from grammar.billboard import MOST_TIMES
from grammar.building import section_label
from grammar.harte import write_harte
from shared.chart import Bar, Chart, Metre, Repeat
from shared.chord import Chord
from shared.pitch import Pitch

_BARS_A_LINE = 4
_USUAL_TEMPO = 120.0
_NUMBER = re.compile(r"[1-9]\d{0,3}(\.\d+)?")
_NO_LABEL = re.compile(r"[()]")


def write_harte_text(chart: Chart) -> str:
    """A chart as bars of Harte chords.

    Args:
        chart: The chart.

    Returns:
        The text, ending with a line end. ``read_billboard`` gives of it the same chords and bars in playing order, and
        the same tonics.

    >>> from grammar.charts import read_chart
    >>> text = write_harte_text(read_chart("title: X\\nkey: Am\\n[A]\\n| Am | Dm7 . E7/G# |x2").chart)
    >>> print(text.expandtabs(8), end="")
    # title: X
    # metre: 4/4
    # tonic: A
    <BLANKLINE>
    0.000   A, | A:min | D:min7 . . E:7/3 | x2
    8.000   end
    """
    writer = _Writer(chart)
    for label, body in _played(chart):
        writer.section(label, body)
    return writer.text()


def _played(chart: Chart) -> Iterator[tuple[str | None, tuple[Bar | Repeat, ...]]]:
    """The sections in playing order."""
    if not chart.form:
        yield from ((section.label, section.body) for section in chart.sections)
        return
    labelled = {section.label: section.body for section in chart.sections}
    yield from ((None, section.body) for section in chart.sections if section.label is None)
    yield from ((label, labelled[label]) for label in chart.form)


class _Writer:
    """The lines so far, the time, and what is in force."""

    def __init__(self, chart: Chart) -> None:
        names = (("title", "title"), ("artist", "by"))
        said = ((name, " ".join((chart.header(header) or "").split())) for name, header in names)
        self._lines = [f"# {name}: {value}" for name, value in said if value]
        tempo = chart.header("tempo") or ""
        self._pace = Fraction(60) / Fraction(tempo if _NUMBER.fullmatch(tempo) else str(_USUAL_TEMPO))
        self._time = Fraction(0)
        self._metre: Metre | None = None
        self._tonic: Pitch | None = None
        self._label: str | None = None
        self._bars: list[str] = []
        self._music = False
        #: The chord that sounds in the order written, at most one; empty where nothing has sounded yet.
        self._sounding: list[Chord | None] = []
        first = next((bar for _, bar in chart.bars() if not bar.own_metre), None)
        self._in_force(first.metre if first else chart.metre, chart.key.tonic if chart.key else None)

    def text(self) -> str:
        """The whole text."""
        return "\n".join([*self._lines, f"{self._now}\tend"]) + "\n"

    def section(self, label: str | None, body: Sequence[Bar | Repeat]) -> None:
        """One playing of a section."""
        self._label = section_label(_NO_LABEL.sub(" ", label)) if label else None
        for item in body:
            if isinstance(item, Bar):
                self._bar(item)
                if len(self._bars) == _BARS_A_LINE:
                    self._end_line()
            else:
                self._repeat(item)
        self._end_line()

    @property
    def _now(self) -> str:
        return f"{float(self._time):.3f}"

    def _in_force(self, metre: Metre, tonic: Pitch | None) -> None:
        """Says what metre and tonic hold from here."""
        said = [f"# metre: {metre}"] if metre != self._metre else []
        said += [f"# tonic: {tonic}"] if tonic is not None and tonic != self._tonic else []
        if said:
            self._end_line()
            self._lines += said
        self._metre, self._tonic = metre, tonic or self._tonic

    def _end_line(self, times: int = 1) -> None:
        if not self._bars:
            return
        if not self._music:
            self._lines.append("")
            self._music = True
        label = f"{self._label}, " if self._label else ""
        tail = f" x{times}" if times > 1 else ""
        self._lines.append(f"{self._started}\t{label}| {' | '.join(self._bars)} |{tail}")
        self._bars, self._label = [], None

    def _bar(self, bar: Bar) -> None:
        assert self._metre is not None
        self._in_force(self._metre if bar.own_metre else bar.metre, bar.key.tonic if bar.key else None)
        if not self._bars:
            self._started = self._now
        own = f"({bar.metre}) " if bar.metre != self._metre else ""
        self._bars.append(own + " ".join(self._cells(bar)))
        self._time += bar.metre.beats * self._pace

    def _cells(self, bar: Bar) -> Iterator[str]:
        """The cells of a bar, so many that they share it equally."""
        beats = bar.beats()
        counts, _ = cell_counts(beats, bar.metre.beats)
        if sum(counts) > MOST_CELLS:
            counts = (1,) * len(beats)
        for cell, count in zip(bar.cells, counts, strict=True):
            goes_on = not cell.struck and [cell.chord] == self._sounding
            yield "." if goes_on else write_harte(cell.chord)
            yield from ["."] * (count - 1)
            self._sounding = [cell.chord]

    def _repeat(self, repeat: Repeat) -> None:
        """A line with ``x2`` behind it, or all of it written out."""
        bars = [item for item in repeat.body if isinstance(item, Bar)]
        plain = len(bars) == len(repeat.body) and not repeat.endings and repeat.times <= MOST_TIMES
        key, metres = bars[0].key if bars else None, {bar.metre for bar in bars if not bar.own_metre}
        if plain and all(bar.key == key for bar in bars) and len(metres) <= 1:
            self._end_line()
            start = self._time
            for metre in metres:
                self._in_force(metre, key.tonic if key else None)
            for bar in bars:
                self._bar(bar)
            self._end_line(repeat.times)
            self._time = start + (self._time - start) * repeat.times
            return
        for time in range(1, repeat.times + 1):
            self._unfolded(repeat.body)
            for ending in repeat.endings:
                if time in ending.numbers:
                    self._unfolded(ending.body)

    def _unfolded(self, body: Iterable[Bar | Repeat]) -> None:
        for item in body:
            if isinstance(item, Bar):
                self._bar(item)
                if len(self._bars) == _BARS_A_LINE:
                    self._end_line()
            else:
                self._repeat(item)
