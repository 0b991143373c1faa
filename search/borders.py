"""How borders of sections are told to a pattern that asks for them.

An expression takes what it looks at, and a match leaves nothing of what it takes to the next. A pattern may look at one
border several times (``4 ] 5? ]`` where no 5 stands between), and the same border may end one match and begin another.
So for such a pattern the strings of the index are rewritten: between two chords first stand signs for the match that
ends here, then signs for the one that begins here, and each says all of the border, as often as the pattern may ask. A
match takes all signs of its own before its first chord: so all ways to lay it begin at one place, however much may be
missing at its beginning.

A pattern that names a border just once between two chords finds the marks of ``corpus.codes`` in the strings as they
are, which is faster.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from corpus.codes import SECTION_ENDS, SECTION_STARTS
from shared.pattern import Anchor, BarOf, Group, Item, Part, Pattern

_SECTION = Anchor.SECTION_START, Anchor.SECTION_END
#: What is so of a border, as signs behind a chord and before one: a section ends, one starts, both, and at the ends of
#: the tune either. Where a chord sounds on over a border, that ends no section or starts none.
_ENDS, _STARTS, _BOTH, _TUNE_ENDS, _TUNE_STARTS = "AF", "BG", "CH", "D", "I"
_BEHIND, _BEFORE = "[A-D]", "[F-I]"
#: Stands before the first chord of every section, between the signs of both kinds; and what stands round the string.
_FIRST, _EDGE = "E", "J"
#: All signs that may stand in a string beside those of ``corpus.codes``.
BORDER_SIGNS = "ABCDEFGHIJ"
_TRUE_OF: Mapping[Anchor, str] = {
    Anchor.SECTION_END: _ENDS + _BOTH + _TUNE_ENDS,
    Anchor.SECTION_START: _STARTS + _BOTH + _TUNE_STARTS,
    Anchor.TUNE_END: _TUNE_ENDS,
    Anchor.TUNE_START: _TUNE_STARTS,
}


@dataclass(frozen=True, slots=True)
class Borders:
    """What stands between chords, as parts of an expression.

    Attributes:
        joint: All that may stand between two chords.
        first: What stands before a chord that a match begins with.
        last: What stands behind a chord, up to what stands before the next.
        starts: What stands before a chord, or all before it that a match takes, where it starts a section.
        anchors: For each anchor how it is told before a chord, and behind one.
    """

    joint: str
    first: str
    last: str
    starts: str
    anchors: Mapping[Anchor, tuple[str, str]] = field(hash=False)


def _told(anchor: Anchor, where: str = ".") -> str:
    """The signs that tell an anchor; where it is never so, there are none of its own."""
    signs = _TRUE_OF[anchor]
    return f"[{''.join(re.findall(where, signs)) or signs}]"


_MARKS = f"[{SECTION_STARTS}{SECTION_ENDS}]*"
#: What stands between chords in the strings as they are. As few marks are taken as will do.
PLAIN = Borders(
    _MARKS,
    "",
    _MARKS,
    SECTION_STARTS,
    {
        Anchor.SECTION_START: (SECTION_STARTS, f"{_MARKS}?{SECTION_STARTS}"),
        Anchor.SECTION_END: (f"{SECTION_ENDS}{_MARKS}?", f"{_MARKS}?{SECTION_ENDS}"),
        Anchor.TUNE_START: (rf"\A{SECTION_STARTS}*", rf"\A{SECTION_STARTS}*"),
        Anchor.TUNE_END: (rf"{SECTION_ENDS}*\z", rf"{SECTION_ENDS}*\z"),
    },
)
#: What stands between them where the strings are rewritten.
_REWRITTEN = Borders(
    "[A-I]*",
    f"{_BEFORE}*",
    f"{_BEHIND}*{_FIRST}?",
    _FIRST,
    {anchor: (_told(anchor, _BEFORE), _told(anchor, _BEHIND)) for anchor in Anchor},
)
#: The same for near versions: where the middle chord is left out, what is asked behind it is asked before the next.
_OF_VERSIONS = replace(_REWRITTEN, anchors={each: (_told(each, _BEFORE), _told(each)) for each in Anchor})
#: Inside a bar there are none, and none are asked for.
NONE = Borders("", "", "", "", {})


def borders_of(pattern: Pattern, near: bool) -> Borders:
    """The borders of a pattern, or where near versions of it are asked too."""
    if not _rewrites(pattern, near):
        return PLAIN
    return _OF_VERSIONS if near else _REWRITTEN


def bordered(column: str, pattern: Pattern, near: bool) -> str:
    """A column of strings as a pattern, or near versions of it too, can be asked of it, in SQL.

    >>> import duckdb
    >>> from grammar.patterns import read_pattern
    >>> sql = bordered("'<..><.<.>.>'", read_pattern("1 ] 4").pattern, near=True)
    >>> duckdb.sql(f"SELECT {sql}").fetchall()
    [('JEI..CEH.BEG.AF.D',)]
    """
    if not _rewrites(pattern, near):
        return column
    often = _named(pattern.parts, Anchor) if near else _at_one_place(pattern.parts)
    both, ends, starts = ((signs[0] * often, signs[1] * often) for signs in (_BOTH, _ENDS, _STARTS))
    sql = f"'{_EDGE}' || {column} || '{_EDGE}'"
    for mark, signs in (
        (SECTION_ENDS + SECTION_STARTS, both[0] + _FIRST + both[1]),
        (SECTION_ENDS + _EDGE, _TUNE_ENDS * often),
        (_EDGE + SECTION_STARTS, _EDGE + _FIRST + _TUNE_STARTS * often),
        (SECTION_ENDS, ends[0] + ends[1]),
        (SECTION_STARTS, starts[0] + _FIRST + starts[1]),
    ):
        sql = f"replace({sql}, '{mark}', '{signs}')"
    return sql


def anchors_at(sign: str) -> list[Anchor]:
    """What a sign of a string says of the border at which it stands."""
    return [anchor for anchor in _SECTION if sign in _TRUE_OF[anchor]]


def _rewrites(pattern: Pattern, near: bool) -> bool:
    """Whether a pattern may look at a border twice, or begin a match before a border or behind it."""
    if not _named(pattern.parts, _SECTION):
        return False
    if near or _at_one_place(pattern.parts) > 1:
        return True
    sure = [number for number, part in enumerate(pattern.parts) if isinstance(part, Item | BarOf)]
    ahead, behind = pattern.parts[: sure[0]], pattern.parts[sure[-1] + 1 :]
    if not _named(ahead, _SECTION):
        return False
    return len(ahead) > 1 or not isinstance(ahead[0], Anchor) or _named(behind, _SECTION) > 0


def _at_one_place(parts: Sequence[Part]) -> int:
    """How many anchors of a pattern may stand between two chords that are surely there, or at one of its ends."""
    runs = [0]
    for part in parts:
        if isinstance(part, Item | BarOf):
            runs.append(0)
        else:
            runs[-1] += _named([part], Anchor)
    return max(runs)


def _named(parts: Sequence[Part], anchors: Sequence[Anchor] | type[Anchor]) -> int:
    """How many of some anchors are named."""
    return sum(
        _named(part.body, anchors) if isinstance(part, Group) else isinstance(part, Anchor) and part in anchors
        for part in parts
    )
