"""A small library whose files change, and what its index says of it."""

from __future__ import annotations

from pathlib import Path

from corpus.index import Report
from corpus.library import Library
from corpus.reading import OpenIndex

CHART = "key: C\n\n| C | F |\n"


def three_tunes(folder: Path) -> Library:
    """A library of three tunes, one of them in a folder of its own."""
    library = Library(folder)
    for name in ("a", "b", "deep/c"):
        write(library, f"{name}.txt", f"title: Tune {name}\n{CHART}")
    return library


def write(library: Library, path: str, text: str = CHART) -> None:
    """Writes a file of a library."""
    place = library.root / path
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(text, encoding="utf-8")


def counts(report: Report) -> tuple[int, int, int, int]:
    """How many charts there are, were read, are unchanged and are gone."""
    return report.charts, report.read, report.unchanged, report.removed


def titles(library: Library) -> list[str]:
    """The titles that the index knows."""
    with OpenIndex(library) as opened:
        return [title for _, title in opened.known_charts()]


def written(folder: Path) -> set[str]:
    """All files in a folder."""
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
