"""Runs the command in this process, as a shell would call it."""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from ui.command import main

FOUND, NOTHING, BAD_INPUT = 0, 1, 2


def run(line: str | list[str], library: Path | None = None) -> Result:
    """Runs a command line, written as in a shell, on a library; a traceback fails the test."""
    arguments = shlex.split(line) if isinstance(line, str) else list(line)
    if library is not None:
        arguments[1:1] = ["--library", str(library)]
    return CliRunner().invoke(main, arguments, catch_exceptions=False, prog_name="samechanges")


def answer(line: str, library: Path | None = None) -> dict[str, Any]:
    """The JSON that a command answers; nothing else may stand on standard output."""
    made: dict[str, Any] = json.loads(run(f"{line} --json", library).stdout)
    return made


def library_of(folder: Path, **charts: str) -> Path:
    """A library of charts by stem; an underscore in a stem stands for a hyphen."""
    folder.mkdir(parents=True, exist_ok=True)
    for stem, text in charts.items():
        (folder / f"{stem.replace('_', '-')}.txt").write_text(text, encoding="utf-8")
    return folder
