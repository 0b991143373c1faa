"""Changes of key: the ways a tune may go from key to key, and what speaks for each.

A *path* gives every phrase its shift, in semitones above the tonic of the first phrase; twelve keys on one path are
twelve candidates. Paths are proposed from two sides:

* from the chances of each phrase by itself: the best way through them, at several prices of a change (Viterbi's
  algorithm; changes inside a section cost more);
* from phrases that come back moved: a phrase whose chords are those of an earlier one, all moved by one interval,
  speaks for a change of key by that interval (the last chorus a semitone up is the commonest).

The staying path is always among them. ``path_features`` says what a path costs and what speaks for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import log
from typing import NamedTuple

import numpy as np

from corpus.key_layout import Laid, run_of
from corpus.ragged import Floats, Ints, Truths

Path = tuple[int, ...]

#: Prices of a change of key at the start of a section, in natural logarithms, and what it costs more inside one; the
#: cheapest changes stand first.
_INSIDE = 3.0
_PRICES = (((2.0, 4.0, 8.0), 0.5), ((2.0, 3.0, 5.0, 8.0, 12.0), _INSIDE))
_CHEAPEST = min(price for prices, _ in _PRICES for price in prices)
_PRICES_MOVED = (2.0, 6.0)
#: What keeps the first phrase from being anything but a first statement.
_FIRST = 50.0
#: What a phrase that comes back moved speaks for its shift.
_MOVED = 4.0
_SHORT, _MIDDLE = 8, 16

PATH_FEATURES = (
    "changes",  # changes of key
    "up",  # changes up a semitone or a tone
    "down",  # changes down a semitone or a tone
    "else",  # changes by any other interval
    "inside",  # changes inside a section
    "moved",  # for each change, the share of its phrases with three roots or more that came before, moved as it says
    "mostly moved",  # changes where that is half or more
    "any moved",  # as "moved", whatever the number of roots
    "risen",  # changes up a semitone or a tone behind which half the phrases or more come back moved, none as it was
    "unmoved",  # for each change, the share of its phrases that came before just as they are
    "short",  # keys that hold for less than 8 bars
    "middling",  # for less than 16 bars
    "away",  # share of phrases away from the first key
    "return",  # whether the last key is the first one
    "stretches",  # logarithm of the number of stretches
    # Those of the gain stand last.
    "gain",  # what the phrases by themselves gain by the path, over 10
    "gain above",  # what of it is above 2
    "gain each",  # the gain over the number of phrases away
)
GAIN_FEATURES = ("gain", "gain above", "gain each")


def stretches(path: Path) -> list[tuple[int, int, int]]:
    """The runs of phrases in one key: first, last, shift."""
    if not any(path):
        return [(0, len(path) - 1, 0)]
    borders = [0, *(index for index in range(1, len(path)) if path[index] != path[index - 1]), len(path)]
    return [(first, end - 1, path[first]) for first, end in pairwise(borders)]


def proposed_paths(laid: Laid, logs: Floats) -> list[list[Path]]:
    """The paths worth weighing for each chart, the staying one first.

    Args:
        laid: The charts.
        logs: For each playing of a phrase the logarithms of its twelve tonics' chances.
    """
    begin = laid.begin.tolist()
    asked = zip(pairwise(begin), _most_gains(logs, laid.begin[:-1]), _moved(laid).tolist(), strict=True)
    made = []
    for chart, ((first, end), gain, moved) in enumerate(asked):
        paths = dict.fromkeys([(0,) * (end - first)])
        if gain > _CHEAPEST:
            paths |= _by_chance(laid.starts[first:end].tolist(), logs[first:end].tolist(), gain)
        if moved:
            paths |= _by_return(laid, chart)
        made.append(list(paths))
    return made


def _by_chance(starts: Sequence[bool], logs: Sequence[Sequence[float]], gain: float) -> dict[Path, None]:
    """The best ways through the chances of the phrases by themselves, at several prices."""
    staying = (0,) * len(logs)
    paths: dict[Path, None] = {}
    for prices, inside in _PRICES:
        for price in prices:
            # Where staying is best at one price, it is best at every higher one.
            path = _from_start(_best_way(logs, starts, price, inside)) if gain > price else staying
            if path == staying:
                break
            paths.setdefault(path)
        if not paths:
            break
    return paths


def _by_return(laid: Laid, chart: int) -> dict[Path, None]:
    """The best ways through what phrases say that come back moved."""
    lines = lines_of(laid, chart)
    rows = [[0.0] + [-_FIRST] * 11]
    first = {lines[0].shape: lines[0].root}
    for line in lines[1:]:
        rows.append([0.0] * 12)
        if line.telling and line.shape in first:
            rows[-1][(line.root - first[line.shape]) % 12] = _MOVED
        first.setdefault(line.shape, line.root)
    starts = laid.starts[laid.begin[chart] : laid.begin[chart + 1]].tolist()
    return dict.fromkeys(_from_start(_best_way(rows, starts, price, _INSIDE)) for price in _PRICES_MOVED)


class Line(NamedTuple):
    """What of a phrase bears on its coming back moved: its shape, whether that is telling, and its first root."""

    shape: int
    telling: bool
    root: int


def lines_of(laid: Laid, chart: int) -> list[Line]:
    """The phrases of a chart as played."""
    phrases = laid.phrase[laid.begin[chart] : laid.begin[chart + 1]]
    return list(map(Line, *(each[phrases].tolist() for each in (laid.shape, laid.telling, laid.turn))))


def _moved(laid: Laid) -> Truths:
    """Whether a telling phrase of each chart comes back moved."""
    chart = np.repeat(run_of(len(laid.lined)), np.diff(laid.begin))
    telling = laid.telling[laid.phrase]
    phrase, chart = laid.phrase[telling], chart[telling]
    shape, turn = chart * (len(laid.shape) + 1) + laid.shape[phrase], laid.turn[phrase]
    order = np.lexsort((turn, shape))
    again = (np.diff(shape[order]) == 0) & (np.diff(turn[order]) != 0)
    made = np.zeros(len(laid.lined), bool)
    made[chart[order][1:][again]] = True
    return made


def _most_gains(logs: Floats, begin: Ints) -> list[float]:
    """For each chart what its phrases gain at most over staying where each has its own best key.

    Args:
        logs: For each phrase of all charts the logarithms of its twelve tonics' chances.
        begin: The first phrase of each chart.
    """
    gains: list[float] = (np.add.reduceat(logs.max(axis=1), begin) - np.add.reduceat(logs, begin).max(axis=1)).tolist()
    return gains


def _from_start(way: Sequence[int]) -> Path:
    return tuple((state - way[0]) % 12 for state in way)


def _best_way(logs: Sequence[Sequence[float]], starts: Sequence[bool], price: float, inside: float) -> list[int]:
    """The states, one for each phrase, whose logs less the prices of changes add up to most."""
    scores = list(logs[0])
    back: list[tuple[int, float, list[float]]] = []
    for row, start in zip(logs[1:], starts[1:], strict=True):
        best = max(scores)
        origin = scores.index(best)
        changed = best - (price if start else price + inside)
        back.append((origin, changed, scores))
        scores = [(score if score > changed else changed) + each for score, each in zip(scores, row, strict=True)]
    state = scores.index(max(scores))
    way = [state]
    for origin, changed, before in reversed(back):
        if before[state] < changed:
            state = origin
        way.append(state)
    return way[::-1]


def path_features(laid: Laid, chart: int, path: Path, logs: Floats) -> tuple[dict[str, float], dict[str, Floats]]:
    """What speaks for a path that changes key, and against it.

    Args:
        laid: The charts.
        chart: Which of them.
        path: The shifts of its phrases.
        logs: For each playing of a phrase, of all charts, the logarithms of its twelve tonics' chances.

    Returns:
        Features by name; those of the gain have a value for each first tonic and stand by themselves.
    """
    made = dict.fromkeys(PATH_FEATURES[: -len(GAIN_FEATURES)], 0.0)
    seen: dict[int, tuple[set[int], set[int]]] = {}
    before = 0
    lines, begin = lines_of(laid, chart), laid.begin[chart]
    runs = stretches(path)
    for first, last, shift in runs:
        if first:
            bars = int((laid.last - laid.first + 1)[begin + first : begin + last + 1].sum())
            _change(made, lines[first : last + 1], (before, shift), seen)
            made["inside"] += not laid.starts[begin + first]
            made["short"] += bars < _SHORT
            made["middling"] += _SHORT <= bars < _MIDDLE
        for line in lines[first : last + 1]:
            moved, plain = seen.setdefault(line.shape, (set(), set()))
            moved.add((line.root - shift) % 12)
            plain.add(line.root)
        before = shift
    shifts = np.array(path)
    away = np.flatnonzero(shifts)
    made["away"] = len(away) / len(path)
    made["return"] = float(path[-1] == 0)
    made["stretches"] = log(len(runs))
    logs = logs[laid.begin[chart] : laid.begin[chart + 1]]
    there = (np.arange(12) + shifts[away, None]) % 12
    gain = (np.take_along_axis(logs[away], there, axis=1) - logs[away]).sum(axis=0)
    gains = (gain / 10, np.maximum(0.0, gain - 20) / 10, gain / len(away))
    return made, dict(zip(GAIN_FEATURES, gains, strict=True))


def _change(
    made: dict[str, float],
    lines: Sequence[Line],
    shifts: tuple[int, int],
    seen: Mapping[int, tuple[set[int], set[int]]],
) -> None:
    """Adds what one change of key brings by what comes back, and its interval.

    Args:
        made: Where to.
        lines: The phrases behind it: what bears on their coming back.
        shifts: The shift before it and that behind it.
        seen: For each shape met before its roots, less their shifts and as they are.
    """
    telling = moved = unmoved = 0
    before, shift = shifts
    for line in lines:
        if line.shape in seen:
            as_moved = (line.root - shift) % 12 in seen[line.shape][0]
            moved += as_moved
            telling += as_moved and line.telling
            unmoved += line.root in seen[line.shape][1]
    count, interval = len(lines), (shift - before) % 12
    up = interval in (1, 2)
    made["changes"] += 1
    made["up" if up else "down" if interval in (10, 11) else "else"] += 1
    made["moved"] += telling / count
    made["mostly moved"] += 2 * telling >= count
    made["any moved"] += moved / count
    made["risen"] += up and 2 * moved >= count and not unmoved
    made["unmoved"] += unmoved / count
