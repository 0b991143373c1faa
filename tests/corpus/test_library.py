"""The library folder: what is read, what cannot be, and which chart a name stands for."""

from __future__ import annotations

import os
import tracemalloc
from pathlib import Path

import pytest

from corpus.chart_files import MOST_PLAYED, read_bytes, read_text
from corpus.library import LARGEST, Library, LibraryError, chosen_chart, chosen_library, demo_library
from shared.errors import ChoiceError

CHART = "key: C\n\n| C | F |\n"


def write(folder: Path, *names: str, text: str = CHART) -> None:
    for name in names:
        place = folder / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(text, encoding="utf-8")


# Which files are charts


def test_every_txt_below_the_folder_hidden_ones_left_out(tmp_path: Path) -> None:
    write(tmp_path, "b.txt", "a.txt", "waltz/c.txt", "OLD.TXT", "deep/er/d.txt", "été.txt")
    write(tmp_path, ".hidden.txt", ".git/e.txt", "waltz/.f.txt", "notes.md", "txt", "g.txt.bak")
    (tmp_path / "folder.txt").mkdir()
    write(tmp_path, "folder.txt/inside.txt")
    expected = ["OLD.TXT", "a.txt", "b.txt", "deep/er/d.txt", "folder.txt/inside.txt", "waltz/c.txt", "été.txt"]
    assert Library(tmp_path).listing() == (expected, {})


def test_an_empty_folder_has_no_charts(tmp_path: Path) -> None:
    assert Library(tmp_path).chart_paths() == []


@pytest.mark.parametrize(
    ("name", "said"),
    [("missing", "does not exist"), ("file.txt", "is not a folder"), ("x" * 5000, "cannot be read")],
)
def test_a_folder_that_cannot_be_read(tmp_path: Path, name: str, said: str) -> None:
    write(tmp_path, "file.txt")
    with pytest.raises(LibraryError, match=said) as caught:
        Library(tmp_path / name).chart_paths()
    assert str(tmp_path) in str(caught.value)


