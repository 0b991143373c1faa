"""Reads the files of a library into rows of its index, batch by batch, with helper processes where there are many.

A helper is a process of its own (see ``corpus.helping``) that is told over a pipe what to read and answers with rows;
it shares nothing with this one and may be started from any thread. Batches are taken by whoever is free; their rows
come back in the order of the files, so that the index is the same however many read. A small library never pays for a
helper.

Conventions: charts are numbered from 0 in every batch; the hash of a file that cannot be opened is the reason.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from typing import NamedTuple

from corpus.chart_files import read_bytes
from corpus.library import Library
from corpus.rows import ChartRows, FileRead, rows_of, rows_of_charts
from corpus.sharing import MOST_PARTS, can_share, sharing_out
from grammar.parsers import kept_in
from shared.chart import Chart, Reading
from shared.errors import Fault, SamechangesError

Progress = Callable[[int, int], None]

#: How many files are taken at a time.
BATCH = 500
#: From so many files to read a helper is worth its start, and again for every further one.
WORTH_A_HELPER = 2000
_MOST_HELPERS = 3
#: How long a helper that went wrong may take to end by itself, in seconds.
PATIENCE = 5.0
#: What a helper runs; it is given the places where this process finds its modules.
HELPER = "import sys; sys.path[:] = sys.argv[1:]; from corpus.helping import help_out; help_out()"


class HelperError(SamechangesError):
    """A helper process ended before its work was done."""


class ToRead(NamedTuple):
    """A file that is to be read unless it has not changed.

    Attributes:
        path: Its path in the library.
        known: The hash of the content that the index has, None where it has none.
        fault: Why it cannot be opened, where that is known beforehand.
    """

    path: str
    known: str | None
    fault: Fault | None = None


class Gathered(NamedTuple):
    """What became of some files.

    Attributes:
        read: The paths of those that had changed.
        rows: Their rows.
    """

    read: list[str]
    rows: ChartRows


def gather(library: Library, files: Sequence[ToRead], told: Callable[[], None] | None = None) -> Gathered:
    """Reads files in this process.

    Args:
        library: The library.
        files: Which.
        told: Called behind every file.
    """
    read, files_read = [], []
    contents = library.contents(file.path for file in files if not file.fault)
    for path, known, fault in files:
        content = fault or next(contents)
        stamp = f"unread: {content.message}" if isinstance(content, Fault) else hash_of(content)
        if known != stamp:
            read.append(path)
            reading = Reading(None, (content,)) if isinstance(content, Fault) else read_bytes(content)
            files_read.append(FileRead(path, stamp, reading))
        if told is not None:
            told()
    return Gathered(read, rows_of(files_read))


@contextmanager
def gathering_charts(charts: Sequence[tuple[str, Chart]]) -> Iterator[Iterator[Gathered]]:
    """What ``gather`` gives of files, of paths and charts that need no reading; nothing is known of their content.

    Where there are many a copy of this process begins at once; this one joins in when it asks for what was gathered.
    """
    batches = _batches(charts)
    if len(charts) >= WORTH_A_HELPER and processors() > 1 and can_share():
        with sharing_out(_gathered, batches) as gathered:
            yield gathered
    else:
        yield map(_gathered, batches)


def _batches(charts: Sequence[tuple[str, Chart]]) -> list[Sequence[tuple[str, Chart]]]:
    """Charts to be shared out: many at first, which is quicker, and few in the end, so that nobody waits for long.

    What is made of so many still fits into the pipe of ``corpus.sharing`` as a rule.
    """
    least, made, first = -(-len(charts) // MOST_PARTS), [], 0
    while first < len(charts):
        size = max(least, min(3 * BATCH // 2, max((BATCH + 1) // 2, (len(charts) - first) // 6)))
        made.append(charts[first : first + size])
        first += size
    return made


def _gathered(charts: Sequence[tuple[str, Chart]]) -> Gathered:
    return Gathered([path for path, _ in charts], rows_of_charts(charts))


def hash_of(content: bytes) -> str:
    """What tells a file's content from what it was before: a quarter of its SHA-256, which is ample."""
    return hashlib.sha256(content).hexdigest()[:16]


