"""The house stands: imports only point down, names are kept free, files stay short, the command starts light."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
#: From the ground up; each room may import itself and those before it.
ROOMS = ("shared", "grammar", "corpus", "search", "ui")
MOST_LINES = 420
#: The readers of charts and their bar lines are one purpose each, and somewhat longer.
LONGER = {"grammar/charts.py": 700, "grammar/bar_lines.py": 500}
PYTHON_FILES = sorted(path for room in ROOMS for path in (ROOT / room).rglob("*.py"))


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def imported_rooms(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name(path)} imports relatively"
            found.add((node.module or "").split(".")[0])
    return found & {*ROOMS, "tests"}


@pytest.mark.parametrize("path", PYTHON_FILES, ids=name)
def test_imports_point_down(path: Path) -> None:
    own = ROOMS.index(path.relative_to(ROOT).parts[0])
    assert imported_rooms(path) <= set(ROOMS[: own + 1])


def test_there_are_five_rooms() -> None:
    packages = {path.parent.name for path in ROOT.glob("*/__init__.py")}
    assert packages == set(ROOMS)


def test_no_file_is_named_after_a_room() -> None:
    tracked = [path for room in (*ROOMS, "tests") for path in (ROOT / room).rglob("*") if path.is_file()]
    assert [name(path) for path in tracked if path.stem in ROOMS and "__pycache__" not in path.parts] == []


def test_no_test_folder_is_a_package() -> None:
    assert list((ROOT / "tests").rglob("__init__.py")) == []


@pytest.mark.parametrize("path", PYTHON_FILES, ids=name)
def test_files_stay_short(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= LONGER.get(name(path), MOST_LINES)


@pytest.mark.parametrize("path", [p for p in PYTHON_FILES if p.name != "__init__.py"], ids=name)
def test_every_module_opens_with_its_purpose(path: Path) -> None:
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))


def test_the_command_starts_light() -> None:
    heavy = ("pandas", "streamlit", "pyarrow", "lark", "duckdb", "platformdirs", "numpy")
    code = f"import sys, ui.command; print([name for name in {heavy} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"


def test_a_search_needs_no_pandas() -> None:
    code = (
        "import sys, ui.command\n"
        "try:\n    ui.command.main(['find', '1 4', '--limit', '1', '--json'])\n"
        "except SystemExit as end:\n    assert end.code == 0, end.code\n"
        "assert not {'pandas', 'streamlit', 'pyarrow'} & set(sys.modules), 'too much was imported'\n"
    )
    demo = [sys.executable, "-c", "import ui.command; ui.command.main(['index'])"]
    subprocess.run(demo, capture_output=True, cwd=ROOT, check=True)
    subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
