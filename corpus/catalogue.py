"""The catalogue of named progressions: the one that is installed, and a teacher's own beside the charts.

Conventions: both are TOML files of the same form, described at the head of ``corpus/progressions.toml``; a teacher's
own is ``progressions.toml`` in the library folder. A fault in that file costs only its entry, and is told with its
place; one that leaves no TOML costs the file. Names are compared without regard to case, accents, the kind of dash, and
signs between words; no two entries share one.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

from corpus.library import Library
from grammar.patterns import read_pattern
from shared.errors import Fault, ReadingError, nearest
from shared.key import Mode
from shared.match import Count, Reach
from shared.pattern import Anchor, Gap, Group, Pattern, Strength

#: The name of a teacher's own file, in the library folder.
OWN_FILE = "progressions.toml"
#: Progressions that no pattern can say; ``search.named_rules`` knows how they are found.
RULES = ("pedal on 1", "pedal on 5", "part of the circle of fifths", "key rise")
COMMON = "common practice"

_TABLE = "progression"
_FIELDS = (
    *("name", "also", "pattern", "rule", "strength", "mode", "count", "reach", "rotate", "styles", "teaches", "source"),
)
_LONGEST_NAME = 80
_TOML_PLACE = re.compile(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", re.DOTALL)
_BETWEEN = re.compile(r"[\W_]+")
_HEADING = re.compile(r"\s*\[\[\s*progression\s*\]\]")


@dataclass(frozen=True, slots=True)
class Progression:
    """A progression with a name.

    Attributes:
        name: What it is called.
        also: Other names.
        text: The pattern as written, or the name of the rule.
        pattern: The pattern; None where a rule says it.
        strength: How much of each chord must agree.
        mode: The mode of the tunes that are asked; None for all.
        count: What it is counted from; None for both.
        reach: Whether it must stand in the key.
        rotate: Whether the loop may begin at any of its chords.
        styles: Where it is at home.
        teaches: What a student learns from it.
        source: Where the name and the chords are from.
        own: Whether it is of the teacher's own file.
    """

    name: str
    also: tuple[str, ...]
    text: str
    pattern: Pattern | None
    strength: Strength = Strength.FAMILY
    mode: Mode | None = None
    count: Count | None = None
    reach: Reach = Reach.KEY
    rotate: bool = False
    styles: tuple[str, ...] = ()
    teaches: str = ""
    source: str = COMMON
    own: bool = False

    @property
    def written(self) -> str:
        """The pattern, or the rule, as it is shown."""
        return self.text if self.pattern is not None else f"rule: {self.text}"


@dataclass(frozen=True)
class Catalogue:
    """Named progressions, and what is wrong with a teacher's own.

    Attributes:
        entries: The progressions, the installed ones first.
        faults: The faults of the teacher's file.
    """

    entries: tuple[Progression, ...]
    faults: tuple[Fault, ...] = ()
    _by_name: Mapping[str, Progression] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        known = {folded(name): entry for entry in reversed(self.entries) for name in (entry.name, *entry.also)}
        object.__setattr__(self, "_by_name", known)

    def named(self, name: str) -> Progression | None:
        """The progression of a name, None where there is none."""
        return self._by_name.get(folded(name))

    def nearest(self, name: str, most: int = 3) -> tuple[str, ...]:
        """The names that look most like one, and those that hold all its words."""
        every = [each for entry in self.entries for each in (entry.name, *entry.also)]
        words = folded(name).split()
        holding = [entry.name for entry in self.entries if words and set(words) <= set(folded(entry.name).split())]
        return tuple(dict.fromkeys([*nearest(name, every, most), *holding]))[:most]


def folded(name: str) -> str:
    """A name as names are compared.

    >>> folded("Line Cliché"), folded("ii–V–I") == folded("ii-V-I")
    ('line cliche', True)
    """
    plain = "".join(sign for sign in unicodedata.normalize("NFKD", name) if not unicodedata.combining(sign))
    return _BETWEEN.sub(" ", plain.casefold()).strip()


@cache
def installed() -> tuple[Progression, ...]:
    """The progressions of the installed catalogue."""
    text = files("corpus").joinpath("progressions.toml").read_text(encoding="utf-8")
    entries, faults = read_entries(text)
    assert not faults, faults
    return entries


def catalogue(library: Library | None = None) -> Catalogue:
    """The installed catalogue with a library's own progressions."""
    known = installed()
    if library is None or not (library.root / OWN_FILE).exists():
        return Catalogue(known)
    content = library.content(OWN_FILE)
    if isinstance(content, Fault):
        return Catalogue(known, (content,))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        return Catalogue(known, (Fault(f"byte {content[error.start]:#04x} is not UTF-8", line, expected="UTF-8"),))
    own, faults = read_entries(text, known)
    return Catalogue((*known, *own), faults)


