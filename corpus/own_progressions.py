"""Writes a teacher's own progressions into ``progressions.toml`` of the library, behind what stands there."""

from __future__ import annotations

import json

from corpus.catalogue import OWN_FILE, Progression, catalogue, installed, name_fault, read_entries
from corpus.library import Library
from corpus.rewriting import rewrite
from corpus.saving import SavingError
from shared.errors import ReadingError

_HEAD = "# Progressions of our own, in the form of the catalogue: see “samechanges progressions --help”.\n"


def name_progression(library: Library, name: str, pattern: str, rotate: bool = False) -> Progression:
    """Gives a progression a name, in the library's own file; what stands in the file stays as it is.

    Args:
        library: The library.
        name: The name.
        pattern: The chords, in the notation of patterns, counted.
        rotate: Whether the loop may begin at any of its chords.

    Returns:
        The progression, as it is found from now on.

    Raises:
        SavingError: If the name cannot be one or is taken, or the file cannot be written.
        ReadingError: If the pattern, or the file as it stands, cannot be read.
    """
    name = " ".join(name.split())
    if not name:
        raise SavingError("a progression needs a name, such as “night bus loop”")
    if fault := name_fault(name):
        raise SavingError(f"{fault}; give a name without commas that can stand among the tags of a chart")
    taken = catalogue(library).named(name)
    if taken is not None:
        raise SavingError(f"“{name}” is a name of “{taken.name}” ({taken.written}) already; choose another")

    def added(content: bytes) -> bytes:
        before = content.decode("utf-8-sig")
        ending = "\r\n" if "\r\n" in before else "\n"
        _, standing = read_entries(before, installed())
        lines = ["[[progression]]", f"name = {_quoted(name)}", f"pattern = {_quoted(pattern)}"]
        lines += ["rotate = true"] if rotate else []
        gap = "" if not before or before.endswith("\n\n") else "\n" if before.endswith("\n") else "\n\n"
        block = (gap if before else _HEAD + "\n") + "\n".join(lines) + "\n"
        after = before + block.replace("\n", ending)
        entries, faults = read_entries(after, installed())
        fresh = tuple(each for each in faults if each not in standing) if entries else faults
        if fresh or not any(entry.name == name for entry in entries):
            raise ReadingError(fresh or faults)
        return content + after[len(before) :].encode("utf-8")

    try:
        rewrite(library, OWN_FILE, added)
    except UnicodeDecodeError:
        raise SavingError(f"{OWN_FILE} is not UTF-8 text; save it as such first") from None
    made = catalogue(library).named(name)
    assert made is not None
    return made


def _quoted(text: str) -> str:
    """A text as TOML writes it; its basic strings escape as JSON's do."""
    return json.dumps(text, ensure_ascii=False)
