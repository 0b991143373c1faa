"""A slow alignment of two tunes over plain lists, meant to be obviously right: it referees the fast one.

Conventions:
    * A unit is a pair of chords (the two halves of a bar, or one chord twice); a chord is its root and its family.
    * Nothing of the fast alignment is used here: the costs are written out anew, in whole hundredths of half a unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shared.chart import Chart
from shared.key import Key
from shared.quality import Family
from tests.helpers.performance import perform

Chord = tuple[int, Family]
Unit = tuple[Chord, Chord]

#: The triad of each family, by the name that the family is written with: semitones above the root.
_WRITTEN = "aug 0 4 8, maj 0 4 7, 7 0 4 7, sus4 0 5 7, 5 0 7, m 0 3 7, m7b5 0 3 6, dim 0 3 6"
TRIADS = {Family(words[0]): tuple(map(int, words[1:])) for words in map(str.split, _WRITTEN.split(","))}
GAP, LEAST, MOST = 100, 350, 8
#: A tune of so many units is gone through several times, up to so often, where it fits into the other at least twice.
SHORT, ROUNDS = 16, 16


@dataclass(frozen=True)
class RefereePassage:
    """A shared passage: its worth, by how much the second tune is moved up, and the units side by side."""

    worth: int
    move: int
    pairs: tuple[tuple[int, int], ...]


def half_alike(first: Chord, second: Chord) -> int:
    """What two chords are alike."""
    (root, family), (other, other_family) = first, second
    if root == other:
        if family == other_family:
            return 50
        thirds = [next((t for t in TRIADS[each] if t in (3, 4)), None) for each in (family, other_family)]
        return 45 if None in thirds or thirds[0] == thirds[1] else 35
    if family == other_family == Family.DOMINANT and abs(root - other) == 6:
        return 0
    here = {(root + tone) % 12 for tone in TRIADS[family]}
    there = {(other + tone) % 12 for tone in TRIADS[other_family]}
    return {0: -50, 1: -25}.get(len(here & there), 0)


def moved(unit: Unit, by: int) -> Unit:
    """A unit moved up by semitones."""
    (root, family), (second, second_family) = unit
    return ((root + by) % 12, family), ((second + by) % 12, second_family)


def referee_passages(here: Sequence[Unit], there: Sequence[Unit]) -> list[RefereePassage]:
    """The passages that two tunes share, in the order in which they are taken."""
    best, move = 0, 0
    for by in range(12):
        worth, _ = _best(here, [moved(unit, by) for unit in there], set(), set())
        if worth > best:
            best, move = worth, by
    other = [moved(unit, move) for unit in there]
    taken_here: set[int] = set()
    taken_there: set[int] = set()
    found = []
    while len(found) < MOST:
        worth, pairs = _best(here, other, taken_here, taken_there)
        if worth < LEAST:
            break
        found.append(RefereePassage(worth, move, pairs))
        taken_here |= {row for row, _ in pairs}
        taken_there |= {column for _, column in pairs}
    return found


def _best(
    here: Sequence[Unit], there: Sequence[Unit], taken_here: set[int], taken_there: set[int]
) -> tuple[int, tuple[tuple[int, int], ...]]:
    """The best passage that goes through nothing taken: its worth and its pairs."""
    table = [[0] * (len(there) + 1) for _ in range(len(here) + 1)]
    best, end = 0, (0, 0)
    for row, unit in enumerate(here, 1):
        for column, other in enumerate(there, 1):
            if row - 1 in taken_here or column - 1 in taken_there:
                continue
            paired = half_alike(unit[0], other[0]) + half_alike(unit[1], other[1])
            table[row][column] = max(
                0, table[row - 1][column - 1] + paired, table[row - 1][column] - GAP, table[row][column - 1] - GAP
            )
            if table[row][column] > best:
                best, end = table[row][column], (row, column)
    row, column = end
    pairs = []
    while value := table[row][column]:
        unit, other = here[row - 1], there[column - 1]
        paired = half_alike(unit[0], other[0]) + half_alike(unit[1], other[1])
        if value == table[row - 1][column - 1] + paired:
            row, column = row - 1, column - 1
            pairs.append((row, column))
        elif value == table[row - 1][column] - GAP:
            row -= 1
        else:
            column -= 1
    return best, tuple(reversed(pairs))


def lines_of(chart: Chart, found: Key | Sequence[Key] | None = None) -> tuple[list[Unit], list[Unit]]:
    """A chart as units, bar by bar and chord by chord, counted from its home tonic."""
    tune = perform(chart, found)
    tonic = tune.home.tonic.pitch_class
    chords = [((event.root - tonic) % 12, event.chord.quality.family) for event in tune.events]
    bars = []
    for bar in tune.bars:
        if bar.events and not bar.silent:
            sounding = [chords[event] for event in bar.events]
            bars.append((sounding[len(sounding) // 4], sounding[len(sounding) * 3 // 4]))
    line = [(chord, chord) for number, chord in enumerate(chords) if number == 0 or chord != chords[number - 1]]
    return bars, line


def referee_score(
    here: tuple[list[Unit], list[Unit]], there: tuple[list[Unit], list[Unit]]
) -> tuple[float, list[RefereePassage]]:
    """How alike two tunes are, given bar by bar and chord by chord, and the passages that say so."""
    shares, passages = [], []
    for line, other in zip(here, there, strict=True):
        ways = [(line, other)]
        if 0 < 2 * len(line) <= len(other) and len(line) <= SHORT:
            ways.append((line * min(ROUNDS, len(other) // len(line)), other))
        if 0 < 2 * len(other) <= len(line) and len(other) <= SHORT:
            ways.append((line, other * min(ROUNDS, len(line) // len(other))))
        found = [referee_passages(*way) for way in ways]
        each = [
            2 * sum(passage.worth for passage in one) / max(1, 100 * (len(first) + len(second)))
            for one, (first, second) in zip(found, ways, strict=True)
        ]
        shares.append(max(each))
        passages.append(found[each.index(max(each))])
    return (shares[1] / 2, passages[1]) if shares[1] / 2 > shares[0] else (shares[0], passages[0])
