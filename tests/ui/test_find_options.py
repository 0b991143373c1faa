"""``find`` with near versions, several patterns, totals alone, and matches in their context."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.commands import answer, library_of, run
from ui.verbs import BAD_INPUT, FOUND, NOTHING

DOCK = "title: Dock\nkey: C\n\n[A]\n| C | G7 | Am | F |\n[B]\n| C | F | Fm | C |\n"
QUAY = "title: Quay\nkey: G\n\n[A]\n| G | Ab7 | Em | C |\n"
LOCK = "title: Lock\nkey: F\n\n[A]\n| F | C | Dm | Gm7 Bb |\n"
WEIR = "title: Weir\nkey: D\n\n[A]\n| D | D | G | A |\n"


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = library_of(tmp_path_factory.mktemp("options") / "charts", dock=DOCK, quay=QUAY, lock=LOCK, weir=WEIR)
    assert run("index", folder).exit_code == FOUND
    return folder


def titles(line: str, library: Path) -> list[str]:
    return [result["title"] for result in answer(line, library)["results"]]


def test_near_versions_come_after_what_was_asked_for_and_say_what_differs(library: Path) -> None:
    made = answer('find "1 57 6m 4" --near 1', library)
    assert [result["title"] for result in made["results"]][:1] == ["Dock"]
    differs = {result["title"]: result["matches"][0]["differs"] for result in made["results"]}
    assert differs["Dock"] == []
    assert differs["Quay"] == ["bar 2: b27 instead of 57 (tritone substitution)"]
    assert made["charts"] == len(made["results"]) == made["matches"]


def test_nothing_is_near_unless_asked(library: Path) -> None:
    assert titles('find "1 57 6m 4"', library) == ["Dock"]


def test_two_edits_find_more_than_one(library: Path) -> None:
    one, two = (set(titles(f'find "1 57 6m 4" --near {edits}', library)) for edits in (1, 2))
    assert one < two


def test_another_pattern_may_be_asked_for_or_ruled_out(library: Path) -> None:
    assert titles("find '1 5' --and '4 4m'", library) == ["Dock"]
    assert "Dock" not in titles("find '1 5' --not '4 4m'", library)
    assert titles("find 4 --not 6m --and 5", library) == ["Weir"]
    assert run("find 1 --and '4 4m' --not 4m", library).exit_code == NOTHING


def test_totals_alone(library: Path) -> None:
    result = run("find 4 --totals", library)
    assert result.stdout.splitlines()[1:] == ["4 tunes, 5 times as played."]
    assert answer("find 4 --totals", library)["results"] == []


def test_matches_in_their_context(library: Path) -> None:
    lines = run("find '4 4m' --context 1", library).stdout.splitlines()
    assert lines[3] == "1  [ 4 4m ]  1  Dock, B bar 6"


def test_context_is_put_in_order(library: Path) -> None:
    def before(line: str) -> list[str]:
        return [row.split("[")[0].strip() for row in run(line, library).stdout.splitlines()[3:] if "[ " in row]

    ordered = before("find 4 --context 1 --by before")
    assert sorted(ordered, key=lambda words: words.split()[::-1]) == ordered
    assert sorted(before("find 4 --context 1")) == sorted(ordered)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("find '1 .. 4' --near 1", "“..” leaves open how many chords"),
        ("find '1 4' --near 3", "0<=x<=2"),
        ("find 1 --and Dm7", "“Dm7” has chord names"),
        ("find 1 --not '4 ('", "too early"),
    ],
)
def test_what_is_refused(library: Path, line: str, said: str) -> None:
    result = run(line, library)
    assert result.exit_code == BAD_INPUT
    assert said in result.stderr
