"""Finds the key of a run of chords where nobody wrote one.

Every major and minor key is scored by how usual its chords are in it. With p(d, t | mode) the share of chords on
degree d with third t in tunes of that mode (the tables below), w the length of a chord as a share of the whole and n
the number of chords, at most ``_MOST``::

    score(key) = n * sum(w * log p(d, t | mode)) + first * [first chord is the tonic triad] + last * [last chord is]

and the chances are the scores' softmax. The shares are rounded from common practice; the weights of the first and last
chord were set by hand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shared.chord import Chord
from shared.key import Key, Mode, usual_tonic
from shared.pitch import Pitch
from shared.quality import Third
from shared.tune import Event

_UNUSUAL = 0.003
_MOST = 12
_FIRST, _LAST = 1.2, 1.0

#: Share of chords by degree (semitones above the tonic) and third, per mode.
_USUAL = {
    Mode.MAJOR: {
        (0, Third.MAJOR): 0.31,
        (5, Third.MAJOR): 0.20,
        (7, Third.MAJOR): 0.19,
        (9, Third.MINOR): 0.085,
        (2, Third.MINOR): 0.06,
        (4, Third.MINOR): 0.03,
        (10, Third.MAJOR): 0.03,
        (2, Third.MAJOR): 0.02,
        (9, Third.MAJOR): 0.015,
        (4, Third.MAJOR): 0.012,
        (5, Third.MINOR): 0.01,
        (8, Third.MAJOR): 0.01,
        (3, Third.MAJOR): 0.01,
        (11, Third.MINOR): 0.006,
        (7, Third.MINOR): 0.006,
    },
    Mode.MINOR: {
        (0, Third.MINOR): 0.34,
        (5, Third.MINOR): 0.12,
        (7, Third.MAJOR): 0.11,
        (10, Third.MAJOR): 0.11,
        (8, Third.MAJOR): 0.11,
        (3, Third.MAJOR): 0.08,
        (7, Third.MINOR): 0.04,
        (5, Third.MAJOR): 0.025,
        (2, Third.MINOR): 0.025,
        (0, Third.MAJOR): 0.008,
        (1, Third.MAJOR): 0.008,
        (11, Third.MINOR): 0.006,
    },
}


@dataclass(frozen=True, slots=True)
class FoundKey:
    """A key and its chance, 0 to 1."""

    key: Key
    chance: float


def keys_of(chords: Sequence[Chord], lengths: Sequence[float] | None = None) -> tuple[FoundKey, ...]:
    """The keys that a run of chords may be in, likeliest first; their chances add up to 1.

    Args:
        chords: The chords, in order.
        lengths: How long each lasts, in any unit; equal where None.

    Raises:
        ValueError: If there are no chords.
    """
    if not chords:
        raise ValueError("no chords, no key")
    lengths = lengths or [1.0] * len(chords)
    total = sum(lengths)
    count = min(len(chords), _MOST)
    scored = []
    for mode, usual in _USUAL.items():
        for tonic in range(12):
            score = 0.0
            for chord, length in zip(chords, lengths, strict=True):
                score += length / total * math.log(_share(usual, chord, tonic))
            score *= count
            score += _FIRST * _is_tonic(chords[0], tonic, mode) + _LAST * _is_tonic(chords[-1], tonic, mode)
            scored.append((score, tonic, mode))
    best = max(score for score, _, _ in scored)
    whole = sum(math.exp(score - best) for score, _, _ in scored)
    ranked = sorted(scored, key=lambda each: -each[0])
    return tuple(
        FoundKey(Key(_spelled(tonic, mode, chords), mode), math.exp(score - best) / whole)
        for score, tonic, mode in ranked
    )


def key_of_events(events: Sequence[Event]) -> tuple[FoundKey, ...]:
    """The keys that a tune's events may be in, likeliest first (see ``keys_of``)."""
    return keys_of([event.chord for event in events], [float(event.length) for event in events])


def _share(usual: dict[tuple[int, Third], float], chord: Chord, tonic: int) -> float:
    degree = (chord.root.pitch_class - tonic) % 12
    third = chord.quality.third
    if third is Third.NONE:
        return max(usual.get((degree, each), _UNUSUAL) for each in (Third.MAJOR, Third.MINOR))
    return usual.get((degree, third), _UNUSUAL)


def _is_tonic(chord: Chord, tonic: int, mode: Mode) -> bool:
    if chord.root.pitch_class != tonic:
        return False
    return chord.quality.third is not (Third.MAJOR if mode.minor_third else Third.MINOR)


def _spelled(tonic: int, mode: Mode, chords: Sequence[Chord]) -> Pitch:
    """The tonic as the chart spells it, where a chord stands on it and its signature exists; else its usual name."""
    for chord in chords:
        if chord.root.pitch_class == tonic and abs(Key(chord.root, mode).signature) <= 7:
            return chord.root
    return usual_tonic(tonic, mode)
