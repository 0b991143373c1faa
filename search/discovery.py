"""Progressions that a library uses more than chance and that nobody has named: repeats, ranked by surprise.

What is looked for:
    * *Loops*: two to eight chords that some tunes go round at least twice. All rotations are one loop, told from the
      chord at which most runs of it begin.
    * *Runs*: three to twelve chords that come back. One inside a longer one is told only where it stands alone in more
      than a fifth of its tunes; one that goes round a loop is that loop.

Conventions: chords are compared as in ``search.relations`` (root and kind of third), counted from the tonic of the key
in force; equal neighbours are one; nothing runs over a change of key. Everything is counted in tunes.

The surprise, in bits, is ``tunes * log2(tunes / expected)``: the share of the log-likelihood ratio (Dunning 1993) that
the tunes with the sequence have against a Markov model of the first order. Expected are as many tunes as would have the
sequence if each drew every chord by what follows the one before it in the library: the sum over tunes of
``1 - exp(-length * p)``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from corpus.catalogue import Catalogue
from corpus.codes import KEY_CHANGES
from corpus.reading import OpenIndex, Snapshot
from search.explaining import SHORTEST, SIGNS, Explaining, Tokens, turns
from search.filters import Filters
from search.relations import KINDS, Sound, kind_of_family

if TYPE_CHECKING:
    import numpy as np

    Ints = np.ndarray[Any, np.dtype[np.int64]]

#: Unless more are asked for, at most so many tunes are looked at; of more, so many are drawn evenly.
MOST_TUNES = 20_000
LEAST_TUNES = 3
#: Of more tunes, a sequence must be in this share of the root of their number.
_LEAST_SHARE = 0.25
_LONGEST = 12
_SHORTEST_LOOP, _LONGEST_LOOP = 2, 8
_ALONE = 0.2
#: Bits that a longer sequence must add to one that is told already.
_ADDED = 8.0
_MOST_TITLES = 100
#: So many of the most surprising are looked at in turn.
_MOST_LOOKED_AT = 4000
_MOST_TOLD = 200
_BREAK, _MARK = SIGNS, SIGNS + 1


@dataclass(frozen=True, slots=True)
class Discovered:
    """A sequence that is used more than chance.

    Attributes:
        numbers: Its chords.
        loop: Whether it goes round.
        charts: How many tunes have it; a loop, how many go round it twice or more.
        matches: How often it is played in them, from the left without overlap.
        surprise: How much more than chance, in bits.
        titles: The titles of tunes that have it, at most a hundred.
    """

    numbers: tuple[str, ...]
    loop: bool
    charts: int
    matches: int
    surprise: float
    titles: tuple[str, ...]

    @property
    def pattern(self) -> str:
        """The sequence as a pattern is written."""
        return " ".join(self.numbers)


@dataclass(frozen=True, slots=True)
class Discovery:
    """What was discovered, and in which tunes.

    Attributes:
        found: The sequences, the most surprising first.
        charts: How many tunes the filters leave.
        drawn: How many of them were looked at; all counts are of these.
    """

    found: tuple[Discovered, ...]
    charts: int
    drawn: int

    @property
    def note(self) -> str:
        """What a reader should know of the tunes; empty where all were looked at."""
        if self.drawn == self.charts:
            return ""
        return f"{self.drawn:,} of {self.charts:,} tunes were drawn, always the same ones; the counts are of these."


def discover(
    index: OpenIndex, known: Catalogue | None, filters: Filters | None = None, most: int = MOST_TUNES
) -> Discovery:
    """The sequences that stand out in a library and that no entry of a catalogue explains.

    Args:
        index: The index.
        known: The catalogue; None where nothing is to be left out.
        filters: Which tunes are asked.
        most: How many tunes are looked at; of more, so many are drawn evenly, by the hash of their paths. 0 for all.
    """
    where = "".join(f" AND {condition.sql}" for condition in (filters or Filters()).conditions())
    values = [value for condition in (filters or Filters()).conditions() for value in condition.parameters]
    snapshot = index.snapshot()
    ((charts,),) = snapshot.rows(f"SELECT count(*) FROM charts WHERE true{where}", values)
    limit = f" LIMIT {most}" if most else ""
    rows = snapshot.rows(f"SELECT title, tonic FROM charts WHERE true{where} ORDER BY hash(path){limit}", values)
    return Discovery(tuple(_discovered(snapshot, rows, known)), charts, len(rows))


def _discovered(snapshot: Snapshot, rows: Sequence[tuple[str, str]], known: Catalogue | None) -> Iterator[Discovered]:
    """What stands out in tunes, given by title and string."""
    slots = snapshot.rows("SELECT first, size, slot, family FROM slots")
    if len(rows) < LEAST_TUNES:
        return
    heard = _Heard([tonic for _, tonic in rows], slots)
    explaining = Explaining(known.entries if known else ())
    chosen = _chosen(heard, sorted(_candidates(heard), key=lambda each: -each.surprise), explaining)
    titles = [title for title, _ in rows]
    for each in chosen:
        yield Discovered(
            tuple(map(_number, each.tokens)),
            each.loop,
            len(each.owned),
            heard.times(each.tokens),
            each.surprise,
            tuple(sorted(titles[tune] for tune in each.tunes)[:_MOST_TITLES]),
        )


def _number(token: int) -> str:
    return str(Sound(token // len(KINDS), KINDS[token % len(KINDS)]))


@dataclass(frozen=True)
class _Candidate:
    """A sequence with the tunes (by place in the list, each once) that have it."""

    tokens: Tokens
    loop: bool
    owned: Ints
    surprise: float

    @cached_property
    def tunes(self) -> frozenset[int]:
        """The tunes as a set."""
        return frozenset(self.owned.tolist())


class _Heard:
    """All tunes as one row of tokens, a break before each and at every change of key."""

    def __init__(self, texts: Sequence[str], slots: Sequence[tuple[int, int, int, str]]) -> None:
        import numpy as np

        codes = np.frombuffer((KEY_CHANGES + KEY_CHANGES.join(texts) + KEY_CHANGES).encode("utf-32-le"), np.uint32)
        owners = np.repeat(np.arange(len(texts)), [len(text) + 1 for text in texts])
        owners = np.append(owners, len(texts) - 1)
        tokens = _table(slots)[codes].astype(np.int64)
        kept = tokens != _MARK
        tokens, owners = tokens[kept], owners[kept]
        fresh = np.ones(len(tokens), bool)
        fresh[1:] = tokens[1:] != tokens[:-1]
        self.tokens: Ints = tokens[fresh]
        self.owners: Ints = owners[fresh]
        self.tunes = len(texts)
        sounding = self.tokens < _BREAK
        followed = sounding[:-1] & sounding[1:]
        pairs = np.zeros((SIGNS, SIGNS))
        np.add.at(pairs, (self.tokens[:-1][followed], self.tokens[1:][followed]), 1)
        singles = np.bincount(self.tokens[sounding], minlength=SIGNS)
        self.share = singles / max(1, singles.sum())
        self.follows = pairs / np.maximum(1, pairs.sum(axis=1, keepdims=True))
        lengths = np.bincount(self.owners[sounding], minlength=self.tunes)
        self.lengths, self.of_length = np.unique(lengths, return_counts=True)
        self.text = "".join(map(chr, (self.tokens + 0x100).tolist()))

    def chance(self, tokens: Tokens) -> float:
        """The chance of a sequence at a place, by the Markov model."""
        chance = float(self.share[tokens[0]])
        for before, after in pairwise(tokens):
            chance *= float(self.follows[before, after])
        return chance

    def surprise(self, tunes: int, chance: float) -> float:
        """The surprise of so many tunes with a sequence of a chance."""
        import numpy as np

        expected = float((self.of_length * -np.expm1(-self.lengths * chance)).sum())
        return tunes * math.log2(tunes / max(expected, 1e-300))

    def times(self, tokens: Tokens) -> int:
        """How often a sequence is played, from the left without overlap."""
        return self.text.count("".join(chr(token + 0x100) for token in tokens))


def _table(slots: Iterable[tuple[int, int, int, str]]) -> Any:
    """For every code point its token, or what mark it is."""
    import numpy as np

    from shared.quality import Family

    table = np.full(0x110000, _MARK, np.int16)
    table[ord(KEY_CHANGES)] = _BREAK
    for first, size, slot, family in slots:
        kind = KINDS.index(kind_of_family(Family(family)))
        for root in range(12):
            begin = first + root * 12 * size + slot
            table[begin : begin + 12 * size : size] = root * len(KINDS) + kind
    return table


def _candidates(heard: _Heard) -> Iterator[_Candidate]:
    """Sequences of every length that enough tunes have, and loops."""
    import numpy as np

    least = max(LEAST_TUNES, math.ceil(math.sqrt(heard.tunes) * _LEAST_SHARE))
    ids, standing = heard.tokens.copy(), heard.tokens < _BREAK
    loops: dict[Tokens, dict[int, list[Ints]]] = {}
    for length in range(2, 2 * _LONGEST_LOOP + 1):
        # A sequence is frequent only if both sequences that are one shorter and lie in it are.
        place = np.flatnonzero(standing[: len(standing) - length + 1])
        place = place[standing[place + 1] & (heard.tokens[place + length - 1] < _BREAK)]
        keys = ids[place] * SIGNS + heard.tokens[place + length - 1]
        numbers = np.unique(keys, return_inverse=True)[1].astype(np.int64)
        tunes = np.bincount(np.unique(numbers * heard.tunes + heard.owners[place]) // heard.tunes)
        kept = (tunes >= least)[numbers] if len(place) else np.zeros(0, bool)
        place, numbers = place[kept], numbers[kept]
        if not len(place):
            break
        ids, standing = np.zeros_like(ids), np.zeros_like(standing)
        ids[place], standing[place] = numbers, True
        owned = np.unique(numbers * heard.tunes + heard.owners[place])
        found, first = np.unique(numbers, return_index=True)
        bounds = np.searchsorted(owned // heard.tunes, found)
        for at, begin, end in zip(place[first].tolist(), bounds, [*bounds[1:], len(owned)], strict=True):
            tokens = tuple(heard.tokens[at : at + length].tolist())
            in_tunes = owned[begin:end] % heard.tunes
            period = _period(tokens)
            rounds, rest = divmod(length, period)
            if rounds > 1 and not rest and _SHORTEST_LOOP <= period <= _LONGEST_LOOP:
                loops.setdefault(_least_turn(tokens[:period]), {}).setdefault(rounds, []).append(in_tunes)
            elif SHORTEST <= length <= _LONGEST and not _mostly_round(tokens):
                yield _Candidate(tokens, False, in_tunes, heard.surprise(len(in_tunes), heard.chance(tokens)))
    for loop, by_rounds in loops.items():
        every = turns(loop)
        told = max(every, key=lambda turn: (_begun(heard, turn), turn[0] == 0))
        owned_by = {rounds: np.unique(np.concatenate(each)) for rounds, each in by_rounds.items()}
        surprise = max(
            heard.surprise(len(each), sum(heard.chance(turn * rounds) for turn in every))
            for rounds, each in owned_by.items()
        )
        yield _Candidate(told, True, owned_by[2], surprise)


def _period(tokens: Tokens) -> int:
    """After how many chords a sequence repeats itself; its length where it does not."""
    return next(
        (by for by in range(1, len(tokens)) if all(a == b for a, b in zip(tokens, tokens[by:], strict=False))),
        len(tokens),
    )


def _mostly_round(tokens: Tokens) -> bool:
    """Whether more than half of a sequence goes round one loop twice or more."""
    length = len(tokens)
    for period in range(_SHORTEST_LOOP, length // 2 + 1):
        run = 0
        for at in range(period, length):
            run = run + 1 if tokens[at] == tokens[at - period] else 0
            if run >= period and 2 * (run + period) > length:
                return True
    return length > 2 and _period(tokens) < length - 1


def _least_turn(tokens: Tokens) -> Tokens:
    return min(turns(tokens))


def _begun(heard: _Heard, turn: Tokens) -> int:
    """How often a loop is begun with this turn: twice round, and not with the loop's last chord before it."""
    twice = "".join(chr(token + 0x100) for token in turn + turn)
    text, at, begun = heard.text, -1, 0
    while (at := text.find(twice, at + 1)) >= 0:
        begun += text[at - 1] != twice[len(turn) - 1]
    return begun


