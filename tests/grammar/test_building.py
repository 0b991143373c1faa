"""Charts made of chords and lengths: what a bar's cells are, and that our notation writes and reads what is built."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.unfolding import played_bars
from grammar.bar_content import MOST_CELLS, Run, cell_counts, content_of, partial_metre, split_metre, writable
from grammar.building import (
    LONGEST_LABEL,
    DraftBar,
    DraftRepeat,
    DraftSection,
    build_chart,
    header_value,
    mode_of_tonic,
    section_label,
)
from grammar.chart_text import write_chart
from grammar.charts import read_chart
from grammar.keys import read_key
from grammar.symbols import read_chord
from shared.chart import Chart, Metre
from shared.chord import Chord
from shared.key import Key, Mode
from shared.pitch import Pitch
from shared.quality import Quality


def runs(text: str) -> list[Run]:
    """Runs written as ``C:3 .:1``: a chord (``.`` holds the one before, ``N`` is silence) and its beats."""
    made = []
    for word in text.split():
        name, _, beats = word.partition(":")
        made.append(Run(None if name in ".N" else read_chord(name), Fraction(beats), struck=name != "."))
    return made


def cells(text: str, metre: str = "4/4") -> str:
    beats, unit = map(int, metre.split("/"))
    return " ".join(cell.written for cell in content_of(runs(text), Metre(beats, unit)).cells)


#: Lengths in beats, metre, the cells.
CELLS = [
    ("C:4", "4/4", "C"),
    ("C:2 F:2", "4/4", "C F"),
    ("C:3 F:1", "4/4", "C . . F"),
    ("C:1 F:2 G:1", "4/4", "C F . G"),
    ("C:7/2 F:1/2", "4/4", "C . . . . . . F"),
    ("C:2 F:1", "3/4", "C . F"),
    ("C:3 F:3", "6/8", "C F"),
    ("C:6 F:3 G:3", "12/8", "C . F G"),
    ("C:3/2 F:3/2", "3/4", "C . . F . ."),
    ("C:4 F:3", "7/8", "C . . . F . ."),
    ("C:5", "5/4", "C"),
    (".:2 F:2", "4/4", ". F"),
    (".:4", "4/4", ""),
    ("C:1 .:1 F:2", "4/4", "C F"),
    ("C:2 C:2", "4/4", "C C"),
    ("N:1 C:3", "4/4", "N.C. C . ."),
]


@pytest.mark.parametrize(("lengths", "metre", "expected"), CELLS)
def test_the_least_number_of_equal_cells(lengths: str, metre: str, expected: str) -> None:
    assert cells(lengths, metre) == expected


def test_lengths_that_no_cells_have_go_to_the_nearest_beats() -> None:
    made = content_of(runs("C:4/3 F:4/3 G:4/3"), Metre(4, 4))
    assert [cell.written for cell in made.cells] == ["C", "F", ".", "G"]
    assert not made.exact


def test_lengths_that_do_not_fill_the_bar_are_refused() -> None:
    with pytest.raises(ValueError, match="5 beats do not fill a bar of 4/4"):
        content_of(runs("C:4 F:1"), Metre(4, 4))


LENGTHS = st.lists(st.fractions(Fraction(1, 12), 4, max_denominator=12), min_size=1, max_size=8)


@given(LENGTHS, st.sampled_from([3, 4, 6, 7, 12]))
def test_cells_are_in_order_and_exact_where_they_say_so(lengths: list[Fraction], beats: int) -> None:
    scaled = tuple(length * beats / sum(lengths) for length in lengths)
    counts, exact = cell_counts(scaled, beats)
    assert len(counts) == len(scaled)
    assert all(count >= 1 for count in counts)
    assert sum(counts) <= max(MOST_CELLS, len(scaled))
    if exact:
        assert [Fraction(count * beats, sum(counts)) for count in counts] == list(scaled)
        assert len({Fraction(beats, sum(counts))}) == 1


@pytest.mark.parametrize(
    ("metre", "at", "parts"),
    [
        (Metre(4, 4), Fraction(3), ("3/4", "1/4")),
        (Metre(4, 4), Fraction(5, 2), ("5/8", "3/8")),
        (Metre(6, 8), Fraction(3), ("3/8", "3/8")),
    ],
)
def test_a_bar_is_parted(metre: Metre, at: Fraction, parts: tuple[str, str]) -> None:
    made = split_metre(metre, at)
    assert made is not None
    assert tuple(map(str, made)) == parts


def test_a_bar_is_not_parted_where_there_is_no_metre_for_it() -> None:
    assert split_metre(Metre(4, 4), Fraction(4, 3)) is None
    assert split_metre(Metre(4, 4), Fraction(4)) is None
    assert str(partial_metre(Metre(3, 4), Fraction(1))) == "1/4"


def test_a_chord_of_three_signs_is_respelled_and_one_without_a_name_refused() -> None:
    triad = Quality.spelled("1 3 5")
    respelled = writable(Chord(Pitch("B", -3), triad, Pitch("D", -3)))
    assert respelled is not None
    assert respelled.name == "Ab/Cb"
    assert writable(Chord(Pitch("C"), Quality.spelled("1 3 bbb5"))) is None


@pytest.mark.parametrize(
    ("chords", "mode"),
    [
        ("", Mode.MAJOR),
        ("C:4", Mode.MAJOR),
        ("Cm:4", Mode.MINOR),
        ("Cm7:4 C:5", Mode.MAJOR),
        ("Cm:4 C:4", Mode.MAJOR),
        ("C5:8 Cm:1 Am:4", Mode.MINOR),
        ("Csus4:4 Am:4", Mode.MAJOR),
    ],
)
def test_the_mode_of_a_tonic(chords: str, mode: Mode) -> None:
    played = [(run.chord, run.beats) for run in runs(chords) if run.chord is not None]
    assert mode_of_tonic(Pitch("C"), played) is mode


def bar(text: str, key: str | Pitch | None = None, metre: str = "4/4", own: bool = False) -> DraftBar:
    beats, unit = map(int, metre.split("/"))
    in_force = read_key(key) if isinstance(key, str) else key
    return DraftBar(content_of(runs(text), Metre(beats, unit)), Metre(beats, unit), own, in_force)


def written(*sections: DraftSection, form: tuple[str, ...] = ()) -> str:
    chart = build_chart([("title", "T"), ("source", "s"), ("by", "")], sections, form)
    assert read_chart(write_chart(chart)).chart == chart
    return write_chart(chart)


def test_headers_stand_in_their_order_and_empty_ones_are_left_out() -> None:
    head = written(DraftSection("A", (bar("C:4", "C"),)), DraftSection("B", (bar("F:4", "C"),)), form=("A", "B", "A"))
    assert head.startswith("title: T\nkey: C\ntime: 4/4\nform: A B A\nsource: s\n\n[A]\n| C |\n")
    head = written(DraftSection("verse A", (bar("C:4"),)), form=("verse A", "verse A"))
    assert head.startswith("title: T\ntime: 4/4\nform: verse A, verse A\nsource: s\n\n[verse A]")


def body(*items: DraftBar | DraftRepeat) -> str:
    return written(DraftSection(None, items)).partition("\n\n")[2]


def test_held_chords_are_written_out_where_another_one_stands_above() -> None:
    held = DraftBar(content_of([Run(read_chord("C"), Fraction(4), struck=False)], Metre(4, 4)))
    assert body(bar("C:4"), held) == "| C | |\n"
    assert body(bar("F:4"), held) == "| F | C |\n"
    assert body(held) == "| C |\n"
    assert body(bar(".:4"), bar(".:2 C:2")) == "| N.C. | . C |\n"


def test_repeats_and_endings() -> None:
    repeat = DraftRepeat((bar("C:4"),), 3, (((1, 2), (bar("F:4"),)), ((3,), (bar("G:4"),))))
    assert body(repeat) == "|: C |1,2. F :|3. G |\n"
    assert body(DraftRepeat((bar("C:4"), bar("F:4")), 4)) == "|: C | F :|x4\n"


def test_what_a_chart_has_no_room_for_is_written_out() -> None:
    inner = DraftRepeat((DraftRepeat((DraftRepeat((bar("C:4"),)), bar("F:4"))), bar("G:4")))
    once = ["C", "C", "F", "C", "C", "F", "G"]
    assert [cell.written for _, b in build_chart((), [DraftSection(None, (inner,))]).bars() for cell in b.cells] == (
        once * 2
    )
    changing = DraftRepeat(
        (bar("C:4", "C"),), 3, (((1,), (bar("F:4", "C"),)), ((2, 3), (bar("G:4", "C"), bar("D:4", "D"))))
    )
    keys = [str(b.key) for _, b in build_chart((), [DraftSection(None, (changing,))]).bars()]
    assert keys == ["C", "C", "C", "C", "D", "C", "C", "D"]


def test_a_key_without_a_signature_is_spelled_anew_with_its_chords() -> None:
    text = body(bar("Dbm:4", Pitch("D", -1)), bar("Gb:2 Ab7/Eb:2", Pitch("D", -1)), bar("Db:4", Pitch("G", -1)))
    assert text == "| C#m | F# G#7/D# |\nkey: Gb\n| Db |\n"


def test_sections_without_a_label_go_on_and_empty_ones_fall_away() -> None:
    sections = [DraftSection("A", (bar("C:4"),)), DraftSection("B", ()), DraftSection(None, (bar("F:4"),))]
    assert written(*sections).partition("\n\n")[2] == "[A]\n| C | F |\n"
    with pytest.raises(ValueError, match="has bars"):
        build_chart((), [DraftSection("A", ())])


def test_labels_and_headers_are_made_fit() -> None:
    assert section_label(" [verse, 2]\n| ") == "verse 2"
    assert section_label("[]") is None
    assert section_label("x" * 200) == "x" * LONGEST_LABEL
    assert header_value("  a\n b ") == "a b"


METRES = st.sampled_from([Metre(4, 4), Metre(3, 4), Metre(6, 8), Metre(2, 2)])
NAMES = st.sampled_from(["C", "F", "G7/B", "Am7", "Bbb", "Db", "Dbm", "F##dim7", "C13(no5)", "N", ".", "."])
KEYS = st.sampled_from([None, Pitch("C"), Pitch("D", -1), Pitch("A", 1), read_key("Dm"), Key(Pitch("G", 1))])
METRE_OF_BAR = st.tuples(METRES, st.sampled_from([False, False, False, True]))


@st.composite
def draft_bars(draw: st.DrawFn, key: Key | Pitch | None) -> DraftBar:
    metre, own = draw(METRE_OF_BAR)
    names = draw(st.lists(NAMES, min_size=1, max_size=5))
    weights = draw(st.lists(st.integers(1, 3), min_size=len(names), max_size=len(names)))
    share = Fraction(metre.beats, sum(weights))
    text = " ".join(f"{name}:{weight * share}" for name, weight in zip(names, weights, strict=True))
    return DraftBar(content_of(runs(text), metre), metre, own, key)


@st.composite
def charts(draw: st.DrawFn) -> list[DraftSection]:
    sections = []
    keyed = False
    for number in range(draw(st.integers(1, 3))):
        key = draw(KEYS.filter(lambda k: k is not None)) if keyed else draw(KEYS)
        keyed = keyed or key is not None
        bars = st.lists(draft_bars(key), min_size=1, max_size=4).map(tuple)
        plain = st.builds(DraftRepeat, bars, st.integers(2, 4))
        nested = st.builds(DraftRepeat, st.tuples(draft_bars(key), plain), st.integers(2, 3))
        ended = st.builds(lambda a, b, c: DraftRepeat(a, 3, (((1, 3), b), ((2,), c))), bars, bars, bars)
        items = draw(st.lists(draft_bars(key) | plain | nested | ended, min_size=1, max_size=4))
        label = None if number == 0 and draw(st.booleans()) else draw(st.sampled_from(["A", "verse B", "C'"]))
        sections.append(DraftSection(label, tuple(items)))
    return sections


def played(items: tuple[DraftBar | DraftRepeat, ...]) -> Iterator[DraftBar]:
    for item in items:
        if isinstance(item, DraftBar):
            yield item
            continue
        for time in range(1, item.times + 1):
            yield from played(item.body)
            yield from (each for numbers, bars in item.endings if time in numbers for each in bars)


@given(charts())
def test_what_is_built_is_written_and_read_and_plays_what_was_meant(sections: list[DraftSection]) -> None:
    chart = build_chart([("title", "T")], sections)
    assert read_chart(write_chart(chart)).chart == chart
    assert [bar.number for _, bar in chart.bars()] == list(range(1, len(list(chart.bars())) + 1))
    meant = [draft for section in sections for draft in played(section.body)]
    made = [bar for _, _, bar in played_bars(chart)]
    assert len(meant) == len(made)
    for draft, bar in zip(meant, made, strict=True):
        assert bar.metre == draft.metre
        assert (bar.key is None) == (draft.key is None)
        if draft.content.exact:
            assert list(lengths(chart, bar.number)) == [run.beats for run in draft.content.runs]
        sounding = [cell.chord for cell in bar.cells if cell.struck]
        struck = [run.chord for run in draft.content.runs if run.struck]
        sounds = [chord and chord.sound for chord in struck]
        assert [chord and chord.sound for chord in sounding][-len(sounds) or len(sounding) :] == sounds


def lengths(chart: Chart, number: int) -> Iterator[Fraction]:
    """How long the runs of a written bar last: a struck cell, or a hold at its head, and the holds behind it."""
    bar = next(bar for _, bar in chart.bars() if bar.number == number)
    total = Fraction(0)
    for cell, beats in zip(bar.cells, bar.beats(), strict=True):
        if cell.struck and total:
            yield total
            total = Fraction(0)
        total += beats
    yield total
