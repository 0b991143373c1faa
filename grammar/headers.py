"""Reads the head of a chart: ``name: value`` lines up to the first blank line, section or line of music.

Conventions: names are kept in lower case, values as typed. The key and the metre are understood here; ``form`` is read
once the sections are known.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

from grammar.keys import read_key, read_metre
from grammar.places import Place, whole
from shared.chart import KNOWN_HEADERS, Metre
from shared.errors import Fault, ReadingError, nearest
from shared.key import Key
from shared.pitch import Pitch

HEADER = re.compile(r"\s*(?P<name>[^\W_][^:|\[\]]*?)\s*:(?!\|)\s*(?P<value>.*?)\s*")
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
_NEAR = 0.74


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


@dataclass
class Head:
    """What the head of a chart says, gathered line by line."""

    headers: list[tuple[str, str]] = field(default_factory=list)
    places: dict[str, Place] = field(default_factory=dict)
    key: Key | None = None
    metre: Metre = field(default_factory=Metre)
    broken_key: bool = False
    faults: list[Fault] = field(default_factory=list)
    remarks: list[Fault] = field(default_factory=list)

    @property
    def relative(self) -> bool:
        """Whether numbers in a minor key are counted from the relative major."""
        return any(name == "count" and value.casefold() == "relative" for name, value in self.headers)

    @property
    def said_count(self) -> bool:
        """Whether the head says from where numbers are counted."""
        return "count" in self.places

    def tonic(self, key: Key) -> Pitch:
        """The tonic from which numbers in a key are counted in this chart."""
        return key.relative_major.tonic if self.relative and key.minor_third else key.tonic

    def add(self, name: str, value: str, at: Place, value_at: Place) -> None:
        """One header.

        Args:
            name: Its name as typed.
            value: Its value.
            at: The place of the name.
            value_at: The place of the value.
        """
        typed, name = name, " ".join(name.lower().split())
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
        elif name == "count" and value.casefold() not in ("tonic", "relative"):
            near = "".join(nearest(value, ("tonic", "relative"), 1))
            self.faults.append(at.fault(f"“{value}” is nothing to count from", "tonic or relative", near))
        elif name in _NUMBERS and value and not _NUMBER.fullmatch(value):
            found = _NUMBER.search(value)
            near = found.group() if found else ""
            self.remarks.append(at.fault(f"“{value}” is no number, so {name} cannot be searched", "a number", near))


def _near(name: str) -> str:
    """The known name that one looks like: a slip of the fingers, or its letters in another order."""
    for known in KNOWN_HEADERS:
        if sorted(known) == sorted(name) and len(name) > 2:
            return known
    return next((n for n in nearest(name, KNOWN_HEADERS, 1) if _ratio(name, n) >= _NEAR and len(name) > 2), "")


def _ratio(a: str, b: str) -> float:
    from difflib import SequenceMatcher

    return SequenceMatcher(None, a, b).ratio()


def bare_known(line: str) -> str:
    """The known header that a line without a colon starts with, empty where there is none."""
    word = line.split()[0].lower() if line.split() else ""
    return word if word in KNOWN_HEADERS and len(line.split()) > 1 else ""


def read_form(at: Place, labels: Iterable[str], faults: list[Fault]) -> tuple[str, ...]:
    """The order in which sections are played.

    Args:
        at: The place of the header's value.
        labels: The labels of all sections, in the order written.
        faults: Where to put what is wrong.

    Returns:
        The labels, each as its section writes it.
    """
    written = list(labels)
    by_folded = {label.casefold(): label for label in reversed(written)}
    twice = {f for f in by_folded if sum(label.casefold() == f for label in written) > 1}
    value = at.text_at
    commas = "," in value or any(" " in label for label in written)
    names = re.finditer(r"[^,]+" if commas else r"\S+", value)
    form = []
    for found in names:
        name = found.group().strip()
        if not name:
            continue
        lead = len(found.group()) - len(found.group().lstrip())
        place = at._replace(column=at.column + found.start() + lead, length=len(name))
        label = by_folded.get(" ".join(name.split()).casefold())
        if label is None:
            message = f"no section is called “{name}”"
            expected = f"one of {', '.join(by_folded.values())}" if by_folded else "a section with that label"
            faults.append(place.fault(message, expected, _meant(name, by_folded)))
        elif label.casefold() in twice:
            message = f"two sections are called “{label}”, so the form cannot tell which is meant"
            faults.append(place.fault(message, "labels of their own for both, or no form"))
            twice.discard(label.casefold())
        else:
            form.append(label)
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
    return "".join(nearest(name, by_folded.values(), 1))


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


def header_places(number: int, line: str, found: re.Match[str]) -> tuple[Place, Place]:
    """The places of a header's name and of its value."""
    name = Place(number, found.start("name") + 1, len(found.group("name")), line)
    value = found.group("value")
    if not value:
        return name, whole(number, line)
    return name, Place(number, found.start("value") + 1, len(value), line)
