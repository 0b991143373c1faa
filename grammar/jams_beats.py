"""Annotated beats, put into bars and carried on, and the beats on which chords begin.

Conventions:
    * Times are in seconds. A bar starts at every beat with the position 1, and has as many beats as are counted up to
      the next.
    * A chord begins on the nearest beat; where several would begin on one, on the nearest half or quarter of a beat.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from statistics import median

MOST_BEATS = 50_000


@dataclass(frozen=True, slots=True)
class Beat:
    """A beat: its second, and its place in the bar, from 1."""

    time: float
    position: int


def most_common(counts: Iterable[int]) -> int:
    """The count that comes most often, the greater one on a tie; 0 where there is none."""
    tallied = Counter(counts)
    return max(tallied, key=lambda count: (tallied[count], count), default=0)


def beats_of_bars(beats: Sequence[Beat]) -> list[list[Beat]]:
    """The beats of every bar; a bar starts at a beat with the position 1."""
    bars: list[list[Beat]] = []
    for beat in beats:
        if beat.position == 1 or not bars:
            bars.append([])
        bars[-1].append(beat)
    return bars


def pace_of(beats: Sequence[Beat]) -> float:
    """The usual time from beat to beat, in seconds."""
    return median(b.time - a.time for a, b in pairwise(beats))


def carried_on(beats: Sequence[Beat], common: int, start: float, end: float) -> list[Beat]:
    """The beats, carried on at their usual pace so far that a chord can begin at ``start`` and one ends at ``end``."""
    pace = pace_of(beats)
    made = list(beats)
    before = min(MOST_BEATS, max(0, round((made[0].time - start) / pace)))
    behind = min(MOST_BEATS, max(0, math.ceil((end - made[-1].time) / pace - 0.5) - 1))
    front: list[Beat] = []
    for _ in range(before):
        first = front[-1] if front else made[0]
        front.append(Beat(first.time - pace, first.position - 1 if first.position > 1 else common))
    made = front[::-1] + made
    for _ in range(behind):
        last = made[-1]
        made.append(Beat(last.time + pace, last.position % common + 1))
    return made


def places_of(starts: Sequence[float], times: Sequence[float], pace: float) -> list[Fraction | None]:
    """The beat, from 0, on which each chord begins; None where a chord is over before it begins."""
    exact = [_beat_of(start, times, pace) for start in starts]
    parts = [1] * len(starts)
    places = [Fraction(max(0, round(each))) for each in exact]
    for finer in (2, 4):
        crowded = {i for i, (a, b) in enumerate(pairwise(places)) if a >= b}
        for i in crowded | {i + 1 for i in crowded}:
            parts[i] = finer
        places = [Fraction(max(0, round(each * n)), n) for each, n in zip(exact, parts, strict=True)]
    kept: list[Fraction | None] = [*places]
    last: Fraction | None = None
    for index in reversed(range(len(places))):
        if places[index] >= len(times) or (last is not None and places[index] >= last):
            kept[index] = None
        else:
            last = places[index]
    return kept


def _beat_of(time: float, times: Sequence[float], pace: float) -> float:
    """The place of a time among beats, from 0."""
    index = min(max(0, bisect_right(times, time) - 1), len(times) - 1)
    length = times[index + 1] - times[index] if index + 1 < len(times) else pace
    return index + (time - times[index]) / length