def _chosen(heard: _Heard, ranked: Sequence[_Candidate], explaining: Explaining) -> list[_Candidate]:
    """Those that stand for themselves: what is explained by the catalogue, or by a better one, is left out."""
    chosen: list[_Candidate] = []
    for each in ranked[:_MOST_LOOKED_AT]:
        if each.surprise <= 0 or explaining.explains(each.tokens, each.loop):
            continue
        if not any(_explained_by(heard, each, other) for other in chosen):
            chosen.append(each)
            if len(chosen) == _MOST_TOLD:
                break
    return chosen


def _explained_by(heard: _Heard, each: _Candidate, other: _Candidate) -> bool:
    """Whether a sequence adds nothing to one that is told already."""
    line = other.tokens * 4 if other.loop else other.tokens
    small = each.tokens * 2 if each.loop else each.tokens
    if _within(small, line):
        return len(each.tunes - other.tunes) <= _ALONE * len(each.owned) or (
            other.loop and len(small) > len(other.tokens)
        )
    if _within(other.tokens, small):
        expected = len(other.owned) * _chance_beyond(heard, small, other.tokens)
        added = len(each.owned) * math.log2(len(each.owned) / max(expected, 1e-300))
        return added < _ADDED or len(other.tunes - each.tunes) <= _ALONE * len(other.owned)
    if len(each.tunes & other.tunes) < (1 - _ALONE) * len(each.owned):
        return False
    return small in turns(other.tokens) or 2 * _overlap(small, line) > len(small)


def _within(small: Tokens, line: Tokens) -> bool:
    return any(small == line[at : at + len(small)] for at in range(len(line) - len(small) + 1))


def _overlap(one: Tokens, line: Tokens) -> int:
    """The longest run that two sequences share."""
    return max(
        (
            length
            for length in range(1, len(one) + 1)
            for at in range(len(one) - length + 1)
            if _within(one[at : at + length], line)
        ),
        default=0,
    )


def _chance_beyond(heard: _Heard, tokens: Tokens, inner: Tokens) -> float:
    """The chance that a sequence goes on, before and behind, to a longer one."""
    return heard.chance(tokens) / max(heard.chance(inner), 1e-300)
