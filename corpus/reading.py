"""Opens the index of a library for reading, and notices when a new one has been swapped in.

Every open index lives in a memory instance of its own with the file attached read-only: DuckDB shares one instance for
each file within a process, and a new connection to a file that was replaced could answer from the old one. What DuckDB
holds in memory is bounded by the size of the file; it spills what is more, until a question needs more at once.
"""

from __future__ import annotations

import os
import tempfile
import threading
from collections.abc import Callable, Sequence
from typing import Any, TypeVar, cast

import duckdb

from corpus.library import Library
from corpus.schema import SCHEMA_VERSION, damaged
from shared.errors import SamechangesError

#: How much of an index's size DuckDB may hold in memory, and what it may hold in any case, in bytes.
_HELD, _ALWAYS_HELD = 0.7, 128 << 20


class UnreadableIndex(SamechangesError):
    """The index cannot be read."""


_T = TypeVar("_T")


class _Kept:
    """What was found out about one index and is kept for as long as it is open."""

    def __init__(self) -> None:
        self._guard = threading.RLock()
        self._known: dict[str, object] = {}

    def once(self, name: str, find_out: Callable[[], _T]) -> _T:
        with self._guard:
            if name not in self._known:
                self._known[name] = find_out()
            return cast("_T", self._known[name])


class Snapshot:
    """One index, for as long as a question lasts."""

    def __init__(self, cursor: duckdb.DuckDBPyConnection, place: str, kept: _Kept) -> None:
        self._cursor = cursor
        self._place = place
        self._kept = kept

    def once(self, name: str, find_out: Callable[[], _T]) -> _T:
        """What is the same for every question asked of this index: found out when it is first asked for, then kept.

        Args:
            name: What it is known by.
            find_out: Finds it out.
        """
        return self._kept.once(name, find_out)

    @property
    def charts(self) -> int:
        """How many charts the index holds."""
        return self.once("charts", lambda: int(self.rows("SELECT count(*) FROM charts")[0][0]))

    def beside(self) -> Snapshot:
        """The same index for another thread; temporary tables are not shared."""
        cursor = self._cursor.cursor()
        cursor.execute("USE library")
        return Snapshot(cursor, self._place, self._kept)

    def rows(self, sql: str, parameters: Sequence[Any] | None = None) -> list[tuple[Any, ...]]:
        """The rows that a statement gives.

        Raises:
            UnreadableIndex: If the index is damaged.
        """
        return self._asked(lambda: self._cursor.execute(sql, parameters).fetchall())

    def arrays(self, sql: str, parameters: Sequence[Any] | None = None) -> dict[str, Any]:
        """The columns that a statement gives, by name, as numpy arrays; meant for many rows of numbers.

        Raises:
            UnreadableIndex: If the index is damaged.
        """
        return self._asked(lambda: self._cursor.execute(sql, parameters).fetchnumpy())

    def give_room(self) -> None:
        """Lets DuckDB hold as much in memory as it likes, for as long as the index is open; what is more is spilled."""
        self._let_spill()
        self._set("memory", "RESET GLOBAL memory_limit")

    def _let_spill(self) -> None:
        """Lets DuckDB spill what its memory does not hold into a folder beside other temporary files."""
        place = os.path.join(tempfile.gettempdir(), f"samechanges-{os.getpid()}").replace("'", "''")
        self._set("spilling", f"SET GLOBAL temp_directory = '{place}'")

    def _set(self, name: str, sql: str) -> None:
        """Changes a setting, once for as long as the index is open."""
        self.once(name, lambda: bool(self._cursor.execute(sql)))

    def _asked(self, ask: Callable[[], _T]) -> _T:
        # Spilling takes hardly more time, where it is enough.
        for help_out in (self._let_spill, self.give_room):
            try:
                return self._told(ask)
            except duckdb.OutOfMemoryException:
                help_out()
        return self._told(ask)

    def _told(self, ask: Callable[[], _T]) -> _T:
        try:
            return ask()
        except duckdb.OutOfMemoryException:
            raise
        except duckdb.Error as error:
            if not damaged(error):
                raise
            message = f"the index {self._place} is damaged; delete it, and it is made again: {error}"
            raise UnreadableIndex(message) from error


