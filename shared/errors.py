"""Errors and faults: what was found where, what was expected, and the nearest right thing.

Conventions: lines and columns count from 1; a column is the place of the first character of what is wrong, counted in
characters of the line as it stands in the file. Remarks have the same fields as faults but stop nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong (or, as a remark, worth saying) at one place of a text.

    Attributes:
        message: What is wrong, in a sentence without a full stop.
        line: The line, from 1; 0 where the whole file is meant.
        column: The column of the first character, from 1; 0 where the whole line is meant.
        length: How many characters are meant, at least 1.
        text: The line itself.
        expected: What would have been right there, in words; empty where the message says it all.
        nearest: The nearest right thing, as it would be written; empty where there is none.
    """

    message: str
    line: int = 0
    column: int = 0
    length: int = 1
    text: str = ""
    expected: str = ""
    nearest: str = ""

    def at(self, line: int, text: str, offset: int = 0) -> Fault:
        """The same fault placed in a larger text: on a line, ``offset`` characters further right."""
        return replace(self, line=line, text=text, column=self.column + offset)

    @property
    def sentence(self) -> str:
        """The message with what was expected and the nearest right thing."""
        parts = [self.message]
        if self.expected:
            parts.append(f"expected {self.expected}")
        if self.nearest:
            parts.append(f"nearest: {self.nearest}")
        return "; ".join(parts)

    def drawn(self) -> str:
        """The line with a mark under the place, or nothing where no line is known."""
        if not self.text or not self.column:
            return self.text
        lead = "".join("\t" if c == "\t" else " " for c in self.text[: self.column - 1])
        room = max(1, min(self.length, len(self.text) - self.column + 1))
        return f"{self.text}\n{lead}{'^' * room}"


class SamechangesError(Exception):
    """The root of every error that this project raises for something a user gave it."""


class ReadingError(SamechangesError):
    """A text could not be read; ``faults`` says where and why (at least one)."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(f.sentence for f in self.faults))


class ChoiceError(SamechangesError):
    """A name that stands for nothing, or for several things, among those known.

    Attributes:
        nearest: The names that come nearest, or the several that it could mean.
    """

    def __init__(self, message: str, nearest: Iterable[str] = ()) -> None:
        self.nearest = tuple(nearest)
        offer = f"; nearest: {', '.join(self.nearest)}" if self.nearest else ""
        super().__init__(message + offer)


def nearest(name: str, known: Iterable[str], most: int = 3) -> tuple[str, ...]:
    """The known names that look most like ``name``, best first, case ignored.

    >>> nearest("mixolidian", ["major", "mixolydian"])
    ('mixolydian',)
    """
    by_folded: dict[str, str] = {}
    for each in known:
        by_folded.setdefault(each.casefold(), each)
    import difflib

    return tuple(by_folded[f] for f in difflib.get_close_matches(name.casefold(), by_folded, n=most, cutoff=0.6))
