"""Saving a pasted chart: inside the library, and never over another unasked."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.library import Library, demo_library
from corpus.saving import AlreadyThere, SavingError, checked_name, save_chart, suggested_name

TEXT = "title: A\nkey: C\n\n| C | F |\n"


@pytest.mark.parametrize(
    ("typed", "path"),
    [
        ("tune", "tune.txt"),
        ("tune.txt", "tune.txt"),
        ("Tune.TXT", "Tune.txt"),
        (" hymns/Old Hundredth ", "hymns/Old Hundredth.txt"),
        ("no. 9", "no. 9.txt"),
        ("fünf-stücke", "fünf-stücke.txt"),
    ],
)
def test_names(typed: str, path: str) -> None:
    assert checked_name(typed) == path


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "  ",
        "../out",
        "a/../../out",
        "/etc/passwd",
        ".hidden",
        "a/.b/c",
        "c:tune",
        "a\\b",
        "a\nb",
        "con",
        "x" * 200,
        "a /b",
        ".txt",
    ],
)
def test_names_that_are_none(typed: str, tmp_path: Path) -> None:
    with pytest.raises(SavingError):
        save_chart(Library(tmp_path), typed, TEXT)
    assert list(tmp_path.iterdir()) == []


@given(st.text(max_size=200))
def test_a_suggested_name_is_a_name(title: str) -> None:
    name = suggested_name(title)
    assert name.endswith(".txt")
    assert "/" not in name


def test_saving_and_not_writing_over(tmp_path: Path) -> None:
    library = Library(tmp_path)
    assert save_chart(library, "sub/tune", TEXT) == "sub/tune.txt"
    with pytest.raises(AlreadyThere):
        save_chart(library, "sub/tune", "other")
    assert (tmp_path / "sub/tune.txt").read_text(encoding="utf-8") == TEXT
    save_chart(library, "sub/tune", "other", replace=True)
    assert (tmp_path / "sub/tune.txt").read_text(encoding="utf-8") == "other\n"
    assert [path.name for path in (tmp_path / "sub").iterdir()] == ["tune.txt"]


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="this system has no links")
def test_a_link_does_not_lead_out(tmp_path: Path) -> None:
    inside, outside = tmp_path / "library", tmp_path / "outside"
    inside.mkdir()
    outside.mkdir()
    (inside / "door").symlink_to(outside)
    (inside / "file.txt").symlink_to(outside / "file.txt")
    for name in ("door/tune", "file"):
        with pytest.raises(SavingError, match="leads out"):
            save_chart(Library(inside), name, TEXT, replace=True)
    assert list(outside.iterdir()) == []


def test_the_demo_library_is_not_written(tmp_path: Path) -> None:
    with pytest.raises(SavingError, match="demo library"):
        save_chart(demo_library(), "tune", TEXT)


def test_a_folder_where_a_file_stands(tmp_path: Path) -> None:
    (tmp_path / "hymns").write_text("no folder", encoding="utf-8")
    with pytest.raises(SavingError):
        save_chart(Library(tmp_path), "hymns/tune", TEXT)
