"""Finds the key where nobody wrote one, and where it changes on the way.

What may be the key is weighed by ``corpus.key_weighing``, phrase by phrase and for the whole tune; which mode stands on
a tonic is settled by rule (``corpus.key_modes``). A few chords by themselves (a pattern) are weighed by the model of
fragments. A change of key is told only where a candidate that changes is likelier than the one that stays; applied
dominants and borrowed chords belong to the features of the key itself.

Many charts at a time are found much faster than one by one. What works with arrays is imported where it is used, so
that whoever needs no key found starts without.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import compress

from corpus.key_phrases import sounds_of
from shared.chart import Chart
from shared.chord import Chord
from shared.key import Key, Mode, usual_tonic
from shared.pitch import Pitch

#: So many charts are laid out at a time.
_MANY = 500
#: So many tonics are weighed for what is told of a stretch.
_TONICS_TOLD = 2
#: The key with the other third on the tonic that is told is counted alike; it is a rival where so likely at least.
_OTHER_THIRD = 0.1

Modes = Sequence[tuple[Mode, Mode]]


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
    import numpy as np

    from corpus.key_layout import laid_out, one_phrase
    from corpus.key_model import stored_model
    from corpus.key_modes import chances_of_minor_third, times_of

    if not chords:
        raise ValueError("no chords, no key")
    laid = laid_out([one_phrase(sounds_of(zip(chords, lengths or [1.0] * len(chords), strict=True)))])
    ((*chances,),) = np.exp(stored_model().phrase_logs(laid)).tolist()
    ((*thirds,),) = chances_of_minor_third(times_of(laid, laid.phrase, laid.phrase)).tolist()
    ranked = []
    for tonic, (chance, minor) in enumerate(zip(chances, thirds, strict=True)):
        ranked += [(chance * (1 - minor), tonic, Mode.MAJOR), (chance * minor, tonic, Mode.MINOR)]
    ranked.sort(key=lambda each: -each[0])
    return tuple(FoundKey(Key(_spelled(tonic, mode, chords), mode), chance) for chance, tonic, mode in ranked)


def home_chances(charts: Sequence[Chart]) -> list[list[float]]:
    """For each chart, in which something sounds, the chance of each home tonic, by pitch class."""
    from corpus.key_hearing import heard_together
    from corpus.key_model import stored_model
    from corpus.key_weighing import weighed

    parts = [charts[at : at + _MANY] for at in range(0, len(charts), _MANY)]
    return [one.homes for part in parts for one in weighed(heard_together(part)[0], stored_model())]


def found_stretches(charts: Sequence[Chart]) -> list[tuple[FoundStretch, ...]]:
    """The keys of charts, stretch by stretch, in playing order; the first one of each chart is home.

    Args:
        charts: The charts; bars under a written key are left out, unless nothing else sounds.

    Returns:
        For each chart a stretch for every run of phrases counted from one tonic; none where nothing sounds. A stretch
        begins with the first bar of its first phrase and ends before the next one; the last one ends with its last
        phrase.
    """
    return [found for at in range(0, len(charts), _MANY) for found in _found(charts[at : at + _MANY])]


def _found(charts: Sequence[Chart]) -> list[tuple[FoundStretch, ...]]:
    import numpy as np

    from corpus.key_hearing import heard_together
    from corpus.key_model import stored_model
    from corpus.key_modes import chances_of_minor_third, modes_of, times_of
    from corpus.key_paths import stretches
    from corpus.key_weighing import weighed

    laid, sounding = heard_together(charts)
    if not any(sounding):
        return [()] * len(charts)
    every = weighed(laid, stored_model())
    told = [each.told for each in every]
    runs = [stretches(path) for _, path in told]
    times = times_of(laid, laid.phrase, np.repeat(*_sizes(runs)))
    thirds = iter(chances_of_minor_third(times).tolist())
    modes = iter(modes_of(times))
    first_bars, last_bars, begin = laid.first.tolist(), laid.last.tolist(), laid.begin.tolist()
    heard = zip(compress(charts, sounding), every, told, runs, begin[:-1], strict=True)
    made: list[tuple[FoundStretch, ...]] = []
    for sounds in sounding:
        if not sounds:
            made.append(())
            continue
        chart, one, (home, path), its, at = next(heard)
        found = []
        for first, last, shift in its:
            chances = one.between(first, last) if first else one.homes
            keys = _keys_of_stretch(chances, (home + shift) % 12, next(thirds), next(modes), chart)
            end = last_bars[at + last] if last + 1 == len(path) else first_bars[at + last + 1] - 1
            found.append(FoundStretch(keys, first_bars[at + first], end))
        made.append(tuple(found))
    return made


def _sizes(runs: Iterable[Sequence[tuple[int, int, int]]]) -> tuple[range, list[int]]:
    """The stretches of all charts, numbered, and how many phrases each has."""
    sizes = [last + 1 - first for its in runs for first, last, _ in its]
    return range(len(sizes)), sizes


def _keys_of_stretch(
    chances: Sequence[float], told: int, thirds: Sequence[float], modes: Modes, chart: Chart
) -> tuple[FoundKey, ...]:
    """The key that is told, then its rivals by chance; those on one tonic differ in their third.

    Args:
        chances: The chance of each tonic.
        told: The tonic that is told.
        thirds: For each tonic the chance that the mode on it has a minor third.
        modes: For each tonic the mode if its third is major, and if it is minor.
        chart: The chart: a found tonic is spelled as it spells it.
    """
    ranked: list[tuple[float, int, bool]] = []
    likeliest = sorted(range(12), key=chances.__getitem__, reverse=True)[:_TONICS_TOLD]
    for tonic in likeliest:
        minor = thirds[tonic]
        ranked += [(chances[tonic] * (1 - minor), tonic, False), (chances[tonic] * minor, tonic, True)]
    if told not in likeliest:
        minor = thirds[told]
        ranked.append((chances[told] * max(minor, 1 - minor), told, minor >= 0.5))
    ranked.sort(key=lambda each: (each[1] != told, -each[0]))
    rivals = [each for each in ranked[1:] if each[1] != told or each[0] >= _OTHER_THIRD]
    ranked[1:] = sorted(rivals, key=lambda each: -each[0])[: _TONICS_TOLD - 1]
    made = []
    for chance, tonic, minor_third in ranked:
        mode = modes[tonic][minor_third]
        made.append(FoundKey(Key(_spelled(tonic, mode, _chords(chart)), mode), chance))
    return tuple(made)


def _chords(chart: Chart) -> Iterator[Chord]:
    for section in chart.sections:
        for bar in section.bars():
            for cell in bar.cells:
                if cell.chord is not None:
                    yield cell.chord


def _spelled(tonic: int, mode: Mode, chords: Iterable[Chord]) -> Pitch:
    """The tonic as the first chord on it is spelled whose signature exists; else its usual name."""
    for chord in chords:
        if chord.sound[0] == tonic and abs(chord.root.fifths + mode.fifths) <= 7:
            return chord.root
    return _usual_tonic(tonic, mode)


_usual_tonic = cache(usual_tonic)
