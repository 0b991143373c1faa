"""Builds the parsers of the grammars beside this file, each once, and keeps their tables where a program says.

Conventions: every parser is LALR(1). Working out its tables takes most of the time that a short command needs; a
program that starts often names a folder for them (``keep_in``), and lark loads them from there as long as neither the
grammar nor lark has changed. Nothing is written where no folder is named.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from lark import Lark

_folder: list[Path] = []


def keep_in(folder: Path) -> None:
    """Keeps the tables of parsers that are built from now on in a folder that is there, and loads them from it."""
    _folder[:] = [folder]


def grammar_text(name: str) -> str:
    """The text of the grammar file of this name (without ``.lark``)."""
    return files("grammar").joinpath(f"{name}.lark").read_text(encoding="utf-8")


def kept_in() -> Path | None:
    """The folder in which tables are kept."""
    return _folder[0] if _folder else None


def parser(name: str, start: str | list[str], more: str = "", **options: Any) -> Lark:
    """The parser of a grammar.

    Args:
        name: The grammar's file name without ``.lark``.
        start: Its start rules.
        more: Rules to be added to it.
        options: Other options of ``lark.Lark``.
    """
    from lark import Lark, __version__

    grammar = grammar_text(name) + more
    cache: bool | str = False
    for folder in _folder:
        cache = str(folder / f"{name}-{__version__}.tables")
    return Lark(grammar, parser="lalr", start=start, cache=cache, **options)
