"""Finds the key where nobody wrote one, and where it changes on the way.

The model is log-linear over candidates. A candidate is a first tonic and a path (see ``corpus.key_paths``): which
phrases are counted from which tonic. Its score is that of the whole tune counted from the tonics in force, and of the
path::

    score = sum of w[feature] * value  (corpus.key_features)  +  sum of u[feature] * value  (corpus.key_paths)

and chances are the candidates' softmax. The chance of the home tonic, which is that of the first stretch, is the sum
over all paths; the path told is the likeliest one from the likeliest home. For each stretch the chance of its tonic is
the share, over its phrases, of the candidates that count them from it. Which mode stands on a tonic is settled by rule
(``corpus.key_modes``). A few chords by themselves (a pattern) are weighed by the model of fragments.

A change of key is told only where a candidate that changes is likelier than the one that stays; applied dominants and
borrowed chords belong to the features of the key itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from math import exp

from corpus.key_features import shares_of
from corpus.key_model import TONICS, Model, log_chances, stored_model
from corpus.key_modes import chance_of_minor_third, mode_of, times_of
from corpus.key_paths import Path, gain_features, path_features, proposed_paths, stretches
from corpus.key_phrases import Heard, Sound, sounds_of
from shared.chord import Chord
from shared.key import Key, Mode, usual_tonic
from shared.pitch import Pitch

#: So many tonics are weighed for what is told of a stretch.
_TONICS_TOLD = 2
#: The key with the other third on the tonic that is told is counted alike; it is a rival where so likely at least.
_OTHER_THIRD = 0.1


@dataclass(frozen=True, slots=True)
class FoundKey:
    """A key and its chance, 0 to 1."""

    key: Key
    chance: float


@dataclass(frozen=True, slots=True)
class FoundStretch:
    """A run of played bars in one found key.

    Attributes:
        keys: The key that is told, then the likeliest rivals, by chance; at least one.
        from_bar: Its first played bar, from 0.
        to_bar: Its last played bar.
    """

    keys: tuple[FoundKey, ...]
    from_bar: int
    to_bar: int

    @property
    def key(self) -> Key:
        """The key that is told."""
        return self.keys[0].key


@dataclass(frozen=True, slots=True)
class Candidate:
    """A first tonic (pitch class) and a path, with their chance."""

    tonic: int
    path: Path
    chance: float


def keys_of(chords: Sequence[Chord], lengths: Sequence[float] | None = None) -> tuple[FoundKey, ...]:
    """The keys, major and minor, that a few chords by themselves may be in, likeliest first.

    Args:
        chords: The chords, in order.
        lengths: How long each lasts, in any unit; equal where None.

    Returns:
        24 keys; their chances add up to 1.

    Raises:
        ValueError: If there are no chords.
    """
    if not chords:
        raise ValueError("no chords, no key")
    sounds = sounds_of(zip(chords, lengths or [1.0] * len(chords), strict=True))
    chances = [exp(each) for each in stored_model().fragment_logs(sounds)]
    return _keys(chances, sounds, _names(chord.root for chord in chords))


def candidates_of(heard: Heard, model: Model) -> list[Candidate]:
    """The candidates for a chart with a phrase at least, in no order."""
    logs = phrase_logs(heard, model)
    scored: list[tuple[int, Path, float]] = []
    for path in proposed_paths(heard, logs):
        scores = model.tune.scores(shares_of(heard, path))
        features, gains = path_features(heard, path, logs)
        if features:
            fixed = sum(model.path[name] * value for name, value in features.items())
            away = sum(map(bool, path))
            for tonic in TONICS:
                gain = gain_features(gains[tonic], away)
                scores[tonic] += fixed + sum(model.path[name] * value for name, value in gain.items())
        scored += [(tonic, path, scores[tonic]) for tonic in TONICS]
    logged = log_chances([score for *_, score in scored])
    return [Candidate(tonic, path, exp(each)) for (tonic, path, _), each in zip(scored, logged, strict=True)]


def phrase_logs(heard: Heard, model: Model) -> list[tuple[float, ...]]:
    """For each phrase by itself the logarithms of its twelve tonics' chances."""
    known: dict[int, tuple[float, ...]] = {}
    for phrase in heard.phrases:
        if id(phrase.sounds) not in known:
            known[id(phrase.sounds)] = model.fragment_logs(phrase.sounds)
    return [known[id(phrase.sounds)] for phrase in heard.phrases]


def home_chances(candidates: Iterable[Candidate]) -> list[float]:
    """The chance of each home tonic, by pitch class."""
    chances = [0.0] * 12
    for candidate in candidates:
        chances[candidate.tonic] += candidate.chance
    return chances


def home_chances_of(heard: Heard) -> list[float]:
    """The chance of each home tonic of a chart with a phrase at least, by pitch class, by the stored model."""
    return home_chances(candidates_of(heard, stored_model()))