def read_entries(text: str, known: Sequence[Progression] = ()) -> tuple[tuple[Progression, ...], tuple[Fault, ...]]:
    """The progressions of a TOML text, and what is wrong with it.

    Args:
        text: The text.
        known: Progressions whose names are taken; those read beside them are told apart as the teacher's own.
    """
    text = text.replace("\r\n", "\n")
    lines = text.split("\n")
    try:
        read = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return (), (_no_toml(error, lines),)
    faults: list[Fault] = []
    for name in read.keys() - {_TABLE}:
        line = next((at for at, each in enumerate(lines, 1) if re.match(rf"\s*\[*\s*{re.escape(name)}\b", each)), 1)
        faults.append(Fault(f"“{name}” means nothing here", line, 1, len(name), lines[line - 1], f"[[{_TABLE}]]"))
    tables = read.get(_TABLE, [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        faults.append(Fault(f"“{_TABLE}” is no list of tables", 1, expected=f"[[{_TABLE}]] above every entry"))
        tables = []
    heads = [at for at, line in enumerate(lines) if _HEADING.match(line)]
    taken = {folded(name): entry.name for entry in known for name in (entry.name, *entry.also)}
    entries: list[Progression] = []
    for number, table in enumerate(tables):
        start = heads[number] if len(heads) == len(tables) else 0
        end = heads[number + 1] if len(heads) == len(tables) and number + 1 < len(heads) else len(lines)
        reader = _Entry(table, lines, start, end)
        entry = reader.read(bool(known), taken)
        faults += reader.faults
        if entry is not None and not reader.faults:
            entries.append(entry)
            taken.update({folded(name): entry.name for name in (entry.name, *entry.also)})
    return tuple(entries), tuple(sorted(faults, key=lambda fault: (fault.line, fault.column)))


def _no_toml(error: tomllib.TOMLDecodeError, lines: Sequence[str]) -> Fault:
    found = _TOML_PLACE.fullmatch(str(error))
    message, line, column = found.groups() if found else (str(error), None, None)
    at = min(int(line), len(lines)) if line else len(lines)
    said = f"this is not TOML: {message[:1].lower()}{message[1:]}"
    return Fault(said, at, int(column or 0), 1, lines[at - 1], 'lines such as name = "…" below [[progression]]')


class _Entry:
    """One table, read field by field."""

    def __init__(self, table: Mapping[str, Any], lines: Sequence[str], start: int, end: int) -> None:
        self._table = table
        self._lines = lines
        self._start, self._end = start, end
        self.faults: list[Fault] = []

    def read(self, own: bool, taken: Mapping[str, str]) -> Progression | None:
        for unknown in self._table.keys() - set(_FIELDS):
            near = "".join(nearest(unknown, _FIELDS, 1))
            self._fault(unknown, f"“{unknown}” is no part of a progression", f"one of {', '.join(_FIELDS)}", near)
        name, also = self._name(taken)
        pattern, text = self._chords()
        strength = self._one_of("strength", {each.value: each for each in Strength}) or Strength.FAMILY
        mode = self._one_of("mode", {each.label: each for each in Mode})
        count = self._one_of("count", {each.value: each for each in Count})
        reach = self._one_of("reach", {each.value: each for each in Reach}) or Reach.KEY
        rotate = self._table.get("rotate", False)
        if not isinstance(rotate, bool):
            self._fault("rotate", f"“{rotate}” is neither yes nor no", "true or false")
        elif rotate and pattern is not None:
            self._refuse_no_loop(pattern.parts)
        styles = self._texts("styles")
        teaches, source = self._text("teaches"), self._text("source") or COMMON
        if self.faults or not name:
            return None
        kept = (strength, mode, count, reach, bool(rotate), styles, teaches, source, own)
        return Progression(name, also, text, pattern, *kept)

    def _fault(self, key: str, message: str, expected: str = "", near: str = "", offset: int = 0) -> None:
        """A fault at the value of a key, or at the head of the entry where that key is not written."""
        for at in range(self._start, self._end):
            line = self._lines[at]
            found = re.match(rf"\s*[\"']?{re.escape(key)}[\"']?\s*=\s*", line)
            if found:
                column = found.end() + 1 + offset
                length = 1 if offset else max(1, len(line.rstrip()) - found.end())
                self.faults.append(Fault(message, at + 1, column, length, line, expected, near))
                return
        line = self._lines[self._start]
        self.faults.append(Fault(message, self._start + 1, 1, max(1, len(line)), line, expected, near))

    def _text(self, key: str) -> str:
        value = self._table.get(key, "")
        if not isinstance(value, str):
            self._fault(key, f"“{value}” is no text", f'{key} = "…"')
            return ""
        return " ".join(value.split()) if key != "pattern" else value

    def _texts(self, key: str) -> tuple[str, ...]:
        value = self._table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
            self._fault(key, f"“{key}” is no list of texts", f'{key} = ["…", "…"]')
            return ()
        return tuple(each.strip() for each in value if each.strip())

    def _name(self, taken: Mapping[str, str]) -> tuple[str, tuple[str, ...]]:
        name, also = self._text("name"), self._texts("also")
        if not name and not self.faults:
            self._fault("name", "this progression has no name", 'name = "…"')
        seen: dict[str, str] = dict(taken)
        for key, each in (("name", name), *(("also", other) for other in also)):
            if not each:
                continue
            if key == "name" and (fault := name_fault(each)):
                self._fault(key, fault, "a name that can stand among the tags of a chart")
            elif not folded(each):
                self._fault(key, f"“{each}” has no letters or digits", "a name")
            elif seen.get(folded(each), name) != name or folded(each) in taken:
                self._fault(key, f"“{each}” is the name of “{seen[folded(each)]}” already", "a name of its own")
            seen[folded(each)] = name
        return name, also

    def _chords(self) -> tuple[Pattern | None, str]:
        text, rule = self._text("pattern"), self._text("rule")
        if bool(text.strip()) == bool(rule):
            found = "both a pattern and a rule" if rule else "neither a pattern nor a rule"
            if not self.faults:
                self._fault("rule" if rule else "pattern", f"there is {found}", 'pattern = "2m7 57 1", say')
            return None, rule
        if rule:
            if rule not in RULES:
                near = "".join(nearest(rule, RULES, 1))
                self._fault("rule", f"“{rule}” is no rule", f"one of {', '.join(RULES)}", near)
            return None, rule
        try:
            pattern = read_pattern(text).pattern
        except ReadingError as error:
            for fault in error.faults:
                said = f"in the pattern “{text}”: {fault.message}"
                self._fault("pattern", said, fault.expected, fault.nearest, fault.column)
            return None, text
        if pattern.named:
            message = f"“{text}” names chords, and a progression has no key"
            self._fault("pattern", message, "numbers, such as 2m7 57 1")
        return pattern, text

    def _refuse_no_loop(self, parts: Iterable[object]) -> None:
        if any(isinstance(part, Anchor | Gap) or (isinstance(part, Group) and part.most is None) for part in parts):
            self._fault("rotate", "this pattern is no loop that may begin anywhere", "chords alone, or rotate = false")

    def _one_of(self, key: str, choices: Mapping[str, Any]) -> Any:
        value = self._table.get(key)
        if value is None:
            return None
        if not isinstance(value, str) or value not in choices:
            near = "".join(nearest(str(value), choices, 1))
            self._fault(key, f"“{value}” is no {key}", f"one of {', '.join(choices)}", near)
            return None
        return choices[value]


def name_fault(name: str) -> str:
    """Why a text cannot be the name of a progression; empty where it can."""
    if not folded(name):
        return f"“{name}” has no letters or digits"
    if "," in name or any(not sign.isprintable() for sign in name):
        return f"“{name}” has a comma or a line end in it"
    if len(name) > _LONGEST_NAME:
        return f"“{name[:20]}…” has {len(name)} letters, and {_LONGEST_NAME} are the most"
    return ""
