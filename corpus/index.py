"""Makes the index of a library: reads what changed, keeps the rest, and swaps the new index in whole.

Conventions: the new index is written beside the old one under a lock, checkpointed, closed, synced and renamed, so that
a reader never sees half of one and a crash at any moment leaves the old one. Processes that read go through
``corpus.reading``.
"""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from corpus.library import Library, read_bytes
from corpus.rows import ChartRows, rows_of, slot_table
from shared.chart import Reading
from shared.errors import Fault, SamechangesError

if TYPE_CHECKING:
    import duckdb

SCHEMA_VERSION = 2

Progress = Callable[[int, int], None]


class IndexingError(SamechangesError):
    """The index cannot be written."""


@dataclass(frozen=True, slots=True)
class PlacedFault:
    """A fault or remark and the file it is in."""

    path: str
    fault: Fault


@dataclass(frozen=True, slots=True)
class Report:
    """What indexing did.

    Attributes:
        charts: Charts in the index.
        read: Files read this time, faulty ones among them, and those that could not be opened for a new reason.
        unchanged: Files whose content had not changed.
        removed: Charts whose files are gone.
        faults: What is wrong with charts of the library, those read earlier among them.
        remarks: What is worth saying about charts of the library.
        seconds: How long it took.
    """

    charts: int
    read: int
    unchanged: int
    removed: int
    faults: tuple[PlacedFault, ...]
    remarks: tuple[PlacedFault, ...]
    seconds: float


def make_index(library: Library, progress: Progress | None = None) -> Report:
    """Brings the index of a library up to date.

    Args:
        library: The library.
        progress: Told how many of how many files are done.

    Raises:
        LibraryError: If the folder cannot be read.
        IndexingError: If the index cannot be written.
    """
    import duckdb
    from filelock import FileLock

    started = time.monotonic()
    listing = library.listing()
    place = library.index_path
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with FileLock(place.with_suffix(".lock")):
            try:
                report = _update(library, place, listing, progress)
            except duckdb.Error as error:
                if not (damaged(error) and place.exists()):
                    raise
                # An index that is torn somewhere inside shows it only when it is copied from: it is made anew.
                report = _update(library, place, listing, progress, afresh=True)
    except OSError as error:
        raise IndexingError(f"the index {place} cannot be written: {error.strerror or error}") from error
    except duckdb.Error as error:
        raise IndexingError(f"the index {place} cannot be written: {error}") from error
    return Report(*report, time.monotonic() - started)


def damaged(error: duckdb.Error) -> bool:
    """Whether an error says that a file is damaged inside; DuckDB has no class of its own for a wrong checksum."""
    import duckdb

    kinds = (duckdb.IOException, duckdb.InternalException, duckdb.FatalException, duckdb.SerializationException)
    return isinstance(error, kinds) or type(error) is duckdb.Error


def _update(
    library: Library,
    place: Path,
    listing: tuple[list[str], dict[str, Fault]],
    progress: Progress | None,
    afresh: bool = False,
) -> tuple[int, int, int, int, tuple[PlacedFault, ...], tuple[PlacedFault, ...]]:
    import duckdb

    new = place.with_name(f"{place.name}.new")
    new.unlink(missing_ok=True)
    new.with_name(f"{new.name}.wal").unlink(missing_ok=True)
    connection = duckdb.connect(str(new))
    try:
        _lay_out(connection)
        known = {} if afresh else _known(connection, place)
        hashes, changed = _changed(library, listing, known, progress)
        gone = [path for path in known if path not in hashes]
        readings = {path: reading for path, reading in changed.items() if reading is not None}
        kept = bool(known) and not readings and not gone
        if not kept:
            _fill(connection, hashes, readings, bool(known))
        faults, remarks = (_faults(connection, "old." if kept else "", each) for each in ("fault", "remark"))
        ((charts,),) = connection.execute(f"SELECT count(*) FROM {'old.' if kept else ''}charts").fetchall()
        connection.execute("DETACH DATABASE IF EXISTS old")
        connection.execute("CHECKPOINT")
    finally:
        connection.close()
    if kept:
        new.unlink()
    else:
        _swap(new, place)
    return charts, len(readings), len(hashes) - len(readings), len(gone), faults, remarks


