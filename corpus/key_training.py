"""Trains the key finder's weights on open data and writes ``key_weights.json``.

    python -m corpus.key_training DATASETS_FOLDER

The songs are those of the McGill Billboard annotations (``DATASETS_FOLDER/billboard``), which say the tonic of every
bar. Each song is learnt from twice: as annotated, with its lines and sections, and stripped of both. What is maximised
is the log-likelihood of the right candidates (see ``corpus.key_finding``) less half of ``_PENALTY`` times the sum of
the squared weights, by the method of Broyden, Fletcher, Goldfarb and Shanno with limited memory; from zero.

Right is, in a song of one tonic, the candidate that stays on it, and any other from the same home whose changes are
borne out by phrases that come back moved by just the interval of the change (annotators sometimes leave out a rise of
the last chorus); in a song that changes key, the candidates that agree best with the annotated tonics, bar by bar.

The model of fragments learns from phrases by themselves, pairs of phrases and parts of them, drawn with a fixed seed.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path as File
from typing import TYPE_CHECKING

import numpy as np

from corpus.key_features import SIZE, Shares, shares_of, shares_of_phrases
from corpus.key_hearing import heard
from corpus.key_layout import laid_out, one_phrase
from corpus.key_model import TONICS, Model, TonicWeights, text_of_model
from corpus.key_paths import PATH_FEATURES, Path, path_features, proposed_paths
from corpus.key_phrases import Heard, Sound
from corpus.ragged import Floats
from corpus.unfolding import played_bars
from grammar.billboard import read_billboard
from grammar.roman_text import read_roman_text
from shared.chart import Chart, Section
from shared.errors import SamechangesError

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

_PENALTY = 4.0
_FRAGMENT_PENALTY = 3.0
#: Features of paths are multiplied by this, which makes their penalty so much lighter: they are few.
_PATH_SCALE = 4.0
_FRAGMENTS_A_SONG = 12
_FRAGMENT_WEIGHT = 1 / 3
_SEED = 0
_MOST_STEPS = 200
_SAME = 0.001


@dataclass(frozen=True)
class Song:
    """A song with its tonics as somebody heard them.

    Attributes:
        name: The stem of its file.
        same: Equal for two transcriptions of one song.
        chart: The chart.
        heard: As the key finder hears it.
        tonics: For each played bar its tonic as a pitch class.
        lengths: For each played bar its length in quarter notes.
    """

    name: str
    same: str
    chart: Chart
    heard: Heard
    tonics: tuple[int, ...]
    lengths: tuple[float, ...]

    @property
    def stays(self) -> bool:
        """Whether it has one tonic."""
        return len(set(self.tonics)) == 1


def song_of(name: str, same: str, chart: Chart) -> Song:
    """A song of a chart whose bars all have a key."""
    bars = [bar for _, _, bar in played_bars(chart)]
    tonics = tuple(bar.key.tonic.pitch_class for bar in bars if bar.key is not None)
    if len(tonics) != len(bars):
        raise ValueError(f"{name}: bars without a key teach nothing")
    return Song(name, same, chart, heard(chart), tonics, tuple(float(bar.metre.length) for bar in bars))


def stripped(song: Song) -> Song:
    """The same song without lines and sections, its repeats written out."""
    bars = [bar for _, _, bar in played_bars(song.chart)]
    bare = tuple(bar._replace(number=number, line=0) for number, bar in enumerate(bars, 1))
    return song_of(song.name, song.same, replace(song.chart, sections=(Section(None, bare),), form=()))


def billboard_songs(folder: File) -> list[Song]:
    """The songs of the Billboard annotations.

    Raises:
        SamechangesError: If there are none in the folder.
    """
    songs = []
    for file in sorted(folder.glob("*.txt")):
        (tune,) = read_billboard(file.read_text(encoding="utf-8"))
        if tune.chart is not None and any(cell.chord for _, bar in tune.chart.bars() for cell in bar.cells):
            same = f"{tune.title or file.stem}|{tune.chart.header('by') or ''}".lower()
            songs.append(song_of(file.stem, same, tune.chart))
    if not songs:
        raise SamechangesError(f"{folder} holds no annotations (*.txt)")
    return songs


def rock_songs(folder: File) -> list[Song]:
    """The songs of the rock corpus, each analyst's reading by itself.

    Raises:
        SamechangesError: If there are none in the folder.
    """
    songs = []
    for file in sorted(folder.glob("r*.txt")):
        (tune,) = read_roman_text(file.read_text(encoding="utf-8"))
        if tune.chart is not None:
            songs.append(song_of(file.stem, file.stem.partition("_")[0], tune.chart))
    if not songs:
        raise SamechangesError(f"{folder} holds no analyses (r*.txt)")
    return songs


def agreement(song: Song, tonic: int, path: Path) -> float:
    """The share of the time of the bars of sounding phrases that a candidate counts from the annotated tonic."""
    right = whole = 0.0
    for phrase, shift in zip(song.heard.phrases, path, strict=True):
        for bar in range(phrase.first, phrase.last + 1):
            whole += song.lengths[bar]
            right += song.lengths[bar] * (song.tonics[bar] == (tonic + shift) % 12)
    return right / whole


@dataclass(frozen=True)
class _Choices:
    """Choices between candidates: their features as rows, which are right (1, else 0), and how many each has."""

    rows: csr_matrix
    right: Floats
    sizes: tuple[int, ...]


def _turned(shares: Shares, paths: Floats) -> csr_matrix:
    """The features of views, each counted from the twelve tonics in turn, and those of their paths behind them."""
    from scipy.sparse import csr_matrix

    root, tonics = shares.place % 12, np.arange(12)
    rows = 12 * shares.view[:, None] + tonics
    columns = (shares.place - root)[:, None] + (root[:, None] - tonics) % 12
    at = np.nonzero(paths)
    return csr_matrix(
        (
            np.concatenate([np.repeat(shares.value, 12), paths[at]]),
            (np.concatenate([rows.ravel(), at[0]]), np.concatenate([columns.ravel(), SIZE + at[1]])),
        ),
        shape=(12 * shares.views, SIZE + paths.shape[1]),
    )


def _choices(song: Song, fragment: TonicWeights) -> _Choices:
    laid = laid_out([song.heard])
    logs = Model(fragment, fragment, {}).phrase_logs(laid)[laid.phrase]
    (proposed,) = proposed_paths(laid, logs)
    of_paths = np.zeros((len(proposed), 12, len(PATH_FEATURES)))
    agreed, borne_out = [], []
    for path, row in zip(proposed, of_paths, strict=True):
        borne = True
        if any(path):
            features, gains = path_features(laid, 0, path, logs)
            row[:] = _PATH_SCALE * np.transpose(
                [features.get(name, 0.0) + gains.get(name, np.zeros(12)) for name in PATH_FEATURES]
            )
            borne = max(features["mostly moved"], features["risen"]) == features["changes"]
        for tonic in TONICS:
            agreed.append(agreement(song, tonic, path))
            borne_out.append(borne)
    rows = _turned(shares_of(laid, [(0, path) for path in proposed]), of_paths.reshape(-1, len(PATH_FEATURES)))
    home = np.tile(np.arange(12) == song.tonics[0], len(proposed))
    right = home & np.array(borne_out) if song.stays else np.array(agreed) >= max(agreed) - _SAME
    return _Choices(rows, right.astype(float), (len(right),))


def _fitted(choices: Sequence[_Choices], penalty: float, weight: float = 1.0) -> Floats:
    """The weights that make the right candidates likeliest."""
    from scipy.optimize import minimize
    from scipy.sparse import vstack

    rows = vstack([each.rows for each in choices]).tocsr()
    turned = rows.T.tocsr()
    sizes = [size for each in choices for size in each.sizes]
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    owner = np.repeat(np.arange(len(sizes)), sizes)
    wrong = np.where(np.concatenate([each.right for each in choices]) > 0, 0.0, -1e9)

    def chances(scores: Floats) -> tuple[Floats, Floats]:
        best = np.maximum.reduceat(scores, starts)
        raised = np.exp(scores - best[owner])
        whole = np.add.reduceat(raised, starts)
        return raised / whole[owner], best + np.log(whole)

    def loss(weights: Floats) -> tuple[float, Floats]:
        scores = rows @ weights
        every, whole = chances(scores)
        among_right, right = chances(scores + wrong)
        slope = weight * (turned @ (every - among_right)) + penalty * weights
        return weight * float((whole - right).sum()) + penalty / 2 * float(weights @ weights), slope

    start = np.zeros(rows.shape[1])
    found: Floats = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": _MOST_STEPS}).x
    return found


def _fragments(song: Song, chance: random.Random) -> Iterable[tuple[Sequence[Sound], int]]:
    """Phrases, pairs of phrases in one key and parts of them, with their tonics."""
    phrases = song.heard.phrases
    for _ in range(_FRAGMENTS_A_SONG):
        at = chance.randrange(len(phrases))
        tonic = song.tonics[phrases[at].first]
        sounds = list(phrases[at].sounds)
        follows = phrases[at + 1] if at + 1 < len(phrases) else None
        if chance.random() < 0.25 and follows is not None and song.tonics[follows.first] == tonic:
            sounds += follows.sounds
        if chance.random() < 1 / 3 and len(sounds) > 3:
            size = chance.randint(3, len(sounds))
            sounds = sounds[:size] if chance.random() < 0.5 else sounds[-size:]
        yield sounds, tonic


def fragment_weights(songs: Sequence[Song]) -> TonicWeights:
    """The weights of fragments, learnt from songs."""
    chance = random.Random(_SEED)
    every = [fragment for song in songs for fragment in _fragments(song, chance)]
    laid = laid_out([one_phrase(sounds) for sounds, _ in every])
    rows = _turned(shares_of_phrases(laid, laid.phrase), np.zeros((0, 0)))
    right = np.array([tonic for _, tonic in every])[:, None] == np.arange(12)
    choices = _Choices(rows, right.ravel().astype(float), (12,) * len(every))
    return TonicWeights(tuple(map(float, _fitted([choices], _FRAGMENT_PENALTY, _FRAGMENT_WEIGHT))))


def trained(songs: Sequence[Song], fragment: TonicWeights | None = None) -> Model:
    """The model learnt from songs.

    Args:
        songs: The songs, as annotated.
        fragment: The weights of fragments where they are known already.
    """
    fragment = fragment or fragment_weights(songs)
    views = [view for song in songs for view in (song, stripped(song))]
    weights = _fitted([_choices(song, fragment) for song in views], _PENALTY)
    path = {name: float(_PATH_SCALE * weights[SIZE + at]) for at, name in enumerate(PATH_FEATURES)}
    return Model(TonicWeights(tuple(map(float, weights[:SIZE]))), fragment, path)


def main() -> None:
    """Trains on all Billboard songs and writes the weights into the package."""
    parser = argparse.ArgumentParser(prog="python -m corpus.key_training", description=__doc__.splitlines()[0])
    parser.add_argument("datasets", type=File, help="the folder that holds the folder billboard")
    parser.add_argument("--to", type=File, default=File(__file__).with_name("key_weights.json"), help="the file made")
    options = parser.parse_args()
    songs = billboard_songs(options.datasets / "billboard")
    about = (
        "Weights of the key finder, in hundredths, made by corpus/key_training.py; see corpus/key_model.py.",
        f"Trained on {len(songs)} transcriptions of the McGill Billboard annotations, release 2.0 (CC0): "
        "J. A. Burgoyne, J. Wild and I. Fujinaga, ISMIR 2011.",
    )
    options.to.write_text(text_of_model(trained(songs), about), encoding="utf-8")
    print(f"{options.to}: trained on {len(songs)} transcriptions")


if __name__ == "__main__":
    main()
