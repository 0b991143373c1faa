"""How far two analysts of rock harmony agree, recomputed through the reader and the chart.

Source: T. de Clercq and D. Temperley, "A corpus analysis of rock harmony", Popular Music 30/1 (2011), 47-70; the corpus
is release 2.1. Figures marked "recomputed" were worked out from the same data by another program. The article's tables
of roots and transitions are checked through the survey, in test_survey_rock_tables.py.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from corpus.unfolding import played_bars
from grammar.roman_text import read_roman_text
from shared.chart import Chart
from tests.helpers.datasets import dataset

#: How far the analysts agree on root and key: recomputed; from memory of the article .924 and .973.
AGREED_ROOT, AGREED_KEY = 0.922, 0.975


@pytest.fixture(scope="module")
def charts() -> dict[str, Chart]:
    """The charts by the name of their file."""
    read = {}
    for file in sorted(dataset("rock").glob("r*.txt")):
        (tune,) = read_roman_text(file.read_text(encoding="utf-8"))
        assert tune.chart is not None
        read[file.stem] = tune.chart
    return read


Sounding = tuple[Fraction, Fraction, int | None, int]


def timeline(chart: Chart) -> list[Sounding]:
    """Start and end of each cell in quarter notes, the degree of its root (None for silence), the tonic as sound."""
    line: list[Sounding] = []
    start = Fraction(0)
    for _, _, bar in played_bars(chart):
        assert bar.key is not None
        tonic = bar.key.tonic.pitch_class
        for cell, beats in zip(bar.cells, bar.beats(), strict=True):
            end = start + beats * Fraction(4, bar.metre.unit)
            line.append((start, end, (cell.chord.root.pitch_class - tonic) % 12 if cell.chord else None, tonic))
            start = end
    return line


def test_the_analysts_agree_as_far_as_published(charts: dict[str, Chart]) -> None:
    whole = agreed_key = sounding = agreed_root = Fraction(0)
    songs = sorted({name[:4] for name in charts})
    assert len(songs) == 99
    for song in songs:
        first, second = timeline(charts[f"{song}_a"]), timeline(charts[f"{song}_b"])
        assert first[-1][1] == second[-1][1], song
        bounds = sorted({bound for each in (*first, *second) for bound in each[:2]})
        places = [0, 0]
        for begin, end in pairwise(bounds):
            for at, line in enumerate((first, second)):
                while line[places[at]][1] <= begin:
                    places[at] += 1
            (_, _, root, key), (_, _, other_root, other_key) = first[places[0]], second[places[1]]
            whole += end - begin
            agreed_key += (end - begin) * (key == other_key)
            if root is not None and other_root is not None:
                sounding += end - begin
                agreed_root += (end - begin) * (root == other_root)
    assert float(agreed_root / sounding) == pytest.approx(AGREED_ROOT, abs=0.005)
    assert float(agreed_key / whole) == pytest.approx(AGREED_KEY, abs=0.003)
