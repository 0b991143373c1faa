"""Filters: which charts are asked, each as a condition in SQL and as a phrase for people, from one place.

Conventions: text is compared without regard to case; a range is ``3``, ``2-4``, ``3-`` or ``-4``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from corpus.codes import TO_RELATIVE
from grammar.keys import read_key, read_metre
from search.expressions import only_expression
from shared.errors import Fault, ReadingError, nearest
from shared.key import Mode
from shared.pattern import Pattern, Strength

_RANGE = re.compile(r"\s*(\d+(?:\.\d+)?)?\s*(-|–|to)?\s*(\d+(?:\.\d+)?)?\s*")


@dataclass(frozen=True, slots=True)
class Condition:
    """A condition on a row of ``charts``: SQL with question marks, its parameters, and the phrase for people."""

    sql: str
    parameters: tuple[Any, ...]
    phrase: str


@dataclass(frozen=True, slots=True)
class Filters:
    """Filters as a user gives them; each None or empty where it is not used.

    Attributes:
        key: The home key, as a header spells it.
        mode: The mode of the home key.
        section: A section label, or how it begins (``chorus`` is also ``Chorus 2``).
        style: Words of the style.
        tags: Tags, all of which a chart must have.
        level: A number or range.
        tempo: A number or range, in beats a minute.
        metre: The metre of the header.
        where: Pairs of header name and words of its value.
        only: Chords that the whole tune must keep to, as a pattern.
        strength: How the chords of ``only`` are compared.
        chart: The number of the one chart in the index that is asked.
    """

    key: str | None = None
    mode: str | None = None
    section: str | None = None
    style: str | None = None
    tags: tuple[str, ...] = ()
    level: str | None = None
    tempo: str | None = None
    metre: str | None = None
    where: tuple[tuple[str, str], ...] = ()
    only: Pattern | None = None
    strength: Strength = Strength.FAMILY
    chart: int | None = None

    def conditions(self) -> Iterator[Condition]:
        """The conditions on charts; the section filter is not among them (it is about places).

        Raises:
            ReadingError: If a key, mode, metre or range cannot be read.
        """
        if self.chart is not None:
            yield Condition("id = ?", (self.chart,), "in one chart")
        if self.key is not None:
            key = str(read_key(self.key))
            yield Condition("key = ?", (key,), f"in {key}")
        if self.mode is not None:
            mode = _mode(self.mode)
            yield Condition("mode = ?", (mode,), f"in a {mode} key")
        if self.style is not None:
            yield Condition("contains(lower(style), lower(?))", (self.style,), f"style {self.style}")
        for tag in self.tags:
            sql = "list_contains(list_transform(tags, lambda tag: lower(tag)), lower(?))"
            yield Condition(sql, (tag.strip(),), f"tagged {tag.strip()}")
        for name, value in (("level", self.level), ("tempo", self.tempo)):
            if value is not None:
                yield _range(name, value)
        if self.metre is not None:
            metre = str(read_metre(self.metre))
            yield Condition("metre = ?", (metre,), f"in {metre}")
        for name, value in self.where:
            sql = "id IN (SELECT chart FROM headers WHERE name = lower(?) AND contains(lower(value), lower(?)))"
            yield Condition(sql, (name.strip(), value.strip()), f"with {name.strip()}: {value.strip()}")
        if self.only is not None:
            text, relative = (only_expression(self.only, self.strength, shift) for shift in (0, TO_RELATIVE))
            asked = [f"regexp_full_match({one}, ?)" for one in ("tonic", "relative", "CASE WHEN minor THEN tonic END")]
            sql = f"coalesce({' OR '.join(asked)}, FALSE)"
            yield Condition(sql, (text, text, relative), f"with no chords but {self.only.text.strip()}")

    def sentences(self) -> list[str]:
        """The filters as phrases."""
        phrases = [condition.phrase for condition in self.conditions()]
        return [*phrases, *([f"in sections named {self.section}"] if self.section is not None else [])]


def _mode(text: str) -> str:
    name = {"ionian": "major", "aeolian": "minor"}.get(text.strip().lower(), text.strip().lower())
    known = [mode.label for mode in Mode]
    if name not in known:
        near = nearest(name, known, 1)
        fault = Fault(f"“{text}” is not a mode", 1, 1, max(1, len(text)), text, ", ".join(known), "".join(near))
        raise ReadingError([fault])
    return name


def _range(name: str, text: str) -> Condition:
    found = _RANGE.fullmatch(text)
    low, dash, high = found.groups() if found else (None, None, None)
    if low is None and high is None:
        expected = "a number or a range, such as 3 or 2-4"
        raise ReadingError([Fault(f"“{text}” is not a {name}", 1, 1, max(1, len(text)), text, expected)])
    if dash is None:
        return Condition(f"{name} = ?", (float(low or high or 0),), f"{name} {low or high}")
    parts = [(f"{name} >= ?", low)] if low else []
    parts += [(f"{name} <= ?", high)] if high else []
    sql = " AND ".join(condition for condition, _ in parts)
    phrase = f"{name} {low} to {high}" if low and high else f"{name} {low} or more" if low else f"{name} {high} or less"
    return Condition(sql, tuple(float(value) for _, value in parts if value), phrase)
