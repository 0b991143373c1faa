"""Tunes alike: against a full alignment of the demo library, in another key or order, and with filters."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from corpus.index import make_index
from corpus.library import Library, demo_library
from corpus.reading import OpenIndex
from corpus.tunes import played
from search import alike
from search.alike import chart_meant, like
from search.filters import Filters
from shared.errors import ChoiceError, ReadingError, SamechangesError
from shared.key import Key
from tests.helpers.alike_referee import Unit, lines_of, referee_score
from tests.helpers.commands import library_of

WALK = "| C | E7 | Am | Ab7 |\n| G | C7 | F | Fm6 |\n"
CHARTS = {
    "walk": f"title: Walk\nkey: C\nstyle: pop\n\n[A]\n{WALK}[B]\n| Dm7 | G7 | Em7 | A7 |\n| Dm7 | G7 | C | C |\n",
    "walk_in_d": "title: Walk Up\nkey: D\nstyle: jazz\n\n| D | F#7 | Bm | Bb7 |\n| A | D7 | G | Gm6 |\n",
    "turned": f"title: Turned\nkey: C\n\n[B]\n| Dm7 | G7 | Em7 | A7 |\n| Dm7 | G7 | C | C |\n[A]\n{WALK}",
    "close": "title: Close\nkey: C\n\n| C E7 | Am Ab7 | G C7 | F Fm6 |\n",
    "other": "title: Other\nkey: C\n\n| C | C#m | D | D#m |\n",
}


@pytest.fixture(scope="module")
def demo() -> Iterator[OpenIndex]:
    make_index(demo_library())
    with OpenIndex(demo_library()) as index:
        yield index


def index_of(folder: Path, **charts: str) -> OpenIndex:
    """The index of a library of these charts."""
    library = Library(library_of(folder, **charts))
    make_index(library)
    return OpenIndex(library)


@pytest.fixture
def small(tmp_path: Path) -> Iterator[OpenIndex]:
    with index_of(tmp_path, **CHARTS, faulty="title: Faulty\nkey: C\n\n| C | Cmaj77 |\n") as index:
        yield index


def plain_lines(path: str) -> tuple[list[Unit], list[Unit]]:
    chart = demo_library().read(path).chart
    assert chart is not None
    one = played(chart)
    keys: list[Key] = []
    for segment in one.tune.segments:
        keys += [segment.key] * (segment.to_bar + 1 - len(keys))
    keys += [one.tune.segments[-1].key] * (len(one.tune.bars) - len(keys))
    return lines_of(chart, keys)


@pytest.mark.parametrize("path", ["folk/greensleeves.txt", "jazz/teacups-in-transit.txt"])
def test_a_full_alignment_of_the_demo_library_agrees(demo: OpenIndex, path: str) -> None:
    here = plain_lines(chart_meant(demo, path.rsplit("/")[-1].removesuffix(".txt")))
    expected = {}
    for other, _ in demo.known_charts():
        score, passages = referee_score(here, plain_lines(other))
        if other != path and passages:
            expected[other] = score
    found = {each.path: each.score for each in like(demo, path, limit=0).results}
    assert found == pytest.approx(expected, abs=1e-12)
    assert list(found.values()) == sorted(expected.values(), reverse=True)


def test_few_candidates_lose_few_better_tunes(demo: OpenIndex, monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole demo library is aligned; were it only half, the tune most alike would still be found for most."""
    paths = [path for path, _ in demo.known_charts()]
    assert len(paths) <= alike.CANDIDATES
    asked = paths[::6]
    whole = [like(demo, path, limit=1).results[0].score for path in asked]
    monkeypatch.setattr(alike, "CANDIDATES", len(paths) // 2)
    few = [like(demo, path, limit=1).results[0].score for path in asked]
    assert sum(one == other for one, other in zip(few, whole, strict=True)) >= 0.9 * len(asked)


def test_the_same_in_another_key_comes_first_with_its_bars(small: OpenIndex) -> None:
    found = like(small, "walk-in-d.txt")
    assert [each.path for each in found.results][:2] == ["turned.txt", "walk.txt"]
    (shared,) = found.results[1].shared
    assert (shared.here, shared.there) == ((1, 8), (1, 8))
    assert shared.numbers == ("1", "37", "6m", "b67", "5", "17", "4", "4m6")
    assert shared.about is None
    assert [cell.here + cell.there for cell in shared.cells][:2] == [("D", "C"), ("F#7", "E7")]
    assert all(cell.here_numbers == cell.there_numbers for cell in shared.cells)


def test_parts_in_another_order_are_all_shared(small: OpenIndex) -> None:
    first = like(small, "walk.txt").results[0]
    assert (first.path, first.score) == ("turned.txt", 1.0)
    assert {(each.here, each.there) for each in first.shared} == {((1, 8), (9, 16)), ((9, 16), (1, 8))}


def test_a_loop_is_like_what_goes_round_it(tmp_path: Path) -> None:
    rounds = "| D | A | Bm | G | D | A | Bm | G |\n" * 3
    charts = {
        "loop": "title: Loop\nkey: C\n\n| C | G | Am | F | C | G | Am | F |\n",
        "round": f"title: Round\nkey: D\n\n{rounds}| D | A | Bm | G |\n",
        "begins": "title: Begins\nkey: C\n\n| C | G | Am | F | C | Bb | Eb | Ab |\n",
    }
    with index_of(tmp_path, **charts) as index:
        found = like(index, "loop.txt").results
        back = like(index, "round.txt").results
    # Three times eight bars are set beside seven times four.
    assert [each.path for each in found] == ["round.txt", "begins.txt"]
    assert [each.score for each in found] == [2 * 24 / (24 + 28), 2 * 5 / (8 + 8)]
    assert {(each.here, each.there) for each in found[0].shared} == {
        ((1, 8), (1, 8)),
        ((1, 8), (9, 16)),
        ((1, 8), (17, 24)),
    }
    assert [each.path for each in back] == ["loop.txt", "begins.txt"]
    assert back[0].score == found[0].score
    assert {(each.here, each.there) for each in back[0].shared} == {
        ((1, 8), (1, 8)),
        ((9, 16), (1, 8)),
        ((17, 24), (1, 8)),
    }


def test_twice_as_many_bars_count_half(small: OpenIndex) -> None:
    found = {each.path: each for each in like(small, "walk-in-d.txt").results}
    assert found["close.txt"].score == 0.5
    (shared,) = found["close.txt"].shared
    assert (shared.here, shared.there) == ((1, 8), (1, 4))


def test_what_shares_nothing_is_left_out(small: OpenIndex) -> None:
    assert "other.txt" not in [each.path for each in like(small, "walk.txt").results]
    assert like(small, "other.txt").results == ()


@pytest.mark.parametrize(
    ("filters", "paths"),
    [
        (Filters(style="jazz"), ["walk-in-d.txt"]),
        (Filters(key="D"), ["walk-in-d.txt"]),
        (Filters(section="B"), ["turned.txt"]),
        (Filters(section="Bridge"), []),
    ],
)
def test_filters(small: OpenIndex, filters: Filters, paths: list[str]) -> None:
    assert [each.path for each in like(small, "walk.txt", filters).results] == paths


def test_the_limit(small: OpenIndex) -> None:
    assert len(like(small, "walk.txt", limit=1).results) == 1


def test_a_passage_about_another_tonic(tmp_path: Path) -> None:
    minor = "title: Minor\nkey: Bm\n\n| Bm | G | D | A |\n| Bm | G | D | A |\n"
    major = "title: Major\nkey: F#\n\n| D#m | B | F# | C# |\n| D#m | B | F# | C# |\n"
    with index_of(tmp_path, minor=minor, major=major) as index:
        (found,) = like(index, "minor.txt").results
    assert [str(each.about) for each in found.shared] == ["D#"]
    assert found.shared[0].numbers == ("1m", "b6", "b3", "b7") * 2
    assert {cell.there_numbers for cell in found.shared[0].cells} == {("1m",), ("b6",), ("b3",), ("b7",)}


def test_silence_and_changes_of_key(tmp_path: Path) -> None:
    one = "title: One\nkey: C\n\n| N.C. | C | Am | F | G |\nkey: D\n| D | Bm | G | A |\n"
    two = "title: Two\nkey: C\n\n| C | Am | F | G | D | Bm | G | A |\n"
    with index_of(tmp_path, one=one, two=two) as index:
        (found,) = like(index, "one.txt").results
    assert found.score == 1.0
    (shared,) = found.shared
    assert (shared.here, shared.there) == ((2, 9), (1, 8))
    assert shared.numbers == ("1", "6m", "4", "5", "1", "6m", "4", "5")


def test_charts_by_name(small: OpenIndex) -> None:
    for name in ("walk.txt", "WALK", "Walk", "./walk.txt"):
        assert chart_meant(small, name) == "walk.txt"
    with pytest.raises(ChoiceError, match=r"nearest: .*Walk"):
        chart_meant(small, "Wallk")
    with pytest.raises(SamechangesError, match=r"faulty\.txt has faults"):
        chart_meant(small, "faulty")
    with pytest.raises(ChoiceError, match="no chart"):
        like(small, "nowhere.txt")
    with pytest.raises(ReadingError):
        like(small, "walk.txt", Filters(key="H"))
