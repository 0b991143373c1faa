"""Whether the catalogue says already what a sequence of chords says.

Conventions: chords are compared as in ``search.relations``, as tokens: the root in semitones times the kinds of third,
and the kind. Minor is also counted from its relative major and the other way, as in a search.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from corpus.catalogue import Progression
from search.relations import KINDS, readings
from shared.match import Count

#: How many tokens there are, and how few chords may stand for something.
SIGNS, SHORTEST = 12 * len(KINDS), 3
#: A sequence of so many chords is explained by an entry that has all of them but the first or the last.
_MANY = 6
#: Semitones from the tonic of a minor key up to its relative major's, and back.
_TO_RELATIVE, _TO_TONIC = 9, 3

Tokens = tuple[int, ...]


def turns(tokens: Tokens) -> list[Tokens]:
    """A loop, begun at each of its chords."""
    return [tokens[at:] + tokens[:at] for at in range(len(tokens))]


class Explaining:
    """The readings of a catalogue's entries as tokens."""

    def __init__(self, entries: Iterable[Progression]) -> None:
        self._readings: list[tuple[tuple[frozenset[int], ...], bool, bool]] = []
        for entry in entries:
            for reading in readings(entry):
                steps = tuple(frozenset(s.root * len(KINDS) + KINDS.index(s.kind) for s in step) for step in reading)
                # A step that leaves the root open, such as a bass alone, explains no chord.
                if all(len(step) < SIGNS for step in steps):
                    self._readings.append((steps, entry.rotate, entry.count is not Count.TONIC))

    def explains(self, sequence: Tokens, goes_round: bool) -> bool:
        """Whether an entry says what a sequence, or a loop, says, or all of it but one chord."""
        turned = [(sequence, False)]
        turned += [(_moved(sequence, by), True) for by in _recounts(sequence)]
        return any(
            _says(steps, tokens, goes_round, loop)
            for tokens, recounted in turned
            for steps, loop, both in self._readings
            if both or not recounted
        )


def _recounts(tokens: Tokens) -> list[int]:
    """By how many semitones a sequence is recounted: minor from its relative major, major from its relative minor."""
    one, six = KINDS.index("m"), 9 * len(KINDS) + KINDS.index("m")
    return [by for token, by in ((one, _TO_RELATIVE), (six, _TO_TONIC)) if token in tokens]


def _moved(tokens: Tokens, by: int) -> Tokens:
    return tuple((token + by * len(KINDS)) % SIGNS for token in tokens)


def _says(steps: Sequence[frozenset[int]], tokens: Tokens, goes_round: bool, loop: bool) -> bool:
    """Whether a reading says what a sequence says.

    Args:
        steps: The reading.
        tokens: The sequence.
        goes_round: Whether the sequence is a loop: then the reading has to go round it, or hold it.
        loop: Whether the reading may begin at any of its chords.
    """
    if goes_round:
        round_once = len(steps) >= max(SHORTEST, len(tokens)) and any(
            all(tokens[(at + turn) % len(tokens)] in step for at, step in enumerate(steps))
            for turn in range(len(tokens))
        )
        return round_once or (len(tokens) >= SHORTEST and any(_stands(steps, turn) for turn in turns(tokens)))
    line = [*steps, *steps, *steps] if loop else list(steps)
    if any(_stands(line, each) for each in _nearly(tokens)):
        return True
    return len(steps) >= max(SHORTEST, len(tokens) - 1) and any(
        all(token in step for token, step in zip(tokens[at:], steps, strict=False))
        for at in range(len(tokens) - len(steps) + 1)
    )


def _nearly(tokens: Tokens) -> list[Tokens]:
    """A sequence, and one of many chords without its first or its last."""
    return [tokens, tokens[1:], tokens[:-1]] if len(tokens) >= _MANY else [tokens]


def _stands(steps: Sequence[frozenset[int]], tokens: Tokens) -> bool:
    """Whether the tokens stand somewhere in a row of steps."""
    return any(
        all(token in step for token, step in zip(tokens, steps[at:], strict=False))
        for at in range(len(steps) - len(tokens) + 1)
    )
