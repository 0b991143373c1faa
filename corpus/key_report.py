"""Prints how often the key finder is right on the open data, beside simpler ways of finding a key.

    python -m corpus.key_report DATASETS_FOLDER

Billboard songs are judged in ten folds: each by weights learnt from the songs of the nine other folds; a song that was
transcribed twice stays on one side. Rock songs are judged by weights learnt from Billboard songs alone, and because
some rock songs may be Billboard songs too, each by the fold whose weights never saw the Billboard song likest to it
(by the cosine of their counts of four roots in a row).

* Songs of one tonic: the share whose home tonic is found.
* Songs that change key: the share of the time of their bars that is counted from the right tonic, averaged over songs;
  the simpler ways name one key for the whole song. What bounds it is printed below: the best single tonic for the whole
  song, the likeliest candidate where the true home is known, and the best of all the candidates that are weighed.
* The other analyst: how far the second reading of a rock song agrees with the first, bar for bar as played, bars that
  one of them alone has counting as wrong. More than people agree on cannot be asked of chords. The songs that stand in
  Billboard twice have the very same text twice, and say nothing of this.
* Neither data set says a mode. Where the home tonic is found, its mode is held against the third that chords on that
  tonic have most of the time (``grammar.building.mode_of_tonic``).

The scale profiles are those of C. L. Krumhansl and E. J. Kessler, Psychological Review 89 (1982), 334-368, correlated
with how long each pitch class sounds.
"""

from __future__ import annotations

import argparse
import random
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt
from pathlib import Path

from corpus.key_layout import laid_out
from corpus.key_model import TONICS, Model
from corpus.key_modes import TONES, chances_of_minor_third, times_of
from corpus.key_phrases import Sound
from corpus.key_training import Song, agreement, billboard_songs, rock_songs, trained
from corpus.key_weighing import Weighed, weighed
from shared.pitch import CHROMATIC

