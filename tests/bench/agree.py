"""Compares the fast search with the slow referee on so many pairs of patterns and charts, and prints where they part.

    python tests/bench/agree.py --pairs 1000000

Every round has charts and patterns of its own, drawn by a seed that is the first seed and the number of the round; so
a run says the same whenever it is run, and ``--seed`` begins another. A pair is one pattern, asked in one way, and one
chart (see ``tests.helpers.agreement``); every pattern is asked of every chart of its round, at each strength, in the
key and anywhere, rotated and not, under each count, near, and together with two others; every other question is asked
as in large libraries. The exit status is 1 where the two part.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.helpers.agreement import EVERY, NEAR, ONE_COUNT, Tally, court_of
from tests.helpers.reducing import reduced
from tests.strategies.drawing import KINDS, TUNES, drawn, judged

CHARTS = 64
PATTERNS = 16
#: A round's number is told apart from the next run's by so much.
_ROUNDS = 1_000_000


def judge_round(number: int) -> Tally:
    """Draws one round by its number and compares it; every disagreement is made small."""
    cases = drawn(judged(TUNES), CHARTS // 2, number) + drawn(judged(KINDS), CHARTS // 2, number)
    charts = [chart for chart, _ in cases]
    asked = [pattern for _, pattern in cases[:: CHARTS // PATTERNS]]
    tally = Tally()
    with court_of(charts) as court:
        for place, pattern in enumerate(asked):
            ways = [*EVERY, *ONE_COUNT, NEAR[place % len(NEAR)]]
            for way, asking in enumerate(ways):
                tally.add(court.compare(pattern, asking, large=[(place + way) % 2 == 1]))
            also, without = asked[place - 1], asked[place - 2]
            together = EVERY[place % len(EVERY)]
            tally.add(court.compare_together(pattern, also, without, together, large=[place % 2 == 1]))
    unlike = {(each.pattern.text, each.asking, each.told): each for each in tally.disagreements}
    tally.disagreements = [each if each.chart is None else reduced(each) for each in unlike.values()]
    return tally


def rounds(processes: int, first: int) -> Iterator[Tally]:
    """Rounds one after the other, or as they are done in several processes."""
    if processes == 1:
        yield from map(judge_round, count(first))
        return
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        waiting = [pool.apply_async(judge_round, (first + number,)) for number in range(2 * processes)]
        for number in count(first + len(waiting)):
            done = waiting.pop(0).get()
            waiting.append(pool.apply_async(judge_round, (number,)))
            yield done


def main() -> int:
    options = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    options.add_argument("--pairs", type=int, default=20_000, help="how many pairs are compared at least")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--processes", type=int, default=1)
    asked = options.parse_args()
    began, total, told = time.monotonic(), Tally(), 0
    for number, tally in enumerate(rounds(asked.processes, asked.seed * _ROUNDS), 1):
        total.add(tally)
        for each in tally.disagreements:
            print(f"“{each.pattern.text}” {each.asking}: {each.told}", flush=True)
        if total.pairs >= asked.pairs or total.pairs - told >= asked.pairs / 20:
            told = total.pairs
            seconds = time.monotonic() - began
            print(f"{number} rounds, {told:,} pairs, {total.holding:,} held, {seconds:.0f} s", flush=True)
        if total.pairs >= asked.pairs:
            break
    parted = len(total.disagreements)
    print(f"{total.pairs:,} pairs compared, of which the chart holds the pattern in {total.holding:,}: ", end="")
    print(f"{parted} questions are answered differently" if parted else "all agree")
    return 1 if parted else 0


if __name__ == "__main__":
    sys.exit(main())
