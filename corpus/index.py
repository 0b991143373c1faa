"""Makes the index of a library: reads what changed, keeps the rest, and swaps the new index in whole.

Conventions: the new index is written beside the old one under a lock, checkpointed, closed, synced and renamed, so that
a reader never sees half of one and a crash at any moment leaves the old one. Processes that read go through
``corpus.reading``.
"""

from __future__ import annotations

import gc
import os
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from corpus.gathering import Gathered, HelperError, Progress, ToRead, gathering, gathering_charts
from corpus.library import Library
from corpus.rows import slot_columns
from corpus.schema import SCHEMA_VERSION, damaged
from shared.chart import Chart
from shared.errors import Fault, SamechangesError

if TYPE_CHECKING:
    import duckdb

    from corpus.arrow_columns import Columns

#: So many charts are written at once: few enough that others are worked out meanwhile, where a process helps, and so
#: many that what each statement costs is little beside.
_AT_ONCE = 20_000


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
    from filelock import FileLock

    started = time.monotonic()
    listing = library.listing()
    place = library.index_path
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with FileLock(place.with_suffix(".lock")):
            try:
                report = _update(library, place, listing, progress)
            except _database_errors() as error:
                if not (damaged(error) and place.exists()):
                    raise
                # An index that is torn somewhere inside shows it only when it is copied from: it is made anew.
                report = _update(library, place, listing, progress, afresh=True)
    except HelperError as error:
        raise IndexingError(f"the index {place} is as it was: {error}") from error
    except OSError as error:
        raise IndexingError(f"the index {place} cannot be written: {error.strerror or error}") from error
    except _database_errors() as error:
        raise IndexingError(f"the index {place} cannot be written: {error}") from error
    return Report(*report, time.monotonic() - started)


def _update(
    library: Library,
    place: Path,
    listing: tuple[list[str], dict[str, Fault]],
    progress: Progress | None,
    afresh: bool = False,
) -> tuple[int, int, int, int, tuple[PlacedFault, ...], tuple[PlacedFault, ...]]:
    new = place.with_name(f"{place.name}.new")
    paths, missed = listing
    with _no_collecting(), ExitStack() as opened:
        known: dict[str, str] = {}
        if place.exists() and not afresh:
            connection = opened.enter_context(new_index(new))
            known = _known(connection, place)
        wanted = [ToRead(path, known.get(path), missed.get(path)) for path in (*missed, *paths)]
        with gathering(library, wanted, progress) as work:
            # Where nothing is known helpers begin before DuckDB is loaded, which takes a while.
            if afresh or not place.exists():
                connection = opened.enter_context(new_index(new))
            lay_out(connection)
            gathered = work.all_done()
        seen = {file.path for file in wanted}
        read = [path for batch in gathered for path in batch.read]
        gone = [path for path in known if path not in seen]
        kept = bool(known) and not read and not gone
        if not kept:
            _fill(connection, gathered, seen.difference(read) if known else set())
        faults, remarks = (_faults(connection, "old." if kept else "", each) for each in ("fault", "remark"))
        ((charts,),) = connection.execute(f"SELECT count(*) FROM {'old.' if kept else ''}charts").fetchall()
    if kept:
        new.unlink()
    else:
        _swap(new, place)
    return charts, len(read), len(wanted) - len(read), len(gone), faults, remarks


def write_index(place: Path, charts: Iterable[tuple[str, Chart]]) -> None:
    """Makes an index of charts that are not in files, in the place of one that may be there.

    Args:
        place: Where to.
        charts: Paths and charts.
    """
    new = place.with_name(f"{place.name}.new")
    # A process is copied before it has a connection.
    with _no_collecting(), gathering_charts(list(charts)) as gathered, new_index(new) as connection:
        lay_out(connection)
        _fill(connection, gathered, set())
    _swap(new, place)


def _database_errors() -> type[duckdb.Error]:
    """What DuckDB raises; asked for only where something was raised, so that nothing waits for DuckDB to load."""
    import duckdb

    return duckdb.Error


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Puts off the collection of cycles, which would go through all that is held, again and again, and find nothing."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


