"""ABC against music21: its own parser as referee of what is read, and as a reader of what is written.

Source: music21 (M. S. Cuthbert and C. Ariza), its bundled corpus of ABC tune books (Nottingham, O'Neill 1850, Aird) and
the tunes that its own tests use.

What music21 reads otherwise, and why it is not the referee there:
    * Repeats without a start mark: it goes back to the start of the tune each time, the standard to the last double bar
      line or repeat. It unfolds neither ``P:`` nor ``::|``, and does not know a ``:`` that starts a line.
    * ``x`` is no rest to it, ``+`` in a bass no sharp, and what stands in ``V:`` is another part.
    * Chords of the eleventh and thirteenth hold all thirds in it; some kinds it has no name for, and drops.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import music21
import pytest
from music21 import converter, harmony, stream
from music21.abcFormat import testFiles

from corpus.unfolding import played_bars
from grammar.abc_text import chord_text, write_abc
from grammar.abc_tunes import read_abc
from grammar.charts import read_chart
from grammar.symbols import read_chord
from shared.chart import Bar, Chart
from shared.chord import Chord
from shared.quality_names import QUALITIES

CORPUS = Path(music21.__file__).parent / "corpus"
DEMO = Path(__file__).parents[2] / "corpus" / "demo"

Placed = list[tuple[Fraction, frozenset[int]]]


def chart_of(text: str) -> Chart:
    tune = read_abc(text)[0]
    assert tune.chart is not None, tune.faults
    return tune.chart


def parsed(text: str) -> Any:
    """The first part of a tune as music21 reads it."""
    return converter.parse(text, format="abc").parts[0]


def measures(part: Any) -> list[Any]:
    """Its measures, those in which nothing sounds or rests left out."""
    return [each for each in part.getElementsByClass(stream.Measure) if each.duration.quarterLength]


def lengths(part: Any) -> list[Fraction]:
    return [Fraction(each.duration.quarterLength) for each in measures(part)]


def chords(measure: Any) -> Placed:
    """The chord symbols of a measure, each with the quarter notes before it, its pitch classes as music21 has them."""
    symbols = measure.getElementsByClass(harmony.ChordSymbol)
    return [(Fraction(each.offset), frozenset(each.pitchClasses)) for each in symbols]


def struck(bar: Bar) -> Iterator[tuple[Fraction, Chord | None]]:
    """The chords that are struck in a bar, each with the quarter notes before it."""
    before = Fraction(0)
    for cell, beats in zip(bar.cells, bar.beats(), strict=True):
        if cell.struck:
            yield before, cell.chord
        before += beats * 4 / bar.metre.unit


def placed(bar: Bar) -> Placed:
    return [(before, chord.pitch_classes) for before, chord in struck(bar) if chord]


def nottingham(number: str) -> str:
    return next(each for each in book("nottingham-dataset/reelsa-c.abc") if f"X: {number}\n" in each)


@cache
def book(path: str) -> list[str]:
    """The tunes of a book, as text."""
    text = (CORPUS / path).read_text(encoding="utf-8", errors="replace")
    return re.split(r"(?m)^(?=X:)", text)[1:]


#: Tunes with chord symbols; bars whose chords music21 has otherwise ("D/f+" is an F augmented bass to it).
CHORDED = {
    "Cuckoo's Nest": (nottingham("80"), ()),
    "Little Czech Number": (nottingham("81"), (16,)),
    "Hector the Hero": (testFiles.hectorTheHero, ()),
    "William and Nancy": (testFiles.williamAndNancy, ()),
}


@pytest.mark.parametrize("name", CHORDED)
def test_tunes_with_chord_symbols_have_the_same_measures_and_chords(name: str) -> None:
    text, otherwise = CHORDED[name]
    bars = [bar for _, bar in chart_of(text).bars()]
    part = parsed(text)
    assert [bar.metre.length for bar in bars] == lengths(part)
    silent = [chord for bar in bars for _, chord in struck(bar) if chord is None]
    assert len(silent) <= 1
    for bar, measure in zip(bars, measures(part), strict=True):
        assert (placed(bar) == chords(measure)) is (bar.number not in otherwise), bar.number


#: Tune books without chord symbols: every so many tunes are taken.
BOOKS = [
    ("oneills1850/0101-0200.abc", 7),
    ("oneills1850/0301-0350.abc", 7),
    ("oneills1850/0626-0700.abc", 9),
    ("oneills1850/1376-1475.abc", 9),
    ("airdsAirs/book1.abc", 19),
    ("airdsAirs/book3.abc", 19),
]
#: Tunes that music21 has otherwise: book, place, why.
OTHERWISE = {
    ("oneills1850/0101-0200.abc", 77): "a bar that is too long is cut in two",
    ("oneills1850/0101-0200.abc", 98): "bars that are too long are cut in two",
    ("oneills1850/0626-0700.abc", 54): "bars that are too long are cut in two",
    ("oneills1850/0626-0700.abc", 63): "a bar that is too long is cut in two",
    ("oneills1850/1376-1475.abc", 72): "a grace note at the head of a triplet",
    ("oneills1850/1376-1475.abc", 81): "a grace note at the head of a triplet",
}
_MARKS = re.compile(r'"[^"]*"|![a-z]+!|[uvHTkKUSMLOPR~.]')
_FIELD = re.compile(r"[A-Za-z]:(?![|:])|%")


def with_a_chord(text: str) -> str:
    """A tune with a chord symbol over its first note, annotations and decorations left out."""
    head, key, tune = text.partition("\nK:")
    first, *rest = tune.split("\n")
    lines = [line if _FIELD.match(line) else _MARKS.sub("", line) for line in rest]
    at = next(index for index, line in enumerate(lines) if line.strip() and not _FIELD.match(line))
    lines[at] = f'"C"{lines[at]}'
    return head + key + "\n".join([first, *lines])


def marked(text: str) -> bool:
    """Whether every repeat says where it starts (the first may start with the tune), and there is no order of parts."""
    music = "".join(line for line in text.split("\n") if not _FIELD.match(line))
    opened = True
    for mark in re.findall(r":+\|+:|::|\|+:|:+\||\|\|", music):
        if mark.startswith(":") and not opened:
            return False
        opened = mark.endswith(":")
    return "\nP:" not in text


def sample() -> list[tuple[str, int]]:
    return [(path, place) for path, step in BOOKS for place in range(0, len(book(path)), step)]


@pytest.mark.parametrize(("path", "place"), sample())
def test_tune_books_have_the_same_measures_and_repeats(path: str, place: int) -> None:
    text = with_a_chord(book(path)[place])
    chart, part = chart_of(text), parsed(text)
    assert ([bar.metre.length for _, bar in chart.bars()] == lengths(part)) is ((path, place) not in OTHERWISE)
    if marked(text) and (path, place) not in OTHERWISE:
        assert [bar.metre.length for *_, bar in played_bars(chart)] == lengths(part.expandRepeats())


def test_most_of_the_sample_has_its_repeats_compared() -> None:
    assert sum(marked(book(path)[place]) for path, place in sample()) >= len(sample()) // 3


#: Qualities that music21 has other tones for, or none.
ALL_THIRDS = {"11", "13", "maj13", "m13", "13b9", "13#9", "13#11", "13b5", "13b9#11", "maj13#11"}
NOT_NAMED = {"sus2sus4", "dim(maj7)", "7sus2", "maj7sus4", "maj7sus2", "7alt", "9sus4", "maj9sus4", "6/9#11", "13sus4"}
NOT_NAMED |= {"13sus4b9"}


@pytest.mark.parametrize("row", QUALITIES, ids=lambda row: row.name or "major")
def test_every_quality_that_is_written_is_read(row: Any) -> None:
    meant = read_chord(f"Eb{row.name}")
    part = parsed(f'X:1\nT:T\nM:4/4\nL:1/8\nK:C\n"{chord_text(meant)}"z8|z8|\n')
    read = [pitches for measure in measures(part) for _, pitches in chords(measure)]
    assert (read == [meant.pitch_classes]) is (row.name not in ALL_THIRDS | NOT_NAMED)


def known(chord: Chord | None) -> bool:
    """Whether music21 has the tones of a chord as we have them; silence counts as known."""
    if chord is None:
        return True
    name = Chord(chord.root, chord.quality).name.removeprefix(str(chord.root))
    return name not in ALL_THIRDS | NOT_NAMED


@pytest.mark.parametrize("path", sorted(DEMO.rglob("*.txt"))[::4], ids=lambda path: path.stem)
def test_charts_that_are_written_are_read(path: Path) -> None:
    chart = read_chart(path.read_text(encoding="utf-8")).chart
    assert chart is not None
    part = parsed(write_abc(chart))
    bars = [bar for _, bar in chart.bars()]
    if not all(bar.measured for bar in bars):
        assert len(measures(part)) == sum(1 if bar.measured else len(bar.cells) for bar in bars)
        return
    assert [bar.metre.length for bar in bars] == lengths(part)
    for bar, measure in zip(bars, measures(part), strict=True):
        if all(known(chord) for _, chord in struck(bar)):
            read = chords(measure)
            silent = [before for before, chord in struck(bar) if chord is None]
            assert [each for each in read if each[1]] == placed(bar), bar.number
            assert [before for before, pitches in read if not pitches] == silent
