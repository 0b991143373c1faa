r"""Deterministic automata of the expressions of a search, for asking many expressions of many tunes at once.

An automaton reads the signs from where a match may begin and tells where the match that the engine would give ends:
of all ways to lay the expression the first in the order of its alternatives, repeats taking much before little
(``??`` and the like the other way round). It is the subset construction on ordered lists of places (R. Cox, "Regular
Expression Matching in the Wild", 2010): what stands behind the end of a match in such a list can no longer win.

What is read of an expression is what ``search.expressions`` and ``search.named_rules`` write: signs, classes, groups
without numbers, ``|``, ``* + ?`` and ``{0,n}``, each lazy too, ``\A`` and ``\z``. These two read a sign of their own,
which stands before and behind every tune.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from search.nearness import NOTHING

#: What stands before and behind a tune.
TUNE_BEGINS, TUNE_ENDS = "\x02", "\x03"
#: Automata with more states are not made.
_MOST_STATES = 2000

_Ranges = tuple[tuple[int, int], ...]
#: A place of an expression: the signs that it reads, or None, and what may follow, the likeliest first.
_Place = tuple[_Ranges | None, list[int]]


@dataclass(frozen=True, slots=True)
class Automaton:
    """What becomes of a match, sign by sign.

    Attributes:
        bounds: The first code points of ranges that are alike throughout, in order, from 0.
        kinds: The kind of sign of each.
        steps: For each state the state that each kind of sign leads to; state 0 is the end of all hope, and a match
            begins in state 1.
        accepts: Of each state whether a match may end there.
    """

    bounds: tuple[int, ...]
    kinds: tuple[int, ...]
    steps: tuple[tuple[int, ...], ...]
    accepts: tuple[bool, ...]

    def end(self, text: str, begin: int) -> int | None:
        """Where the match that begins at a place of a text ends, None where none begins.

        >>> automaton("ab*").end("xabbc", 1), automaton("ab*?").end("xabbc", 1), automaton("ab*").end("xabbc", 2)
        (4, 2, None)
        """
        state, found = 1, None
        for place in range(begin, len(text)):
            state = self.steps[state][self.kinds[bisect_right(self.bounds, ord(text[place])) - 1]]
            if state == 0:
                break
            if self.accepts[state]:
                found = place + 1
        return found


class TooManyStates(Exception):
    """Expressions whose automaton would be too large."""


@lru_cache(maxsize=512)
def automaton(expression: str) -> Automaton:
    """The automaton of an expression.

    Raises:
        TooManyStates: If it would have too many states.
        ValueError: If the expression has signs of which no meaning is known here.
    """
    places = _Places(expression)
    bounds, kinds, of_kind = _kinds(places.read)
    reads = [sum(1 << kind for kind in of_kind[ranges]) if ranges else 0 for ranges, _ in places.made]
    ends_tune = 1 << kinds[bisect_right(bounds, ord(TUNE_ENDS)) - 1]
    number: dict[tuple[int, ...], int] = {(): 0}
    waiting: list[tuple[int, ...]] = [()]

    def numbered(places_in_order: tuple[int, ...]) -> int:
        if places_in_order not in number:
            if len(number) >= _MOST_STATES:
                raise TooManyStates
            number[places_in_order] = len(number)
            waiting.append(places_in_order)
        return number[places_in_order]

    follow = _Followers(places.made)
    numbered(follow((places.first,)))
    steps: list[tuple[int, ...]] = []
    while len(steps) < len(waiting):
        state = waiting[len(steps)]
        row = []
        for kind in range(1 + max(kinds)):
            sign = 1 << kind
            reached = follow(tuple(after for place in state if reads[place] & sign for after in places.made[place][1]))
            if sign & ends_tune:
                # Nothing can follow the end of a tune.
                reached = tuple(place for place in reached if place == places.last)
            row.append(numbered(reached))
        steps.append(tuple(row))
    return Automaton(bounds, kinds, tuple(steps), tuple(places.last in state for state in waiting))


def _kinds(read: Sequence[_Ranges]) -> tuple[tuple[int, ...], tuple[int, ...], dict[_Ranges, set[int]]]:
    """Code points cut into ranges that all of some classes hold or do not: these, their kinds, and those of a class."""
    classes = list(dict.fromkeys(read))
    always = {0, ord(TUNE_ENDS), ord(TUNE_ENDS) + 1}
    bounds = sorted(always | {bound for one in classes for first, last in one for bound in (first, last + 1)})
    held = [0] * len(bounds)
    for number, one in enumerate(classes):
        for first, last in one:
            for place in range(bisect_right(bounds, first) - 1, bisect_right(bounds, last)):
                held[place] |= 1 << number
    held[bounds.index(ord(TUNE_ENDS))] |= 1 << len(classes)
    kinds: dict[int, int] = {}
    of_range = tuple(kinds.setdefault(each, len(kinds)) for each in held)
    of_class = {one: {kind for each, kind in kinds.items() if each >> n & 1} for n, one in enumerate(classes)}
    return tuple(bounds), of_range, of_class


class _Followers:
    """Which places read the next sign, or end a match, behind some places: in order, up to the first end."""

    def __init__(self, places: Sequence[_Place]) -> None:
        self.places = places

    def __call__(self, begun: tuple[int, ...]) -> tuple[int, ...]:
        found: list[int] = []
        seen: set[int] = set()
        waiting = list(reversed(begun))
        while waiting:
            place = waiting.pop()
            if place in seen:
                continue
            seen.add(place)
            ranges, after = self.places[place]
            if ranges is not None:
                found.append(place)
            elif after:
                waiting.extend(reversed(after))
            else:
                found.append(place)
                break
        return tuple(found)


@dataclass(slots=True)
class _Piece:
    """A piece of an expression: how it is laid before a place, and whether it may take nothing."""

    lay: Callable[[int], int]
    empty: bool


class _Places:
    """The places of an expression.

    Attributes:
        made: The places.
        first: Where a match begins.
        last: Where it has ended.
        read: The classes that are read.
    """

    def __init__(self, expression: str) -> None:
        self.made: list[_Place] = []
        self.read: list[_Ranges] = []
        self._text = expression
        self._at = 0
        piece = self._either()
        if self._at < len(expression):
            raise ValueError(f"“{expression[self._at]}” is not known in an expression")
        self.last = self._place(None, [])
        self.first = piece.lay(self.last)

    def _place(self, ranges: _Ranges | None, after: list[int]) -> int:
        self.made.append((ranges, after))
        return len(self.made) - 1

    def _next(self) -> str:
        return self._text[self._at : self._at + 1]

    def _either(self) -> _Piece:
        branches = [self._row()]
        while self._next() == "|":
            self._at += 1
            branches.append(self._row())
        if len(branches) == 1:
            return branches[0]
        return _Piece(
            lambda after: self._place(None, [each.lay(after) for each in branches]),
            any(each.empty for each in branches),
        )

    def _row(self) -> _Piece:
        row: list[_Piece] = []
        while self._next() not in ("", "|", ")"):
            row.append(self._repeated())

        def lay(after: int) -> int:
            for each in reversed(row):
                after = each.lay(after)
            return after

        return _Piece(lay, all(each.empty for each in row))

    def _repeated(self) -> _Piece:
        piece = self._one()
        while (sign := self._next()) and sign in "*+?{":
            self._at += 1
            times = 0
            if sign == "{":
                close = self._text.index("}", self._at)
                least, most = self._text[self._at : close].split(",")
                if int(least):
                    raise ValueError(f"“{{{least},{most}}}” is not known in an expression")
                times, self._at = int(most), close + 1
            lazy = self._next() == "?"
            self._at += lazy
            piece = self._often(piece, sign, times, lazy)
        return piece

    def _often(self, piece: _Piece, sign: str, times: int, lazy: bool) -> _Piece:
        def choice(more: int, after: int) -> list[int]:
            return [after, more] if lazy else [more, after]

        def perhaps(inner: Callable[[int], int]) -> Callable[[int], int]:
            return lambda after: self._place(None, choice(inner(after), after))

        def more(after: int) -> int:
            again = self._place(None, [])
            begin = piece.lay(again)
            self.made[again][1].extend(choice(begin, after))
            return begin

        def any_number(after: int) -> int:
            again = self._place(None, [])
            self.made[again][1].extend(choice(piece.lay(again), after))
            return again

        if sign == "?":
            return _Piece(perhaps(piece.lay), True)
        if sign == "+":
            return _Piece(more, piece.empty)
        if sign == "*":
            # What may take nothing is repeated as RE2 does it.
            return _Piece(perhaps(more) if piece.empty else any_number, True)

        def few(after: int) -> int:
            begin = after
            for _ in range(times):
                begin = self._place(None, choice(piece.lay(begin), after))
            return begin

        return _Piece(few, True)

    def _one(self) -> _Piece:
        sign = self._next()
        self._at += 1
        if sign == "(":
            if not self._text.startswith("?:", self._at):
                raise ValueError("a group with a number is not known in an expression")
            self._at += 2
            piece = self._either()
            self._at += 1
            return piece
        if sign == "[":
            close = self._text.index("]", self._at)
            ranges = _ranges(self._text[self._at : close])
            self._at = close + 1
        elif sign == "\\":
            named = self._next()
            self._at += 1
            if named.isalnum() and named not in "Az":
                raise ValueError(f"“\\{named}” is not known in an expression")
            ranges = _ranges({"A": TUNE_BEGINS, "z": TUNE_ENDS}.get(named, named))
        else:
            ranges = _ranges(sign)
        self.read.append(ranges)
        return _Piece(lambda after: self._place(ranges, [after]), False)


def _ranges(inner: str) -> _Ranges:
    """The code points of what stands in a class, as inclusive ranges."""
    if f"[{inner}]" == NOTHING:
        return ()
    if inner.startswith("^") or "\\" in inner:
        raise ValueError(f"“[{inner}]” is not known in an expression")
    ranges, at = [], 0
    while at < len(inner):
        if inner[at + 1 : at + 2] == "-":
            ranges.append((ord(inner[at]), ord(inner[at + 2])))
            at += 3
        else:
            ranges.append((ord(inner[at]), ord(inner[at])))
            at += 1
    return tuple(ranges)
