"""What discovery finds in the rock corpus without a catalogue: what others have named long ago.

Source of the charts: T. de Clercq and D. Temperley, "A corpus analysis of rock harmony", Popular Music 30/1 (2011),
47-70, release 2.1. The article's Table 7 has bVII IV I third among the ways of three roots to the tonic; the four-chord
loop is named by Open Music Theory 2e, the forms of the twelve-bar blues by general encyclopaedia articles.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from corpus.adding import add, chosen_notation, files_of
from corpus.catalogue import catalogue
from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from search.discovery import Discovered, discover
from tests.helpers.datasets import dataset

FIRST = 20
#: Twelve bars as chord changes; the seam of two choruses is one chord.
TWELVE_BARS = {"1 4 1 5 4", "1 4 1 5"}


@pytest.fixture(scope="module")
def rock(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenIndex]:
    """An index of all transcriptions of the corpus."""
    charts = [str(file) for file in sorted(dataset("rock").glob("r*.txt"))]
    library = Library(tmp_path_factory.mktemp("rock"))
    add(library, files_of(charts), chosen_notation("roman"))
    make_index(library)
    with OpenIndex(library) as index:
        yield index


@pytest.fixture(scope="module")
def found(rock: OpenIndex) -> list[Discovered]:
    return discover(rock, None)


def turns(numbers: str) -> set[str]:
    chords = numbers.split()
    return {" ".join(chords[at:] + chords[:at]) for at in range(len(chords))}


@pytest.mark.parametrize("loop", ["1 5 6m 4", "b7 4 1", *sorted(TWELVE_BARS)])
def test_what_has_a_name_is_among_the_first(found: list[Discovered], loop: str) -> None:
    first = {each.pattern for each in found[:FIRST] if each.loop}
    assert first & turns(loop), [each.pattern for each in found[:FIRST]]


def test_counts_are_tunes(found: list[Discovered], rock: OpenIndex) -> None:
    ((charts,),) = rock.rows("SELECT count(*) FROM charts")
    assert all(3 <= each.charts <= min(charts, each.matches) for each in found)
    assert [each.surprise for each in found] == sorted((each.surprise for each in found), reverse=True)


def test_the_catalogue_explains_them(rock: OpenIndex) -> None:
    unnamed = {each.pattern for each in discover(rock, catalogue())}
    for loop in ("1 5 6m 4", "b7 4 1", *TWELVE_BARS):
        assert not unnamed & turns(loop)
