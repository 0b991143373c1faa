"""Many questions counted in one pass over an index: what each finds by itself, in far less time.

The tunes are read once, some thousands at a time and on every core, and all expressions are counted in them together
(``search.sweep``). Where places decide (two views may have found one place, or a chord sounds in two keys) those tunes
alone are handed back to be looked at place by place.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from corpus.reading import Snapshot
from search.automata import automaton
from search.filters import Condition
from search.looking_up import shared_chords
from search.sweep import Sweep

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, Any]

#: Tunes that are read at once: more fit no cache, and fewer cost more statements.
_BATCH = 4096


@dataclass(frozen=True, slots=True)
class Sought:
    """Something that is counted.

    Attributes:
        views: For each view the column of ``charts``, in SQL, null where the view says nothing; and the expression.
        mode: The mode of the tunes that count; None for all.
        doubtful: Whether two views may find one place.
        placed: How often it is played in some tunes (their numbers), found place by place; None where expressions
            alone decide.
    """

    views: Sequence[tuple[str, str]]
    mode: str | None = None
    doubtful: bool = False
    placed: Callable[[Sequence[int]], int] | None = None


@dataclass(frozen=True, slots=True)
class Tally:
    """What was counted of one thing.

    Attributes:
        charts: How many tunes have it.
        matches: How often it is played in them.
        keys: Home keys with how many of these tunes are in them.
    """

    charts: int
    matches: int
    keys: dict[str, int]


def tallies(snapshot: Snapshot, sought: Sequence[Sought], conditions: Iterable[Condition] = ()) -> list[Tally]:
    """Counts all that is sought in the tunes that meet some conditions.

    Raises:
        TooManyStates: If the expressions are too large to be counted so.
    """
    import numpy as np

    if not sought:
        return []
    one_pass = _Pass(snapshot, sought, list(conditions))
    charts, matches = np.zeros((len(sought), len(one_pass.keys)), np.int64), np.zeros(len(sought), np.int64)
    doubtful: list[list[int]] = [[] for _ in sought]
    ((first, last),) = snapshot.rows("SELECT coalesce(min(id), 0), coalesce(max(id), -1) FROM charts")
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        for part in pool.map(one_pass.part, range(first, last + 1, _BATCH)):
            charts += part.charts
            matches += part.matches
            for number, chart in part.doubtful:
                doubtful[number].append(chart)
    found = []
    for one, in_keys, times, unsure in zip(sought, charts, matches, doubtful, strict=True):
        keys = {key: int(often) for key, often in zip(one_pass.keys, in_keys, strict=True) if often}
        placed = one.placed(unsure) if one.placed is not None and unsure else 0
        found.append(Tally(int(in_keys.sum()), int(times) + placed, keys))
    return found


class _Part(NamedTuple):
    """What is found in some tunes.

    Attributes:
        charts: For each that is sought how many tunes in each key have it.
        matches: How often it is played in those that are not doubtful.
        doubtful: Numbers of what is sought, and tunes in which only places tell how often it is played.
    """

    charts: Array
    matches: Array
    doubtful: list[tuple[int, int]]


class _Pass:
    """What a pass over the tunes takes.

    Attributes:
        keys: All home keys.
    """

    def __init__(self, snapshot: Snapshot, sought: Sequence[Sought], conditions: Sequence[Condition]) -> None:
        import numpy as np

        rows = snapshot.rows("SELECT key, any_value(mode) FROM charts GROUP BY key ORDER BY key")
        self.keys = [key for key, _ in rows]
        self._asked = np.array([[one.mode in (None, mode) for _, mode in rows] for one in sought])
        self._doubtful = np.array([one.doubtful for one in sought])
        self._placed = np.array([one.placed is not None for one in sought])
        shared = shared_chords(snapshot)
        self._shared = np.array(snapshot.rows(f"SELECT id FROM {shared}") if shared else [], np.int64).ravel()
        columns: dict[str, list[tuple[int, str]]] = {}
        for number, one in enumerate(sought):
            for column, text in one.views:
                columns.setdefault(column, []).append((number, text))
        self._lines = list(columns.values())
        self._sweeps: dict[tuple[int, ...], tuple[Array, Sweep]] = {}
        self._guard = threading.Lock()
        # Where a view counts a tune as the first does, its string is not read again.
        main, *others = columns
        same = [f"CASE WHEN {column} = {main} THEN {1 << place} ELSE 0 END" for place, column in enumerate(others)]
        own = [f"CASE WHEN {column} IS DISTINCT FROM {main} THEN encode({column}) END" for column in others]
        told = f"[id, list_position(?::VARCHAR[], key) - 1, {' + '.join(['0', *same])}]"
        wanted = ", ".join([told, f"encode({main})", *own])
        where = "".join(f" AND {condition.sql}" for condition in conditions)
        self._sql = f"SELECT {wanted} FROM charts WHERE id >= ? AND id < ?{where}"
        self._values = [value for condition in conditions for value in condition.parameters]
        self._snapshot = snapshot

    def part(self, first: int) -> _Part:
        """What is found in the tunes from a number on, as many as are read at once."""
        import numpy as np

        rows = self._snapshot.beside().rows(self._sql, [self.keys, first, first + _BATCH, *self._values])
        if not rows:
            return _Part(np.zeros(self._asked.shape, np.int64), np.zeros(len(self._asked), np.int64), [])
        listed, main, *own = zip(*rows, strict=True)
        ids, keys, same = np.array(listed, np.int64).T
        pairs, times = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]

        def count(lines: tuple[int, ...], texts: Sequence[bytes | None], which: Array) -> None:
            tunes = [place for place in which.tolist() if texts[place] is not None]
            if tunes:
                numbers, sweep = self._sweep(lines)
                counted = sweep.counted([texts[place] for place in tunes])
                pairs.append(numbers[counted.expressions] * len(ids) + np.array(tunes)[counted.tunes])
                times.append(counted.found)

        for alike in np.unique(same).tolist():
            lines = tuple(1 + place for place in range(len(own)) if alike >> place & 1)
            count((0, *lines), main, np.flatnonzero(same == alike))
        for place, texts in enumerate(own):
            count((1 + place,), texts, np.arange(len(ids)))
        pair, of_pair = np.unique(np.concatenate(pairs), return_inverse=True)
        found = np.bincount(of_pair, np.concatenate(times), len(pair)).astype(np.int64)
        number, tune = np.divmod(pair, max(1, len(ids)))
        several = np.bincount(of_pair, minlength=len(pair)) > 1
        doubtful = (several & self._doubtful[number]) | (np.isin(ids[tune], self._shared) & self._placed[number])
        asked = self._asked[number, keys[tune]]
        sure, doubtful = asked & ~doubtful, asked & doubtful
        shape = self._asked.shape
        charts = np.bincount(number[asked] * shape[1] + keys[tune[asked]], minlength=shape[0] * shape[1])
        matches = np.bincount(number[sure], found[sure], shape[0]).astype(np.int64)
        unsure = zip(number[doubtful].tolist(), ids[tune[doubtful]].tolist(), strict=True)
        return _Part(charts.reshape(shape), matches, list(unsure))

    def _sweep(self, lines: tuple[int, ...]) -> tuple[Array, Sweep]:
        """What counts the expressions of some columns, and what is sought by each of them."""
        import numpy as np

        with self._guard:
            if lines not in self._sweeps:
                asked = [each for line in lines for each in self._lines[line]]
                sweep = Sweep([automaton(text) for _, text in asked])
                self._sweeps[lines] = np.array([number for number, _ in asked]), sweep
            return self._sweeps[lines]
