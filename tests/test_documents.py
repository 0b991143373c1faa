"""The documents say what is true: every option and column is there, and every command in them works."""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import click
import duckdb
import pytest
from click.testing import CliRunner, Result

from corpus.library import LARGEST, Library
from grammar.charts import read_chart
from grammar.patterns import MOST_CHARACTERS, MOST_GAPS, MOST_ITEMS, MOST_OPEN, read_pattern
from grammar.symbols import read_chord
from shared.chart import KNOWN_HEADERS
from shared.quality import Family
from tests.helpers.datasets import dataset
from ui.command import main

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
CI = ROOT / ".ci" / "run"
PYTHON = Path(sys.executable)


def section(text: str, heading: str) -> str:
    """What stands under a heading, up to the next one of its level or above."""
    level = len(heading) - len(heading.lstrip("#"))
    found = re.search(rf"^{re.escape(heading)}$(.*?)(?=^#{{1,{level}}} |\Z)", text, re.MULTILINE | re.DOTALL)
    assert found, f"there is no heading “{heading}”"
    return found.group(1)


def blocks(text: str, language: str) -> list[str]:
    return [code.strip() for code in re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)]


def run(command: str, *, cwd: Path = ROOT, **variables: str) -> subprocess.CompletedProcess[str]:
    """Runs a line of shell with this interpreter and its scripts first on the path."""
    path = os.pathsep.join([str(PYTHON.parent), os.environ["PATH"]])
    env = os.environ | {"PATH": path, "PYTHONPATH": str(ROOT)} | variables
    return subprocess.run(["bash", "-c", command], cwd=cwd, env=env, capture_output=True, text=True, check=False)


# The README


SETUP, TESTS = (code for code in blocks(section(README, "## Set-up"), "sh")[:2])


def test_set_up_is_two_commands() -> None:
    assert len(SETUP.splitlines()) == len(TESTS.splitlines()) == 1
    assert '".[test]"' in SETUP
    assert "venv .venv" in SETUP


def test_the_set_up_command_ends_in_an_answer() -> None:
    steps = SETUP.split(" && ")
    asked = [step for step in steps if step.startswith("samechanges")]
    assert [step.split()[1] for step in asked] == ["index", "find"]
    for step in asked:
        result = invoke(step)
        assert result.exit_code == 0
        assert result.stdout.strip()


def invoke(line: str) -> Result:
    return CliRunner().invoke(main, shlex.split(line)[1:], catch_exceptions=False)


def test_ci_runs_the_readmes_test_command() -> None:
    script = CI.read_text(encoding="utf-8")
    taken = re.search(r'tests="\$\((awk .*)\)"', script)
    assert taken, "the line that takes the test command from the README"
    assert run(taken.group(1)).stdout.strip() == TESTS == "python -m pytest"


def test_ci_is_a_strict_script_that_can_be_run() -> None:
    script = CI.read_text(encoding="utf-8")
    assert CI.stat().st_mode & stat.S_IXUSR
    assert "set -euo pipefail" in script
    assert run("bash -n .ci/run").returncode == 0
    assert not re.search(r"https?://|/home/|/root|index-url", script)


def test_the_first_lines_to_try_work() -> None:
    tried = blocks(section(README, "## Set-up"), "sh")[2].splitlines()
    for line in (line for line in tried if "--library" not in line):
        assert invoke(line).exit_code == 0, line


def test_the_chart_of_the_readme_reads() -> None:
    (chart,) = blocks(section(README, "## Charts"), "text")
    reading = read_chart(chart)
    assert reading.chart is not None, reading.faults


def test_every_header_is_told() -> None:
    row = next(line for line in section(README, "## Charts").splitlines() if line.startswith("| headers"))
    assert all(re.search(rf"\b{name}\b", row) for name in KNOWN_HEADERS)


def cells(table: str) -> list[list[str]]:
    """The rows of the tables in a text, their bars unescaped."""
    rows = [re.split(r"(?<!\\)\|", line)[1:-1] for line in table.splitlines() if line.startswith("| ")]
    return [[cell.strip().replace("\\|", "|") for cell in row] for row in rows]


PATTERNS = [
    pattern
    for row in cells(section(README, "## Asking"))
    for pattern in re.findall(r"`([^`]+)`", row[0])
    if row[0] != "option" and pattern not in ("[", "]", "[[", "]]", "..", "6m?")
]


@pytest.mark.parametrize("pattern", PATTERNS)
def test_every_pattern_of_the_readme_reads(pattern: str) -> None:
    assert read_pattern(pattern).pattern.parts


@pytest.mark.parametrize("sign", ["[", "]", "[[", "]]", "..", "6m?"])
def test_every_sign_of_the_readme_reads_beside_a_chord(sign: str) -> None:
    assert f"`{sign}`" in section(README, "## Asking")
    assert len(read_pattern(f"1 {sign} 4").pattern.parts) == 3


