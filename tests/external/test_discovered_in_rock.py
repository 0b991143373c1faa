"""What discovery finds in the rock corpus without a catalogue: what others have named long ago.

Source of the charts: T. de Clercq and D. Temperley, "A corpus analysis of rock harmony", Popular Music 30/1 (2011),
47-70, release 2.1. The article's Table 7 has bVII IV I third among the ways of three roots to the tonic; the four-chord
loop is named by Open Music Theory 2e, the forms of the twelve-bar blues by general encyclopaedia articles.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.helpers.commands import FOUND, answer, run
from tests.helpers.datasets import dataset

FIRST = 20
#: Twelve bars as chord changes; the seam of two choruses is one chord.
TWELVE_BARS = {"1 4 1 5 4", "1 4 1 5"}


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library of all transcriptions of the corpus, by both analysts, added as a user adds a folder."""
    folder = tmp_path_factory.mktemp("rock")
    assert run(["add", str(dataset("rock"))], folder).exit_code == FOUND
    return folder


@pytest.fixture(scope="module")
def found(library: Path) -> dict[str, Any]:
    return answer("progressions --discover --named-too --limit 0", library)


def turns(numbers: str) -> set[str]:
    chords = numbers.split()
    return {" ".join(chords[at:] + chords[:at]) for at in range(len(chords))}


@pytest.mark.parametrize("loop", ["1 5 6m 4", "b7 4 1", *sorted(TWELVE_BARS)])
def test_what_has_a_name_is_among_the_first(library: Path, loop: str) -> None:
    """Without the catalogue: as the text tells it, of which a user reads the first twenty."""
    text = run("progressions --discover --named-too", library).stdout.splitlines()
    first = [line for line in text[1 : FIRST + 1] if "(loop)" in line]
    assert [line for line in first if any(f"  {turn} (loop)" in line for turn in turns(loop))], first


def test_counts_are_tunes(found: dict[str, Any]) -> None:
    assert found["charts"] == found["drawn"] == 198
    rows = found["discovered"]
    assert all(3 <= each["charts"] <= min(198, each["matches"]) for each in rows)
    assert [each["surprise"] for each in rows] == sorted((each["surprise"] for each in rows), reverse=True)


def test_the_catalogue_explains_them(library: Path) -> None:
    rows = answer("progressions --discover --limit 0", library)["discovered"]
    unnamed = {" ".join(row["numbers"]) for row in rows}
    for loop in ("1 5 6m 4", "b7 4 1", *TWELVE_BARS):
        assert not unnamed & turns(loop)