def test_a_folder_that_must_not_be_looked_into(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(tmp_path, "open.txt", "closed/shut.txt")
    real = os.scandir

    def refusing(place: str | Path) -> object:
        if Path(place).name == "closed":
            raise PermissionError(13, "Permission denied", str(place))
        return real(place)

    monkeypatch.setattr(os, "scandir", refusing)
    paths, missed = Library(tmp_path).listing()
    assert paths == ["open.txt"]
    assert missed["closed"].message == "the folder cannot be read: Permission denied"
    with pytest.raises(LibraryError, match="Permission denied"):
        Library(tmp_path / "closed").chart_paths()


def test_a_name_that_is_not_utf_8_is_a_fault(tmp_path: Path) -> None:
    write(tmp_path, "good.txt")
    try:
        Path(os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9.txt")).write_text(CHART)
    except OSError:
        pytest.skip("this file system has only UTF-8 names")
    paths, missed = Library(tmp_path).listing()
    assert paths == ["good.txt"]
    assert list(missed) == [r"caf\udce9.txt"]


# Links


def test_links_are_followed_inside_the_library_alone(tmp_path: Path) -> None:
    library = Library(tmp_path / "library")
    write(tmp_path, "outside/secret.txt")
    write(library.root, "inner.txt", "inside/own.txt")
    (library.root / "twin.txt").symlink_to("inner.txt")
    (library.root / "out.txt").symlink_to(tmp_path / "outside" / "secret.txt")
    (library.root / "outdoors").symlink_to(tmp_path / "outside")
    (library.root / "indoors").symlink_to("inside")
    paths, missed = library.listing()
    assert paths == ["inner.txt", "inside/own.txt", "out.txt", "twin.txt"]
    assert list(missed) == ["outdoors"]
    assert library.read("twin.txt").chart is not None
    (fault,) = library.read("out.txt").faults
    assert "leads out of the library" in fault.message


def test_a_library_may_itself_be_a_link(tmp_path: Path) -> None:
    write(tmp_path, "real/a.txt")
    (tmp_path / "link").symlink_to("real")
    assert Library(tmp_path / "link").read("a.txt").chart is not None


@pytest.mark.parametrize("path", ["../outside.txt", "/etc/hostname", "sub/../../outside.txt"])
def test_no_path_leads_out(tmp_path: Path, path: str) -> None:
    write(tmp_path, "outside.txt", "library/sub/a.txt")
    library = Library(tmp_path / "library")
    with pytest.raises(LibraryError, match="outside the library"):
        library.read_bytes(path)
    assert library.read(path).chart is None


@pytest.mark.parametrize("kind", ["broken link", "loop", "pipe"])
def test_what_is_no_file(tmp_path: Path, kind: str) -> None:
    place = tmp_path / "odd.txt"
    if kind == "pipe":
        os.mkfifo(place)
    else:
        place.symlink_to("odd.txt" if kind == "loop" else "nowhere.txt")
    reading = Library(tmp_path).read("odd.txt")
    assert reading.chart is None
    assert len(reading.faults) == 1


# What a file holds


@pytest.mark.parametrize(
    ("content", "message", "line", "column"),
    [
        (b"", "no chords found", 1, 1),
        (b"| C | F |\x00", "the file holds binary data", 1, 0),
        (b"key: C\n\n| C | \x89PNG\x00 |", "the file holds binary data", 3, 0),
        (b"\xff\xfe|\x00 \x00C\x00", "the file is saved as UTF-16", 1, 0),
        (b"title: x\nkey: C\n\n| C | caf\xe9 |\n", "byte 0xe9 is not UTF-8", 4, 10),
        ("key: C\n\n| C | Ré".encode() + b"\xe9 |", "byte 0xe9 is not UTF-8", 3, 9),
    ],
)
def test_what_is_no_chart_text(content: bytes, message: str, line: int, column: int) -> None:
    reading = read_bytes(content)
    assert reading.chart is None
    fault = reading.faults[0]
    assert (fault.message, fault.line, fault.column) == (message, line, column)


def test_a_fault_of_the_encoding_shows_its_line() -> None:
    (fault,) = read_bytes(b"| C |\r\n| F\xfc | G |\r\n").faults
    assert fault.drawn() == "| F\N{REPLACEMENT CHARACTER} | G |\n   ^"


@pytest.mark.parametrize("mark", [b"\xef\xbb\xbf", b""])
@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_a_byte_order_mark_and_both_line_ends(mark: bytes, end: bytes) -> None:
    chart = read_bytes(mark + end.join([b"title: A", b"key: C", b"", b"| C | F |"])).chart
    assert chart is not None
    assert chart.title == "A"


@pytest.mark.parametrize(("size", "fits"), [(LARGEST, True), (LARGEST + 1, False), (50_000_000, False)])
def test_the_largest_file(tmp_path: Path, size: int, fits: bool) -> None:
    with (tmp_path / "big.txt").open("wb") as file:
        file.write(CHART.encode() + b"# a comment\n" * 80_000)
        file.truncate(size)
    tracemalloc.start()
    content = Library(tmp_path).read_bytes("big.txt")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert len(content) == min(size, LARGEST + 1)
    assert peak < 2 * LARGEST + 200_000
    if not fits:
        (fault,) = Library(tmp_path).read("big.txt").faults
        assert fault.message == "the file is larger than 1,000,000 bytes"


def test_a_full_sized_file_is_read(tmp_path: Path) -> None:
    text = CHART + "# a comment\n" * 83_331
    write(tmp_path, "full.txt", text=text + "#" * (LARGEST - len(text)))
    assert (tmp_path / "full.txt").stat().st_size == LARGEST
    assert Library(tmp_path).read("full.txt").chart is not None


# What a chart plays


@pytest.mark.parametrize(
    "text",
    [
        "| N.C. | N.C. |",
        "key: C\n\n| N.C. | |",
        "form: A\n\n[A]\nonly words\n[B]\n| C | F |",
        "key: C\nform: B\n\n[A]\n| C |\n[B]\n| N.C. |",
    ],
)
def test_a_chart_that_is_silent_has_a_fault(text: str) -> None:
    reading = read_text(text)
    assert reading.chart is None
    assert reading.faults[0].message == "no chord is ever played in this chart"


def line_of(bars: int) -> str:
    return "| " + " | ".join(["C", "F"] * (bars // 2)) + " |"


def test_a_chart_may_be_long_but_not_endless() -> None:
    twice = f"|: {line_of(1000)[2:-2]} :|x32\n"
    assert read_text(twice + twice).chart is not None
    reading = read_text(twice + twice + twice)
    assert reading.chart is None
    (fault,) = reading.faults
    assert fault.message == "played out, this chart has 96,000 cells"
    assert f"{MOST_PLAYED:,}" in fault.expected


def test_form_and_endings_count_as_played() -> None:
    section = f"[A]\n|: {line_of(1000)[2:-2]} |1-98. C :|99. G |\n"
    form = "form: A\n\n"
    assert "cells" in read_text(form + section).faults[0].message
    often = "form: " + "A " * 2000 + f"\n\n[A]\n{line_of(40)}\n"
    assert read_text(often).faults[0].message == "played out, this chart has 80,000 cells"


# Names


CHARTS = [
    ("waltz/dark-eyes.txt", "Dark Eyes"),
    ("folk/Loch.txt", "Loch Lomond"),
    ("pop/loch.txt", "Another"),
    ("a/same.txt", "One Title"),
    ("b/other.txt", "One Title"),
    ("caf\u00e9.txt", "Caf\u00e9"),
    ("OLD.TXT", "Old"),
]


@pytest.mark.parametrize(
    ("name", "path"),
    [
        ("waltz/dark-eyes.txt", "waltz/dark-eyes.txt"),
        ("WALTZ/Dark-Eyes", "waltz/dark-eyes.txt"),
        ("waltz\\dark-eyes.txt", "waltz/dark-eyes.txt"),
        ("./waltz/dark-eyes.txt", "waltz/dark-eyes.txt"),
        ("dark-eyes", "waltz/dark-eyes.txt"),
        ("dark-eyes.txt", "waltz/dark-eyes.txt"),
        (" dark eyes ", "waltz/dark-eyes.txt"),
        ("loch lomond", "folk/Loch.txt"),
        ("folk/loch", "folk/Loch.txt"),
        ("another", "pop/loch.txt"),
        ("cafe\u0301", "caf\u00e9.txt"),
        ("old", "OLD.TXT"),
    ],
)
def test_a_name_stands_for_a_chart(name: str, path: str) -> None:
    assert chosen_chart(name, CHARTS) == path


@pytest.mark.parametrize(
    ("name", "nearest"),
    [
        ("dark eye", ("Dark Eyes", "dark-eyes")),
        ("loch", ("folk/Loch.txt", "pop/loch.txt")),
        ("one title", ("a/same.txt", "b/other.txt")),
        ("zzzz", ()),
        ("", ()),
    ],
)
def test_a_name_that_stands_for_none_or_for_several(name: str, nearest: tuple[str, ...]) -> None:
    with pytest.raises(ChoiceError) as caught:
        chosen_chart(name, CHARTS)
    assert caught.value.nearest == nearest


# Which library


def test_the_library_given_then_the_one_named_then_the_demo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert chosen_library() == demo_library()
    monkeypatch.setenv("SAMECHANGES_LIBRARY", str(tmp_path / "named"))
    assert chosen_library() == Library(tmp_path / "named")
    assert chosen_library(str(tmp_path / "given")) == Library(tmp_path / "given")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert chosen_library("~/charts") == Library(tmp_path / "charts")


def test_a_library_whose_name_is_no_text() -> None:
    with pytest.raises(LibraryError, match="not UTF-8"):
        chosen_library("charts\udce9")


def test_the_demo_library_reads_without_a_fault() -> None:
    library = demo_library()
    paths = library.chart_paths()
    assert len(paths) >= 60
    assert [path for path in paths if library.read(path).chart is None] == []