class OpenIndex:
    """An index that questions can be asked of.

    Use it as a context manager, or call ``close``. One instance may be shared between threads: each question runs on a
    cursor of its own.
    """

    def __init__(self, library: Library) -> None:
        """Opens the index of ``library``.

        Raises:
            SamechangesError: If there is none that this version can read (``make_index`` makes one).
        """
        self.library = library
        self._guard = threading.Lock()
        self._attached: duckdb.DuckDBPyConnection | None = None
        self._kept = _Kept()
        self._seen: tuple[int, int, int] | None = None
        with self._guard:
            self._attach()

    def __enter__(self) -> OpenIndex:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Lets go of the file."""
        with self._guard:
            if self._attached is not None:
                self._attached.close()
            self._attached = None

    def _stamp(self) -> tuple[int, int, int]:
        found = self.library.index_path.stat()
        return found.st_ino, found.st_mtime_ns, found.st_size

    def _attach(self) -> duckdb.DuckDBPyConnection:
        """The connection to the index as it is now on disk; to be called under the guard."""
        try:
            stamp = self._stamp()
            if self._attached is not None and stamp == self._seen:
                return self._attached
            fresh = duckdb.connect(":memory:")
            fresh.execute(f"SET memory_limit = '{max(_ALWAYS_HELD, int(stamp[2] * _HELD))}B'")
            # Nothing is spilled so far: by itself DuckDB would use a folder in the current one.
            fresh.execute("SET temp_directory = ''")
            place = str(self.library.index_path).replace("'", "''")
            fresh.execute(f"ATTACH '{place}' AS library (READ_ONLY)")
            version = fresh.execute("SELECT schema_version FROM library.about").fetchall()
        except (OSError, duckdb.Error) as error:
            raise UnreadableIndex(f"the index {self.library.index_path} cannot be read: {error}") from error
        if version != [(SCHEMA_VERSION,)]:
            raise UnreadableIndex(f"the index {self.library.index_path} was made by another version")
        # The old connection is let go, not closed: closing it would cut off the questions that still hold it.
        self._attached, self._seen, self._kept = fresh, stamp, _Kept()
        return fresh

    @property
    def stamp(self) -> tuple[int, int, int] | None:
        """What tells this index from the one that follows it."""
        with self._guard:
            self._attach()
            return self._seen

    def snapshot(self) -> Snapshot:
        """The newest index, held fast: all that is asked of it is answered from one, even if it is replaced meanwhile.

        Raises:
            UnreadableIndex: If the index is gone, damaged or of another version.
        """
        with self._guard:
            cursor, kept = self._attach().cursor(), self._kept
        cursor.execute("USE library")
        return Snapshot(cursor, str(self.library.index_path), kept)

    def rows(self, sql: str, parameters: Sequence[Any] | None = None) -> list[tuple[Any, ...]]:
        """The rows that one statement gives, asked of the newest index.

        Raises:
            UnreadableIndex: If the index is gone, damaged or of another version.
        """
        return self.snapshot().rows(sql, parameters)

    def known_charts(self) -> list[tuple[str, str]]:
        """Path and title of every chart."""
        return [(path, title) for path, title in self.rows("SELECT path, title FROM charts ORDER BY path")]

    def faulty_charts(self) -> list[str]:
        """The paths of the files that are left out because of faults."""
        return [path for (path,) in self.rows("SELECT path FROM files WHERE chart IS NULL ORDER BY path")]


def open_index(library: Library) -> OpenIndex:
    """Opens the index of a library, making it first where there is none or an old one.

    Raises:
        LibraryError: If the folder cannot be read.
        IndexingError: If the index has to be made and cannot be written.
    """
    try:
        return OpenIndex(library)
    except UnreadableIndex:
        # Most commands find an index and start faster without all that makes one.
        from corpus.index import make_index

        make_index(library)
        return OpenIndex(library)
