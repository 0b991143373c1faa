"""Work shared with a copy of the process: all of it, in order, and what goes wrong there is told here."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable

import pytest

from corpus.sharing import CopyError, can_share, shared_out

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="processes cannot be copied here")
HERE = os.getpid()


@pytest.mark.parametrize("number", [1, 2, 3, 10])
def test_all_is_done_in_order_by_both(number: int) -> None:
    made = shared_out(lambda part: (part, os.getpid()), range(number))
    assert [part for part, _ in made] == list(range(number))
    assert len({process for _, process in made}) == min(number, 2)


def test_much_is_answered_while_nobody_is_waiting() -> None:
    assert shared_out(lambda part: bytes(part), [1, 10_000_000]) == [bytes(1), bytes(10_000_000)]


@pytest.mark.parametrize("part", [0, 3])
def test_an_error_is_raised_wherever_it_was(part: int) -> None:
    def work(number: int) -> None:
        if number == part:
            raise ValueError(f"part {number}")

    with pytest.raises(ValueError, match=f"part {part}"):
        shared_out(work, range(4))


def test_a_copy_that_dies_is_told() -> None:
    def work(number: int) -> int:
        if os.getpid() != HERE:
            os.kill(os.getpid(), 9)
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
