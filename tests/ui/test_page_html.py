"""Bars, chords and faults as HTML."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.charts import read_chart
from shared.errors import Fault
from ui.chart_html import (
    BarBox,
    ChordBox,
    bars_html,
    chords_html,
    columns_for,
    element,
    fault_html,
    listing_html,
    notice_html,
    pieces_of,
)

NASTY = '<script>alert("x")</script> & <img src=x onerror=y>'


class _Reader(HTMLParser):
    """The tags and the text of some HTML, the tags checked to be closed in order."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.text = ""
        self.feed(source)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.tags.add(tag)
        if tag != "wbr":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def _bar(text: str) -> BarBox:
    return BarBox(1, (ChordBox(text, text, text),), label=text, signs=(text,), words=text, matched=True)


@pytest.mark.parametrize(
    "source",
    [
        element("p", NASTY, "sc-facts"),
        bars_html([_bar(NASTY)]),
        chords_html([(NASTY, NASTY, NASTY)]),
        notice_html(NASTY),
        fault_html(Fault(NASTY, 1, 2, 3, NASTY, NASTY, NASTY), path=NASTY),
        listing_html(NASTY, [Fault(NASTY, 1, 2, 3, NASTY, NASTY, NASTY), Fault(NASTY)]),
    ],
)
def test_text_is_escaped(source: str) -> None:
    read = _Reader(source)
    assert not read.tags & {"script", "img"}
    assert NASTY in read.text


@given(st.text(max_size=40), st.integers(0, 12), st.booleans())
def test_any_text_stays_text(text: str, column: int, measured: bool) -> None:
    box = BarBox(7, (ChordBox("C", "1", column=column),), words=text, measured=measured, label=text)
    assert _Reader(bars_html([box])).tags <= {"div", "span"}


def test_a_match_is_marked_without_colour() -> None:
    source = bars_html([BarBox(1, (), matched=True, match_starts=True), BarBox(2, (), matched=True, match_ends=True)])
    assert "sc-bar sc-match sc-from" in source
    assert "sc-bar sc-match sc-to" in source
    assert source.count("in the match") == 2


@pytest.mark.parametrize(
    ("lengths", "expected"),
    [
        ([4, 4], (4, True)),
        ([3, 3], (3, True)),
        ([8, 8], (4, True)),
        ([2, 2], (4, False)),
        ([6], (6, True)),
        ([], (4, False)),
    ],
)
def test_rows_follow_the_lines_of_the_chart(lengths: list[int], expected: tuple[int, bool]) -> None:
    boxes = [BarBox(1, (), starts_line=place == 0) for length in lengths for place in range(length)]
    assert columns_for(boxes) == expected


def test_chords_stand_over_their_syllables() -> None:
    pieces = pieces_of("Down by the river bed", [ChordBox("G", column=1), ChordBox("C", column=15)])
    assert [(piece.text, piece.chord.name if piece.chord else None) for piece in pieces] == [
        ("Down by the ri", "G"),
        ("ver bed", "C"),
    ]


@given(st.text("ab ", max_size=30), st.lists(st.integers(1, 40), max_size=5))
def test_no_word_is_lost(words: str, columns: list[int]) -> None:
    pieces = pieces_of(words, [ChordBox("C", column=column) for column in columns])
    assert "".join(piece.text for piece in pieces).strip() == words.strip()


def test_a_listing_marks_faults_in_place() -> None:
    text = "title: A\nkey: C\n\n| C | Cmaj77 | F |\n"
    reading = read_chart(text)
    read = _Reader(listing_html(text, reading.faults))
    assert "Cmaj77" in read.text
    assert "^" * reading.faults[0].length in read.text
    assert reading.faults[0].expected in read.text
    assert reading.faults[0].nearest in read.text
