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

from collections.abc import Sequence
from itertools import pairwise
from math import log

from corpus.key_phrases import THIRD_OF_KIND, Heard, Phrase

Path = tuple[int, ...]

#: Prices of a change of key at the start of a section, in natural logarithms, and what it costs more inside one; the
#: cheapest changes stand first.
_INSIDE = 3.0
_PRICES = (((2.0, 4.0, 8.0), 0.5), ((2.0, 3.0, 5.0, 8.0, 12.0), _INSIDE))
_PRICES_MOVED = (2.0, 6.0)
#: What a phrase that comes back moved speaks for its shift.
_MOVED = 4.0
#: So many different roots make a phrase telling when it comes back moved.
_TELLING = 3
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
    "gain",  # what the phrases by themselves gain by the path, over 10
    "gain above",  # what of it is above 2
    "gain each",  # the gain over the number of phrases away
)


def stretches(path: Path) -> list[tuple[int, int, int]]:
    """The runs of phrases in one key: first, last, shift."""
    borders = [0, *(index for index in range(1, len(path)) if path[index] != path[index - 1]), len(path)]
    return [(first, end - 1, path[first]) for first, end in pairwise(borders)]


def proposed_paths(heard: Heard, logs: Sequence[Sequence[float]]) -> list[Path]:
    """The paths worth weighing, the staying one first.

    Args:
        heard: The chart as heard.
        logs: For each phrase the logarithms of its twelve tonics' chances.
    """
    staying = (0,) * len(logs)
    paths = {staying: None}
    starts = [phrase.starts for phrase in heard.phrases]
    totals = [sum(column) for column in zip(*logs, strict=True)]
    most_gain = sum(map(max, logs)) - max(totals)
    for prices, inside in _PRICES:
        for price in prices:
            # Where staying is best at one price, it is best at every higher one.
            path = _from_start(_best_way(logs, starts, price, inside)) if most_gain > price else staying
            if path == staying:
                break
            paths.setdefault(path)
        if len(paths) == 1:
            break
    moved = _moved_logs(heard.phrases)
    if any(any(row[1:]) for row in moved[1:]):
        for price in _PRICES_MOVED:
            paths.setdefault(_from_start(_best_way(moved, starts, price, _INSIDE)))
    return list(paths)


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


def _shape(phrase: Phrase) -> tuple[tuple[int, int], ...]:
    """What of a phrase stays the same when it is moved."""
    first = phrase.sounds[0].root
    return tuple(((sound.root - first) % 12, THIRD_OF_KIND[sound.kind]) for sound in phrase.sounds)


def _roots(phrase: Phrase) -> int:
    return len({sound.root for sound in phrase.sounds})


def _moved_logs(phrases: Sequence[Phrase]) -> list[list[float]]:
    """For each phrase what it says of its shift: nothing, or where its first statement stands below it."""
    first: dict[tuple[tuple[int, int], ...], int] = {}
    rows = []
    tellings: dict[int, tuple[tuple[int, int], ...] | None] = {}
    for phrase in phrases:
        known = id(phrase.sounds)
        if known not in tellings:
            tellings[known] = _shape(phrase) if _roots(phrase) >= _TELLING else None
        shape = tellings[known]
        row = [0.0] * 12
        if shape is not None:
            root = phrase.sounds[0].root
            if shape in first:
                row[(root - first[shape]) % 12] = _MOVED
            first.setdefault(shape, root)
        rows.append(row)
    rows[0] = [0.0] + [-50.0] * 11
    return rows


def path_features(heard: Heard, path: Path, logs: Sequence[Sequence[float]]) -> tuple[dict[str, float], list[float]]:
    """What speaks for a path and against it.

    Args:
        heard: The chart as heard.
        path: The shifts of its phrases.
        logs: For each phrase the logarithms of its twelve tonics' chances.

    Returns:
        Features by name, all but the gains, and for each first tonic the gain (in natural logarithms).
    """
    runs = stretches(path)
    if len(runs) == 1:
        return {}, [0.0] * 12
    made = dict.fromkeys(PATH_FEATURES[:-3], 0.0)
    seen: dict[tuple[tuple[int, int], ...], tuple[set[int], set[int]]] = {}
    before = 0
    for first, last, shift in runs:
        phrases = heard.phrases[first : last + 1]
        shapes = [_shape(phrase) for phrase in phrases]
        roots = [phrase.sounds[0].root for phrase in phrases]
        if first:
            _change(made, phrases, shift, (shift - before) % 12, shapes, seen)
        for shape, root in zip(shapes, roots, strict=True):
            moved, plain = seen.setdefault(shape, (set(), set()))
            moved.add((root - shift) % 12)
            plain.add(root)
        before = shift
    away = [(index, shift) for index, shift in enumerate(path) if shift]
    made["away"] = len(away) / len(path)
    made["return"] = float(path[-1] == 0)
    made["stretches"] = log(len(runs))
    return made, [sum(logs[at][(tonic + shift) % 12] - logs[at][tonic] for at, shift in away) for tonic in range(12)]


def _change(
    made: dict[str, float],
    phrases: Sequence[Phrase],
    shift: int,
    interval: int,
    shapes: Sequence[tuple[tuple[int, int], ...]],
    seen: dict[tuple[tuple[int, int], ...], tuple[set[int], set[int]]],
) -> None:
    """Adds what one change of key brings."""
    telling = moved = unmoved = 0
    for phrase, shape in zip(phrases, shapes, strict=True):
        if shape in seen:
            root = phrase.sounds[0].root
            as_moved = (root - shift) % 12 in seen[shape][0]
            moved += as_moved
            telling += as_moved and _roots(phrase) >= _TELLING
            unmoved += root in seen[shape][1]
    count = len(phrases)
    up = interval in (1, 2)
    made["changes"] += 1
    made["up" if up else "down" if interval in (10, 11) else "else"] += 1
    made["inside"] += not phrases[0].starts
    made["moved"] += telling / count
    made["mostly moved"] += 2 * telling >= count
    made["any moved"] += moved / count
    made["risen"] += up and 2 * moved >= count and not unmoved
    made["unmoved"] += unmoved / count
    bars = sum(phrase.last - phrase.first + 1 for phrase in phrases)
    made["short"] += bars < _SHORT
    made["middling"] += _SHORT <= bars < _MIDDLE


def gain_features(gain: float, away: int) -> dict[str, float]:
    """The features of a path's gain over one first tonic."""
    return {"gain": gain / 10, "gain above": max(0.0, gain - 20) / 10, "gain each": gain / max(1, away)}
