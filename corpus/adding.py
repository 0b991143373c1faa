"""Adds charts in other notations to a library: each tune becomes one plain chart file.

Conventions:
    * A source of one tune keeps its stem; a tune of a book is named ``STEM-TITLE.txt``, numbered where two collide.
    * ``source:`` in the chart names the file that it came from, and its number there. The same source and number is the
      same tune: where its content is the same it is skipped, else it is written over only if that is asked for.
    * Whatever cannot be read is a fault with its place in the source; everything else is added. A chord that cannot be
      read costs only itself: ``N.C.`` stands there, and a remark gives the place. Where no chord is left, nothing is
      added, and what would have been remarks are faults too.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path, PurePosixPath

from corpus.gathering import Progress
from corpus.index import PlacedFault
from corpus.library import Library
from corpus.notations import CHART, NOTATIONS, Notation, sniffed
from corpus.saving import SavingError, refusal, save_chart, suggested_name
from grammar.chart_text import write_chart
from shared.chart import Chart
from shared.errors import ChoiceError, Fault, nearest
from shared.foreign import ForeignTune

#: The largest source that is read, in bytes: a tune book may hold thousands of tunes.
LARGEST_SOURCE = 50_000_000
_SILENT = Fault("the tune has no chords that can be read", expected="one chord at least")


@dataclass(slots=True)
class Added:
    """What adding did.

    Attributes:
        added: Charts that are new.
        skipped: Tunes that are in the library already, just so.
        replaced: Charts that were written over.
        charts: The paths of all of them, relative to the library.
        faults: Tunes and sources that could not be added, with the path of the source.
        remarks: What is worth saying about tunes that were added, with the path of the source.
    """

    added: int = 0
    skipped: int = 0
    replaced: int = 0
    charts: list[str] = field(default_factory=list)
    faults: list[PlacedFault] = field(default_factory=list)
    remarks: list[PlacedFault] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Source:
    """A file to be added: its name, and how its bytes are had."""

    name: str
    content: Callable[[], bytes]


def files_of(sources: Iterable[str]) -> Iterator[Source]:
    """The files that paths stand for; a folder stands for every file below it that is not hidden."""
    for each in sources:
        path = Path(each).expanduser()
        inner = sorted(path.rglob("*")) if path.is_dir() else [path]
        for file in inner:
            hidden = any(part.startswith(".") for part in file.relative_to(path).parts) if file != path else False
            if not hidden and not file.is_dir():
                yield Source(str(file), partial(_limited, file))


def _limited(file: Path) -> bytes:
    with file.open("rb") as opened:
        return opened.read(LARGEST_SOURCE + 1)


def chosen_notation(name: str | None) -> Notation | None:
    """The notation of a name, None where none is given.

    Raises:
        ChoiceError: If there is no such notation.
    """
    if name is None:
        return None
    for notation in NOTATIONS:
        if notation.name == name.strip().casefold():
            return notation
    known = [notation.name for notation in NOTATIONS]
    raise ChoiceError(f"there is no notation “{name}”", nearest(name, known) or known)


def add(
    library: Library,
    sources: Iterable[Source],
    notation: Notation | None = None,
    replace: bool = False,
    progress: Progress | None = None,
) -> Added:
    """Adds the tunes of sources to a library; its index is not touched.

    Args:
        library: The library.
        sources: The files to be added.
        notation: What they are written in; None to find that out file by file.
        replace: Whether charts of the same tune, or of the same name, are written over.
        progress: Told how many of how many files are done.

    Raises:
        SavingError: If nothing can be written into the library.
    """
    if reason := refusal(library):
        raise SavingError(reason)
    done = Added()
    book = _Book(library, replace, done)
    every = list(sources)
    for number, source in enumerate(every):
        _add_one(book, source, notation)
        if progress is not None:
            progress(number + 1, len(every))
    return done


def _add_one(book: _Book, source: Source, notation: Notation | None) -> None:
    try:
        content = source.content()
    except OSError as error:
        book.fault(source, Fault(f"the file cannot be read: {error.strerror or error}"))
        return
    if len(content) > LARGEST_SOURCE:
        book.fault(source, Fault(f"the file is larger than {LARGEST_SOURCE:,} bytes"))
        return
    notation = notation or sniffed(source.name, content)
    if notation is None:
        known = ", ".join(each.name for each in NOTATIONS)
        book.fault(source, Fault("the notation cannot be told from the content", expected=f"one of {known} (--as)"))
        return
    if notation is CHART:
        book.fault(source, Fault("this is a chart file already", expected="to be put into the library folder itself"))
        return
    tunes = notation.read(content)
    for tune in tunes:
        book.add(source, tune, single=len(tunes) == 1)


def _sounds(chart: Chart) -> bool:
    return any(cell.chord is not None for _, bar in chart.bars() for cell in bar.cells)


class _Book:
    """The library while tunes are added to it."""

    def __init__(self, library: Library, replace: bool, done: Added) -> None:
        self.library = library
        self.replace = replace
        self.done = done
        self._known = self._sources()

    def _sources(self) -> dict[str, str]:
        """The paths of charts that were added before, by what their ``source:`` says."""
        known = {}
        for path in self.library.chart_paths():
            chart = self.library.read(path).chart
            if chart is not None and (source := chart.header("source")):
                known[source] = path
        return known

    def fault(self, source: Source, fault: Fault) -> None:
        """Notes a fault of a source."""
        self.done.faults.append(PlacedFault(source.name, fault))

    def add(self, source: Source, tune: ForeignTune, single: bool) -> None:
        """Adds one tune."""
        if tune.chart is None or not _sounds(tune.chart):
            for fault in (*(tune.faults or (_SILENT,)), *tune.remarks):
                self.fault(source, fault)
            return
        name = PurePosixPath(source.name.replace("\\", "/")).name
        origin = name if single else f"{name}, tune {tune.number}"
        headers = tuple((each, value) for each, value in tune.chart.headers if each != "source")
        try:
            text = write_chart(dataclasses.replace(tune.chart, headers=(*headers, ("source", origin))))
        except ValueError as error:
            self.fault(source, Fault(f"“{tune.title or tune.number}” cannot be written as a chart: {error}"))
            return
        try:
            self._save(source, text, origin, self._name(name, tune, single, origin))
        except SavingError as error:
            self.fault(source, Fault(str(error)))
            return
        self.done.remarks += [PlacedFault(source.name, remark) for remark in tune.remarks]

    def _name(self, name: str, tune: ForeignTune, single: bool, origin: str) -> str:
        """The file that a tune is written to: the one it was in before, or a new name."""
        if origin in self._known:
            return self._known[origin]
        stem = PurePosixPath(name).stem
        if single:
            return f"{stem}.txt"
        title = suggested_name(tune.title or f"tune {tune.number}").removesuffix(".txt")
        taken = set(self._known.values())
        path, number = f"{stem}-{title}.txt", 1
        while path in taken or (self.library.root / path).exists():
            number += 1
            path = f"{stem}-{title}-{number}.txt"
        return path

    def _save(self, source: Source, text: str, origin: str, path: str) -> None:
        whole = self.library.root / path
        there = whole.exists()
        if there and whole.read_bytes() == text.encode("utf-8"):
            self.done.skipped += 1
        elif there and not self.replace:
            message = f"there is another chart {path} in the library"
            self.fault(source, Fault(message, expected="--replace to write over it, or another name"))
            return
        else:
            path = save_chart(self.library, path, text, self.replace)
            self.done.replaced += there
            self.done.added += not there
        self._known[origin] = path
        self.done.charts.append(path)
