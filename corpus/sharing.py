"""Work shared with a copy of this process, where what it is on lies in memory already.

The copy (fork(2)) has all that this process holds without any of it being handed over, and answers through a pipe. It
does nothing but work out its part and ends without any clearing up, so that whatever else was open here is left alone.
"""

from __future__ import annotations

import os
import pickle
import sys
import threading
from collections.abc import Callable, Sequence
from typing import TypeVar

from shared.errors import SamechangesError

Part = TypeVar("Part")
Made = TypeVar("Made")


class CopyError(SamechangesError):
    """The copy ended before its part was done."""


def can_share() -> bool:
    """Whether this process may be copied: where it has other threads, one of them may hold what the copy needs."""
    return sys.platform == "linux" and threading.active_count() == 1


def shared_out(work: Callable[[Part], Made], parts: Sequence[Part]) -> list[Made]:
    """What ``work`` makes of each part; the first half is done here, the others at the same time in a copy.

    Raises:
        CopyError: If the copy has ended too soon. Whatever ``work`` raises is raised here, wherever it was.
    """
    half = (len(parts) + 1) // 2
    receive, send = os.pipe()
    copy = os.fork()
    if copy == 0:
        _answer(work, parts[half:], send)
    os.close(send)
    answers: list[Made | Exception] = []
    reader = threading.Thread(target=_gather, args=(receive, len(parts) - half, answers), daemon=True)
    reader.start()
    try:
        made = [work(part) for part in parts[:half]]
    finally:
        reader.join()
        os.waitpid(copy, 0)
    for answer in answers:
        if isinstance(answer, Exception):
            raise answer
        made.append(answer)
    if len(made) < len(parts):
        raise CopyError("a copy of this process ended before its work was done")
    return made


def _answer(work: Callable[[Part], Made], parts: Sequence[Part], send: int) -> None:
    """The life of the copy."""
    status = 1
    try:
        with os.fdopen(send, "wb") as pipe:
            for part in parts:
                try:
                    answer: Made | Exception = work(part)
                except Exception as error:
                    # Raised again by whoever waits for the answer.
                    answer = error
                pickle.dump(answer, pipe, pickle.HIGHEST_PROTOCOL)
        status = 0
    finally:
        os._exit(status)


def _gather(receive: int, number: int, answers: list[Made | Exception]) -> None:
    with os.fdopen(receive, "rb") as pipe:
        try:
            for _ in range(number):
                answers.append(pickle.load(pipe))
        except (EOFError, pickle.UnpicklingError):
            # That answers are missing is told by whoever waits for them.
            return
