"""The library: a folder of chart files, and where its index lives.

Conventions: every ``.txt`` file below the folder is one chart, hidden files and folders left out; paths are relative
to the folder, with forward slashes. Links that lead out of the folder are not followed. What cannot be read is a fault
with a path, never passed over in silence. Nothing is written into the folder but ``.samechanges/`` and what a user asks
for.
"""

from __future__ import annotations

import hashlib
import os
import stat
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from shared.errors import ChoiceError, Fault, SamechangesError, nearest

if TYPE_CHECKING:
    from shared.chart import Reading

HOME = ".samechanges"
#: The largest chart file, in bytes.
LARGEST = 1_000_000
#: The environment variable that names the library where no folder is given.
VARIABLE = "SAMECHANGES_LIBRARY"
_LINK = "this is a link that leads out of the library, and is not followed"


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
        return self.listing()[0]

    def listing(self) -> tuple[list[str], dict[str, Fault]]:
        """The charts' paths, sorted, and a fault for each path that cannot be looked into.

        Raises:
            LibraryError: If the folder is missing or cannot be read.
        """
        try:
            if not self.root.is_dir():
                found = "is not a folder" if self.root.exists() else "does not exist"
                raise LibraryError(f"the library folder {self.root} {found}")
            with os.scandir(self.root):
                pass
        except OSError as error:
            raise LibraryError(f"the library folder {self.root} cannot be read: {error.strerror}") from error
        paths: list[str] = []
        missed: dict[str, Fault] = {}

        def miss(error: OSError) -> None:
            missed[self._shown(error.filename)] = Fault(f"the folder cannot be read: {error.strerror}")

        for folder, inner, names in os.walk(self.root, onerror=miss):
            plain = f"{self._shown(folder)}/" if folder != str(self.root) else ""
            sure = _encodable(folder)
            inner[:] = [name for name in inner if not name.startswith(".")]
            for name in inner:
                whole = os.path.join(folder, name)
                if os.path.islink(whole) and not self._holds(whole):
                    missed[self._shown(whole)] = Fault(_LINK, expected="charts inside the library folder")
            for name in names:
                if name.casefold().endswith(".txt") and not name.startswith("."):
                    if sure and _encodable(name):
                        paths.append(f"{plain}{name}")
                    else:
                        missed[self._shown(os.path.join(folder, name))] = Fault(
                            "the name of the file or its folder is not UTF-8", expected="another name"
                        )
        return sorted(paths), missed

    def _shown(self, whole: str) -> str:
        """The path relative to the library, bytes of it that are no text spelled out."""
        path = Path(whole).relative_to(self.root).as_posix()
        return path.encode("utf-8", "backslashreplace").decode("utf-8")

    def _holds(self, whole: str) -> bool:
        """Whether a path, all links followed, lies inside the library."""
        return Path(os.path.realpath(whole)).is_relative_to(os.path.realpath(self.root))

    def read_bytes(self, path: str) -> bytes:
        """The bytes of a chart, at most one more than the largest size allowed.

        Raises:
            OSError: If the file cannot be read.
            LibraryError: If the path leads out of the library, or to something that is no file.
        """
        whole = os.path.join(self.root, path)
        if not self._plainly_holds(path) and not self._holds(whole):
            raise LibraryError(_LINK if os.path.islink(whole) else f"“{path}” lies outside the library")
        if not stat.S_ISREG(os.stat(whole).st_mode):
            raise LibraryError("this is not a regular file")
        with open(whole, "rb") as file:
            return file.read(LARGEST + 1)

    def _plainly_holds(self, path: str) -> bool:
        """Whether a path goes down from the library without any link, which is sooner seen than where links lead."""
        parts = path.split("/")
        if os.sep != "/" or {"", ".", ".."}.intersection(parts):
            return False
        whole = str(self.root)
        for part in parts:
            whole = f"{whole}/{part}"
            if os.path.islink(whole):
                return False
        return True

    def read(self, path: str) -> Reading:
        """Reads one chart; whatever is wrong with the file is a fault of the reading."""
        # Only when something is to be read; a search starts faster without it.
        from corpus.chart_files import read_bytes
        from shared.chart import Reading

        content = self.content(path)
        return Reading(None, (content,)) if isinstance(content, Fault) else read_bytes(content)

    def contents(self, paths: Iterable[str]) -> Iterator[bytes | Fault]:
        """What ``content`` gives of each path; folders are looked at once, and files opened without ceremony."""
        plain: dict[str, bool] = {}
        for path in paths:
            folder = path.rpartition("/")[0]
            if folder not in plain:
                plain[folder] = not folder or self._plainly_holds(folder)
            content = _small_file(f"{self.root}/{path}") if plain[folder] else None
            yield self.content(path) if content is None else content

    def content(self, path: str) -> bytes | Fault:
        """The bytes of a chart (see ``corpus.chart_files``), or why there are none."""
        try:
            return self.read_bytes(path)
        except OSError as error:
            return Fault(f"the file cannot be read: {error.strerror}")
        except LibraryError as error:
            return Fault(str(error), expected="a chart file inside the library folder")


def _small_file(whole: str) -> bytes | None:
    """What is in a plain file of a size that is allowed; None where more has to be seen."""
    try:
        found = os.lstat(whole)
        if os.sep != "/" or not stat.S_ISREG(found.st_mode) or found.st_size > LARGEST:
            return None
        file = os.open(whole, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC)
        try:
            content = os.read(file, found.st_size + 1)
        finally:
            os.close(file)
    except OSError:
        # Whoever looks again says why.
        return None
    return content if len(content) == found.st_size else None


def _encodable(name: str) -> bool:
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def demo_library() -> Library:
    """The demo library that travels inside the installation."""
    return Library(Path(str(files("corpus"))) / "demo", demo=True)


def chosen_library(folder: str | None = None) -> Library:
    """The library that is meant: the folder given, else the one named by SAMECHANGES_LIBRARY, else the demo library.

    Raises:
        LibraryError: If the folder's name is not UTF-8.
    """
    named = folder or os.environ.get(VARIABLE)
    if named and not _encodable(named):
        raise LibraryError(f"the library folder {named!a} has a name that is not UTF-8")
    return Library(Path(os.path.expanduser(named))) if named else demo_library()


def chosen_chart(name: str, charts: list[tuple[str, str]]) -> str:
    """The path of the chart that a name stands for: a path, a stem or a title, case ignored.

    Args:
        name: What the user typed.
        charts: Paths and titles of the charts there are.

    Raises:
        ChoiceError: If it stands for none, or for several; the nearest, or all of them, are offered.
    """
    wanted = _folded(name.strip().replace("\\", "/")).removeprefix("./")
    for part in (
        lambda path, title: path,
        lambda path, title: path.removesuffix(".txt"),
        lambda path, title: PurePosixPath(path).name,
        lambda path, title: PurePosixPath(path).stem,
        lambda path, title: title,
    ):
        found = [path for path, title in charts if part(_folded(path), _folded(title)) == wanted]
        if len(found) == 1:
            return found[0]
        if found:
            raise ChoiceError(f"“{name}” could be any of {len(found)} charts", found)
    known = [name for path, title in charts for name in (title, PurePosixPath(path).stem)]
    holding = [title for _, title in charts if wanted and wanted in _folded(title)]
    raise ChoiceError(f"there is no chart “{name}” in the library", nearest(name, known) or holding[:3])


def _folded(name: str) -> str:
    """A name as names are compared: case ignored, letters with signs in their one form."""
    return unicodedata.normalize("NFC", name).casefold()