@contextmanager
def new_index(new: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A new index, empty as yet; whole and closed behind the context."""
    import duckdb

    new.unlink(missing_ok=True)
    new.with_name(f"{new.name}.wal").unlink(missing_ok=True)
    # The newest format there is; the one that every DuckDB reads knows no zstd.
    connection = duckdb.connect(str(new), config={"storage_compatibility_version": "latest"})
    try:
        # All is written by one transaction that ends with a checkpoint, so that nothing is logged first.
        connection.execute("SET wal_autocheckpoint = '1KB'")
        yield connection
        connection.commit()
        connection.execute("DETACH DATABASE IF EXISTS old")
        connection.execute("CHECKPOINT")
    finally:
        connection.close()


def lay_out(connection: duckdb.DuckDBPyConnection) -> None:
    """The tables, empty but for what is the same in every index; a transaction is begun for all that follows."""
    connection.begin()
    connection.execute(files("corpus").joinpath("schema.sql").read_text(encoding="utf-8"))
    connection.execute("INSERT INTO about VALUES (?, ?)", [SCHEMA_VERSION, datetime.now(UTC)])
    write_tables(connection, {"slots": [slot_columns()]})
    connection.commit()
    connection.begin()


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


def _fill(connection: duckdb.DuckDBPyConnection, gathered: Iterable[Gathered], unchanged: set[str]) -> None:
    """Copies what has not changed from the old index and adds what was read."""
    from corpus.arrow_columns import arrow_table, text_column
    from corpus.gram_counting import add_grams, gram_rows

    first = 0
    if unchanged:
        connection.register("kept", arrow_table({"path": text_column(sorted(unchanged))}))
        connection.execute("INSERT INTO unread SELECT * FROM old.unread WHERE path IN (SELECT path FROM kept)")
        connection.execute("INSERT INTO faults SELECT * FROM old.faults WHERE path IN (SELECT path FROM kept)")
        connection.execute(
            "INSERT INTO charts BY NAME SELECT * EXCLUDE (tonic, tonic_bars) FROM old.charts "
            "WHERE path IN (SELECT path FROM kept)"
        )
        connection.execute(
            "INSERT INTO other_headers SELECT * FROM old.other_headers WHERE chart IN (SELECT id FROM charts)"
        )
        connection.unregister("kept")
        ((first,),) = connection.execute("SELECT coalesce(max(id) + 1, 0) FROM charts").fetchall()
    tables: dict[str, list[Columns]] = {}
    tallies = []
    number = written = first
    for batch in gathered:
        rows = batch.rows.numbered_from(number)
        for name, columns in rows.tables.items():
            tables.setdefault(name, []).append(columns)
        tallies.append(rows.tallies)
        number += rows.charts
        if number - written >= _AT_ONCE:
            write_tables(connection, tables)
            tables, written = {}, number
    if unchanged:
        write_tables(connection, tables)
        add_grams(connection, gram_rows(tallies), first, "old")
        return
    # The charts are written out by one thread; meanwhile others put the sequences in order and add them.
    with ThreadPoolExecutor(1) as aside, connection.cursor() as beside:
        grams = aside.submit(gram_rows, tallies)
        write_tables(connection, tables)
        # A transaction begins when it first asks for something; while another one ends it would have to wait.
        beside.begin()
        beside.execute("SELECT schema_version FROM about").fetchall()
        added = aside.submit(lambda: add_grams(beside, grams.result()))
        connection.commit()
        added.result()
        beside.commit()
    connection.begin()


def write_tables(connection: duckdb.DuckDBPyConnection, tables: Mapping[str, Sequence[Columns]]) -> None:
    """Adds rows, as columns part by part, to tables of an open index, by their names."""
    import pyarrow as pa

    from corpus.arrow_columns import arrow_table

    # Rows that several threads take in are put together once more behind them.
    connection.execute("SET threads = 1")
    for name, parts in tables.items():
        rows = pa.concat_tables([arrow_table(columns) for columns in parts]).combine_chunks()
        connection.register("rows", rows)
        connection.execute(f"INSERT INTO {name} BY NAME SELECT * FROM rows")
        connection.unregister("rows")
    connection.execute("RESET threads")


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
