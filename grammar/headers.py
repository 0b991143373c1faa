"""Reads the head of a chart: ``name: value`` lines up to the first blank line, section or line of music.

Conventions: names are kept in lower case, values as typed. The key and the metre are understood here; ``form`` is read
once the sections are known.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from functools import lru_cache
from typing import NamedTuple

from grammar.keys import read_key, read_metre
from grammar.places import Place, whole
from shared.chart import KNOWN_HEADERS, Metre
from shared.errors import Fault, ReadingError, nearest
from shared.key import Key
from shared.pitch import Pitch

_NUMBERS = ("tempo", "level", "year")
_NUMBER = re.compile(r"\d+(\.\d+)?")
#: Other names that are used for a header of ours.
_SAME = {
    "metre": "time",
    "meter": "time",
    "bpm": "tempo",
    "genre": "style",
    "composer": "by",
    "artist": "by",
    "author": "by",
}
_NOT_IN_NAMES = frozenset("|[]")
_NEAR = 0.74
#: How many labels are offered.
_MOST_SHOWN = 12
#: How many labels are tried for the nearest one.
_MOST_TRIED = 500
_BY_COMMAS = re.compile(r"[^,\s](?:[^,]*[^,\s])?")
_BY_SPACES = re.compile(r"\S+")


@lru_cache(maxsize=4096)
def known_key(text: str) -> Key | tuple[Fault, ...]:
    """A key, or why it is none; columns count from 1 inside ``text``."""
    try:
        return read_key(text)
    except ReadingError as error:
        return error.faults


@lru_cache(maxsize=4096)
def known_metre(text: str) -> Metre | tuple[Fault, ...]:
    """A metre, or why it is none; columns count from 1 inside ``text``."""
    try:
        return read_metre(text)
    except ReadingError as error:
        return error.faults


class Named(NamedTuple):
    """A line that is a name, a colon and a value.

    Attributes:
        name: The name as typed.
        key: The name in lower case, its words one space apart.
        value: The value, perhaps empty.
        at: The place of the name.
        value_at: The place of the value, or of the line where there is none.
    """

    name: str
    key: str
    value: str
    at: Place
    value_at: Place


@lru_cache(maxsize=4096)
def named_line(number: int, line: str) -> Named | None:
    """A line as name and value, None where it is not written so.

    >>> named_line(1, "Title:  Blue Door").value_at.column
    9
    """
    before, colon, after = line.partition(":")
    name = before.strip()
    if not colon or not name[:1].isalnum() or after.startswith("|") or _NOT_IN_NAMES & set(name):
        return None
    value = after.strip()
    at = Place(number, len(before) - len(before.lstrip()) + 1, len(name), line)
    column = len(line) - len(after.lstrip()) + 1
    value_at = Place(number, column, len(value), line) if value else whole(number, line)
    return Named(name, " ".join(name.lower().split()), value, at, value_at)


@dataclass
class Head:
    """What the head of a chart says, gathered line by line.

    Attributes:
        headers: Names and values.
        places: Where the values of known headers stand.
        key: The key, None where none is written.
        metre: The metre.
        broken_key: Whether a key is written that is none.
        relative: Whether numbers in a minor key are counted from the relative major.
        faults: What is wrong.
        remarks: What is worth saying.
    """

    headers: list[tuple[str, str]] = field(default_factory=list)
    places: dict[str, Place] = field(default_factory=dict)
    key: Key | None = None
    metre: Metre = field(default_factory=Metre)
    broken_key: bool = False
    relative: bool = False
    faults: list[Fault] = field(default_factory=list)
    remarks: list[Fault] = field(default_factory=list)

    @property
    def said_count(self) -> bool:
        """Whether the head says from where numbers are counted."""
        return "count" in self.places

    def tonic(self, key: Key) -> Pitch:
        """The tonic from which numbers in a key are counted in this chart."""
        return key.relative_major.tonic if self.relative and key.minor_third else key.tonic

    def add(self, line: Named) -> None:
        """One header."""
        typed, name, value, at, value_at = line
        if name not in KNOWN_HEADERS:
            self._unknown(typed, name, at)
        elif name in self.places:
            message = f"“{name}:” stands twice, first in line {self.places[name].line}"
            self.faults.append(at.fault(message, "every header once"))
            return
        else:
            self.places[name] = value_at
            self._understand(name, value, value_at)
        self.headers.append((name, value))

    def _unknown(self, typed: str, name: str, at: Place) -> None:
        near = _SAME.get(name) or _near(name)
        if near:
            message = f"“{typed}:” is kept, but means nothing of itself"
            self.remarks.append(at.fault(message, f"“{near}:” if that is meant", f"{near}:"))

    def _understand(self, name: str, value: str, at: Place) -> None:
        if name in ("key", "time", "form", "count") and not value:
            expected = {"key": "a key such as Eb, Am or D dorian", "time": "a metre such as 3/4"}.get(
                name, "tonic or relative" if name == "count" else "sections in the order played, such as A B A"
            )
            self.faults.append(at.fault(f"“{name}:” says nothing", expected))
            self.broken_key |= name == "key"
        elif name == "key":
            key = known_key(value)
            if isinstance(key, Key):
                self.key = key
            else:
                self.broken_key = True
                self.faults += [f.at(at.line, at.text, at.column - 1) for f in key]
        elif name == "time":
            metre = known_metre(value)
            if isinstance(metre, Metre):
                self.metre = metre
            else:
                self.faults += [f.at(at.line, at.text, at.column - 1) for f in metre]
        elif name == "count":
            self._count(value, at)
        elif name in _NUMBERS and value and not _NUMBER.fullmatch(value):
            found = _NUMBER.search(value)
            near = found.group() if found else ""
            self.remarks.append(at.fault(f"“{value}” is no number, so {name} cannot be searched", "a number", near))

    def _count(self, value: str, at: Place) -> None:
        self.relative = value.casefold() == "relative"
        if not self.relative and value.casefold() != "tonic":
            near = "".join(nearest(value, ("tonic", "relative"), 1))
            self.faults.append(at.fault(f"“{value}” is nothing to count from", "tonic or relative", near))


@lru_cache(maxsize=4096)
def _near(name: str) -> str:
    """The known name that one looks like: a slip of the fingers, or its letters in another order."""
    if len(name) < 3:
        return ""
    swapped = (known for known in KNOWN_HEADERS if sorted(known) == sorted(name))
    close = (n for n in nearest(name, KNOWN_HEADERS, 1) if SequenceMatcher(None, name, n).ratio() >= _NEAR)
    return next(swapped, "") or next(close, "")


def bare_known(line: str, first: bool) -> str:
    """A line that should have been a header, with its colon; empty where it is not like one.

    Args:
        line: The line, without a colon.
        first: Whether no header stands before it; a few words are then likelier the name of a song.
    """
    name, _, value = line.strip().partition(" ")
    name, value = name.lower(), value.strip()
    if name not in KNOWN_HEADERS or not value:
        return ""
    sure = {"title": True, "key": isinstance(known_key(value), Key), "time": isinstance(known_metre(value), Metre)}
    return f"{name}: {value}" if sure.get(name, not first) else ""


def read_form(at: Place, labels: Iterable[str], faults: list[Fault]) -> tuple[str, ...]:
    """The order in which sections are played.

    Args:
        at: The place of the header's value.
        labels: The labels of all sections, in the order written.
        faults: Where to put what is wrong.

    Returns:
        The labels, each as its section writes it.
    """
    written = tuple(labels)
    form = _plain_form(at.text_at, written)
    return _form(at, written, faults) if form is None else form


@lru_cache(maxsize=4096)
def _plain_form(value: str, labels: tuple[str, ...]) -> tuple[str, ...] | None:
    """A form in which nothing is wrong; None where something is."""
    faults: list[Fault] = []
    form = _form(whole(1, value), labels, faults)
    return None if faults else form


def _form(at: Place, written: tuple[str, ...], faults: list[Fault]) -> tuple[str, ...]:
    by_folded = {label.casefold(): label for label in reversed(written)}
    twice = {label.casefold() for label in written} if len(by_folded) < len(written) else set()
    twice = {f for f in twice if sum(label.casefold() == f for label in written) > 1}
    value = at.text_at
    commas = "," in value or any(" " in label for label in written)
    form = []
    unknown = set()
    for found in (_BY_COMMAS if commas else _BY_SPACES).finditer(value):
        name = found.group()
        folded = " ".join(name.split()).casefold()
        label = by_folded.get(folded)
        if label is not None and folded not in twice:
            form.append(label)
            continue
        if folded in unknown:
            continue
        unknown.add(folded)
        place = at._replace(column=at.column + found.start(), length=len(name))
        if label is None:
            message = f"no section is called “{name}”"
            known = list(dict.fromkeys(written))
            expected = f"one of {', '.join(known[:_MOST_SHOWN])}" if known else "a section with that label"
            faults.append(place.fault(message, expected, _meant(name, by_folded)))
        else:
            message = f"two sections are called “{label}”, so the form cannot tell which is meant"
            faults.append(place.fault(message, "labels of their own for both, or no form"))
    return tuple(form)


def _meant(name: str, by_folded: dict[str, str]) -> str:
    """What a name that is none was meant for: several names run together, or the nearest one."""
    folded = name.casefold()
    if counted := re.fullmatch(r"(.+?)\s*[x×](\d)", folded):
        label = by_folded.get(counted.group(1))
        if label:
            return ", ".join([label] * int(counted.group(2)))
    apart = _split(folded, sorted(by_folded, key=len, reverse=True))
    if apart:
        return ", ".join(by_folded[each] for each in apart)
    return "".join(nearest(name, list(by_folded.values())[:_MOST_TRIED], 1))


def _split(text: str, names: list[str]) -> list[str]:
    """A run of names without commas, taken apart from the left, longest name first; empty where that fails."""
    found: list[str] = []
    while text := text.lstrip(" -–"):
        name = next((n for n in names if n and text.startswith(n)), None)
        if name is None:
            return []
        found.append(name)
        text = text[len(name) :]
    return found if len(found) > 1 else []