def test_every_family_is_told_with_how_it_is_written() -> None:
    told = {row[0]: row[1] for row in cells(section(README, "## Asking")) if row[0] in {f.title for f in Family}}
    assert set(told) == {family.title for family in Family}
    for title, written in told.items():
        item, _ = read_pattern(f"{written.strip('`')} 4").pattern.items()
        assert item.alternatives[0].family is next(family for family in Family if family.title == title)


def test_the_examples_of_a_family_belong_to_it() -> None:
    titles = {family.title: family for family in Family}
    rows = [row for row in cells(section(README, "## Asking")) if row[0] in titles]
    for title, _, examples in rows:
        for name in examples.split(", "):
            families = {read_chord(name).quality.family}
            if title == "suspended" and families == {Family.DOMINANT}:
                assert read_chord(name).quality.third.value == "none"
            else:
                assert families == {titles[title]}, name


@pytest.mark.parametrize("verb", sorted(main.commands))
def test_every_verb_and_option_is_told(verb: str) -> None:
    command = main.commands[verb]
    (heading,) = re.findall(rf"^### samechanges {verb}\b.*$", README, re.MULTILINE)
    text = section(README, heading)
    _, *arguments = command.collect_usage_pieces(click.Context(command))
    assert heading.split()[3:] == arguments
    options = [each for each in command.params if isinstance(each, click.Option)]
    told = re.findall(r"^\| `(--[a-z-]+)", text, re.MULTILINE)
    assert sorted(told) == sorted(long for each in options for long in each.opts if long.startswith("--"))


@pytest.mark.parametrize("verb", sorted(main.commands))
def test_every_option_and_verb_helps_itself(verb: str) -> None:
    command = main.commands[verb]
    assert "Examples:" in (command.help or "")
    assert all(each.help for each in command.params if isinstance(each, click.Option))


@pytest.mark.parametrize("verb", sorted(main.commands))
def test_every_example_of_the_help_is_read(verb: str) -> None:
    lines = re.findall(r"^\s*(samechanges .*)$", main.commands[verb].help or "", re.MULTILINE)
    assert lines
    for line in lines:
        if "--library" not in line and verb != "page" and "altmarsh" not in line:
            assert invoke(line).exit_code == 0, line


def test_the_choices_of_an_option_are_told() -> None:
    for verb, command in main.commands.items():
        for option in command.params:
            if isinstance(option.type, click.Choice):
                (row,) = re.findall(rf"^\| `{option.opts[0]}.*$", section(README, heading_of(verb)), re.MULTILINE)
                assert all(choice in row for choice in option.type.choices), (verb, option.opts)


def heading_of(verb: str) -> str:
    (heading,) = re.findall(rf"^### samechanges {verb}\b.*$", README, re.MULTILINE)
    return str(heading)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_lines_name_what_click_answers_to(shell: str) -> None:
    assert f"_SAMECHANGES_COMPLETE={shell}_source samechanges" in section(README, "### Shell completion")
    code = "from ui.command import main; main(prog_name='samechanges')"
    done = run(f'{PYTHON} -c "{code}"', _SAMECHANGES_COMPLETE=f"{shell}_source")
    assert "_SAMECHANGES_COMPLETE" in done.stdout, done.stderr


SCHEMA = (ROOT / "corpus" / "schema.sql").read_text(encoding="utf-8")


def columns() -> dict[str, list[str]]:
    """Every table and view of the schema with its columns, as DuckDB sees them."""
    with duckdb.connect() as connection:
        connection.execute(SCHEMA)
        rows = connection.execute(
            "SELECT table_name, column_name FROM information_schema.columns WHERE table_schema = 'main'"
        ).fetchall()
    found: dict[str, list[str]] = {}
    for table, column in rows:
        found.setdefault(table, []).append(column)
    return found


def test_every_table_and_column_is_told() -> None:
    told = {row[0].strip("`"): row[1] for row in cells(section(README, "## The index"))}
    there = columns()
    assert set(told) - {"table"} - {"---"} == set(there)
    for table, names in there.items():
        missing = [name for name in names if f"`{name}`" not in told[table]]
        assert not missing, (table, missing)


def test_the_index_opens_in_plain_duckdb(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "tests" / "contract" / "charts", tmp_path / "charts")
    assert CliRunner().invoke(main, ["index", "--library", str(tmp_path / "charts")]).exit_code == 0
    (code,) = blocks(section(README, "## The index"), "python")
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert len(done.stdout.splitlines()) == 8
    assert done.stdout.startswith("('Cold Harbour', 'A', 1, 'Am', 0, 'm')")


