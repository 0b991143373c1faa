"""Work shared with a copy of this process, where what it is on lies in memory already.

The copy (fork(2)) has all that this process holds without any of it being handed over, and answers through a pipe. It
does nothing but work on parts and ends without any clearing up, so that whatever else was open here is left alone. Who
is free takes the next part, by reading its number out of another pipe; so this process may do something else meanwhile.
"""

from __future__ import annotations

import os
import pickle
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import Generic, TypeVar

from shared.errors import SamechangesError

Part = TypeVar("Part")
Made = TypeVar("Made")

#: So many bytes a part's number has.
_NUMBER = 4
#: So many parts are shared out at most: their numbers wait in a pipe, which surely has room for so much (pipe(7)).
MOST_PARTS = 65536 // _NUMBER
#: Room for answers that wait, in bytes: as much as everybody may ask for, so that the copy need not wait as well.
_ROOM = 1 << 20


class CopyError(SamechangesError):
    """The copy ended before its part was done."""


def can_share() -> bool:
    """Whether this process may be copied: where it has other threads, one of them may hold what the copy needs."""
    return sys.platform == "linux" and threading.active_count() == 1


@contextmanager
def sharing_out(work: Callable[[Part], Made], parts: Sequence[Part]) -> Iterator[Iterator[Made]]:
    """Starts a copy on its share, and gives what ``work`` makes of each part, in order; who asks for it works as well.

    Args:
        work: What is to be done.
        parts: At most ``MOST_PARTS``.

    Raises:
        CopyError: If the copy has ended too soon. Whatever ``work`` raises is raised here, wherever it was.
    """
    numbers, write = os.pipe()
    os.write(write, b"".join(number.to_bytes(_NUMBER, "big") for number in range(len(parts))))
    os.close(write)
    receive, send = os.pipe()
    copy = os.fork()
    if copy == 0:
        _answer(work, parts, numbers, send)
    os.close(send)
    shared = _Shared(work, parts, numbers, receive)
    try:
        yield shared.made()
    finally:
        # Where something went wrong here nothing more is begun there.
        while _next(numbers) is not None:
            pass
        shared.reader.join()
        os.close(numbers)
        os.waitpid(copy, 0)


def _next(numbers: int) -> int | None:
    """The number of a part that nobody has taken, None where there is none."""
    number = os.read(numbers, _NUMBER)
    return int.from_bytes(number, "big") if number else None


def _answer(work: Callable[[Part], Made], parts: Sequence[Part], numbers: int, send: int) -> None:
    """The life of the copy."""
    status = 1
    try:
        with os.fdopen(send, "wb") as pipe:
            while (number := _next(numbers)) is not None:
                try:
                    answer: Made | Exception = work(parts[number])
                except Exception as error:
                    # Raised again by whoever waits for the answer.
                    answer = error
                pickle.dump((number, answer), pipe, pickle.HIGHEST_PROTOCOL)
                pipe.flush()
        status = 0
    finally:
        os._exit(status)


class _Shared(Generic[Part, Made]):
    """The parts as they are worked on here and there.

    Attributes:
        reader: The thread that takes the answers of the copy.
    """

    def __init__(self, work: Callable[[Part], Made], parts: Sequence[Part], numbers: int, receive: int) -> None:
        self._work, self._parts, self._numbers = work, parts, numbers
        self._answers: dict[int, Made | Exception] = {}
        self._ended = False
        self._changes = threading.Condition()
        self.reader = threading.Thread(target=self._gather, args=(receive,), daemon=True)
        self.reader.start()

    def made(self) -> Iterator[Made]:
        """What is made of each part."""
        for part in range(len(self._parts)):
            while part not in self._answers and (number := _next(self._numbers)) is not None:
                self._answers[number] = self._work(self._parts[number])
            with self._changes:
                while part not in self._answers and not self._ended:
                    self._changes.wait()
            if part not in self._answers:
                raise CopyError("a copy of this process ended before its work was done")
            answer = self._answers.pop(part)
            if isinstance(answer, Exception):
                raise answer
            yield answer

    def _gather(self, receive: int) -> None:
        import fcntl

        with os.fdopen(receive, "rb") as pipe:
            with suppress(OSError):
                fcntl.fcntl(pipe, fcntl.F_SETPIPE_SZ, _ROOM)
            try:
                while True:
                    number, answer = pickle.load(pipe)
                    with self._changes:
                        self._answers[number] = answer
                        self._changes.notify()
            except (EOFError, pickle.UnpicklingError):
                # That answers are missing is told by whoever waits for them.
                pass
            finally:
                with self._changes:
                    self._ended = True
                    self._changes.notify()
