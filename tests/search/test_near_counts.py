"""What a near search leaves out, in large libraries and of rare qualities, changes no answer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from search import looking_up, near_counts
from search.asking import ask
from search.finding import find
from search.nearness import MOST_EDITS, RARE
from tests.helpers.commands import library_of

CHARTS = {
    "plain": "key: C\n\n| C | G | Am | F |\n| C | G | Am7 | Dm |\n",
    "rare": "key: C\n\n| C(add4,b6) | G | Am | F |\n| C | Dm(no5,add4,b6) | Am | F |\n| C | G | Dm7 |\n",
    "minor": "key: Am\n\n| C | G | Am | F |\n| Am | F | C | G |\n| C | G | F |\n",
    "both": "key: C\n\n| C | G |\nkey: Am\n| G | Am | F | C |\n| C | G | Am |\n",
    "neither": "key: F\n\n| F | Gm |\n",
}
PATTERNS = ["1 5 6m 4", "1 5 6m", "1 2m 6m 4", "6m 4 1 5"]


@pytest.fixture(scope="module")
def index(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenIndex]:
    library = Library(library_of(tmp_path_factory.mktemp("library"), **CHARTS))
    assert make_index(library).faults == ()
    with OpenIndex(library) as opened:
        yield opened


def test_tunes_that_may_have_rare_qualities_are_told_without_reading_them(index: OpenIndex) -> None:
    sql = f"SELECT path FROM charts WHERE {near_counts._MAY_BE_RARE} ORDER BY path"
    may_be = {path for (path,) in index.rows(sql)}
    rare = {path for (path,) in index.rows("SELECT path FROM charts WHERE regexp_matches(tonic, ?)", [RARE])}
    assert rare == {"rare.txt"}
    assert rare <= may_be
    assert "plain.txt" not in may_be


@pytest.mark.parametrize("text", PATTERNS)
@pytest.mark.parametrize("near", range(1, MOST_EDITS + 1))
@pytest.mark.parametrize("shortest", [0, 10**9])
def test_large_libraries_answer_alike(
    index: OpenIndex, text: str, near: int, shortest: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = replace(ask(text).question, near=near)
    expected = find(index, asked)
    assert expected.charts > 1
    monkeypatch.setattr(looking_up, "SMALL", 0)
    monkeypatch.setattr(near_counts, "_LARGE", shortest)
    assert find(index, asked) == expected
