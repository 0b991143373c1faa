"""Writes the grammar file of chord spellings, ``named.lark``, from the table of qualities.

    python -m grammar.spellings

One regular expression stands for thousands of spellings; the engine is to read it in a moment, for every command waits
until it has.

The spellings make a tree, each letter written once for all that share it; trees that are alike are one, and letters
before the same tree are one class. Ways of writing one word, such as ``ma``, ``maj`` and ``major``, lead to the same
tree behind each of them: it is written once, what may stand before it as an option. Whichever way is taken, the letter
that comes next decides; so the longest spelling is found, as a list with the longest first would find it.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from shared.quality_names import BY_NAME

_FILE = Path(__file__).with_name("named.lark")
_END = ""
#: What means something to the engine, or to a grammar.
_SIGNS = frozenset(r"\/.^$*+?{}[]|()-#&~")


class _Node(NamedTuple):
    """What may follow.

    Attributes:
        letters: By the next letter, the number of the node behind it.
        end: What must be so where a spelling ends here, as an expression; None where none does.
    """

    letters: dict[str, int]
    end: str | None


class _Shape(NamedTuple):
    """A node as it is written: its leftovers, or its core with options before it.

    Attributes:
        options: Expressions for what may stand before the core.
        core: The number of a node.
        leftovers: By the next letter, the node behind it.
    """

    options: tuple[str, ...]
    core: int
    leftovers: dict[str, int]


def spellings(names: Iterable[str]) -> str:
    """The regular expression for any of some spellings, the longest that is there.

    A digit or sign at the end of one is never cut from what belongs to it.

    >>> spellings(["ma7", "maj7", "major7", "ma", "maj", "major", "m"])
    'm(?:a(?:j(?:or)?)?(?:7(?!\\\\d)|)|)'
    """
    tree: dict[str, Any] = {}
    for name in names:
        node = tree
        for letter in name:
            node = node.setdefault(letter, {})
        node[_END] = _bound(name)
    return _Spellings(tree).text


def _bound(name: str) -> str:
    """What may not follow a spelling."""
    return r"(?!\d)" if name[-1] in "0123456789+-b#" else r"(?!mit)" if name[-1] == "o" else ""


class _Spellings:
    def __init__(self, tree: dict[str, Any]) -> None:
        self.nodes: list[_Node] = []
        self.known: dict[tuple[object, ...], int] = {}
        self.shape = cache(self._shape)
        self.whole = cache(self._whole)
        self.text = self.whole(self.number(tree))

    def number(self, tree: dict[str, Any]) -> int:
        """The number of a tree; trees that are alike have one."""
        letters = {letter: self.number(tree[letter]) for letter in sorted(tree) if letter}
        node = _Node(letters, tree.get(_END))
        alike = (*letters.items(), node.end)
        if alike not in self.known:
            self.known[alike] = len(self.nodes)
            self.nodes.append(node)
        return self.known[alike]

    def _shape(self, number: int) -> _Shape:
        """How a node is best written."""
        node = self.nodes[number]
        options: dict[int, dict[str, str]] = {}
        for letter, behind in node.letters.items():
            option, core = self.option(letter, behind)
            options.setdefault(core, {})[letter] = option
        best = _Shape((), number, {})
        for core, ways in options.items():
            letters, end = self.nodes[core]
            held = all(node.letters.get(letter) == behind for letter, behind in letters.items())
            if held and end == node.end and not ways.keys() & letters.keys():
                left = {letter: node.letters[letter] for letter in node.letters.keys() - letters.keys() - ways.keys()}
                best = _Shape(tuple(ways.values()), core, dict(sorted(left.items())))
        return best

    def option(self, first: str, number: int) -> tuple[str, int]:
        """What stands before the core that a letter leads to, and that core."""
        written, place = _escaped(first), number
        while len(self.nodes[place].letters) == 1 and self.nodes[place].end is None:
            ((letter, place),) = self.nodes[place].letters.items()
            written += _escaped(letter)
        if self.nodes[place].letters:
            number = place
        else:
            written = written[: len(_escaped(first))]
        shape = self.shape(number)
        if shape.leftovers:
            return written, number
        return written + _perhaps(shape.options), shape.core

    def _whole(self, number: int) -> str:
        """The expression for all that a node stands for."""
        options, core, leftovers = self.shape(number)
        if not options:
            letters, end = self.nodes[number]
            return _either(self.ways(letters) + ([] if end is None else [end]))
        return _either([*self.ways(leftovers), _perhaps(options) + self.whole(core)])

    def ways(self, letters: dict[str, int]) -> list[str]:
        """The expressions for what begins with each of some letters."""
        leading: dict[int, list[str]] = {}
        for letter, behind in letters.items():
            option, core = self.option(letter, behind)
            leading.setdefault(core, []).append(option)
        return [_either(options) + self.whole(core) for core, options in leading.items()]


def _escaped(letter: str) -> str:
    return rf"\{letter}" if letter in _SIGNS else letter


def _either(ways: list[str]) -> str:
    letters = [way for way in ways if len(way.removeprefix("\\")) == 1]
    if len(letters) > 1:
        ways = [way for way in ways if way not in letters]
        ways.insert(0, f"[{''.join(letters)}]")
    return ways[0] if len(ways) == 1 else f"(?:{'|'.join(ways)})"


def _perhaps(options: tuple[str, ...]) -> str:
    if not options:
        return ""
    either = _either(list(options))
    return f"{either}?" if either.startswith(("(?:", "[")) and len(options) > 1 else f"(?:{either})?"


def written() -> str:
    """The grammar file as the table of qualities has it."""
    said = "// Every spelling of a quality in the table of shared/quality_names.py; made by python -m grammar.spellings"
    return f"{said}\n\nNAMED.3: /{spellings(filter(None, BY_NAME))}/\n"


if __name__ == "__main__":
    _FILE.write_text(written(), encoding="utf-8")