def likeliest(candidates: Sequence[Candidate]) -> Candidate:
    """The likeliest way from the likeliest home."""
    chances = home_chances(candidates)
    home = chances.index(max(chances))
    return max((each for each in candidates if each.tonic == home), key=lambda each: each.chance)


def found_stretches(heard: Heard, roots: Iterable[Pitch]) -> tuple[FoundStretch, ...]:
    """The keys of a chart, stretch by stretch, in playing order; the first one is home.

    Args:
        heard: The chart as heard.
        roots: The roots of its chords as spelled: a found tonic is spelled as the chart spells it.

    Returns:
        A stretch for every run of phrases counted from one tonic; none where nothing sounds. A stretch begins with the
        first bar of its first phrase and ends before the next one; the last one ends with its last phrase.
    """
    if not heard.phrases:
        return ()
    candidates = candidates_of(heard, stored_model())
    told = likeliest(candidates)
    runs, names = stretches(told.path), _names(roots)
    made = []
    for index, (first, last, _) in enumerate(runs):
        sounds = [sound for phrase in heard.phrases[first : last + 1] for sound in phrase.sounds]
        chances = home_chances(candidates) if not index else _chances_between(candidates, first, last)
        tonic = (told.tonic + told.path[first]) % 12
        keys = _keys_of_stretch(chances, tonic, sounds, names)
        end = heard.phrases[last].last
        if index + 1 < len(runs):
            end = heard.phrases[last + 1].first - 1
        made.append(FoundStretch(keys, heard.phrases[first].first, end))
    return tuple(made)


def _chances_between(candidates: Iterable[Candidate], first: int, last: int) -> list[float]:
    """The chance of each tonic over the phrases ``first`` to ``last``."""
    chances = [0.0] * 12
    for candidate in candidates:
        for shift in candidate.path[first : last + 1]:
            chances[(candidate.tonic + shift) % 12] += candidate.chance / (last + 1 - first)
    return chances


def _keys(
    chances: Sequence[float], sounds: Sequence[Sound], names: Mapping[int, Sequence[Pitch]]
) -> tuple[FoundKey, ...]:
    """Keys by chance, two on each tonic: major and minor."""
    times = times_of(sounds)
    ranked = []
    for tonic, chance in enumerate(chances):
        minor = chance_of_minor_third(times, tonic)
        ranked += [(chance * (1 - minor), tonic, Mode.MAJOR), (chance * minor, tonic, Mode.MINOR)]
    ranked.sort(key=lambda each: -each[0])
    return tuple(FoundKey(Key(_spelled(tonic, mode, names), mode), chance) for chance, tonic, mode in ranked)


def _keys_of_stretch(
    chances: Sequence[float], told: int, sounds: Sequence[Sound], names: Mapping[int, Sequence[Pitch]]
) -> tuple[FoundKey, ...]:
    """The key that is told, then its rivals by chance; those on one tonic differ in their third."""
    times = times_of(sounds)
    pairs = set(pairwise(sound.root for sound in sounds))
    ranked: list[tuple[float, int, bool]] = []
    for tonic in sorted(TONICS, key=lambda each: -chances[each])[:_TONICS_TOLD]:
        minor = chance_of_minor_third(times, tonic)
        ranked += [(chances[tonic] * (1 - minor), tonic, False), (chances[tonic] * minor, tonic, True)]
    if all(tonic != told for _, tonic, _ in ranked):
        minor = chance_of_minor_third(times, told)
        ranked.append((chances[told] * max(minor, 1 - minor), told, minor >= 0.5))
    ranked.sort(key=lambda each: (each[1] != told, -each[0]))
    rivals = [each for each in ranked[1:] if each[1] != told or each[0] >= _OTHER_THIRD]
    ranked[1:] = sorted(rivals, key=lambda each: -each[0])[: _TONICS_TOLD - 1]
    made = []
    for chance, tonic, minor_third in ranked:
        mode = mode_of(times, pairs, tonic, minor_third)
        made.append(FoundKey(Key(_spelled(tonic, mode, names), mode), chance))
    return tuple(made)


def _names(roots: Iterable[Pitch]) -> dict[int, list[Pitch]]:
    """How a chart spells the roots of each pitch class, in the order in which they come."""
    names: dict[int, list[Pitch]] = {}
    for root in dict.fromkeys(roots):
        names.setdefault(root.pitch_class, []).append(root)
    return names


def _spelled(tonic: int, mode: Mode, names: Mapping[int, Sequence[Pitch]]) -> Pitch:
    """The tonic as the chart spells it, where a chord stands on it and its signature exists; else its usual name."""
    for root in names.get(tonic, ()):
        if abs(Key(root, mode).signature) <= 7:
            return root
    return _usual_tonic(tonic, mode)


_usual_tonic = cache(usual_tonic)
