"""The key finder at work: the candidates for charts, weighed against each other.

The model is log-linear over candidates. A candidate is a first tonic and a path (see ``corpus.key_paths``): which
phrases are counted from which tonic. Its score is that of the whole tune counted from the tonics in force, and of the
path::

    score = sum of w[feature] * value  (corpus.key_features)  +  sum of u[feature] * value  (corpus.key_paths)

and chances are the candidates' softmax. The chance of the home tonic, which is that of the first stretch, is the sum
over all paths; the path told is the likeliest one from the likeliest home. For each stretch the chance of its tonic is
the share, over its phrases, of the candidates that count them from it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from corpus.key_features import shares_of
from corpus.key_layout import Laid
from corpus.key_model import Model
from corpus.key_paths import Path, path_features, proposed_paths
from corpus.ragged import Floats


class Weighed(NamedTuple):
    """The candidates for a chart.

    Attributes:
        paths: The paths, the staying one first.
        chances: For each of them the chance of each first tonic, by pitch class.
    """

    paths: list[Path]
    chances: list[list[float]]

    @property
    def homes(self) -> list[float]:
        """The chance of each home tonic, by pitch class."""
        return list(map(sum, zip(*self.chances, strict=True))) if len(self.paths) > 1 else self.chances[0]

    @property
    def told(self) -> tuple[int, Path]:
        """The likeliest home tonic, and the likeliest path from there."""
        homes = self.homes
        home = homes.index(max(homes))
        return home, self.likeliest_from(home)

    def likeliest_from(self, home: int) -> Path:
        """The likeliest path from a home tonic."""
        return max(zip(self.paths, self.chances, strict=True), key=lambda each: each[1][home])[0]

    def between(self, first: int, last: int) -> list[float]:
        """The chance of each tonic over the phrases ``first`` to ``last``, by pitch class."""
        chances = [0.0] * 12
        for path, row in zip(self.paths, self.chances, strict=True):
            for shift in path[first : last + 1]:
                for tonic, chance in enumerate(row):
                    chances[(tonic + shift) % 12] += chance / (last + 1 - first)
        return chances


def weighed(laid: Laid, model: Model) -> list[Weighed]:
    """The candidates for each chart."""
    logs = model.phrase_logs(laid)[laid.phrase]
    proposed = proposed_paths(laid, logs)
    views = [(chart, path) for chart, paths in enumerate(proposed) for path in paths]
    scores = model.tune.scores(shares_of(laid, views))
    for row, (chart, path) in zip(scores, views, strict=True):
        if any(path):
            row += path_scores(*path_features(laid, chart, path, logs), model.path)
    return [Weighed(paths, rows) for paths, rows in zip(proposed, _chances(scores, proposed), strict=True)]


def path_scores(features: Mapping[str, float], gains: Mapping[str, Floats], weights: Mapping[str, float]) -> Floats:
    """What a path adds to the score of each first tonic."""
    fixed = sum(weights[name] * value for name, value in features.items())
    return fixed + sum((weights[name] * value for name, value in gains.items()), np.zeros(12))


def _chances(scores: Floats, proposed: Sequence[Sequence[Path]]) -> list[list[list[float]]]:
    """The candidates' softmax, chart by chart."""
    size = np.array(list(map(len, proposed)))
    first = np.cumsum(size) - size
    raised = np.exp(scores - np.repeat(np.maximum.reduceat(scores.max(axis=1), first), size)[:, None])
    whole = np.add.reduceat(raised.sum(axis=1), first)
    rows: list[list[float]] = (raised / np.repeat(whole, size)[:, None]).tolist()
    return [rows[begin:end] for begin, end in pairwise([*first.tolist(), len(rows)])]
