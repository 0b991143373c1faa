"""The short sequences of an index are those that its strings hold, counted from the left without overlap."""

from __future__ import annotations

from itertools import pairwise, product

import duckdb
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.codes import chord_code, group_of_quality
from corpus.gram_counting import add_grams, gram_rows, tallied
from corpus.grams import LONGEST, pair_gram, roots_gram
from corpus.ragged import of_texts
from grammar.symbols import read_chord

CHORDS = {name: read_chord(name) for name in ("C", "Cm7", "F", "G7", "Am", "Bb/D", "F#dim7", "C5")}


def table(texts: dict[int, str]) -> dict[tuple[int, int], int]:
    """How often each gram stands in each tune of one major key."""
    with duckdb.connect() as connection:
        connection.execute("CREATE TABLE grams (gram INTEGER, chart INTEGER, times USMALLINT)")
        connection.execute("CREATE TABLE gram_counts (gram INTEGER, charts INTEGER, times BIGINT)")
        missing = of_texts([None] * len(texts))
        strings = {"tonic": of_texts(list(texts.values())), **dict.fromkeys(("relative", "major", "fixed"), missing)}
        tallies = tallied(np.ones(len(texts), np.int64), np.zeros(len(texts), bool), strings)
        add_grams(connection, gram_rows([tallies]))
        rows = connection.execute("SELECT gram, chart, times FROM grams").fetchall()
        counted = connection.execute("SELECT gram, charts, times FROM gram_counts").fetchall()
    assert {gram: (charts, times) for gram, charts, times in counted} == {
        gram: (sum(each == gram for each, _, _ in rows), sum(times for each, _, times in rows if each == gram))
        for gram, _, _ in rows
    }
    return {(gram, chart): times for gram, chart, times in rows}


def apart(roots: list[int], asked: tuple[int, ...]) -> int:
    """How often some roots stand in a row among others, each time behind the last."""
    found = place = 0
    while place <= len(roots) - len(asked):
        if tuple(roots[place : place + len(asked)]) == asked:
            found, place = found + 1, place + len(asked)
        else:
            place += 1
    return found


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.sampled_from(sorted(CHORDS)), min_size=1, max_size=14), min_size=1, max_size=3))
def test_they_are_what_the_strings_hold(tunes: list[list[str]]) -> None:
    texts = {
        number: f"<{''.join(chord_code(CHORDS[name], 0) for name in names)}>" for number, names in enumerate(tunes)
    }
    expected: dict[tuple[int, int], int] = {}
    for chart, names in enumerate(tunes):
        roots = [CHORDS[name].root.pitch_class for name in names]
        joined = [root for place, root in enumerate(roots) if place == 0 or root != roots[place - 1]]
        for length in range(1, LONGEST + 1):
            for begin in range(len(joined) - length + 1):
                asked = tuple(joined[begin : begin + length])
                expected[roots_gram(asked, 0), chart] = apart(joined, asked)
        for first, second in pairwise(names):
            ends = [(CHORDS[name].root.pitch_class, group_of_quality(CHORDS[name].quality)) for name in (first, second)]
            expected[pair_gram(ends[0], ends[1], 0), chart] = 1
    assert table(texts) == expected


@pytest.mark.parametrize(
    ("names", "roots", "times"),
    [
        ("C F C F C", (0, 5), 2),
        ("C F C F C", (0, 5, 0), 1),
        ("C F C F C F C", (0, 5, 0, 5), 1),
        ("C F C Am C F C", (0, 5, 0), 2),
    ],
)
def test_what_overlaps_itself_counts_from_the_left(names: str, roots: tuple[int, ...], times: int) -> None:
    text = "".join(chord_code(CHORDS[name], 0) for name in names.split())
    assert table({0: text})[roots_gram(roots, 0), 0] == times


def test_no_sequence_runs_over_a_change_of_key() -> None:
    text = f"<{chord_code(CHORDS['C'], 0)}!{chord_code(CHORDS['F'], 0)}>"
    assert set(table({0: text})) == {(roots_gram((root,), 0), 0) for root in (0, 5)}


def test_every_sequence_has_a_number_of_its_own() -> None:
    rows = [roots for length in (1, 2, 3) for roots in product(range(12), repeat=length)]
    apart_rows = [roots for roots in rows if all(first != second for first, second in pairwise(roots))]
    assert len({roots_gram(roots, 0) for roots in apart_rows}) == len(apart_rows)


def test_many_tunes_are_counted_as_few(monkeypatch: pytest.MonkeyPatch) -> None:
    tunes = [["C", "F#dim7", "G7"], ["C"], ["Am", "C", "Am"], ["C", "C5", "Bb/D"], ["G7", "C", "G7", "C"]]
    texts = {
        number: f"<{''.join(chord_code(CHORDS[name], 0) for name in names)}>" for number, names in enumerate(tunes)
    }
    together = table(texts)
    monkeypatch.setattr("corpus.gram_counting._MOST_TOGETHER", 2)
    assert table(texts) == together
    assert {chart for _, chart in together} == set(texts)
