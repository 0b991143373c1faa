"""A chart as it is played: form, repeats and endings written out, silence dropped, equal neighbours joined."""

from __future__ import annotations

from fractions import Fraction

import pytest

from corpus.chart_files import read_text
from corpus.tunes import played
from shared.tune import Event, Tune


def tune_of(text: str) -> Tune:
    chart = read_text(text).chart
    assert chart is not None, read_text(text).faults
    return played(chart).tune


def shown(event: Event) -> str:
    """An event with where it begins as written, and marks where a section starts and ends."""
    start, end = "<" if event.starts else "", ">" if event.ends else ""
    return f"{start}{event.written}:{event.bar}{end}"


@pytest.mark.parametrize(
    ("about", "text", "bars", "events"),
    [
        ("as written", "| C | F |", "1 2", "<C:1 F:2>"),
        ("a repeat", "|: C | F :|", "1 2 1 2", "<C:1 F:2 C:1 F:2>"),
        ("three times", "|: C | F :|x3", "1 2 1 2 1 2", "<C:1 F:2 C:1 F:2 C:1 F:2>"),
        ("a line three times", "| C | F | x3", "1 2 1 2 1 2", "<C:1 F:2 C:1 F:2 C:1 F:2>"),
        ("endings", "|: C |1. F :|2. G |", "1 2 1 3", "<C:1 F:2 C:1 G:3>"),
        ("an ending for two times", "|: C |1,3. F :|2. G :|", "1 2 1 3 1 2", "<C:1 F:2 C:1 G:3 C:1 F:2>"),
        ("what follows the last ending", "|: C |1. F :|2. G | Am | F |", "1 2 1 3 4 5", "<C:1 F:2 C:1 G:3 Am:4 F:5>"),
        ("held over a bar line", "| C | . | F |", "1 2 3", "<C:1 F:3>"),
        ("an empty bar holds", "| C | | F |", "1 2 3", "<C:1 F:3>"),
        ("struck again", "| C C | C | F C |", "1 2 3", "<C:1 F:3 C:3>"),
        ("same again", "| C F | % | G |", "1 2 3", "<C:1 F:1 C:2 F:2 G:3>"),
        ("two bars again", "| C | F | %2 | G |", "1 2 3 4 5", "<C:1 F:2 C:3 F:4 G:5>"),
        ("joined over a repeat", "|: C | F | C :|", "1 2 3 1 2 3", "<C:1 F:2 C:3 F:2 C:3>"),
        ("silence dropped", "| C | N.C. | C F |", "1 2 3", "<C:1 F:3>"),
        ("silence at both ends", "| N.C. | C | F | N.C. |", "1 2 3 4", "<C:2 F:3>"),
        ("spelled otherwise, sounding alike", "| C#m | Dbm | F+ | Faug |", "1 2 3 4", "<C#m:1 F+:3>"),
        ("another quality or bass is another event", "| C C7 | C/E C |", "1 2", "<C:1 C7:1 C/E:2 C:2>"),
        ("a bass that is the root", "| C C/C |", "1", "<C:1>"),
        ("a new bass", "| C /B | Am /G |", "1 2", "<C:1 C/B:1 Am:2 Am/G:2>"),
        ("sections", "[A]\n| C |\n[B]\n| F |", "1 2", "<C:1> <F:2>"),
        ("bars before the first label play first", "| G |\n[A]\n| C |", "1 2", "<G:1> <C:2>"),
        ("a label written twice", "[A]\n| C |\n[B]\n| F |\n[A]\n| G |", "1 2 3", "<C:1> <F:2> <G:3>"),
        ("a section that begins as the last ended", "[A]\n| C | F |\n[B]\n| F | C |", "1 2 3 4", "<C:1 <F:2> C:4>"),
        ("one chord through two sections", "[A]\n| C |\n[B]\n| C |", "1 2", "<C:1>"),
        ("a silent section has neither start nor end", "[A]\n| C |\n[B]\n| N.C. |", "1 2", "<C:1>"),
        ("numbers", "key: Eb\n\n| 1 4m | 57/7 |", "1 2", "<Eb:1 Abm:1 Bb7/D:2>"),
    ],
)
def test_played(about: str, text: str, bars: str, events: str) -> None:
    tune = tune_of(text if text.startswith("key:") else f"key: C\n\n{text}")
    assert " ".join(str(bar.bar) for bar in tune.bars) == bars
    assert " ".join(map(shown, tune.events)) == events


