"""Charts as heard, many at a time, laid out as arrays: what the key finder works on.

Conventions:
    * Arrays of *sounds* and of *phrases* hold each phrase once, however often its section is played; arrays of
      *playings* hold one item for every time that a phrase is played, chart by chart, in playing order.
    * A number of a phrase, playing or chart counts from 0 in its arrays.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, pairwise

import numpy as np
import numpy.typing as npt

from corpus.key_phrases import THIRD_OF_KIND, Heard, Phrase, Sound
from corpus.ragged import Floats, Ints, Truths

#: So many different roots make a phrase telling when it comes back moved.
_TELLING = 3
#: Whether sets of roots are so many, by their bits.
_TELLING_ROOTS: Truths = np.array([roots.bit_count() >= _TELLING for roots in range(1 << 12)], bool)
THIRDS: Ints = np.array(THIRD_OF_KIND, np.int64)


@dataclass(frozen=True)
class Laid:
    """Charts laid out.

    Attributes:
        root: The root of each sound, as a pitch class.
        kind: Its kind (see ``corpus.key_phrases.KINDS``).
        bass: Its bass in semitones above the root.
        length: How long it lasts.
        start: For each phrase its first sound.
        size: How many sounds it has.
        phrase: For each playing its phrase.
        begin: For each chart its first playing; then how many playings there are in all.
        first: For each playing its first played bar.
        last: Its last one.
        starts: Whether it is the first one that sounds in a playing of a section.
        ends: Whether it is the last one.
        lined: For each chart whether phrases are lines as written (else groups of bars).
        sectioned: Whether it has sections.
    """

    root: Ints
    kind: Ints
    bass: Ints
    length: Floats
    start: Ints
    size: Ints
    phrase: Ints
    begin: Ints
    first: Ints
    last: Ints
    starts: Truths
    ends: Truths
    lined: Truths
    sectioned: Truths

    @cached_property
    def end(self) -> Ints:
        """The last sound of each phrase."""
        return self.start + self.size - 1

    @cached_property
    def close(self) -> Ints:
        """For each phrase the sound last before the last root that has another root; -1 where there is none."""
        other = self.root != np.repeat(self.root[self.end], self.size)
        places: Ints = np.maximum.reduceat(np.where(other, np.arange(len(self.root)), -1), self.start)
        return places

    @cached_property
    def turn(self) -> Ints:
        """The root of each phrase's first sound."""
        return self.root[self.start]

    @cached_property
    def shape(self) -> Ints:
        """For each phrase a number that is equal where roots and thirds are, all moved by one interval."""
        said = 3 * ((self.root - np.repeat(self.turn, self.size)) % 12) + THIRDS[self.kind]
        numbers: dict[bytes, int] = {}
        return np.array([numbers.setdefault(each, len(numbers)) for each in self.split(said.astype(np.int8))], np.int64)

    @cached_property
    def telling(self) -> Truths:
        """Whether each phrase has so many different roots that it says something when it comes back moved."""
        roots = np.bitwise_or.reduceat(1 << self.root, self.start)
        return _TELLING_ROOTS[roots]

    def split(self, said: npt.NDArray[np.generic]) -> list[bytes]:
        """What is said of every sound, as bytes, phrase by phrase.

        Args:
            said: One row for each sound.
        """
        flat = said.tobytes()
        ends = (len(flat) // len(self.root) * (self.end + 1)).tolist()
        return [flat[first:end] for first, end in pairwise([0, *ends])]

    def sounds_of(self, phrases: Ints) -> tuple[Ints, Ints]:
        """The sounds of phrases, one behind the other, each with the place of its phrase among them."""
        size = self.size[phrases]
        end = np.cumsum(size)
        return run_of(end[-1]) - np.repeat(end - size - self.start[phrases], size), np.repeat(run_of(len(size)), size)


def laid_out(charts: Iterable[Heard]) -> Laid:
    """Charts, each with a phrase at least, laid out."""
    charts = tuple(charts)
    every = [phrase for heard in charts for phrase in heard.phrases]
    lines, *played = zip(*every, strict=True)
    places = list(map(id, lines))
    distinct = dict(zip(places, lines, strict=True))
    number = dict(zip(distinct, range(len(distinct)), strict=True))
    flat = np.fromiter(chain.from_iterable(chain.from_iterable(distinct.values())), np.float64).reshape(-1, 4)
    root, kind, bass = flat[:, :3].T.astype(np.int64)
    size = np.array(list(map(len, distinct.values())), np.int64)
    begin = np.cumsum([0, *(len(heard.phrases) for heard in charts)])
    phrase = np.array([number[place] for place in places], np.int64)
    first, last = (np.array(each, np.int64) for each in played[:2])
    starts, ends = (np.array(each, bool) for each in played[2:])
    lined, sectioned = (np.array([getattr(heard, name) for heard in charts], bool) for name in ("lined", "sectioned"))
    sounds = root, kind, bass, flat[:, 3].copy(), np.cumsum(size) - size, size
    return Laid(*sounds, phrase, begin, first, last, starts, ends, lined, sectioned)


def one_phrase(sounds: Sequence[Sound]) -> Heard:
    """A few chords by themselves, as heard."""
    return Heard((Phrase(tuple(sounds), 0, 0),), False, False)


def run_of(size: int) -> Ints:
    """The numbers from 0 up."""
    return np.arange(size, dtype=np.int64)
