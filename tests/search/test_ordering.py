"""Looking at few tunes first gives the order that looking at all of them gives."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

import search.finding
import search.looking_up
import search.matching
import search.ordering
import search.tallies
from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from search.asking import ask
from search.finding import find
from search.matching import Matcher
from shared.match import Reach
from shared.pattern import Strength
from tests.bench.generated import chart_texts

ASKED = ["2m7 57 1maj7", "1 4", "57", "1 5 6m 4", "| 1 | 4 |", "4,5 1", "[ 1"]


@pytest.fixture(scope="module")
def index(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenIndex]:
    folder = tmp_path_factory.mktemp("library")
    # Every tune is there twice under one title, so that some are alike in all but their paths.
    for number, text in enumerate([*chart_texts(60)] * 2):
        (folder / f"{number}.txt").write_text(text, encoding="utf-8")
    library = Library(folder)
    make_index(library)
    with OpenIndex(library) as opened:
        yield opened


@pytest.mark.parametrize(("pool", "alike"), [(1, 1), (3, 1), (20, 2), (2000, 1), (5, 200)])
@pytest.mark.parametrize("text", ASKED)
@pytest.mark.parametrize("strength", [Strength.FAMILY, Strength.LOOSE])
@pytest.mark.parametrize("near", [0, 1])
def test_few_tunes_first(
    index: OpenIndex, monkeypatch: pytest.MonkeyPatch, pool: int, alike: int, text: str, strength: Strength, near: int
) -> None:
    near = near if text not in ("57", "[ 1") else 0
    for limit in (1, 7, 20):
        question = replace(ask(text, strength=strength).question, near=near, limit=limit)
        every = find(index, replace(question, limit=0))
        monkeypatch.setattr(search.ordering, "_POOLS", (1, pool))
        monkeypatch.setattr(search.ordering, "_ALIKE", alike)
        few = find(index, question)
        monkeypatch.undo()
        assert (few.charts, few.matches) == (every.charts, every.matches)
        if not near:
            shown = list(dict.fromkeys(hit.path for hit in every.hits))[:limit]
            assert few.hits == tuple(hit for hit in every.hits if hit.path in shown)
        else:
            assert few == find(index, question)


@pytest.mark.parametrize("reach", list(Reach))
@pytest.mark.parametrize("strength", list(Strength))
@pytest.mark.parametrize("text", [*ASKED, "1,6", "_", "1,6m", "_m", "2,4 5,1", "1m b7", "(1 4)+"])
def test_large_libraries_are_told_in_the_same_order(
    index: OpenIndex, monkeypatch: pytest.MonkeyPatch, text: str, strength: Strength, reach: Reach
) -> None:
    question = ask(text, strength=strength, reach=reach).question
    every = find(index, replace(question, limit=0))
    monkeypatch.setattr(search.looking_up, "SMALL", 0)
    matcher = Matcher(index.snapshot(), question, question.pattern)
    if matcher.told and matcher.doubtful:
        # Of a place that two views find the index tells that it is one, the strings of a small library do not.
        told = find(index, replace(question, limit=500))
        assert (told.charts, told.matches) == (every.charts, every.matches)
        assert {(hit.path, hit.places) for hit in told.hits} == {(hit.path, hit.places) for hit in every.hits}
        return
    for limit, pool, few, along in [
        (1, 1, 30_000, 10_000),
        (7, 3, 0, 0),
        (7, 3, 30_000, 0),
        (20, 2000, 0, 0),
        (500, 20, 30_000, 10_000),
    ]:
        monkeypatch.setattr(search.finding, "_POOL", pool)
        monkeypatch.setattr(search.tallies, "_FEW", few)
        monkeypatch.setattr(search.matching, "_FEW", along)
        told = find(index, replace(question, limit=limit))
        assert (told.charts, told.matches) == (every.charts, every.matches)
        shown = list(dict.fromkeys(hit.path for hit in every.hits))[:limit]
        assert told.hits == tuple(hit for hit in every.hits if hit.path in shown)
        assert find(index, replace(question, limit=limit, totals=True)) == replace(told, hits=())


@pytest.mark.parametrize("sort", ["title", "level", "tempo", "most"])
def test_other_orders_are_cut_where_they_end(index: OpenIndex, sort: str) -> None:
    question = replace(ask("1 4", reach=Reach.ANYWHERE).question, sort=sort)
    every = find(index, replace(question, limit=0)).hits
    assert find(index, replace(question, limit=5)).hits == every[:5]
