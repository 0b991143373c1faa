"""Writes a pasted chart into the library: never outside it, never over another without being told to.

Conventions: a name is relative to the library, with forward slashes, and ends in ``.txt``; hidden files and folders are
no charts, so they are no names either.
"""

from __future__ import annotations

import os
import re
from pathlib import Path, PurePosixPath

from corpus.library import Library
from shared.errors import SamechangesError

SUFFIX = ".txt"
_LONGEST = 120
_NOT_IN_NAMES = re.compile(r'[\x00-\x1f\x7f<>:"|?*\\]')
#: Names that some systems keep for devices, whatever follows the dot.
_DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


class SavingError(SamechangesError):
    """A chart cannot be saved under the name given."""


class AlreadyThere(SavingError):
    """A chart of that name is in the library."""


def suggested_name(title: str) -> str:
    """A file name for a title.

    >>> suggested_name("What's Left? (slow)"), suggested_name("  ")
    ('whats-left-slow.txt', 'untitled.txt')
    """
    words = re.findall(r"\w+", title.casefold().replace("'", "").replace("’", ""))
    stem = "-".join(words)[: _LONGEST - len(SUFFIX)].strip("-")
    return f"{stem or 'untitled'}{SUFFIX}"


def checked_name(name: str) -> str:
    """The path that a typed name stands for, relative to the library.

    Raises:
        SavingError: If it is no name for a chart.

    >>> checked_name(" hymns/Old Hundredth ")
    'hymns/Old Hundredth.txt'
    """
    typed = name.strip()
    if not typed:
        raise SavingError("the chart needs a file name, such as my-tune.txt")
    if found := _NOT_IN_NAMES.search(typed):
        sign = found.group()
        shown = sign if sign.isprintable() else repr(sign)[1:-1]
        raise SavingError(
            f"“{shown}” cannot stand in a file name; letters, digits, spaces, - and _ can, / for a folder"
        )
    path = PurePosixPath(typed if typed.casefold().endswith(SUFFIX) else typed + SUFFIX)
    if path.is_absolute() or ".." in path.parts:
        raise SavingError(f"“{typed}” leads out of the library; give a name inside it, such as {path.name.lstrip('.')}")
    for part in path.parts:
        if part.startswith(".") or part != part.strip() or part.endswith("."):
            raise SavingError(f"“{part}” cannot be the name of a chart or folder: no dot or space at its start or end")
        if _DEVICES.fullmatch(part):
            raise SavingError(f"“{part}” is a name that some systems keep for themselves; choose another")
        if len(part) > _LONGEST:
            raise SavingError(f"“{part[:20]}…” is too long a name: {len(part)} letters, and {_LONGEST} are the most")
    if not path.stem or path.suffix != SUFFIX:
        path = path.with_suffix(SUFFIX)
    return path.as_posix()


def refusal(library: Library) -> str:
    """Why nothing can be saved into a library; empty where it can."""
    if library.demo:
        return (
            "The demo library is only there to be read. To keep charts of your own, name a folder for them: "
            "--library FOLDER"
        )
    if not os.access(library.root, os.W_OK):
        return f"Nothing can be saved into {library.root}: the folder can only be read."
    return ""


def save_chart(library: Library, name: str, text: str, replace: bool = False) -> str:
    """Writes a chart into the library.

    Args:
        library: The library.
        name: The name typed.
        text: The text of the chart.
        replace: Whether a chart of that name may be written over.

    Returns:
        Its path, relative to the library.

    Raises:
        AlreadyThere: If there is such a chart and it may not be written over.
        SavingError: If the name is none, leads out of the library, or the file cannot be written.
    """
    if reason := refusal(library):
        raise SavingError(reason)
    path = checked_name(name)
    whole = library.root / path
    if not whole.resolve().is_relative_to(library.root.resolve()):
        raise SavingError(f"“{path}” leads out of the library by a link")
    try:
        whole.parent.mkdir(parents=True, exist_ok=True)
        _write(whole, text if text.endswith("\n") else text + "\n", replace)
    except FileExistsError:
        raise AlreadyThere(f"there is a chart {path} in the library already") from None
    except OSError as error:
        raise SavingError(f"{path} cannot be written: {error.strerror or error}") from None
    return path


def _write(whole: Path, text: str, replace: bool) -> None:
    """Writes a file whole or not at all: beside its place first, under a hidden name."""
    beside = whole.with_name(f".{whole.name}.{os.getpid()}.new")
    try:
        with beside.open("x", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if not replace and whole.exists():
            raise FileExistsError(whole)
        os.replace(beside, whole)
    finally:
        beside.unlink(missing_ok=True)
