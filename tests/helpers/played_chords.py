"""What a chart sounds like, bar by bar, for comparing two charts of one tune."""

from __future__ import annotations

from fractions import Fraction

from corpus.unfolding import played_bars
from shared.chart import Chart, Metre
from shared.chord import Chord
from shared.key import Key

PlayedChords = tuple[Metre, Key | None, tuple[tuple[Chord | None, Fraction], ...]]


def played_chords(chart: Chart) -> list[PlayedChords]:
    """Metre, key and chords with their lengths in beats of every bar as it is played; chords that go on are one."""
    bars: list[PlayedChords] = []
    for _, _, bar in played_bars(chart):
        runs: list[tuple[Chord | None, Fraction]] = []
        for cell, beats in zip(bar.cells, bar.beats(), strict=True):
            if runs and runs[-1][0] == cell.chord:
                runs[-1] = cell.chord, runs[-1][1] + beats
            else:
                runs.append((cell.chord, beats))
        bars.append((bar.metre, bar.key, tuple(runs)))
    return bars
