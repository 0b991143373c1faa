"""Charts written as ABC: what is written, and that reading it gives the same chords, bars and keys again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import assume, given

from corpus.unfolding import played_bars
from grammar.abc_text import chord_text, write_abc
from grammar.abc_tunes import read_abc
from grammar.charts import read_chart
from grammar.symbols import read_chord
from shared.chart import Bar, Chart, Repeat
from shared.chord import Chord
from shared.quality_names import QUALITIES
from tests.strategies.charts import charts

DEMO = sorted((Path(__file__).parents[2] / "corpus" / "demo").rglob("*.txt"))

Held = list[tuple[Chord | None, Fraction]]


def chart(text: str) -> Chart:
    reading = read_chart(text)
    assert reading.chart is not None, reading.faults
    return reading.chart


def again(of: Chart) -> Chart:
    """The chart that reading what is written gives."""
    (tune,) = read_abc(write_abc(of))
    assert tune.chart is not None, tune.faults
    assert tune.remarks == ()
    return tune.chart


def sounding(bar: Bar) -> Held:
    """Chords and their lengths in quarter notes, from strike to strike; the first may be held over."""
    held: Held = []
    for cell, beats in zip(bar.cells, bar.beats(), strict=True):
        length = beats * 4 / bar.metre.unit
        if held and not cell.struck:
            held[-1] = held[-1][0], held[-1][1] + length
        else:
            held.append((cell.chord, length))
    return held


def played(of: Chart) -> Iterator[tuple[str, str, Held]]:
    """Metre, key and chords of every bar that is played; of a line of chords above words each chord is a bar."""
    for *_, bar in played_bars(of):
        if bar.measured:
            yield str(bar.metre), str(bar.key), sounding(bar)
        else:
            for cell in bar.cells:
                yield str(bar.metre), str(bar.key), [(cell.chord, bar.metre.length)]


def nested(of: Chart) -> bool:
    return any(
        isinstance(item, Repeat) and any(isinstance(each, Repeat) for each in item.body)
        for section in of.sections
        for item in section.body
    )


def shape(of: Chart) -> list[object]:
    """The repeats and bars of a chart as written, sections run together."""

    def bare(item: Bar | Repeat) -> object:
        if isinstance(item, Bar):
            return str(item.metre), str(item.key), sounding(item)
        endings = [(ending.numbers, [bare(bar) for bar in ending.body]) for ending in item.endings]
        return item.times, [bare(each) for each in item.body], endings

    return [bare(item) for section in of.sections for item in section.body]


@pytest.mark.parametrize("path", DEMO, ids=lambda path: path.stem)
def test_the_demo_charts_come_back(path: Path) -> None:
    written = chart(path.read_text(encoding="utf-8"))
    made = again(written)
    assert list(played(made)) == list(played(written))
    if all(bar.measured for _, bar in written.bars()) and not nested(written):
        assert shape(made) == shape(written)
    for name in ("title", "by", "style", "source", "tempo"):
        assert made.header(name) == written.header(name)


@given(charts())
def test_any_chart_comes_back(written: Chart) -> None:
    assume(any(cell.chord for _, bar in written.bars() for cell in bar.cells))
    made = again(written)
    assert list(played(made)) == list(played(written))
    assert made.metre == written.metre
    if not written.form:
        labels = [section.label for section in written.sections if section.body]
        assert [section.label for section in made.sections] == [
            label for index, label in enumerate(labels) if index == 0 or label != labels[index - 1]
        ]


def test_what_is_written() -> None:
    text = """title: Saltmarsh 100% & more
by: A Player
key: D dorian
time: 3/4
tempo: 96
style: jazz waltz
tags: walk-down
form: Verse Bridge Verse

[Verse]
|: Dm7 | . G7 . | N.C. |1,3. C6/9 :|2. Am(maj7)/E :|
key: F
time: 6/8
[Bridge]
|: Fmaj9 . | :|x3
| (2/4) C(b5) Bb7(b9) |
"""
    assert write_abc(chart(text)) == (
        "X:1\nT:Saltmarsh 100\\% & more\nC:A Player\nR:jazz waltz\nM:3/4\nL:1/8\nQ:1/4=96\nP:ABA\nK:DDor\n"
        'P:A\n|:"Dm7""^Verse"z6|z2"G7"z4|"N.C."z6|1,3"C6add9"z6:|2"AmM7/E"z6:|\n'
        'P:B\nK:F\nM:6/8\n|::"FM9""^Bridge"z6|z6::|\nM:2/4\n"Cmajb5"z2"Bb7b9"z2|\n'
    )


@pytest.mark.parametrize(
    ("time", "tempo", "field"),
    [
        ("4/4", "96", "1/4=96"),
        ("2/2", "96", "1/2=96"),
        ("6/8", "50", "3/8=50"),
        ("3/8", "90", "1/8=90"),
        ("4/4", "brisk", None),
    ],
)
def test_the_tempo_is_in_the_beats_of_the_metre(time: str, tempo: str, field: str | None) -> None:
    written = chart(f"title: T\nkey: C\ntime: {time}\n\n| C |\n")
    written = replace(written, headers=(*written.headers, ("tempo", tempo)))
    said = [line for line in write_abc(written).splitlines() if line.startswith("Q:")]
    assert said == [f"Q:{field}" if field else f'Q:"{tempo}"']


def test_what_is_held_into_an_ending_is_written_again() -> None:
    written = chart("key: C\n\n|: C |1. F :|2. . G |\n")
    assert '|2"F"z4"G"z4||' in write_abc(written)
    assert list(played(again(written))) == list(played(written))


def test_without_a_key_or_a_title() -> None:
    written = chart("\n| C | F |\n")
    assert write_abc(written).splitlines()[1:5] == ["T:", "M:4/4", "L:1/8", "K:none"]
    assert (again(written).key, again(written).title) == (None, None)


def test_chords_above_words_get_a_bar_each() -> None:
    written = chart("key: C\n\nC      G7\nlong ago\n")
    assert write_abc(written).endswith('K:C\n"C"z8|"G7"z8|\n')


def test_a_repeat_inside_a_repeat_is_written_out() -> None:
    written = chart("key: C\n\n|: C |\n| F | G | x2\n| Am :|\n")
    assert write_abc(written).endswith('|:"C"z8|"F"z8|"G"z8|"F"z8|\n"G"z8|"Am"z8:|\n')


def test_more_sections_than_letters_are_written_in_playing_order() -> None:
    names = [f"Part {n}" for n in range(30)]
    text = "key: C\nform: Part 1, Part 0, Part 1\n" + "".join(f"\n[{name}]\n| C | F |\n" for name in names)
    written = chart(text)
    assert [line for line in write_abc(written).splitlines() if line.startswith("P:")] == [
        "P:Part 1",
        "P:Part 0",
        "P:Part 1",
    ]
    assert list(played(again(written))) == list(played(written))


@pytest.mark.parametrize("row", QUALITIES, ids=lambda row: row.name or "major")
def test_every_quality_comes_back_without_brackets(row: object) -> None:
    name = getattr(row, "name")  # noqa: B009
    for root in ("C", "Bb", "F#"):
        meant = read_chord(f"{root}{name}/E")
        text = chord_text(meant)
        assert not set(text) & set('(),"')
        assert text.count("/") == 1
        (tune,) = read_abc(f'X:1\nK:C\n"{text}"z8|\n')
        assert tune.chart is not None
        assert [cell.chord for _, bar in tune.chart.bars() for cell in bar.cells] == [meant]
