"""The library: a folder of chart files, and where its index lives.

Conventions: every ``.txt`` file below the folder is one chart, hidden files and folders left out; paths are relative
to the folder, with forward slashes. Nothing is written into the folder but ``.samechanges/`` and what a user asks for.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path, PurePosixPath

from grammar.charts import read_chart
from shared.chart import Reading
from shared.errors import ChoiceError, Fault, SamechangesError, nearest

HOME = ".samechanges"
LARGEST = 1_000_000
#: The environment variable that names the library where no folder is given.
VARIABLE = "SAMECHANGES_LIBRARY"


class LibraryError(SamechangesError):
    """The library folder cannot be read."""


@dataclass(frozen=True, slots=True)
class Library:
    """A folder of charts.

    Attributes:
        root: The folder.
        demo: Whether it is the demo library, whose index lives in the user's cache folder.
    """

    root: Path
    demo: bool = False

    @property
    def index_path(self) -> Path:
        """Where the index is: in the library where that can be written, else in the user's cache folder."""
        own = self.root / HOME
        if not self.demo and os.access(own if own.exists() else self.root, os.W_OK):
            return own / "index.duckdb"
        from platformdirs import user_cache_path

        name = hashlib.sha256(str(self.root.resolve()).encode()).hexdigest()[:16]
        return user_cache_path("samechanges") / name / "index.duckdb"

    def chart_paths(self) -> list[str]:
        """The charts' paths, sorted.

        Raises:
            LibraryError: If the folder is missing or cannot be read.
        """
        return sorted(self._walk())

    def _walk(self) -> Iterator[str]:
        def refuse(error: OSError) -> None:
            if error.filename is not None and Path(error.filename) == self.root:
                raise LibraryError(f"the library folder {self.root} cannot be read: {error.strerror}")

        if not self.root.is_dir():
            found = "is not a folder" if self.root.exists() else "does not exist"
            raise LibraryError(f"the library folder {self.root} {found}")
        for folder, inner, names in os.walk(self.root, onerror=refuse):
            inner[:] = [name for name in inner if not name.startswith(".")]
            base = Path(folder).relative_to(self.root)
            for name in names:
                if name.endswith(".txt") and not name.startswith("."):
                    yield (base / name).as_posix()

    def unreadable_folders(self) -> list[str]:
        """Folders inside the library that cannot be looked into, as relative paths."""
        missed: list[str] = []
        for _ in os.walk(self.root, onerror=lambda error: missed.append(str(error.filename))):
            pass
        return [Path(name).relative_to(self.root).as_posix() for name in missed]

    def read_bytes(self, path: str) -> bytes:
        """The bytes of a chart, at most one more than the largest size allowed.

        Raises:
            OSError: If the file cannot be read.
            LibraryError: If the path leads out of the library.
        """
        whole = (self.root / path).resolve()
        if not whole.is_relative_to(self.root.resolve()):
            raise LibraryError(f"“{path}” lies outside the library")
        with whole.open("rb") as file:
            return file.read(LARGEST + 1)

    def read(self, path: str) -> Reading:
        """Reads one chart; whatever is wrong with the file is a fault of the reading."""
        try:
            return read_bytes(self.read_bytes(path))
        except OSError as error:
            return Reading(None, (Fault(f"the file cannot be read: {error.strerror}"),))


def read_bytes(content: bytes) -> Reading:
    """Reads a chart from the bytes of a file; bytes that are no chart text are a fault."""
    if len(content) > LARGEST:
        fault = Fault(f"the file is larger than {LARGEST:,} bytes", expected="a chart, which is a few thousand")
        return Reading(None, (fault,))
    if b"\x00" in content:
        offset = content.index(b"\x00")
        line = content.count(b"\n", 0, offset) + 1
        return Reading(None, (Fault("the file holds binary data", line, expected="plain text in UTF-8"),))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start]
        line = before.count(b"\n") + 1
        start = before.rfind(b"\n") + 1
        column = len(before[start:].decode("utf-8", "replace")) + 1
        end = content.find(b"\n", error.start)
        shown = content[start : end if end >= 0 else len(content)].decode("utf-8", "replace").rstrip("\r")
        message = f"byte {content[error.start]:#04x} is not UTF-8"
        fault = Fault(message, line, column, 1, shown, "text saved as UTF-8")
        return Reading(None, (fault,))
    return read_chart(text)


def demo_library() -> Library:
    """The demo library that travels inside the installation."""
    return Library(Path(str(files("corpus"))) / "demo", demo=True)


def chosen_library(folder: str | None = None) -> Library:
    """The library that is meant: the folder given, else the one named by SAMECHANGES_LIBRARY, else the demo library."""
    named = folder or os.environ.get(VARIABLE)
    return Library(Path(named).expanduser()) if named else demo_library()


def chosen_chart(name: str, charts: list[tuple[str, str]]) -> str:
    """The path of the chart that a name stands for: a path, a stem or a title, case ignored.

    Args:
        name: What the user typed.
        charts: Paths and titles of the charts there are.

    Raises:
        ChoiceError: If it stands for none, or for several; the nearest, or all of them, are offered.
    """
    wanted = name.strip().replace("\\", "/").casefold().removeprefix("./")
    for part in (
        lambda path, title: path,
        lambda path, title: path.removesuffix(".txt"),
        lambda path, title: PurePosixPath(path).name,
        lambda path, title: PurePosixPath(path).stem,
        lambda path, title: title,
    ):
        found = [path for path, title in charts if part(path, title).casefold() == wanted]
        if len(found) == 1:
            return found[0]
        if found:
            raise ChoiceError(f"“{name}” could be any of {len(found)} charts", found)
    known = [name for path, title in charts for name in (title, PurePosixPath(path).stem)]
    raise ChoiceError(f"there is no chart “{name}” in the library", nearest(name, known))
