"""What a bar holds: chords and how long they last, as equal cells that our own notation can write.

Conventions:
    * The cells of a bar share it equally, so a bar gets the least number of cells that gives every run its length;
      later cells of a run are holds, and a bar that is held throughout is empty.
    * Lengths that no number of cells gives (three in the time of four) go to the nearest places of a finer and finer
      halving of the beat, in order; ``Content.exact`` is then False.
    * Chords are written in their one spelling.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache, lru_cache
from itertools import accumulate, pairwise
from math import lcm

from grammar.symbols import read_chord
from shared.chart import Cell, Metre
from shared.chord import Chord
from shared.errors import ReadingError
from shared.pitch import Pitch, readable

SILENCE = "N.C."
HOLD = "."
#: What is said of a bar whose content is not exact.
INEXACT = "the chords cannot share the bar as written, and stand at the nearest beats"
_SMALLEST_UNIT = 32
_MOST_BEATS = 32
#: The most cells that a bar gets; a reader takes one of more chords for a slip.
MOST_CELLS = 64


@dataclass(frozen=True, slots=True)
class Run:
    """A chord and how long it lasts in one bar.

    Attributes:
        chord: The chord, None for silence.
        beats: Its length in beats of the bar's metre.
        struck: False where the chord before goes on; the chord may then be left None.
    """

    chord: Chord | None
    beats: Fraction
    struck: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Content:
    """What a bar holds; contents are compared by identity, so that one that recurs is cheap to look up.

    Attributes:
        runs: Its runs.
        cells: The cells that stand for them.
        last: The last cell that is struck, None where the bar only holds the chord before.
        exact: Whether the cells have just the runs' lengths.
    """

    runs: tuple[Run, ...]
    cells: tuple[Cell, ...]
    last: Cell | None
    exact: bool = True


@lru_cache(maxsize=65536)
def writable(chord: Chord) -> Chord | None:
    """The chord as our notation can write it, roots and basses of three signs respelled; None where it has no name."""
    spelled = Chord(_two_signs(chord.root), chord.quality, _two_signs(chord.bass) if chord.bass else None)
    try:
        return spelled if read_chord(spelled.name) == spelled else None
    except (ReadingError, ValueError):
        return None


def _two_signs(pitch: Pitch) -> Pitch:
    return pitch if abs(pitch.alteration) <= 2 else readable(pitch)


def content_of(runs: Iterable[Run], metre: Metre) -> Content:
    """What a bar of these runs holds.

    Args:
        runs: The runs in order, at least one; their lengths add up to the beats of the metre.
        metre: The bar's metre.

    Raises:
        ValueError: If the lengths do not add up.

    >>> from grammar.symbols import read_chord
    >>> runs = [Run(read_chord("C"), Fraction(3)), Run(read_chord("F"), Fraction(1))]
    >>> [cell.written for cell in content_of(runs, Metre(4, 4)).cells]
    ['C', '.', '.', 'F']
    """
    joined: list[Run] = []
    for run in runs:
        if joined and not run.struck:
            joined[-1] = replace(joined[-1], beats=joined[-1].beats + run.beats)
        elif run.beats > 0:
            joined.append(run)
    lengths = tuple(run.beats for run in joined)
    if sum(lengths) != metre.beats:
        raise ValueError(f"runs of {sum(lengths)} beats do not fill a bar of {metre}")
    counts, exact = cell_counts(lengths, metre.beats)
    cells: list[Cell] = []
    for run, count in zip(joined, counts, strict=True):
        cells += cells_of_run(run.chord, count, run.struck)
    if len(cells) == 1 and not cells[0].struck:
        cells[0] = Cell("", cells[0].chord, struck=False)
    last = next((cell for cell in reversed(cells) if cell.struck), None)
    return Content(tuple(joined), tuple(cells), last, exact)


def cells_of_run(chord: Chord | None, count: int, struck: bool) -> Iterator[Cell]:
    """The cells of one run: the chord, where it is struck, and holds."""
    if struck:
        yield Cell(chord.name if chord else SILENCE, chord)
    for _ in range(count - struck):
        yield Cell(HOLD, chord, struck=False)


@cache
def cell_counts(lengths: tuple[Fraction, ...], beats: int) -> tuple[tuple[int, ...], bool]:
    """How many equal cells each run gets, and whether they give just its length.

    >>> cell_counts((Fraction(4, 3), Fraction(4, 3), Fraction(4, 3)), 4)
    ((1, 2, 1), False)
    """
    bounds = [Fraction(0), *accumulate(lengths)]
    least = _least(bounds, beats)
    for cells in range(least, min(9 * least, MOST_CELLS + 1), least):
        if _shared_equally(cells, beats):
            return tuple(int(length * cells / beats) for length in lengths), True
    parts = 1
    while beats * parts <= MOST_CELLS:
        placed = [round(bound * parts) for bound in bounds]
        if all(a < b for a, b in pairwise(placed)):
            cells = _least([Fraction(place, parts) for place in placed], beats)
            while not _shared_equally(cells, beats):
                cells *= 2
            return tuple((b - a) * cells // (beats * parts) for a, b in pairwise(placed)), False
        parts *= 2
    return tuple(1 for _ in lengths), False


def _least(bounds: Sequence[Fraction], beats: int) -> int:
    """The least number of equal cells of a bar among whose borders all bounds are."""
    shares = [bound / beats for bound in bounds]
    return lcm(*(share.denominator for share in shares))


def _shared_equally(cells: int, beats: int) -> bool:
    """Whether so many cells share a bar equally: by beats, or by halves of them where there are more cells."""
    parts = 1
    while beats * parts < cells:
        parts *= 2
    return beats * parts % cells == 0


def split_metre(metre: Metre, at: Fraction) -> tuple[Metre, Metre] | None:
    """The metres of the two bars that a bar becomes when it is parted after ``at`` beats; None where that cannot be.

    >>> [str(part) for part in split_metre(Metre(4, 4), Fraction(3))]
    ['3/4', '1/4']
    """
    first = partial_metre(metre, at)
    second = partial_metre(metre, metre.beats - at)
    return (first, second) if first and second else None


def partial_metre(metre: Metre, beats: Fraction) -> Metre | None:
    """The metre of a bar that lasts only so many beats of another one, such as a pickup; None where there is none."""
    unit = metre.unit
    while beats.denominator > 1 and unit < _SMALLEST_UNIT:
        unit, beats = unit * 2, beats * 2
    return Metre(int(beats), unit) if beats.denominator == 1 and 0 < beats <= _MOST_BEATS else None
