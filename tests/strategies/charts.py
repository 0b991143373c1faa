"""Charts for property tests: whole ``Chart`` objects that sound like music, built without the reader.

Conventions: ``made_chart`` turns any source of chance into a chart, so that hypothesis (``charts``) and a seeded run
share one maker. The bars are numbered from 1; every cell carries what a reader must find; whatever is made can be
written and read.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from hypothesis import strategies as st

from shared.chart import Bar, Cell, Chart, Ending, Metre, Repeat, Section
from shared.chord import Chord, Numeral
from shared.key import MAJOR_KEYS, MINOR_KEYS, Key, Mode
from shared.pitch import Degree, Pitch
from shared.quality import Quality
from shared.quality_names import BY_NAME, QUALITIES

#: Degrees with the qualities that they usually carry, the likelier ones more than once (common practice).
_MAJOR_CHORDS = (
    ("1", ("", "", "", "maj7", "6", "6/9", "maj9", "7", "add9", "5")),
    ("1", ("", "", "", "maj7", "6", "sus4")),
    ("4", ("", "", "", "maj7", "6", "m", "m6", "maj9", "maj7#11", "7")),
    ("4", ("", "", "maj7")),
    ("5", ("", "", "7", "7", "9", "13", "7sus4", "9sus4", "7b9", "sus4", "7alt", "aug", "11")),
    ("5", ("", "7")),
    ("6", ("m", "m", "m7", "7", "m9")),
    ("2", ("m", "m7", "m7", "m9", "7", "m11", "m7b5")),
    ("3", ("m", "m7", "7")),
    ("7", ("m7b5", "dim", "7")),
    ("b7", ("", "7", "maj7", "6")),
    ("b6", ("", "maj7")),
    ("b3", ("", "maj7")),
    ("#4", ("dim7", "m7b5")),
    ("b2", ("maj7", "7")),
)
_MINOR_CHORDS = (
    ("1", ("m", "m", "m", "m7", "m6", "m9", "m(maj7)", "")),
    ("1", ("m", "m", "m7")),
    ("4", ("m", "m", "m7", "7", "")),
    ("5", ("", "7", "7", "m", "m7", "7b9", "7#5", "7alt")),
    ("5", ("7", "m")),
    ("b6", ("", "", "maj7", "7")),
    ("b7", ("", "", "7")),
    ("b3", ("", "", "maj7", "aug")),
    ("2", ("m7b5", "dim", "m7")),
    ("7", ("dim", "dim7")),
    ("b2", ("", "maj7")),
)
_LABELS = ("A", "B", "C", "Intro", "Verse", "Verse 1", "Verse 2", "Chorus", "Bridge", "Coda", "Pre-Chorus", "D.C. part")
_METRES = (Metre(), Metre(), Metre(), Metre(3, 4), Metre(6, 8), Metre(2, 4), Metre(5, 4), Metre(2, 2), Metre(12, 8))
_OWN_METRES = (Metre(2, 4), Metre(3, 4), Metre(1, 4), Metre(7, 8))
_STYLES = ("folk", "jazz waltz", "gospel", "blues", "hymn", "pop")
_LYRICS = (
    "and the water runs away",
    "  long ago, and far from home",
    "oh my love",
    "la la la!",
    "(spoken) we are there",
)
_NAMES = tuple(row.name for row in QUALITIES)


def made_chart(
    chance: random.Random,
    max_sections: int = 3,
    max_bars: int = 8,
    numbers: bool = True,
    words: bool = True,
    keyless: bool = True,
    key_changes: bool = True,
) -> Chart:
    """A chart, as chance will have it.

    Args:
        chance: The source of chance.
        max_sections: How many sections there are at most.
        max_bars: How many bars are written in a section at most (a little more where endings need them).
        numbers: Whether cells may be numbers and Roman numerals.
        words: Whether there may be words and chords above them.
        keyless: Whether there may be charts without a key.
        key_changes: Whether the key may change on the way.
    """
    return _Maker(chance, max_sections, max_bars, numbers, words, keyless, key_changes).chart()


def charts(
    max_sections: int = 3,
    max_bars: int = 8,
    numbers: bool = True,
    words: bool = True,
    keyless: bool = True,
    key_changes: bool = True,
) -> st.SearchStrategy[Chart]:
    """Charts for hypothesis; see ``made_chart``."""
    return st.randoms(use_true_random=False).map(
        lambda chance: made_chart(chance, max_sections, max_bars, numbers, words, keyless, key_changes)
    )


@dataclass
class _Maker:
    """Makes one chart, bar after bar in the order written, keeping what is in force."""

    chance: random.Random
    max_sections: int
    max_bars: int
    numbers: bool
    words: bool
    keyless: bool
    key_changes: bool

    def chart(self) -> Chart:
        self.key = self._key()
        self.metre = self.chance.choice(_METRES)
        self.written = "names"
        self.relative = False
        if self.numbers and self.key is not None:
            self.written = self.chance.choice(("names", "names", "numbers", "roman", "mixed"))
            self.relative = self.written != "names" and self.key.minor_third and self._now(3)
        self.number = 0
        self.sounding: Cell | None = None
        key, metre = self.key, self.metre
        labels = self._labels()
        sections = tuple(self._section(label) for label in labels)
        form = self._form(labels)
        return Chart(self._headers(key, metre, form), sections, form, key, metre)

    def _now(self, of: int) -> bool:
        """True once in so many times."""
        return self.chance.randrange(of) == 0

    def _key(self) -> Key | None:
        if self.keyless and self._now(8):
            return None
        kind = self.chance.randrange(8)
        if kind < 5:
            return self.chance.choice(MAJOR_KEYS)
        if kind < 7:
            return self.chance.choice(MINOR_KEYS)
        mode = self.chance.choice((Mode.DORIAN, Mode.MIXOLYDIAN, Mode.PHRYGIAN, Mode.LYDIAN))
        return Key(Pitch.at(self.chance.randint(-4, 4) - mode.fifths), mode)

    def _headers(self, key: Key | None, metre: Metre, form: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
        headers = [("title", f"Tune {self.chance.randrange(1000)}")]
        if key is not None:
            headers.append(("key", str(key)))
        if metre != Metre() or self._now(2):
            headers.append(("time", str(metre)))
        if self._now(2):
            headers.append(("tempo", str(self.chance.randint(50, 220))))
        if self._now(2):
            headers.append(("style", self.chance.choice(_STYLES)))
        if self._now(4):
            headers.append(("capo", str(self.chance.randint(1, 5))))
        if self.relative:
            headers.append(("count", "relative"))
        if form:
            apart = " " if not any(" " in label for label in form) and self.spaces else ", "
            headers.append(("form", apart.join(form)))
        return tuple(headers)

    def _labels(self) -> list[str | None]:
        count = self.chance.randint(1, self.max_sections)
        labels: list[str | None] = [None] if self._now(3) else []
        while len(labels) < count:
            labels.append(self.chance.choice(_LABELS))
        return labels

    def _form(self, labels: list[str | None]) -> tuple[str, ...]:
        known = [label for label in labels if label is not None]
        once = [label for label in known if known.count(label) == 1]
        self.spaces = not any(" " in label for label in known)
        if not once or self._now(2):
            return ()
        form = tuple(self.chance.choice(once) for _ in range(self.chance.randint(1, 5)))
        if not self.spaces and len(form) == 1 and " " not in form[0]:
            return ()
        return form

    def _section(self, label: str | None) -> Section:
        self.above: list[Bar] = []
        words = "\n".join(self._lyrics()) if self.words and self._now(8) else ""
        body: list[Bar | Repeat] = []
        wanted = self.chance.randint(1, self.max_bars)
        while len(self.above) < wanted:
            body += self._part(wanted - len(self.above))
        return Section(label, tuple(body), words)

    def _part(self, room: int) -> list[Bar | Repeat]:
        """A few bars, a repeat, a line played several times, or a line of chords above words."""
        self._change()
        kind = self.chance.randrange(8)
        if kind == 0 and room > 1:
            return [self._repeat(room)]
        if kind == 1 and room > 2:
            return [self._endings(room)]
        if kind == 2 and room > 1:
            before = self._line(self.chance.randint(0, 1))
            inner = Repeat(self._line(self.chance.randint(1, min(3, room))), self.chance.randint(2, 4))
            return [Repeat((*before, inner, *self._line(self.chance.randint(0, 1))), self.chance.randint(2, 3))]
        if kind == 3 and self.words:
            bar = self._chord_line()
            return [Repeat((bar,), self.chance.randint(2, 3))] if self._now(4) else [bar]
        bars = list(self._line(self.chance.randint(1, min(4, room))))
        if self.words and self._now(6):
            bars[-1] = self.above[-1] = bars[-1]._replace(words="\n".join(self._lyrics()))
        return [*bars]

    def _lyrics(self) -> list[str]:
        return [self.chance.choice(_LYRICS) for _ in range(self.chance.randint(1, 2))]

    def _change(self) -> None:
        """Perhaps another key or metre."""
        if self.key is not None and self.key_changes and self._now(8):
            up = self.chance.choice((Degree(2, -1), Degree(2), Degree(3, -1), Degree(4), Degree(5)))
            self.key = self.key.moved(up)
        if self._now(12):
            self.metre = self.chance.choice(_METRES)

    def _line(self, count: int, fresh: bool = False) -> tuple[Bar, ...]:
        """Bars between bar lines; where ``fresh``, the first one is not the one before again."""
        bars: list[Bar] = []
        while len(bars) < count:
            bars += self._again(count - len(bars)) if self.above and not (fresh and not bars) else [self._bar()]
        return tuple(bars)

    def _again(self, room: int) -> list[Bar]:
        """The bar before again, the last two again, or (mostly) a bar of its own."""
        if self._now(10):
            return [self._copy(self.above[-1], 1, self._now(5))]
        if self._now(14) and room > 1 and len(self.above) > 1:
            first, second = self.above[-2:]
            return [self._copy(first, 2, False), self._copy(second, 2, False)]
        return [self._bar()]

    def _copy(self, of: Bar, again: int, own: bool) -> Bar:
        cells = list(of.cells)
        if not cells[0].struck and self.sounding is not None and cells[0].chord != self.sounding.chord:
            name = cells[0].chord.name if cells[0].chord else "N.C."
            cells[0] = Cell(name, cells[0].chord)
        return self._kept([replace(cell, column=0) for cell in cells], again, own)

    def _kept(self, cells: list[Cell], again: int, own: bool) -> Bar:
        self.number += 1
        metre = self.chance.choice(_OWN_METRES) if own else self.metre
        bar = Bar(self.number, tuple(cells), self.key, metre, own, again)
        self.sounding = next((cell for cell in reversed(cells) if cell.struck), self.sounding)
        self.above.append(bar)
        return bar

    def _bar(self) -> Bar:
        own = self._now(16)
        if self.sounding is not None and self._now(14):
            return self._kept([Cell("", self.sounding.chord, struck=False)], 0, own)
        count = self.chance.choice((1, 1, 1, 1, 2, 2, 3, 4))
        cells: list[Cell] = []
        for _ in range(count):
            before = cells[-1] if cells else self.sounding
            cells.append(self._cell(before))
        return self._kept(cells, 0, own)

    def _cell(self, before: Cell | None) -> Cell:
        if before is not None and self._now(8):
            return Cell(self.chance.choice("./"), before.chord, struck=False)
        if before is not None and before.chord is not None and self._now(16):
            bass = before.chord.root.up(Degree(self.chance.choice((2, 3, 5))))
            if abs(bass.alteration) > 2:
                return Cell("/", before.chord, struck=False)
            return Cell(f"/{bass}", Chord(before.chord.root, before.chord.quality, bass))
        if self._now(24):
            return Cell(self.chance.choice(("N.C.", "NC")), None)
        return self._struck()

    def _struck(self, way: str = "") -> Cell:
        """A chord of the key, or, now and then, any quality of the table on any degree."""
        key = self.key or Key(Pitch("C"))
        degree, names = self.chance.choice(_MINOR_CHORDS if key.minor_third else _MAJOR_CHORDS)
        name = self.chance.choice(_NAMES) if self._now(12) else self.chance.choice(names)
        numeral = Numeral(_degree(degree), BY_NAME[name], self._bass(_degree(degree), BY_NAME[name]))
        if numeral.bass is not None and abs(key.tonic.up(numeral.bass).alteration) > 2:
            numeral = replace(numeral, bass=None)
        way = way or self.written
        if way == "mixed":
            way = self.chance.choice(("names", "numbers", "roman"))
        if way == "names":
            chord = numeral.on(key.tonic)
            return Cell(chord.name, chord)
        return Cell(numeral.number if way == "numbers" else numeral.roman, numeral.on(self._tonic(key)))

    def _tonic(self, key: Key) -> Pitch:
        """The tonic from which numbers are counted."""
        return key.relative_major.tonic if self.relative and key.minor_third else key.tonic

    def _bass(self, degree: Degree, quality: Quality) -> Degree | None:
        """Now and then a chord tone in the bass, or the fifth of the key."""
        if not self._now(8):
            return None
        tone = self.chance.choice(quality.tones)
        return Degree(5) if self._now(4) else tone.above(degree)

    def _repeat(self, room: int) -> Repeat:
        first = self._line(self.chance.randint(1, room))
        if self._now(6):
            self._change()
            first += self._line(1)
        return Repeat(first, self.chance.choice((2, 2, 2, 3, 4)))

    def _endings(self, room: int) -> Repeat:
        common = self._line(self.chance.randint(1, room - 1))
        times = self.chance.choice((2, 2, 2, 3, 4))
        passes: list[tuple[int, ...]] = [(n,) for n in range(1, times + 1)]
        if times == 3:
            passes = self.chance.choice([passes, [(1, 2), (3,)], [(1, 3), (2,)]])
        elif times == 4:
            passes = self.chance.choice([passes, [(1, 3), (2, 4)], [(1, 2, 3), (4,)]])
        endings = []
        for numbers in passes:
            self._change()
            endings.append(Ending(numbers, self._line(self.chance.randint(1, 2), fresh=True)))
        return Repeat(common, times, tuple(endings))

    def _chord_line(self) -> Bar:
        """Chord names above words."""
        cells: list[Cell] = []
        column = 1 + self.chance.randrange(4)
        way = self.written
        if way == "mixed":
            way = self.chance.choice(("names", "numbers", "roman"))
        for _ in range(self.chance.randint(1, 5)):
            cell = replace(self._struck(way), column=column)
            if cell.written.startswith("#") and column == 1:
                column, cell = 2, replace(cell, column=2)
            cells.append(cell)
            column += len(cell.written) + self.chance.randint(1, 8)
        if all(_wordlike(cell.written) for cell in cells):
            numeral = Numeral(Degree(5), BY_NAME["7"])
            tonic = self._tonic(self.key or Key(Pitch("C")))
            written = {"names": numeral.on(tonic).name, "numbers": numeral.number, "roman": numeral.roman}[way]
            cells.append(Cell(written, numeral.on(tonic), column=column))
        bar = self._kept(cells, 0, False)
        bar = bar._replace(words="\n".join(self._lyrics()) if not self._now(4) else "", measured=False)
        self.above[-1] = bar
        return bar


def _wordlike(written: str) -> bool:
    return not any(character.isdigit() for character in written)


def _degree(text: str) -> Degree:
    return Degree(int(text[-1]), text.count("#") - text.count("b"))
