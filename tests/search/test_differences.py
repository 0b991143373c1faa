"""How near matches are told in words where not all of the pattern need be there."""

from __future__ import annotations

from dataclasses import replace

import pytest

from grammar.charts import read_chart
from search.asking import ask
from tests.helpers.agreement import find_as, index_of

CHART = """key: C

A:
| C | F | C |
Verse 2:
| C F |
B:
| . C | C | C F | C |
"""


@pytest.mark.parametrize(
    ("text", "near", "told"),
    [
        ("| 1 | 4 | 1 |", 1, [(1, 3, ()), (6, 8, ("bar 7: 1 before 4",))]),
        ("| 1 | 4 | (| 1 |)?", 1, [(1, 3, ()), (6, 8, ("bar 7: 1 before 4",))]),
        (
            "| 1 | 4 | (| 1 |)?",
            2,
            [(1, 3, ()), (4, 5, ("bar 4: 4 after 1", "bar 5: 1 after 4")), (6, 8, ("bar 7: 1 before 4",))],
        ),
    ],
)
@pytest.mark.parametrize("large", [False, True])
def test_a_bar_that_may_be_missing(
    text: str, near: int, told: list[tuple[int, int, tuple[str, ...]]], large: bool
) -> None:
    chart = read_chart(CHART).chart
    assert chart is not None
    with index_of([chart]) as index:
        (hit,) = find_as(index, replace(ask(text).question, near=near), large).hits
    assert [(place.from_bar, place.to_bar, place.differs) for place in hit.places] == told
