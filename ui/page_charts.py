"""The library behind the page: its index, kept up to date, and its charts, read when they are shown.

Conventions: what is kept from one run to the next is kept under the index's stamp or the chart file's, so that it is
never older than what is on disk. The index itself notices a new one that was swapped in.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import streamlit as st

from corpus.index import Report, make_index
from corpus.library import Library, chosen_chart, chosen_library
from corpus.reading import OpenIndex, UnreadableIndex
from corpus.tunes import PlayedChart, played
from shared.chart import Reading
from shared.errors import Fault

Stamp = tuple[int, int, int]
_MOST_CHOICES = 500


@dataclass(frozen=True, slots=True)
class OpenLibrary:
    """A library and its open index, as one run of the page sees them.

    Attributes:
        library: The library.
        index: Its index.
        stamp: What tells this index from the one that follows it.
    """

    library: Library
    index: OpenIndex
    stamp: Stamp

    @property
    def name(self) -> str:
        """What the library is called on the page."""
        return "Demo library" if self.library.demo else str(self.library.root)


@dataclass(frozen=True, slots=True)
class Choices:
    """What the library offers to be chosen from, each sorted.

    Attributes:
        keys: Home keys.
        modes: Modes of the home keys.
        styles: Styles.
        tags: Tags.
        metres: Metres.
        headers: Names of headers.
        charts: Path and title of every chart, by title.
    """

    keys: tuple[str, ...]
    modes: tuple[str, ...]
    styles: tuple[str, ...]
    tags: tuple[str, ...]
    metres: tuple[str, ...]
    headers: tuple[str, ...]
    charts: tuple[tuple[str, str], ...]


@st.cache_resource(show_spinner=False)
def _opened(root: str, demo: bool) -> OpenIndex:
    return OpenIndex(Library(Path(root), demo))


def open_library(say: Callable[[str], Any]) -> OpenLibrary:
    """The chosen library with its index, which is made first where there is none that can be read.

    Args:
        say: Told in a sentence when the index had to be made.

    Raises:
        LibraryError: If the folder cannot be read.
        IndexingError: If the index has to be made and cannot be written.
    """
    library = chosen_library()
    try:
        return _open(library)
    except UnreadableIndex:
        report = read_changes(library)
        say(f"There was no index of this library that could be read, so one was made: {said(report)}")
        return _open(library)


def _open(library: Library) -> OpenLibrary:
    index = _opened(str(library.root), library.demo)
    stamp = index.stamp
    assert stamp is not None
    return OpenLibrary(library, index, stamp)


def read_changes(library: Library) -> Report:
    """Brings the index up to date, showing how far it is.

    Raises:
        LibraryError: If the folder cannot be read.
        IndexingError: If the index cannot be written.
    """
    bar = st.progress(0.0, "Reading the charts")

    def progress(done: int, whole: int) -> None:
        if done == whole or done % 50 == 0:
            bar.progress(done / whole, f"Reading the charts: {done} of {whole}")

    try:
        return make_index(library, progress)
    finally:
        bar.empty()


def said(report: Report) -> str:
    """What indexing did, in a sentence."""
    faulty = len({fault.path for fault in report.faults})
    faults = f"; {several(faulty, 'chart')} with faults" if faulty else ""
    changes = f"{report.read} read, {report.unchanged} unchanged, {report.removed} removed"
    return f"{several(report.charts, 'tune')} ({changes}){faults}."


def several(count: int, thing: str) -> str:
    """A number of things: ``1 tune``, ``1,200 tunes``.

    >>> several(1200, "tune")
    '1,200 tunes'
    """
    return f"{count:,} {thing}{'' if count == 1 else 's'}"


@st.cache_resource(show_spinner=False, max_entries=8)
def _choices(_index: OpenIndex, root: str, stamp: Stamp) -> Choices:
    def column(sql: str) -> tuple[str, ...]:
        return tuple(str(row[0]) for row in _index.rows(sql) if row[0])

    tags: Counter[str] = Counter(row[0] for row in _index.rows("SELECT unnest(tags) FROM charts"))
    return Choices(
        keys=column("SELECT key FROM charts GROUP BY key ORDER BY lower(key)"),
        modes=column("SELECT mode FROM charts GROUP BY mode ORDER BY count(*) DESC"),
        styles=column("SELECT lower(style) FROM charts GROUP BY 1 ORDER BY 1"),
        tags=tuple(sorted((tag for tag, _ in tags.most_common(_MOST_CHOICES)), key=str.casefold)),
        metres=column("SELECT metre FROM charts GROUP BY metre ORDER BY count(*) DESC, metre"),
        headers=column(f"SELECT name FROM headers GROUP BY name ORDER BY count(*) DESC, name LIMIT {_MOST_CHOICES}"),
        charts=tuple(sorted(_index.known_charts(), key=lambda each: (each[1].casefold(), each[0]))),
    )


def choices(opened: OpenLibrary) -> Choices:
    """What the library offers to be chosen from."""
    return _choices(opened.index, str(opened.library.root), opened.stamp)


@st.cache_resource(show_spinner=False, max_entries=512)
def _played(_library: Library, root: str, path: str, stamp: Stamp) -> tuple[Reading, PlayedChart | None]:
    reading = _library.read(path)
    return reading, None if reading.chart is None else played(reading.chart)


def played_chart(library: Library, path: str) -> tuple[Reading, PlayedChart | None]:
    """A chart of the library as it is now on disk, and its tune where it can be read.

    Raises:
        LibraryError: If the path leads out of the library.
    """
    try:
        found = (library.root / path).stat()
    except OSError as error:
        return Reading(None, (Fault(f"the file cannot be read: {error.strerror}"),)), None
    return _played(library, str(library.root), path, (found.st_ino, found.st_mtime_ns, found.st_size))


def chart_meant(opened: OpenLibrary, name: str) -> str:
    """The path of the chart that a path, stem or title stands for.

    Raises:
        ChoiceError: If it stands for none, or for several.
    """
    known = choices(opened).charts
    return name if any(path == name for path, _ in known) else chosen_chart(name, list(known))


def faulty_charts(opened: OpenLibrary) -> int:
    """How many charts of the library have faults."""
    return int(opened.index.rows("SELECT count(DISTINCT path) FROM faults WHERE severity = 'fault'")[0][0])


def placed_faults(opened: OpenLibrary, severity: str) -> list[tuple[str, Fault]]:
    """The faults (``fault``) or remarks (``remark``) of the library, with the paths of their files."""
    rows = opened.index.rows(
        "SELECT path, message, line, col, length, text, expected, nearest FROM faults WHERE severity = ? "
        "ORDER BY path, line, col",
        [severity],
    )
    return [(path, Fault(*fields)) for path, *fields in rows]
