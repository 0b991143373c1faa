"""The expression for the spellings of qualities finds what a plain list would find."""

from __future__ import annotations

import re
from importlib.resources import files

from grammar.spellings import spellings, written
from shared.quality_names import BY_NAME

#: What may stand behind a spelling, or behind the beginning of one.
BEHIND = ["", *"#+-/(,)b79amjosdit ", "mit", "dd9", "or"]


def longest(text: str, names: set[str]) -> str | None:
    """The longest of some spellings that a text begins with, none of them cut from what belongs to it."""
    for end in range(len(text), 0, -1):
        name, rest = text[:end], text[end:]
        cut = name[-1] in "0123456789+-b#" and rest[:1].isdigit()
        if name in names and not cut and not (name[-1] == "o" and rest.startswith("mit")):
            return name
    return None


def test_the_longest_spelling_is_found_whatever_stands_behind_it() -> None:
    names = set(filter(None, BY_NAME))
    expression = re.compile(spellings(names))
    for begun in sorted({name[:end] for name in names for end in range(1, len(name) + 1)}):
        for behind in BEHIND:
            found = expression.match(begun + behind)
            assert (found and found.group()) == longest(begun + behind, names), begun + behind


def test_the_grammar_file_is_what_the_table_makes() -> None:
    said = "run: python -m grammar.spellings"
    assert files("grammar").joinpath("named.lark").read_text(encoding="utf-8") == written(), said
