"""Work shared with a copy of the process: all of it, in order, and what goes wrong there is told here."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Sequence
from typing import Any

import pytest

from corpus.sharing import MOST_PARTS, CopyError, can_share, sharing_out

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="processes cannot be copied here")
HERE = os.getpid()


def shared_out(work: Callable[[Any], Any], parts: Sequence[Any]) -> list[Any]:
    with sharing_out(work, parts) as made:
        return list(made)


@pytest.mark.parametrize("number", [0, 1, 2, 3, 10, MOST_PARTS])
def test_all_is_done_in_order(number: int) -> None:
    assert shared_out(lambda part: part, range(number)) == list(range(number))


def test_both_work() -> None:
    def work(part: int) -> int:
        # Nobody can do all of it before the other one has begun.
        time.sleep(0.05)
        return os.getpid()

    processes = set(shared_out(work, range(10)))
    assert len(processes) == 2
    assert HERE in processes


def test_the_copy_works_while_nobody_asks() -> None:
    with sharing_out(lambda part: (part, os.getpid()), range(3)) as made:
        time.sleep(0.5)
        assert HERE not in {process for _, process in made}


def test_much_is_answered_while_nobody_is_waiting() -> None:
    assert shared_out(lambda part: bytes(part), [1, 10_000_000]) == [bytes(1), bytes(10_000_000)]


def test_what_nobody_asks_for_is_not_done() -> None:
    begun = time.monotonic()
    with sharing_out(lambda part: time.sleep(0.05), range(1000)) as made:
        next(made)
    assert time.monotonic() - begun < 25


@pytest.mark.parametrize("part", [0, 3])
def test_an_error_is_raised_wherever_it_was(part: int) -> None:
    def work(number: int) -> None:
        time.sleep(0.05)
        if number == part:
            raise ValueError(f"part {number}")

    with pytest.raises(ValueError, match=f"part {part}"):
        shared_out(work, range(4))


def test_a_copy_that_dies_is_told() -> None:
    def work(number: int) -> int:
        if os.getpid() != HERE:
            os.kill(os.getpid(), 9)
        # The copy has begun before this process has done all of it.
        time.sleep(0.1)
        return number

    with pytest.raises(CopyError, match="ended before its work was done"):
        shared_out(work, range(4))


def test_a_process_with_other_threads_is_not_copied() -> None:
    done = threading.Event()
    other = threading.Thread(target=done.wait)
    other.start()
    try:
        assert not can_share()
    finally:
        done.set()
        other.join()


def test_no_copy_stays_behind() -> None:
    work: Callable[[int], int] = abs
    shared_out(work, range(4))
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)