@contextmanager
def gathering(library: Library, files: Sequence[ToRead], progress: Progress | None = None) -> Iterator[Work]:
    """Starts the reading of files, with helpers where that is worth it; they begin at once, and end with the context.

    Args:
        library: The library.
        files: Which.
        progress: Told how many of how many files are done, in the thread that waits for the rest.
    """
    work = Work(library, files, progress)
    with ExitStack() as helpers:
        for _ in range(_helpers(files)):
            helpers.enter_context(_Helper(work))
        yield work


def _helpers(files: Sequence[ToRead]) -> int:
    """How many helpers are worth their start: those files count that the index does not have."""
    new = sum(file.known is None for file in files)
    return min(processors() - 1, _MOST_HELPERS, new // WORTH_A_HELPER)


def processors() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Work:
    """What is to be read, and what has been; shared by threads, but progress is told in the one that reads itself."""

    def __init__(self, library: Library, files: Sequence[ToRead], progress: Progress | None) -> None:
        self.library = library
        self.batches = [files[first : first + BATCH] for first in range(0, len(files), BATCH)]
        self._files = len(files)
        self._progress = progress
        self._changes = threading.Condition()
        self._taken = 0
        self._gathered: dict[int, Gathered] = {}
        self._own = self._helped = 0
        self._failure = ""

    def take(self) -> int | None:
        """The number of a batch that nobody has taken; None where there is none, or a helper has failed."""
        with self._changes:
            if self._failure or self._taken == len(self.batches):
                return None
            self._taken += 1
            return self._taken - 1

    def put(self, number: int, gathered: Gathered, helped: bool = False) -> None:
        """A batch is done."""
        with self._changes:
            self._gathered[number] = gathered
            self._helped += len(self.batches[number]) if helped else 0
            self._changes.notify()

    def fail(self, message: str) -> None:
        """A helper has failed."""
        with self._changes:
            self._failure = message
            self._changes.notify()

    def _one_more(self) -> None:
        """One more file was read here."""
        self._own += 1
        self._tell()

    def _tell(self) -> None:
        if self._progress is not None:
            self._progress(self._own + self._helped, self._files)

    def all_done(self) -> list[Gathered]:
        """Reads what nobody else has taken, waits for the rest, and gives what became of the files in their order.

        Raises:
            HelperError: If a helper has failed.
        """
        while (number := self.take()) is not None:
            self.put(number, gather(self.library, self.batches[number], self._one_more))
        with self._changes:
            helped = -1 if self._helped else 0
            while not self._failure:
                if self._helped != helped:
                    helped = self._helped
                    self._tell()
                if len(self._gathered) == len(self.batches):
                    return [self._gathered[number] for number in range(len(self.batches))]
                self._changes.wait()
        raise HelperError(self._failure)


class _Helper:
    """A helper process, and the thread that hands it batches; ended, at the latest, when the context is left."""

    def __init__(self, work: Work) -> None:
        self._work = work

    def __enter__(self) -> None:
        # In a session of its own it does not hear the interrupt of the keyboard; it ends when its pipe is closed.
        command = [sys.executable, "-c", HELPER, *sys.path]
        pipe = subprocess.PIPE
        self._process = subprocess.Popen(command, stdin=pipe, stdout=pipe, start_new_session=True)
        self._thread = threading.Thread(target=self._hand_out, daemon=True)
        self._thread.start()

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if kind is not None:
            self._process.kill()
        self._thread.join()

    def _hand_out(self) -> None:
        work, process = self._work, self._process
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            pickle.dump((work.library, kept_in()), process.stdin)
            while (number := work.take()) is not None:
                pickle.dump(work.batches[number], process.stdin)
                process.stdin.flush()
                work.put(number, pickle.load(process.stdout), helped=True)
        except Exception as error:
            # Whatever it was, those who wait must hear of it.
            work.fail(f"a process that helped with reading {self._end(error)} before its work was done")
        else:
            self._end()

    def _end(self, error: Exception | None = None) -> str:
        """Lets the process end, and says how it did."""
        process = self._process
        for pipe in (process.stdin, process.stdout):
            with suppress(OSError):
                if pipe is not None:
                    pipe.close()
        try:
            code = process.wait(PATIENCE if error else None)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
            return f"could not be understood ({error})"
        return f"was ended by signal {-code}" if code < 0 else f"ended with status {code}"
