"""Opens the index of a library for reading, and notices when a new one has been swapped in.

Every open index lives in a memory instance of its own with the file attached read-only: DuckDB shares one instance for
each file within a process, and a new connection to a file that was replaced could answer from the old one.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from typing import Any

import duckdb

from corpus.library import Library
from corpus.schema import SCHEMA_VERSION, damaged
from shared.errors import SamechangesError


class UnreadableIndex(SamechangesError):
    """The index cannot be read."""


class Snapshot:
    """One index, for as long as a question lasts."""

    def __init__(self, cursor: duckdb.DuckDBPyConnection, place: str) -> None:
        self._cursor = cursor
        self._place = place

    def beside(self) -> Snapshot:
        """The same index for another thread; temporary tables are not shared."""
        cursor = self._cursor.cursor()
        cursor.execute("USE library")
        return Snapshot(cursor, self._place)

    def rows(self, sql: str, parameters: Sequence[Any] | None = None) -> list[tuple[Any, ...]]:
        """The rows that a statement gives.

        Raises:
            UnreadableIndex: If the index is damaged.
        """
        try:
            return self._cursor.execute(sql, parameters).fetchall()
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
            place = str(self.library.index_path).replace("'", "''")
            fresh.execute(f"ATTACH '{place}' AS library (READ_ONLY)")
            version = fresh.execute("SELECT schema_version FROM library.about").fetchall()
        except (OSError, duckdb.Error) as error:
            raise UnreadableIndex(f"the index {self.library.index_path} cannot be read: {error}") from error
        if version != [(SCHEMA_VERSION,)]:
            raise UnreadableIndex(f"the index {self.library.index_path} was made by another version")
        # The old connection is let go, not closed: closing it would cut off the questions that still hold it.
        self._attached, self._seen = fresh, stamp
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
            cursor = self._attach().cursor()
        cursor.execute("USE library")
        return Snapshot(cursor, str(self.library.index_path))

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
