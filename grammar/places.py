"""Where something stands in a text that is being read."""

from __future__ import annotations

from typing import NamedTuple

from shared.errors import Fault


class Place(NamedTuple):
    """A run of characters in one line: line and column from 1, length in characters, and the line as in the file."""

    line: int
    column: int
    length: int
    text: str

    @property
    def text_at(self) -> str:
        """What stands there."""
        return self.text[self.column - 1 : self.column - 1 + self.length]

    def fault(self, message: str, expected: str = "", nearest: str = "") -> Fault:
        """What is wrong, or worth saying, at this place."""
        return Fault(message, self.line, self.column, max(1, self.length), self.text, expected, nearest)


def whole(line: int, text: str) -> Place:
    """The place of everything that is written on a line."""
    written = text.strip()
    return Place(line, len(text) - len(text.lstrip()) + 1 if written else 1, len(written), text)