def test_the_index_is_where_the_readme_says(tmp_path: Path) -> None:
    assert "`.samechanges/index.duckdb`" in section(README, "## The index")
    assert Library(tmp_path).index_path == tmp_path / ".samechanges" / "index.duckdb"


def test_the_bounds_are_those_of_the_code() -> None:
    told = section(README, "## Bounds")
    assert LARGEST == 1_000_000
    assert "1 MB" in told
    assert f"{MOST_CHARACTERS:,} characters" in told
    assert f"{MOST_ITEMS} items" in told
    assert MOST_GAPS == 3
    assert "three `..`" in told
    assert MOST_OPEN == 6
    assert "at most six chords open" in told


def test_every_name_of_the_json_is_told() -> None:
    told = set(re.findall(r"`(\w+)`", section(README, "## JSON")))
    names: set[str] = set()

    def walk(value: object) -> None:
        if isinstance(value, dict):
            names.update(value)
            value = list(value.values())
        if isinstance(value, list):
            for each in value:
                walk(each)

    for path in [*(ROOT / "tests" / "contract").glob("index.json"), *(ROOT / "tests" / "contract" / "show").glob("*")]:
        walk(json.loads(path.read_text(encoding="utf-8")))
    for case in json.loads((ROOT / "tests" / "contract" / "find.json").read_text(encoding="utf-8")):
        walk(case["answer"])
    assert names <= told


# DEVELOPERS.md


COMMANDS = [line for code in blocks(DEVELOPERS, "sh") for line in code.splitlines()]


def test_the_commands_for_developers_are_these() -> None:
    """Each of them is run by a test below, or by .ci/run."""
    programs = [*["python"] * 2, "ruff", "ruff", "mypy", *["python"] * 7, ".ci/run"]
    assert [line.split()[0] for line in COMMANDS] == programs


def test_running_from_the_checkout() -> None:
    done = run(COMMANDS[0])
    assert done.returncode == 0, done.stderr
    assert "as played" in done.stdout


def test_testing_one_part() -> None:
    done = run(f"{COMMANDS[1]} --collect-only -q -p no:cacheprovider")
    assert done.returncode == 0, done.stdout
    assert "test_contract.py" in done.stdout


@pytest.mark.parametrize("line", [line for line in COMMANDS if line.split()[0] in ("ruff", "mypy")])
def test_checking_style_and_types(line: str) -> None:
    assert line in CI.read_text(encoding="utf-8").splitlines()
    # The types of one room stand for all: from nothing, the whole takes half a minute.
    done = run("mypy -p shared" if line == "mypy" else line)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("line", COMMANDS[5:9])
def test_measuring(line: str) -> None:
    command = re.sub(r"(--\w+) \d+", r"\1 30", line)
    assert command != line
    done = run(command)
    assert done.returncode == 0, done.stderr
    assert "ratio" in done.stdout


def test_comparing_with_the_referee() -> None:
    """A round takes minutes: that the program is there and takes what it is given stands for it."""
    done = run(f"{COMMANDS[9]} --help")
    assert done.returncode == 0, done.stderr
    assert "--pairs" in done.stdout


def test_training_and_judging_the_key_finder(tmp_path: Path) -> None:
    pytest.importorskip("scipy", reason="training needs scipy, which the extra “test” brings")
    few = tmp_path / "datasets"
    for name, most in (("billboard", 24), ("rock", 4)):
        (few / name).mkdir(parents=True)
        for file in sorted(dataset(name).glob("*.txt"))[:most]:
            shutil.copy(file, few / name)
    made = tmp_path / "weights.json"
    done = run(f"{COMMANDS[10]} --to {shlex.quote(str(made))}", SAMECHANGES_DATASETS=str(few))
    assert done.returncode == 0, done.stderr
    assert sorted(json.loads(made.read_text(encoding="utf-8"))) == ["about", "fragment", "path", "tune"]
    done = run(COMMANDS[11], SAMECHANGES_DATASETS=str(few))
    assert done.returncode == 0, done.stderr
    assert "Rock of one tonic (songs right)" in done.stdout


def test_the_rooms_of_the_table_are_there() -> None:
    rooms = re.findall(r"^\| `(\w+)/`", DEVELOPERS, re.MULTILINE)
    assert sorted(rooms) == sorted(path.parent.name for path in ROOT.glob("*/__init__.py"))


def test_the_files_named_for_developers_are_there() -> None:
    named = re.findall(r"`((?:corpus|grammar|search|shared|tests|ui)/[\w./]*)`", DEVELOPERS)
    assert named
    assert [name for name in named if not (ROOT / name).exists()] == []


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md", "LICENSE", ".ci/run", "pyproject.toml"])
def test_nothing_of_this_machine_is_in_the_documents(document: str) -> None:
    text = (ROOT / document).read_text(encoding="utf-8")
    assert str(ROOT) not in text
    assert str(Path.home()) + "/" not in text
