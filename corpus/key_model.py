"""The key finder's model: log-linear, one set of weights for all twelve tonics.

A run of phrases is scored against each tonic by its features (see ``corpus.key_features``)::

    score(t) = sum of w[feature counted from t] * value

Two sets of weights are kept in ``key_weights.json``, both made by ``corpus.key_training`` from open data: ``tune`` for
whole tunes, ``fragment`` for a few chords by themselves, of which nobody knows where they stand; ``path`` holds the
weights of ``corpus.key_paths``. Numbers in the file are hundredths.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from math import exp, log
from operator import mul

from corpus.key_features import SIZE, Shares, shares_of_run
from corpus.key_phrases import Sound

TONICS = range(12)
_SCALE = 100


@dataclass(frozen=True)
class TonicWeights:
    """Weights of features counted from a tonic: one for each place (see ``corpus.key_features``)."""

    values: tuple[float, ...]
    _rows: dict[int, tuple[float, ...]] = field(default_factory=dict, compare=False, repr=False)

    def scores(self, shares: Shares) -> list[float]:
        """The score of each tonic, by pitch class."""
        rows = self._rows
        for place, _ in shares:
            if place not in rows:
                base, root = place - place % 12, place % 12
                rows[place] = tuple(self.values[base + (root - tonic) % 12] for tonic in TONICS)
        values = [value for _, value in shares]
        return [sum(map(mul, values, column)) for column in zip(*[rows[place] for place, _ in shares], strict=True)]


@dataclass(frozen=True)
class Model:
    """The weights of a key finder.

    Attributes:
        tune: For whole tunes.
        fragment: For a few chords by themselves.
        path: For changes of key, by the names of ``corpus.key_paths.PATH_FEATURES``.
    """

    tune: TonicWeights
    fragment: TonicWeights
    path: Mapping[str, float]
    _known: dict[tuple[tuple[int, int, int, float], ...], tuple[float, ...]] = field(
        default_factory=dict, compare=False, repr=False
    )

    def fragment_logs(self, sounds: Sequence[Sound]) -> tuple[float, ...]:
        """The logarithms of the twelve tonics' chances for a few chords by themselves.

        What was worked out once serves every transposition of it.
        """
        turn = sounds[0].root
        shape = tuple(((root - turn) % 12, kind, bass, length) for root, kind, bass, length in sounds)
        known = self._known.get(shape)
        if known is None:
            if len(self._known) > _MOST_KNOWN:
                self._known.clear()
            moved = [Sound(*each) for each in shape]
            known = self._known[shape] = tuple(log_chances(self.fragment.scores(shares_of_run(moved))))
        return known[-turn:] + known[:-turn] if turn else known


_MOST_KNOWN = 50_000


def log_chances(scores: Sequence[float]) -> list[float]:
    """Scores as logarithms of chances that add up to 1."""
    best = max(scores)
    whole = best + log(sum(exp(score - best) for score in scores))
    return [score - whole for score in scores]


@cache
def stored_model() -> Model:
    """The model that comes with the package."""
    return model_of_text(files("corpus").joinpath("key_weights.json").read_text(encoding="utf-8"))


def model_of_text(text: str) -> Model:
    """A model as ``text_of_model`` writes it."""
    read = json.loads(text)
    tune, fragment = (TonicWeights(_unpacked(read[name])) for name in ("tune", "fragment"))
    return Model(tune, fragment, {name: value / _SCALE for name, value in read["path"].items()})


def text_of_model(model: Model, about: Sequence[str]) -> str:
    """A model as JSON: runs of twelve weights, by place; runs of nothing are left out.

    Args:
        model: The model.
        about: What the file says about itself.
    """
    made = {
        "about": list(about),
        "path": {name: round(_SCALE * value) for name, value in model.path.items()},
        "tune": _packed(model.tune.values),
        "fragment": _packed(model.fragment.values),
    }
    parts = (f'"{name}": {_laid_out(part)}' for name, part in made.items())
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _laid_out(part: object) -> str:
    if isinstance(part, dict) and any(isinstance(value, list) for value in part.values()):
        return "{\n" + ",\n".join(f'"{name}": {json.dumps(row)}' for name, row in part.items()) + "\n}"
    return json.dumps(part)


def _packed(values: Sequence[float]) -> dict[str, list[int]]:
    rows = {}
    for base in range(0, SIZE, 12):
        row = [round(_SCALE * value) for value in values[base : base + 12]]
        if any(row):
            rows[str(base)] = row
    return rows


def _unpacked(rows: Mapping[str, Sequence[int]]) -> tuple[float, ...]:
    values = [0.0] * SIZE
    for base, row in rows.items():
        values[int(base) : int(base) + 12] = [value / _SCALE for value in row]
    return tuple(values)
