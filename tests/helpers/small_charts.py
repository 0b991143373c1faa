"""Small charts for tests, a bar for each ``|``; ``.`` holds the chord before and ``N.C.`` is silence."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

from grammar.keys import read_key
from grammar.symbols import read_chord
from shared.chart import Bar, Cell, Chart, Section
from shared.chord import Chord
from shared.key import Key


class Scribe:
    """Writes bars one after the other, numbered through the chart."""

    def __init__(self, key: str = "C") -> None:
        self.key: Key | None = read_key(key)
        self.numbers = count(1)
        self.before: Chord | None = None

    def bars(self, text: str, key: str | None = None) -> tuple[Bar, ...]:
        if key is not None:
            self.key = read_key(key)
        return tuple(Bar(next(self.numbers), tuple(self.cells(bar)), self.key) for bar in text.split("|"))

    def cells(self, bar: str) -> Iterator[Cell]:
        for word in bar.split():
            if word != ".":
                self.before = None if word == "N.C." else read_chord(word)
            yield Cell(word, self.before, struck=word != ".")


def chart_of(text: str, key: str = "C") -> Chart:
    scribe = Scribe(key)
    return Chart((), (Section(None, scribe.bars(text)),), key=read_key(key))


def labelled(*sections: tuple[str, str], form: tuple[str, ...] = (), key: str = "C") -> Chart:
    scribe = Scribe(key)
    return Chart((), tuple(Section(name, scribe.bars(text)) for name, text in sections), form, read_key(key))


def changing(*keyed: tuple[str, str]) -> Chart:
    scribe = Scribe()
    bars = [bar for key, text in keyed for bar in scribe.bars(text, key)]
    return Chart((), (Section(None, tuple(bars)),), key=read_key(keyed[0][0]))


def sounds(chart: Chart) -> bool:
    """Whether there is any chord in a chart."""
    return any(cell.chord is not None for _, bar in chart.bars() for cell in bar.cells)
