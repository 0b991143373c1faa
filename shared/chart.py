"""The chart: what a person wrote, bar by bar, with every chord already understood.

Conventions:
    * Bars are numbered from 1 through the whole chart, in the order in which they are written.
    * A section is a tree of bars and repeats. ``key:`` and ``time:`` lines are not kept as such: every bar knows the
      key and the metre that govern it, as written, whenever it is played.
    * No chord (``N.C.``) is a cell whose chord is None. A hold is a cell that is not struck and carries the chord
      before it.
    * The order in which sections are played is ``form``; unfolding is the business of ``corpus``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import NamedTuple, cast

from shared.chord import Chord
from shared.errors import Fault
from shared.key import Key

#: Header names with a meaning of their own; any other name is kept and searchable.
KNOWN_HEADERS = ("title", "by", "key", "time", "tempo", "style", "level", "year", "tags", "form", "source", "count")


@dataclass(frozen=True, slots=True)
class Metre:
    """A metre: how many beats a bar has, and the note value of one (4 is a quarter note).

    >>> str(Metre(6, 8))
    '6/8'
    """

    beats: int = 4
    unit: int = 4

    @property
    def length(self) -> Fraction:
        """The length of a bar in quarter notes."""
        return Fraction(4 * self.beats, self.unit)

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of a bar.

    Attributes:
        written: The cell as typed: ``CM7``, ``.``, ``/B``, ``2m7``, ``N.C.``; empty where an empty bar holds the chord.
        chord: The chord that sounds, None for silence. A hold carries the chord before it.
        struck: False where the chord before is merely held.
        column: Column of the cell in its line, from 1. It is kept for chords above words, where the place says which
            syllable a chord belongs to, and is 0 in every other bar.
    """

    written: str
    chord: Chord | None
    struck: bool = True
    column: int = 0


class Bar(NamedTuple):
    """One written bar; two are equal wherever they stand in the source.

    Attributes:
        number: Its number in the chart, from 1.
        cells: The cells, at least one. They share the bar as ``beats`` says.
        key: The key in force, None where no key is written anywhere before.
        metre: The metre in force in this bar.
        own_metre: True where the metre stands at the head of the bar and is for it alone, as ``(2/4)``.
        again: 1 where the bar was written ``%``, 2 for each of the two bars of a ``%2``, else 0. The cells are then
            those of the bar that is repeated; one held over into it is struck where another chord sounds now.
        words: The lines of words written under the line that this bar ends, joined by line ends; empty where none are.
        measured: Whether the lengths of the chords are known: False for a line of chord names above words, which counts
            as one bar, True between bar lines.
        line: The line of the source, from 1; 0 where the source has no lines of music. A line counts as a phrase.
    """

    number: int
    cells: tuple[Cell, ...]
    key: Key | None = None
    metre: Metre = Metre()
    own_metre: bool = False
    again: int = 0
    words: str = ""
    measured: bool = True
    line: int = 0

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Bar) and self[:-1] == other[:-1]

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        return hash(self[:-1])

    def beats(self) -> tuple[Fraction, ...]:
        """How long each cell lasts, in beats of the metre.

        The cells share the bar equally. Where they cannot, the first ones get one beat more; where there are more cells
        than beats, the beat is halved until every cell has a share.
        """
        return shares(len(self.cells), self.metre.beats)

    @property
    def even(self) -> bool:
        """Whether the cells share the beats of the bar equally."""
        return len(set(self.beats())) <= 1


@cache
def shares(cells: int, beats: int) -> tuple[Fraction, ...]:
    """How ``cells`` share ``beats``, in beats.

    >>> [str(b) for b in shares(3, 4)], [str(b) for b in shares(5, 4)]
    (['2', '1', '1'], ['1', '1', '1', '1/2', '1/2'])
    """
    parts = 1
    while beats * parts < cells:
        parts *= 2
    each, over = divmod(beats * parts, cells)
    return tuple(Fraction(each + (i < over), parts) for i in range(cells))


@dataclass(frozen=True, slots=True)
class Ending:
    """One ending of a repeat: the times at which it is played (from 1, ascending) and its bars, at least one."""

    numbers: tuple[int, ...]
    body: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Repeat:
    """Something played several times.

    Attributes:
        body: What is played each time, at least one bar; a repeat in it holds bars alone.
        times: How often in all, at least 2.
        endings: Endings, in the order written; together they cover every time exactly once, or there are none.
    """

    body: tuple[Bar | Repeat, ...]
    times: int = 2
    endings: tuple[Ending, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """A run of bars under a label.

    Attributes:
        label: The label, None for what stands before the first one.
        body: Bars and repeats; empty where only words, or nothing, stand under the label.
        words: Lines of words that stand before the first bar, joined by line ends.
    """

    label: str | None
    body: tuple[Bar | Repeat, ...]
    words: str = ""

    def bars(self) -> Iterator[Bar]:
        """The bars as written."""
        return _written(self.body) if Repeat in set(map(type, self.body)) else iter(cast("tuple[Bar, ...]", self.body))


def _written(body: tuple[Bar | Repeat, ...]) -> Iterator[Bar]:
    for item in body:
        if isinstance(item, Bar):
            yield item
        else:
            yield from _written(item.body)
            for ending in item.endings:
                yield from ending.body


@dataclass(frozen=True, slots=True)
class Chart:
    """A chord chart.

    Attributes:
        headers: Names (lower case) and values, in the order written.
        sections: The sections, in the order written; a label may stand several times.
        form: Labels in the order in which they are played, each as its section writes it; empty means: as written.
        key: The key of the header, None where there is none.
        metre: The metre of the header, 4/4 where there is none.
    """

    headers: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...]
    form: tuple[str, ...] = ()
    key: Key | None = None
    metre: Metre = Metre()

    def header(self, name: str) -> str | None:
        """The value of a header, None where it is missing."""
        return next((value for each, value in self.headers if each == name), None)

    @property
    def title(self) -> str | None:
        """The title, None where none is written (the file's stem then serves)."""
        return self.header("title")

    def bars(self) -> Iterator[tuple[Section, Bar]]:
        """Every bar as written, with its section."""
        for section in self.sections:
            for bar in section.bars():
                yield section, bar


@dataclass(frozen=True, slots=True)
class Reading:
    """What became of a chart's text.

    Attributes:
        chart: The chart; None where there are faults.
        faults: What is wrong, in the order of the text.
        remarks: What is worth saying and stops nothing.
    """

    chart: Chart | None
    faults: tuple[Fault, ...] = ()
    remarks: tuple[Fault, ...] = ()
