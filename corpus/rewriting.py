"""Changes a file of a library in place: whole or not at all, and never over what someone else has just written.

Conventions: the new content is written beside the file under a hidden name, synced, and put in its place only if the
file still holds what was read; else the change is made anew on the new content.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

from corpus.library import Library
from corpus.saving import SavingError, refusal

#: How often a change is made anew where the file keeps changing.
MOST_TRIES = 5


def rewrite(library: Library, path: str, change: Callable[[bytes], bytes]) -> bool:
    """Changes a file.

    Args:
        library: The library.
        path: The file, relative to it; one that is not there yet is empty, and is made.
        change: Gives the new content for the content that is there. It may be asked several times.

    Returns:
        Whether anything was changed.

    Raises:
        SavingError: If the library can only be read, the file cannot be read or written, or it never stays the same
            long enough.
        SamechangesError: Whatever ``change`` raises.
    """
    if reason := refusal(library):
        raise SavingError(reason)
    try:
        for _ in range(MOST_TRIES):
            before = _content(library, path)
            after = change(before or b"")
            if after == before:
                return False
            if _put(library, path, before, after):
                return True
    except OSError as error:
        raise SavingError(f"{path} cannot be written: {error.strerror or error}") from None
    raise SavingError(f"{path} keeps changing while it is written; nothing was written over it")


def _content(library: Library, path: str) -> bytes | None:
    try:
        return library.read_bytes(path)
    except FileNotFoundError:
        return None


def _put(library: Library, path: str, before: bytes | None, after: bytes) -> bool:
    """Puts the new content in the place of the old one, if that is still there; whether it was."""
    # A link is followed: what it leads to is changed, not replaced by a file.
    whole = Path(os.path.realpath(library.root / path))
    beside = whole.with_name(f".{whole.name}.{os.getpid()}.new")
    try:
        with beside.open("xb") as file:
            file.write(after)
            file.flush()
            os.fsync(file.fileno())
        if whole.exists():
            shutil.copymode(whole, beside)
        if _content(library, path) != before:
            return False
        os.replace(beside, whole)
        return True
    finally:
        beside.unlink(missing_ok=True)