@pytest.mark.parametrize(
    ("form", "bars", "events"),
    [
        ("A B", "1 2 3", "<C:1 F:2> <G:3>"),
        ("A A", "1 2 1 2", "<C:1 F:2> <C:1 F:2>"),
        ("B A B", "3 1 2 3", "<G:3> <C:1 F:2> <G:3>"),
        ("a, b", "1 2 3", "<C:1 F:2> <G:3>"),
    ],
)
def test_form(form: str, bars: str, events: str) -> None:
    tune = tune_of(f"key: C\nform: {form}\n\n[A]\n| C | F |\n[B]\n| G |")
    assert " ".join(str(bar.bar) for bar in tune.bars) == bars
    assert " ".join(map(shown, tune.events)) == events


def test_form_plays_what_has_no_label_first() -> None:
    tune = tune_of("key: C\nform: B A\n\n| D |\n[A]\n| C |\n[B]\n| G |")
    assert " ".join(map(shown, tune.events)) == "<D:1> <G:3> <C:2>"


def test_each_playing_of_a_section_has_a_number_of_its_own() -> None:
    tune = tune_of("key: C\nform: A A B\n\n[A]\n|: C :|\n[B]\n| G |")
    assert [(bar.section, bar.playing) for bar in tune.bars] == [("A", 0), ("A", 0), ("A", 1), ("A", 1), ("B", 2)]


def test_without_labels_the_tune_is_one() -> None:
    tune = tune_of("key: C\n\n| C | F |\n\n| G | C |")
    assert {bar.playing for bar in tune.bars} == {0}
    assert {bar.section for bar in tune.bars} == {None}


@pytest.mark.parametrize(
    ("text", "lengths"),
    [
        ("| C | F G |", "4 2 2"),
        ("| C F G |", "2 1 1"),
        ("| C . . F | . G |", "3 3 2"),
        ("| C | N.C. C | F |", "6 4"),
        ("time: 3/4\n| C | F . G |", "3 2 1"),
        ("time: 6/8\n| C F | G |", "3/2 3/2 3"),
        ("| C | (2/4) F | G |", "4 2 4"),
        ("| C D E F G |", "1 1 1 1/2 1/2"),
        ("C   F\nsome words\nG\nand more", "4 4 4"),
    ],
)
def test_lengths_in_quarter_notes(text: str, lengths: str) -> None:
    tune = tune_of(f"key: C\n\n{text}")
    assert [event.length for event in tune.events] == [Fraction(each) for each in lengths.split()]


def test_what_sounds_in_a_bar() -> None:
    tune = tune_of("key: C\n\n| C F | . | F N.C. | N.C. | C F C |")
    assert [(bar.events, bar.silent) for bar in tune.bars] == [
        ((0, 1), False),
        ((1,), False),
        ((1,), True),
        ((), True),
        ((2, 3, 4), False),
    ]


@pytest.mark.parametrize(
    ("text", "segments"),
    [
        ("key: D\n\n| D |\nkey: E\n| E | A |", [("D", 0, 0, 0, 0), ("E", 1, 2, 1, 2)]),
        ("key: D\n\n| D | A |\nkey: E\n| A | E |", [("D", 0, 1, 0, 1), ("E", 1, 2, 2, 3)]),
        ("key: D\n\n| D |\nkey: D\n| G |", [("D", 0, 1, 0, 1)]),
        ("key: D\n\n| D |\nkey: Dm\n| Dm |", [("D", 0, 0, 0, 0), ("Dm", 1, 1, 1, 1)]),
        ("key: D\n\n| D |\nkey: E\n| N.C. |\nkey: G\n| G |", [("D", 0, 0, 0, 0), ("G", 1, 1, 2, 2)]),
        (
            "key: D\nform: A B A\n\n[A]\n| D |\n[B]\nkey: F\n| F |",
            [("D", 0, 0, 0, 0), ("F", 1, 1, 1, 1), ("D", 2, 2, 2, 2)],
        ),
    ],
)
def test_the_keys_it_passes_through(text: str, segments: list[tuple[str, int, int, int, int]]) -> None:
    tune = tune_of(text)
    found = [(str(each.key), each.first, each.last, each.from_bar, each.to_bar) for each in tune.segments]
    assert found == segments


def test_a_key_is_found_where_none_is_written() -> None:
    tune = tune_of("| C | F | G | C |")
    assert (str(tune.key), tune.key_found) == ("C", True)
    later = tune_of("| C | F | G | C |\nkey: E\n| E | B |")
    assert [str(each.key) for each in later.segments] == ["C", "E"]
    assert later.key_found
