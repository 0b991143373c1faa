"""Many expressions counted in many tunes in one pass over their strings.

A pass goes over the signs of a batch of tunes at once. From every place all expressions are followed together, sign by
sign, as one automaton made of those of ``search.automata``: each of its states is a set of theirs. Sets are made when
they are first met (as RE2 makes its states), for of all that there could be few ever are. A place is given up when its
set has no state left, which is mostly soon. Of matches of one expression that overlap the leftmost is kept, then the
next that it leaves room for, as everywhere.

Conventions: expressions are numbered in the order in which they are given. The states of all automata are numbered
together; state 0 is the end of all hope. Sets are numbered too. Arrays are of one dimension unless said otherwise.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from search.automata import TUNE_BEGINS, TUNE_ENDS, Automaton, TooManyStates

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, Any]

#: Bits of a number that tell how long a match is, and where it begins; those above them tell the expression.
_LENGTH, _PLACE = 24, 28
#: The sets that all others come from: that of no state, and that in which all matches begin. Set 0 is not known yet.
_NONE, _FIRST = 1, 2
#: No more sets than so many are made (a hundred progressions meet a thousand).
_MOST_SETS = 20_000


class Counted(NamedTuple):
    """How often expressions stand in tunes.

    Attributes:
        expressions: The numbers of expressions, ascending.
        tunes: The places of tunes in the batch, ascending for each expression.
        found: How often it stands there, 1 or more.
    """

    expressions: Array
    tunes: Array
    found: Array


class _Lists(NamedTuple):
    """Lists of numbers.

    Attributes:
        first: Where each begins in ``numbers``.
        length: How many it has.
        numbers: Those of all.
    """

    first: Array
    length: Array
    numbers: Array

    def of(self, which: Array) -> Array:
        """The numbers of some lists in a row."""
        return self.numbers[_ranges(self.first[which], self.length[which])]

    def with_more(self, length: Array, numbers: Array) -> _Lists:
        """These and others, told by how many numbers each has."""
        import numpy as np

        first = len(self.numbers) + np.cumsum(length) - length
        return _Lists(*(np.concatenate(each) for each in zip(self, (first, length, numbers), strict=True)))


class Sweep:
    """Expressions ready to be counted together; several threads may count at once."""

    def __init__(self, automata: Sequence[Automaton]) -> None:
        import numpy as np

        bounds = np.unique([bound for each in automata for bound in each.bounds])
        own = np.array(
            [np.array(each.kinds)[np.searchsorted(each.bounds, bounds, "right") - 1] for each in automata], np.int16
        )
        _, of_kind, kinds = np.unique(own, axis=1, return_index=True, return_inverse=True)
        self._kinds = np.repeat(kinds.reshape(-1), np.diff([*bounds, max(0x110000, bounds[-1] + 1)]))
        self._width = len(of_kind)
        rows, accepts, owners, first, known = [np.zeros((1, self._width), np.int64)], [False], [-1], [], 1
        for number, each in enumerate(automata):
            made = np.array(each.steps)[1:, own[number, of_kind]]
            rows.append(np.where(made > 0, made + (known - 1), 0))
            accepts += each.accepts[1:]
            owners += [number] * len(made)
            first.append(known)
            known += len(made)
        self._steps, self._accepts, self._owners = np.concatenate(rows), np.array(accepts), np.array(owners)
        self._goes: Array = np.any(self._steps, axis=1)
        self._chance = np.random.default_rng(1).integers(1 << 63, size=known)
        self._guard = threading.Lock()
        none = np.zeros(_FIRST + 1, np.int64)
        #: For every set the states that may go on, and the expressions of which a match ends there.
        self._states = _Lists(none[:-1], none[:-1], none[:0]).with_more(np.array([len(first)]), np.array(first))
        self._ended = _Lists(none, none, none[:0])
        #: For every set, at each kind of sign, the set that follows: where its row begins, twice, and one more where a
        #: match ends; negative where none goes on.
        self._table = np.zeros(64 * self._width, np.int32)
        self._known: dict[int, int] = {}

    def counted(self, tunes: Sequence[bytes]) -> Counted:
        """How often each expression stands in each of some tunes, given as their strings in UTF-8.

        Raises:
            TooManyStates: If the expressions have too little in common to be followed together.
        """
        import numpy as np

        text = f"{TUNE_ENDS}{TUNE_BEGINS}".encode().join(tunes).decode()
        codes = np.frombuffer(f"{TUNE_BEGINS}{text}{TUNE_ENDS}".encode("utf-32-le"), np.uint32)
        matches = _apart(self._matches(self._kinds[codes]))
        expressions, begins = matches >> (_LENGTH + _PLACE), (matches >> _LENGTH) & ((1 << _PLACE) - 1)
        owners = np.searchsorted(np.flatnonzero(codes == ord(TUNE_BEGINS)), begins, "right") - 1
        pairs = expressions * len(tunes) + owners
        first = np.flatnonzero(np.diff(pairs, prepend=-1))
        return Counted(expressions[first], owners[first], np.diff(np.append(first, len(pairs))))

    def _matches(self, kinds: Array) -> Array:
        """The matches in a row of kinds of signs: sorted numbers of expression, place and length."""
        import numpy as np

        done = [np.zeros(0, np.int64)]
        length, places, sets = 1, None, self._followed(kinds + _FIRST * self._width)
        while True:
            # A comparison first: of truth values the places are found far faster than of numbers.
            ending = np.flatnonzero((sets & 1) != 0)
            ended = (np.abs(sets.take(ending)) >> 1) // self._width
            begun = (ending if places is None else places.take(ending)) - (length - 1)
            begun = np.repeat(begun << _LENGTH | length, self._ended.length[ended])
            done.append(self._ended.of(ended) << (_LENGTH + _PLACE) | begun)
            going = np.flatnonzero(sets > 0)
            if not len(going):
                break
            places = (going if places is None else places.take(going)) + 1
            length += 1
            sets = self._followed((sets.take(going) >> 1) + kinds.take(places))
        matches: Array = np.sort(np.concatenate(done))
        # Of the ends of one match the last counts.
        begins = matches >> _LENGTH
        last: Array = matches[np.append(begins[1:] != begins[:-1], True)[: len(matches)]]
        return last

    def _followed(self, keys: Array) -> Array:
        """The sets that follow by where they stand in the table."""
        import numpy as np

        sets: Array = self._table.take(keys, mode="wrap")
        if not sets.all():
            with self._guard:
                self._follow(np.unique(keys[sets == 0]))
            sets = self._table.take(keys)
        return sets

    def _follow(self, keys: Array) -> None:
        """Makes the sets that follow; to be called under the guard."""
        import numpy as np

        keys = keys[self._table[keys] == 0]
        before, kinds = np.divmod(keys, self._width)
        length = self._states.length[before]
        after: Array = self._steps[self._states.of(before), np.repeat(kinds, length)]
        alive = np.flatnonzero(after)
        of_key, after = np.repeat(np.arange(len(keys)), length)[alive], after[alive]
        # A set is known by the sum of chance numbers, one for each of its states.
        sums = np.zeros(len(keys), np.int64)
        np.add.at(sums, of_key, self._chance[after])
        sets = np.full(len(keys), -_NONE * self._width << 1)
        first = np.searchsorted(of_key, np.arange(len(keys) + 1))
        new_states, new_ended = [], []
        for number, one in enumerate(sums.tolist()):
            if one == 0:
                continue
            if one not in self._known:
                states = after[first[number] : first[number + 1]]
                going, ended = states[self._goes[states]], np.unique(self._owners[states[self._accepts[states]]])
                new_states.append(going)
                new_ended.append(ended)
                made = len(self._states.first) + len(new_states) - 1
                place = (made * self._width << 1) + (len(ended) > 0)
                self._known[one] = place if len(going) else -place
            sets[number] = self._known[one]
        if new_states:
            for name, new in (("_states", new_states), ("_ended", new_ended)):
                lists = getattr(self, name).with_more(np.array([len(each) for each in new]), np.concatenate(new))
                setattr(self, name, lists)
            if len(self._states.first) > _MOST_SETS:
                raise TooManyStates
            needed = len(self._states.first) * self._width
            if needed > len(self._table):
                table = np.zeros(2 * needed, np.int32)
                table[: len(self._table)] = self._table
                self._table = table
        self._table[keys] = sets


def _ranges(first: Array, length: Array) -> Array:
    """The numbers of some ranges in a row."""
    import numpy as np

    ends = np.cumsum(length)
    return np.repeat(first - ends + length, length) + np.arange(ends[-1] if len(ends) else 0)


def _apart(matches: Array) -> Array:
    """Those of sorted matches that are left where none may overlap the one before of its expression."""
    import numpy as np

    begins = matches >> _LENGTH
    ends = begins + (matches & ((1 << _LENGTH) - 1))
    free = np.ones(len(matches), bool)
    free[1:] = begins[1:] >= np.maximum.accumulate(ends)[:-1]
    if free.all():
        return matches
    taken = free.copy()
    held = np.flatnonzero(free & ~np.append(free[1:], True))
    while len(held):
        after = np.searchsorted(begins, ends[held])
        after = after[after < len(matches)]
        held = after[~free[after]]
        taken[held] = True
    return matches[taken]
