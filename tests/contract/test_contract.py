"""The executable contract: small charts, and the complete JSON that each verb must answer about them.

The expected values were worked out by hand from what the README promises; they are changed only when that changes. The
order of results is best first: the very chords before their families, then the longer share of the tune.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from ui.command import main

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copytree(HERE / "charts", tmp_path_factory.mktemp("contract") / "charts"))


def ask(library: Path, *arguments: str) -> Result:
    verb, *rest = arguments
    return CliRunner().invoke(main, [verb, "--library", str(library), "--json", *rest], catch_exceptions=False)


def expected(name: str) -> Any:
    return json.loads((HERE / name).read_text(encoding="utf-8"))


def index(library: Path) -> dict[str, Any]:
    result = ask(library, "index")
    assert result.exit_code == 0
    answer: dict[str, Any] = json.loads(result.stdout)
    assert isinstance(answer.pop("seconds"), float)
    return answer


@pytest.fixture(scope="module", autouse=True)
def first(library: Path) -> dict[str, Any]:
    return index(library)


def test_index(first: dict[str, Any]) -> None:
    assert first == expected("index.json")


def test_index_again_reads_nothing(library: Path, first: dict[str, Any]) -> None:
    assert index(library) == first | {"read": 0, "unchanged": first["read"]}


@pytest.mark.parametrize("name", sorted(path.stem for path in (HERE / "show").glob("*.json")))
def test_show(library: Path, name: str) -> None:
    result = ask(library, "show", name)
    assert result.exit_code == 0
    assert json.loads(result.stdout) == expected(f"show/{name}.json")


def test_every_chart_without_faults_is_shown() -> None:
    charts = {path.stem for path in (HERE / "charts").rglob("*.txt")} - {"broken-gate"}
    assert {path.stem for path in (HERE / "show").glob("*.json")} == charts


@pytest.mark.parametrize("case", expected("find.json"), ids=lambda case: " ".join(case["arguments"]))
def test_find(library: Path, case: dict[str, Any]) -> None:
    result = ask(library, "find", *case["arguments"])
    assert json.loads(result.stdout) == case["answer"]
    assert result.exit_code == case["status"]
