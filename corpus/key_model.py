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
from functools import cache, cached_property
from importlib.resources import files

import numpy as np

from corpus.key_features import SIZE, Shares, shares_of_phrases
from corpus.key_layout import Laid
from corpus.ragged import Floats, Ints

TONICS = range(12)
_SCALE = 100
_MOST_KNOWN = 50_000


@dataclass(frozen=True)
class TonicWeights:
    """Weights of features counted from a tonic: one for each place (see ``corpus.key_features``)."""

    values: tuple[float, ...]

    @cached_property
    def _turned(self) -> Floats:
        """For each place (base + 12 * n + root) the weights that count against the twelve tonics."""
        root, tonic = np.indices((12, 12))
        return np.array(self.values).reshape(-1, 12)[:, (root - tonic) % 12].reshape(SIZE, 12)

    def scores(self, shares: Shares) -> Floats:
        """The score of each tonic, by pitch class, in each view: an array of views by 12."""
        weighed = self._turned[shares.place]
        weighed *= shares.value[:, None]
        begin = np.searchsorted(shares.view, np.arange(shares.views))
        scores: Floats = np.add.reduceat(weighed, begin)
        return scores


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
    _known: dict[bytes, Floats] = field(default_factory=dict, compare=False, repr=False)

    def phrase_logs(self, laid: Laid) -> Floats:
        """The logarithms of the twelve tonics' chances for phrases by themselves: an array of phrases by 12.

        What was worked out once serves every transposition of it.
        """
        roots = (laid.root - np.repeat(laid.turn, laid.size)) % 12
        shapes = laid.split(np.stack([(roots * 9 + laid.kind) * 12 + laid.bass, laid.length], axis=1))
        new = {shape: at for at, shape in enumerate(shapes) if shape not in self._known}
        if new:
            if len(self._known) > _MOST_KNOWN:
                self._known.clear()
                new = {shape: at for at, shape in enumerate(shapes)}
            phrases = np.array(list(new.values()), np.int64)
            logs = log_chances(self.fragment.scores(shares_of_phrases(laid, phrases)))
            self._known.update(zip(new, _rolled(logs, -laid.turn[phrases]), strict=True))
        return _rolled(np.concatenate([self._known[shape] for shape in shapes]).reshape(-1, 12), laid.turn)


def _rolled(rows: Floats, by: Ints) -> Floats:
    """Rows of twelve, each moved round by so many places."""
    return np.take_along_axis(rows, (np.arange(12) - by[:, None]) % 12, axis=1)


def log_chances(scores: Floats) -> Floats:
    """Rows of scores as logarithms of chances that add up to 1 in each row."""
    raised = scores - scores.max(axis=-1, keepdims=True)
    logs: Floats = raised - np.log(np.exp(raised).sum(axis=-1, keepdims=True))
    return logs


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