def _lay_out(connection: duckdb.DuckDBPyConnection) -> None:
    """The tables, empty but for what is the same in every index."""
    connection.execute(files("corpus").joinpath("schema.sql").read_text(encoding="utf-8"))
    connection.execute("INSERT INTO about VALUES (?, ?)", [SCHEMA_VERSION, datetime.now(UTC)])
    connection.register("made", slot_table())
    connection.execute("INSERT INTO slots SELECT * FROM made")
    connection.unregister("made")


def _known(connection: duckdb.DuckDBPyConnection, place: Path) -> dict[str, str]:
    """Attaches the old index as ``old``; the hashes it knows, none where it is unusable."""
    import duckdb

    if not place.exists():
        return {}
    try:
        connection.execute(f"ATTACH '{str(place).replace(chr(39), chr(39) * 2)}' AS old (READ_ONLY)")
        if connection.execute("SELECT schema_version FROM old.about").fetchall() == [(SCHEMA_VERSION,)]:
            return dict(connection.execute("SELECT path, hash FROM old.files").fetchall())
    except duckdb.Error:
        # An index that cannot be opened (torn, or made by another version) is disposable: it is made anew.
        pass
    connection.execute("DETACH DATABASE IF EXISTS old")
    return {}


def _changed(
    library: Library,
    listing: tuple[list[str], dict[str, Fault]],
    known: dict[str, str],
    progress: Progress | None,
) -> tuple[dict[str, str], dict[str, Reading | None]]:
    """The hash of every file, and for each a reading, or None where it has not changed.

    What cannot be opened goes by the reason instead of a hash: it is told again only when that changes.
    """
    paths, missed = listing
    hashes: dict[str, str] = {}
    readings: dict[str, Reading | None] = {}
    for done, path in enumerate([*missed, *paths]):
        content = missed[path] if path in missed else library.content(path)
        if isinstance(content, Fault):
            hashes[path] = f"unread: {content.message}"
        else:
            hashes[path] = hashlib.sha256(content).hexdigest()
        if known.get(path) == hashes[path]:
            readings[path] = None
        else:
            readings[path] = Reading(None, (content,)) if isinstance(content, Fault) else read_bytes(content)
        if progress is not None:
            progress(done + 1, len(missed) + len(paths))
    return hashes, readings


def _fill(
    connection: duckdb.DuckDBPyConnection, hashes: dict[str, str], readings: dict[str, Reading], again: bool
) -> None:
    """Copies what has not changed from the old index and adds what was read."""
    import pyarrow as pa

    first = 0
    if again:
        kept = pa.table({"path": pa.array([path for path in hashes if path not in readings], pa.string())})
        connection.register("kept", kept)
        connection.execute("INSERT INTO files SELECT * FROM old.files WHERE path IN (SELECT path FROM kept)")
        connection.execute("INSERT INTO faults SELECT * FROM old.faults WHERE path IN (SELECT path FROM kept)")
        connection.execute("INSERT INTO charts SELECT * FROM old.charts WHERE path IN (SELECT path FROM kept)")
        for table in ("headers", "sections"):
            connection.execute(f"INSERT INTO {table} SELECT * FROM old.{table} WHERE chart IN (SELECT id FROM charts)")
        connection.unregister("kept")
        ((first,),) = connection.execute("SELECT coalesce(max(id) + 1, 0) FROM charts").fetchall()
    rows = rows_of(readings, hashes, first)
    write_rows(connection, rows)


def write_rows(connection: duckdb.DuckDBPyConnection, rows: ChartRows) -> None:
    """Adds rows to the tables of an open index."""
    for name, table in rows.tables().items():
        connection.register("rows", table)
        connection.execute(f"INSERT INTO {name} BY NAME SELECT * FROM rows")
        connection.unregister("rows")


def _faults(connection: duckdb.DuckDBPyConnection, schema: str, severity: str) -> tuple[PlacedFault, ...]:
    found = connection.execute(
        f"SELECT path, message, line, col, length, text, expected, nearest FROM {schema}faults "
        "WHERE severity = ? ORDER BY path, line, col",
        [severity],
    ).fetchall()
    return tuple(PlacedFault(path, Fault(*fields)) for path, *fields in found)


def _swap(new: Path, place: Path) -> None:
    """Puts the new index in the place of the old one, whole."""
    with new.open("rb+") as file:
        os.fsync(file.fileno())
    os.replace(new, place)
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(place.parent, os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