FOLDS = 10
_SEED = 0
_BINS = (0.0, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
_MAJOR_PROFILE = (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88)
_MINOR_PROFILE = (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17)
SIMPLER_WAYS = ("first chord", "last chord", "longest root", "scale profile")


@dataclass(frozen=True)
class Judged:
    """A song and what was found.

    Attributes:
        song: The song.
        home: The home tonic found, as a pitch class.
        chance: Its chance.
        agreed: The share of the time of its bars that is counted from the right tonic.
        changes: How many changes of key were found.
        bounds: The share of the time of its bars that is counted from the right tonic by the best single tonic, by the
            likeliest candidate from the true home, and by the best candidate.
        mode_agrees: Whether the third of the mode is that of most chords on the true home tonic.
        simpler: For each of ``SIMPLER_WAYS`` the tonic it names.
    """

    song: Song
    home: int
    chance: float
    agreed: float
    changes: int
    bounds: tuple[float, float, float]
    mode_agrees: bool
    simpler: tuple[int, ...]

    @property
    def right(self) -> bool:
        """Whether the home tonic is found."""
        return self.home == self.song.tonics[0]


def folds(songs: Sequence[Song], seed: int = _SEED) -> list[int]:
    """A fold for each song, the same for transcriptions of one song."""
    names = sorted({song.same for song in songs})
    random.Random(seed).shuffle(names)
    place = {name: index % FOLDS for index, name in enumerate(names)}
    return [place[song.same] for song in songs]


def judged(song: Song, model: Model) -> Judged:
    """What a model finds in a song."""
    laid = laid_out([song.heard])
    (found,) = weighed(laid, model)
    home, path = found.told
    at_home = laid.phrase[[not shift for shift in path]]
    ((*thirds,),) = chances_of_minor_third(times_of(laid, at_home, 0 * at_home))
    return Judged(
        song,
        home,
        found.homes[home],
        agreement(song, home, path),
        sum(one != two for one, two in pairwise(path)),
        _bounds(song, found),
        song.chart.key is not None and (thirds[home] >= 0.5) == song.chart.key.minor_third,
        simpler_ways(song),
    )


def _bounds(song: Song, found: Weighed) -> tuple[float, float, float]:
    agreed = {path: [agreement(song, tonic, path) for tonic in TONICS] for path in found.paths}
    home = song.tonics[0]
    return max(agreed[found.paths[0]]), agreed[found.likeliest_from(home)][home], max(map(max, agreed.values()))


def other_reading(song: Song, songs: Iterable[Song]) -> float:
    """How far another reading of the same song agrees with this one.

    Args:
        song: The song.
        songs: Those among which the other reading is looked for, by ``Song.same``.

    Returns:
        For a song of one tonic whether the home tonic is the same (1 or 0); else the share of the time of its bars.
    """
    other = next(each for each in songs if each.same == song.same and each.name != song.name)
    if song.stays:
        return float(song.tonics[0] == other.tonics[0])
    pairs = zip(song.tonics, other.tonics, song.lengths, strict=False)
    return sum(length for one, two, length in pairs if one == two) / sum(song.lengths)


def simpler_ways(song: Song) -> tuple[int, ...]:
    """The tonics that the simpler ways name."""
    sounds = [sound for phrase in song.heard.phrases for sound in phrase.sounds]
    lengths = [0.0] * 12
    tones = [0.0] * 12
    for root, kind, _, length in sounds:
        lengths[root] += length
        for tone in TONES[kind]:
            tones[(root + tone) % 12] += length
    fits = [
        max(_correlation(tones[tonic:] + tones[:tonic], profile) for profile in (_MAJOR_PROFILE, _MINOR_PROFILE))
        for tonic in TONICS
    ]
    return sounds[0].root, sounds[-1].root, lengths.index(max(lengths)), fits.index(max(fits))


def _correlation(one: Sequence[float], two: Sequence[float]) -> float:
    """Pearson's coefficient; 0 where one of them does not vary."""
    first, second = sum(one) / len(one), sum(two) / len(two)
    together = sum((x - first) * (y - second) for x, y in zip(one, two, strict=True))
    spread = sqrt(sum((x - first) ** 2 for x in one) * sum((y - second) ** 2 for y in two))
    return together / spread if spread else 0.0


def cross_validated(
    billboard: Sequence[Song], rock: Sequence[Song], progress: Callable[[int], None] | None = None
) -> tuple[list[Judged], list[Judged]]:
    """What is found in each song by weights that never saw it (see the conventions above)."""
    fold = folds(billboard)
    likest = [fold[_likest(song, billboard)] for song in rock]
    on_billboard: list[Judged] = []
    on_rock: list[Judged] = []
    for out in range(FOLDS):
        model = trained([song for song, its in zip(billboard, fold, strict=True) if its != out])
        on_billboard += [judged(song, model) for song, its in zip(billboard, fold, strict=True) if its == out]
        on_rock += [judged(song, model) for song, its in zip(rock, likest, strict=True) if its == out]
        if progress is not None:
            progress(out + 1)
    return on_billboard, on_rock


def _fours(sounds: Sequence[Sound]) -> Counter[tuple[int, ...]]:
    roots = [sound.root for sound in sounds]
    roots = [root for at, root in enumerate(roots) if not at or root != roots[at - 1]]
    return Counter(
        tuple((root - roots[at]) % 12 for root in roots[at + 1 : at + 4]) for at in range(max(1, len(roots) - 3))
    )


def _likest(song: Song, others: Sequence[Song]) -> int:
    """The number of the song whose counts of four roots in a row are nearest."""
    own = _fours([sound for phrase in song.heard.phrases for sound in phrase.sounds])

    def cosine(other: Song) -> float:
        counts = _fours([sound for phrase in other.heard.phrases for sound in phrase.sounds])
        together = sum(count * counts[four] for four, count in own.items())
        return together / sqrt(sum(count**2 for count in counts.values()))

    return max(range(len(others)), key=lambda at: cosine(others[at]))


def mean(values: Sequence[float]) -> float:
    """The mean, 0 of nothing."""
    return sum(values) / len(values) if values else 0.0


def reliability(songs: Sequence[Judged]) -> Iterator[tuple[float, float, int, float]]:
    """For each range of chances: from, to, how many songs, and the share whose home tonic is right."""
    for low, high in pairwise(_BINS):
        inside = [each for each in songs if low <= each.chance < high or each.chance == high == 1.0]
        yield low, high, len(inside), mean([float(each.right) for each in inside])


def report(billboard: Sequence[Judged], rock: Sequence[Judged]) -> str:
    """The tables, as text."""
    heads = (*SIMPLER_WAYS, "other analyst")
    lines = [f"{'':<42}{'songs':>6}{'found':>8}" + "".join(f"{head:>15}" for head in heads)]
    for name, songs in (("Billboard", billboard), ("Rock", rock)):
        lines += [_row(name, songs, stays, songs is rock) for stays in (True, False)]
    lines += ["", "Songs that change key, further (share of bars):"]
    for name, songs in (("Billboard", billboard), ("Rock", rock)):
        bounds = [each.bounds for each in songs if not each.song.stays]
        single, from_home, best = (mean([each[at] for each in bounds]) for at in range(3))
        lines.append(
            f"  {name}: {single:.1%} by the best single tonic, {from_home:.1%} where the home tonic is known, "
            f"{best:.1%} by the best candidate"
        )
    lines += ["", "Songs of one tonic, further:"]
    for name, songs in (("Billboard", billboard), ("Rock", rock)):
        one = [each for each in songs if each.song.stays]
        changed = sum(1 for each in one if each.changes)
        found = [each for each in one if each.right]
        thirds = mean([float(each.mode_agrees) for each in found])
        lines.append(f"  {name}: the mode has the third of the tonic's chords in {thirds:.1%} of those found;")
        lines.append(f"  {'':<{len(name)}}  changes of key are told in {changed}, where no change is annotated")
    lines += ["", "How far the chance of the home tonic can be trusted (all songs):"]
    lines.append(f"  {'chance':<12}{'Billboard':>10}{'right':>8}{'rock':>10}{'right':>8}")
    for (low, high, count, right), (*_, rocks, rock_right) in zip(
        reliability(billboard), reliability(rock), strict=True
    ):
        lines.append(f"  {f'{low:.0%} to {high:.0%}':<12}{count:>10}{right:>8.1%}{rocks:>10}{rock_right:>8.1%}")
    lines += ["", "What was named instead, as a degree of the true key (songs of one tonic):"]
    for name, songs in (("Billboard", billboard), ("Rock", rock)):
        lines.append(f"  {name}: {_misses(songs)}")
    return "\n".join(lines)


def _row(name: str, songs: Sequence[Judged], stays: bool, read_twice: bool) -> str:
    some, every = [each for each in songs if each.song.stays == stays], [each.song for each in songs]
    found = mean([float(each.right) if stays else each.agreed for each in some])
    others = []
    for way in range(len(SIMPLER_WAYS)):
        path = [(each.simpler[way], (0,) * len(each.song.heard.phrases)) for each in some]
        others.append(mean([agreement(each.song, *at) for each, at in zip(some, path, strict=True)]))
    columns = [f"{each:.1%}" for each in others]
    columns.append(f"{mean([other_reading(each.song, every) for each in some]):.1%}" if read_twice else "-")
    what = "of one tonic (songs right)" if stays else "that change key (share of bars)"
    return f"{name + ' ' + what:<42}{len(some):>6}{found:>8.1%}" + "".join(f"{each:>15}" for each in columns)


def _misses(songs: Sequence[Judged]) -> str:
    missed = Counter((each.home - each.song.tonics[0]) % 12 for each in songs if each.song.stays and not each.right)
    return ", ".join(f"{CHROMATIC[degree]}: {count}" for degree, count in missed.most_common()) or "nothing"


def main() -> None:
    """Prints the report."""
    parser = argparse.ArgumentParser(prog="python -m corpus.key_report", description=__doc__.splitlines()[0])
    parser.add_argument("datasets", type=Path, help="the folder that holds the folders billboard and rock")
    parser.add_argument("--misses", action="store_true", help="list the songs whose home tonic is missed")
    options = parser.parse_args()
    billboard, rock = cross_validated(
        billboard_songs(options.datasets / "billboard"), rock_songs(options.datasets / "rock")
    )
    print(report(billboard, rock))
    if options.misses:
        print("\nMissed (true tonic, found tonic as its degree, chance, changes told):")
        for each in (*billboard, *rock):
            if not each.right:
                degree = CHROMATIC[(each.home - each.song.tonics[0]) % 12]
                title = each.song.chart.title or ""
                print(f"  {each.song.name:<8} {title:<40} {degree!s:<4} {each.chance:.0%} {each.changes}")


if __name__ == "__main__":
    main()
