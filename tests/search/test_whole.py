"""A small library is asked at once, a large one in tables: both answer alike, and what is kept serves others too."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import product
from typing import Any

import pytest

from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from search import looking_up
from search.asking import ask
from search.filters import Filters
from search.finding import find, totals
from search.questions import Question
from shared.match import Count, Reach
from shared.pattern import Strength
from tests.helpers.commands import library_of

CHARTS = {
    "plain": "key: C\nlevel: 2\n\n[A]\n| C | G | Am | F |\n[B]\n| C | G | Am7 | Dm |\n",
    "rare": "key: C\n\n| C(add4,b6) | G | Am | F |\n| C | Dm(no5,add4,b6) | Am | F |\n| C | G | Dm7 |\n",
    "minor": "key: Am\nlevel: 1\n\n| C | G | Am | F |\n| Am | F | C | G |\n| C | G | F |\n",
    "both": "key: C\n\n| C | G |\nkey: Am\n| G | Am | F | C |\n| C | G | Am |\n",
    "bass": "key: Eb\n\n[A]\n| Eb | Bb/D | Cm | Ab |\n[B]\n| Ab | Abm | Eb | Eb |\n",
    "neither": "key: F\n\n| F | Gm |\n",
}
PATTERNS = ["1 5 6m 4", "1m b7 b6", "| 1 | 5 |", "[ 1 5", "1 5/7 6m"]
WAYS: list[dict[str, Any]] = [
    {},
    {"reach": Reach.ANYWHERE},
    {"count": Count.RELATIVE},
    {"strength": Strength.EXACT},
    {"sort": "level", "limit": 2},
    {"sort": "most"},
    {"limit": 1},
    {"totals": True},
    {"filters": Filters(section="B")},
    {"filters": Filters(level="1-2")},
    {"without": (ask("4 4m 1").question.pattern,)},
]


@pytest.fixture(scope="module")
def index(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenIndex]:
    library = Library(library_of(tmp_path_factory.mktemp("library"), **CHARTS))
    assert make_index(library).faults == ()
    with OpenIndex(library) as opened:
        yield opened


@pytest.mark.parametrize("text", PATTERNS)
@pytest.mark.parametrize("how", WAYS, ids=str)
def test_small_and_large_libraries_answer_alike(
    index: OpenIndex, text: str, how: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = [replace(ask(text).question, near=near, **how) for near in (0, 1)]
    answers = [(find(index, question), totals(index, question)) for question in asked]
    monkeypatch.setattr(looking_up, "SMALL", 0)
    assert [(find(index, question), totals(index, question)) for question in asked] == answers


def test_several_questions_at_a_time_share_what_is_kept(index: OpenIndex) -> None:
    def asked() -> list[Question]:
        return [replace(ask(text).question, **how) for text, how in product(PATTERNS, WAYS)]

    expected = [find(index, question) for question in asked()]
    with OpenIndex(index.library) as fresh, ThreadPoolExecutor(8) as several:
        assert list(several.map(lambda question: find(fresh, question), asked())) == expected
