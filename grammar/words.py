"""Tells a line of chord names from a line of words.

Conventions: a line of chord names holds nothing but what can stand in a cell, or what was plainly meant to (``Cmaj77``,
``H7``): those are faults, not words. Columns count from 1.
"""

from __future__ import annotations

import re
from enum import Enum
from functools import lru_cache
from typing import NamedTuple

from grammar.cells import sign
from grammar.signs import plain

_WORD = re.compile(r"\S+")
_TIMES = re.compile(r"[xX×]\d+")
_MEANT = re.compile(
    r"[A-H](?:[b#]|maj|Maj|MAJ|min|Min|dim|aug|sus|add|alt|omit|no|ma|Ma|mi|[mMojhøØ°Δ+\-/(),\d]|[A-H](?![a-z]))*+"
)
_SIGNED = re.compile(r"[\d#+\-/]|.b")
#: Words that are also chord names: read as words where they stand alone, directly below a line of chord names.
_RATHER_WORDS = frozenset({"Do", "Go", "Co", "I"})


class _Look(Enum):
    NAME = "a chord name"
    NUMBER = "a number"
    ROMAN = "a Roman numeral"
    MARK = "another cell"
    SIGNED = "no chord, with digits or signs like one"
    LIKE = "no chord, with letters like one"
    WORD = "a word"


class Token(NamedTuple):
    """A word of a line and its column, from 1."""

    text: str
    column: int


@lru_cache(maxsize=65536)
def _look(word: str) -> _Look:
    meaning = sign(word)
    if meaning.fault is None:
        if meaning.numeral is not None:
            return _Look.NUMBER if plain(word).lstrip("#b")[0].isdigit() else _Look.ROMAN
        return _Look.NAME if meaning.cell is not None and meaning.cell.chord is not None else _Look.MARK
    if _TIMES.fullmatch(word) or meaning.fault.nearest.startswith("%") or "form:" in meaning.fault.expected:
        return _Look.MARK
    if _MEANT.fullmatch(plain(word)):
        return _Look.SIGNED if _SIGNED.search(plain(word)) else _Look.LIKE
    return _Look.WORD


def chord_line(line: str, below_chords: bool = False, keyed: bool = True) -> tuple[Token, ...]:
    """The cells of a line of chord names; empty where it is a line of words.

    Args:
        line: The line.
        below_chords: Whether it stands directly below a line of chord names, where words are likelier.
        keyed: Whether a key is written, without which a single number is likelier no chord.

    >>> [t.text for t in chord_line("Am7     D7")], chord_line("A long line"), len(chord_line("Cmaj77 F G7"))
    (['Am7', 'D7'], (), 3)
    """
    tokens = tuple(Token(found.group(), found.start() + 1) for found in _WORD.finditer(line))
    looks = {_look(token.text) for token in tokens}
    if _Look.WORD in looks or not looks:
        return ()
    if looks <= {_Look.MARK, _Look.LIKE}:
        silent = any((cell := sign(t.text).cell) is not None and cell.chord is None for t in tokens)
        return tokens if silent and _Look.LIKE not in looks else ()
    if _Look.ROMAN in looks and _Look.NAME in looks:
        return ()
    texts = {token.text for token in tokens}
    if texts == {"I"} or (below_chords and texts <= _RATHER_WORDS):
        return ()
    if looks <= {_Look.NUMBER, _Look.ROMAN, _Look.MARK} and len(tokens) == 1 and not keyed:
        return ()
    return tokens


def mostly_chords(line: str) -> str:
    """The first word that keeps a line from being one of chord names, where at least half of it is chord names."""
    words = line.split()
    names = [w for w in words if _look(w) in (_Look.NAME, _Look.SIGNED) and w not in {"A", *_RATHER_WORDS}]
    if len(names) < 2 or len(names) * 2 < len(words):
        return ""
    return next((w for w in words if _look(w) is _Look.WORD), "")
