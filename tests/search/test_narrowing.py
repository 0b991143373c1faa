"""What an index tells by itself, and where two counts of a tune may find one place."""

from __future__ import annotations

import pytest

from grammar.patterns import read_pattern
from search.asking import ask
from search.narrowing import told_roots
from search.views import doubtful_views, views_of
from shared.match import Count, Reach
from shared.pattern import Strength

FAMILY, LOOSE, EXACT = Strength.FAMILY, Strength.LOOSE, Strength.EXACT


@pytest.mark.parametrize(
    ("text", "strength", "sequences"),
    [
        ("1 4 5", FAMILY, [(0, 5, 7)]),
        ("1 4 1 4", FAMILY, [(0, 5, 0, 5)]),
        ("1 4 1 4 1", FAMILY, []),
        ("1m 57", FAMILY, []),
        ("1m 57", LOOSE, [(0, 7)]),
        ("1 5", EXACT, []),
        ("1/3 5", FAMILY, []),
        ("/1", LOOSE, []),
        ("1,6 4", FAMILY, [(0, 5), (9, 5)]),
        ("4,1 1", FAMILY, []),
        ("1,4 5 1", FAMILY, []),
        ("_", FAMILY, [(root,) for root in range(12)]),
        ("_7", LOOSE, [(root,) for root in range(12)]),
        ("_7", FAMILY, []),
        ("_ 4", FAMILY, []),
        ("| 1 |", FAMILY, []),
        ("[ 1", FAMILY, []),
    ],
)
def test_the_index_tells_roots(text: str, strength: Strength, sequences: list[tuple[int, ...]]) -> None:
    assert sorted(told_roots(read_pattern(text).pattern, strength)) == sorted(sequences)


@pytest.mark.parametrize(
    ("text", "reach", "doubtful"),
    [
        # By the first chord or the last it can be told what was counted from.
        ("1 4", Reach.KEY, []),
        ("1,6 4", Reach.KEY, []),
        # 1 and 6 are a third apart, as a minor key and its relative major are.
        ("1,6", Reach.KEY, ["minor", "relative"]),
        # 4 and 5 are a tone apart, as D dorian and C major are.
        ("4,5", Reach.KEY, ["relative"]),
        # 1 and b5 are so far apart as no two counts.
        ("1,b5", Reach.KEY, []),
        ("1,b5", Reach.ANYWHERE, ["other centres"]),
        ("1,6m", Reach.KEY, ["minor", "relative"]),
        ("1m,6", Reach.KEY, ["minor", "relative", "major"]),
        ("_m", Reach.KEY, []),
        ("(1 4)+", Reach.KEY, []),
        ("1? 57 4?", Reach.KEY, ["minor", "relative"]),
        ("/1", Reach.KEY, []),
        ("1,/4", Reach.KEY, ["minor", "relative"]),
    ],
)
def test_views_that_may_find_one_place(text: str, reach: Reach, doubtful: list[str]) -> None:
    question = ask(text, reach=reach).question
    views = views_of(question, question.pattern)
    found = doubtful_views([question.pattern], views)
    if reach is Reach.ANYWHERE:
        assert found == (set(range(1, 12)) if doubtful else set())
        return
    names = {1: "minor", 2: "relative", 3: "major"}
    assert [names[number] for number in sorted(found)] == doubtful
    assert all(views[number].count is Count.RELATIVE for number in found)
