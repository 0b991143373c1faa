"""Writes a chart as ABC 2.1: chord symbols over rests, which print and play as chords alone.

Conventions:
    * Every struck chord stands over a rest of its length; a bar that only holds a chord is a rest. What is held is
      written again where another program would hear another chord (at the head of an ending).
    * ``T: C: S: R: Q: M: L: K:`` hold title, who it is by, source, style, tempo, metre, length and key; other headers,
      and words, have no place. A tempo is written in the beats that the metre has (common practice: three eighths in
      6/8, 9/8 and 12/8).
    * Sections are parts. A chart with a form gets letters for its sections, as ``P:`` in a header needs them; a name
      that is no letter then stands above the first bar of its section. Without a form, or with more than 26 sections,
      they stand in playing order under their own names.
    * Changes of key and metre stand on lines of their own, which more programs read than ``[K:G]``.
    * A repeat inside a repeat is written out. Chords above words, whose lengths are not known, get a bar each.
    * Chord names have no brackets, since a bracket is an alternative in ABC, and no ``6/9``, since ``/`` is a bass.
      Some of the rarer ones are written ``M9`` and ``mM7``, which more programs know than ``maj9`` and ``mmaj7``.

Source: the ABC music standard 2.1 (December 2011).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from string import ascii_uppercase

from grammar.abc_fields import MODE_NAMES, encoded
from grammar.abc_symbols import read_abc_symbol
from grammar.bar_content import SILENCE
from shared.chart import Bar, Cell, Chart, Ending, Metre, Repeat, Section
from shared.chord import Chord
from shared.key import Key, Mode

BARS_A_LINE = 4
_UNIT = Fraction(1, 8)
#: A major seventh that not every program knows when it is written "maj": with a minor third, or a ninth above it.
_MAJOR_SEVENTH = re.compile(r"^(?P<minor>(?:m|dim)?)maj(?P<number>9|1[13]|(?<=mmaj)7)")
_FIELDS = (("title", "T"), ("by", "C"), ("source", "S"), ("style", "R"))


def write_abc(chart: Chart) -> str:
    """A chart as one ABC tune.

    Args:
        chart: The chart.

    Returns:
        The text, ending with a line end. ``read_abc`` gives the same chords, bars and keys again.

    >>> from grammar.charts import read_chart
    >>> print(write_abc(read_chart("title: T\\nkey: Am\\ntime: 3/4\\n\\n|: Am . E7 | Am :|").chart), end="")
    X:1
    T:T
    M:3/4
    L:1/8
    K:Am
    |:"Am"z4"E7"z2|"Am"z6:|
    """
    return _Writer(chart).text()


def _key_text(key: Key | None) -> str:
    if key is None:
        return "none"
    mode = {Mode.MAJOR: "", Mode.MINOR: "m"}.get(key.mode)
    return f"{key.tonic}{MODE_NAMES[key.mode].capitalize() if mode is None else mode}"


def _tempo_text(tempo: str, metre: Metre) -> str:
    """A tempo in the beats that are counted in a metre."""
    beat = f"3/{metre.unit}" if metre.unit > 4 and metre.beats % 3 == 0 and metre.beats > 3 else f"1/{metre.unit}"
    return f"{beat}={tempo}"


def _length_text(length: Fraction) -> str:
    """A length behind a rest, counted in unit note lengths: nothing for one."""
    over = "" if length.numerator == 1 else str(length.numerator)
    return over if length.denominator == 1 else f"{over}/{length.denominator}"


@lru_cache(maxsize=4096)
def chord_text(chord: Chord | None) -> str:
    """The chord symbol of a chord: its name, without brackets and bare alterations where that reads the same.

    >>> from grammar.symbols import read_chord
    >>> [chord_text(read_chord(each)) for each in ("Am(maj7)", "C6/9/E", "C(b5)", "Bbm7b5")]
    ['AmM7', 'C6add9/E', 'Cmajb5', 'Bbm7b5']
    """
    if chord is None:
        return SILENCE
    root, bass = str(chord.root), f"/{chord.bass}" if chord.bass else ""
    quality = replace(chord, bass=None).name.removeprefix(root)
    plain = quality.replace("6/9", "6add9").translate(str.maketrans("", "", "(),"))
    plain = _MAJOR_SEVENTH.sub(r"\g<minor>M\g<number>", plain)
    named = [f"{root}{maj}{plain}{bass}" for maj in ("", "maj")]
    return next((name for name in named if read_abc_symbol(name).chord == chord), chord.name)


class _Writer:
    """The lines so far, the line of music being written, and what is in force."""

    def __init__(self, chart: Chart) -> None:
        self._chart = chart
        self._lines: list[str] = []
        self._row = ""
        self._bars = 0
        self._metre = chart.metre
        self._key = next((bar.key for _, bar in chart.bars()), chart.key)
        self._heard: Chord | None = None
        self._above = self._mark = ""

    def text(self) -> str:
        """The whole tune."""
        chart = self._chart
        letters = self._letters()
        self._lines.append("X:1")
        for name, letter in _FIELDS:
            value = chart.header(name) or ""
            if value or letter == "T":
                self._lines.append(f"{letter}:{encoded(value)}")
        self._lines += [f"M:{chart.metre}", f"L:{_UNIT}"]
        if tempo := chart.header("tempo"):
            self._lines.append(f"Q:{_tempo_text(tempo, chart.metre)}" if _is_number(tempo) else f'Q:"{tempo}"')
        if letters:
            played = [letters[index] for index in self._playing() if index in letters]
            self._lines.append(f"P:{''.join(played)}")
        self._lines.append(f"K:{_key_text(self._key)}")
        for index in range(len(chart.sections)) if letters else self._playing():
            self._section(chart.sections[index], letters.get(index))
        return "\n".join(self._lines) + "\n"

    def _playing(self) -> list[int]:
        """The sections in playing order, by their places: those before the first label, then the form."""
        sections = self._chart.sections
        if not self._chart.form:
            return list(range(len(sections)))
        places = {section.label: index for index, section in enumerate(sections)}
        opening = [index for index, section in enumerate(sections) if section.label is None]
        return opening + [places[label] for label in self._chart.form]

    def _letters(self) -> dict[int, str]:
        """A letter for every section that has bars, by its place, where a form needs them and they are enough."""
        if not self._chart.form:
            return {}
        filled = {index: section.label for index, section in enumerate(self._chart.sections) if section.body}
        own = [label for label in filled.values() if label is not None and label in ascii_uppercase and len(label) == 1]
        free = iter([letter for letter in ascii_uppercase if letter not in own])
        letters: dict[int, str] = {}
        for index, label in filled.items():
            letter = label if label in own and label not in letters.values() else next(free, None)
            if letter is None:
                return {}
            letters[index] = letter
        return letters

    def _section(self, section: Section, letter: str | None) -> None:
        if not section.body:
            return
        name = letter or section.label
        if name is not None:
            self._lines.append(f"P:{encoded(name)}")
        if letter and section.label is not None and letter != section.label:
            self._above = section.label.replace('"', "'")
        for item in section.body:
            if isinstance(item, Bar):
                self._bar(item, "|")
            else:
                self._repeat(item)
        self._end_row()

    def _end_row(self) -> None:
        if self._row:
            self._lines.append(self._row)
        self._row, self._bars = "", 0

    def _repeat(self, repeat: Repeat) -> None:
        bars = list(_flat(repeat.body))
        self._end_row()
        self._mark = f"|{':' * (1 if repeat.endings else repeat.times - 1)}"
        for index, bar in enumerate(bars):
            last = index + 1 == len(bars)
            close = "|" if repeat.endings else f"{':' * (repeat.times - 1)}|"
            self._bar(bar, close if last else "|")
        at_end = self._heard
        for ending in repeat.endings:
            self._ending(ending, repeat.times, at_end)
        self._end_row()

    def _ending(self, ending: Ending, times: int, at_end: Chord | None) -> None:
        self._mark = f"|{','.join(map(str, ending.numbers))}"
        self._heard = at_end
        for index, bar in enumerate(ending.body):
            last = index + 1 == len(ending.body)
            self._bar(bar, ("||" if ending.numbers == (times,) else ":|") if last else "|")

    def _bar(self, bar: Bar, line: str) -> None:
        """Writes a bar, with the changes that stand before it, and its bar line."""
        metre = bar.metre
        if not bar.measured:
            self._chord_line(bar, line)
            return
        unit = Fraction(1, metre.unit) / _UNIT
        runs = list(_runs(zip(bar.cells, bar.beats(), strict=True)))
        self._measure(metre, bar.key, [(cell, beats * unit) for cell, beats in runs], line)

    def _chord_line(self, bar: Bar, line: str) -> None:
        """A line of chords above words: a bar for each."""
        length = Fraction(bar.metre.beats, bar.metre.unit) / _UNIT
        for index, cell in enumerate(bar.cells):
            last = index + 1 == len(bar.cells)
            self._measure(bar.metre, bar.key, [(cell, length)], line if last else "|")

    def _measure(self, metre: Metre, key: Key | None, cells: Sequence[tuple[Cell, Fraction]], line: str) -> None:
        changes = [f"K:{_key_text(key)}"] if key != self._key else []
        changes += [f"M:{metre}"] if metre != self._metre else []
        self._key, self._metre = key, metre
        if changes or (self._bars >= BARS_A_LINE and not self._mark):
            self._end_row()
        self._lines += changes
        self._row += self._mark[1:] if self._row else self._mark
        self._mark = ""
        for cell, length in cells:
            if cell.struck or cell.chord != self._heard:
                self._row += f'"{chord_text(cell.chord)}"'
            self._heard = cell.chord
            if self._above:
                self._row += f'"^{self._above}"'
                self._above = ""
            self._row += f"z{_length_text(length)}"
        self._row += line
        self._bars += 1


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdecimal()


def _flat(body: Iterable[Bar | Repeat]) -> Iterator[Bar]:
    """The bars of a repeat's body, repeats inside it written out."""
    for item in body:
        if isinstance(item, Bar):
            yield item
        else:
            for time in range(1, item.times + 1):
                yield from _flat(item.body)
                for ending in item.endings:
                    if time in ending.numbers:
                        yield from ending.body


def _runs(cells: Iterable[tuple[Cell, Fraction]]) -> Iterator[tuple[Cell, Fraction]]:
    """Cells joined with those that only hold them."""
    held: tuple[Cell, Fraction] | None = None
    for cell, beats in cells:
        if held and not cell.struck:
            held = held[0], held[1] + beats
        else:
            if held:
                yield held
            held = cell, beats
    if held:
        yield held
