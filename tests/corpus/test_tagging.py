"""Tags in chart files: one line changes and no other byte, and untagging leaves the file as it was."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus import rewriting
from corpus.chart_files import read_bytes
from corpus.library import Library, demo_library
from corpus.saving import SavingError
from corpus.tagging import TaggingError, checked_tag, tag_charts, untag_charts, with_tag, without_tag

MUSIC = b"\n| C | F | G7 | C |\n"
#: A head, what it becomes with the tag “easy”.
HEADS = [
    (b"title: A\nkey: C\n", b"title: A\nkey: C\ntags: easy\n"),
    (b"title: A\r\nkey: C\r\n\r\n", b"title: A\r\nkey: C\r\ntags: easy\r\n\r\n"),
    (b"title: A\rkey: C\r\r", b"title: A\rkey: C\rtags: easy\r\r"),
    (b"tags: waltz\nkey: C\n", b"tags: waltz, easy\nkey: C\n"),
    (b"Tags :  waltz,spring   \nkey: C\n", b"Tags :  waltz,spring, easy   \nkey: C\n"),
    (b"tags: waltz,\nkey: C\n", b"tags: waltz,, easy\nkey: C\n"),
    (b"tags:\nkey: C\n", b"tags:easy\nkey: C\n"),
    (b"tags: \t\nkey: C\n", b"tags:easy \t\nkey: C\n"),
    (b"\xef\xbb\xbftitle: A\nkey: C\n", b"\xef\xbb\xbftitle: A\nkey: C\ntags: easy\n"),
    (b"\xef\xbb\xbftags: waltz\nkey: C\n", b"\xef\xbb\xbftags: waltz, easy\nkey: C\n"),
    (
        b"# a note\ntitle: \xc3\x84 \n# another\nkey: C\n# end\n",
        b"# a note\ntitle: \xc3\x84 \n# another\nkey: C\ntags: easy\n# end\n",
    ),
    (b"mood: calm\n", b"mood: calm\ntags: easy\n"),
    (b"", b"tags: easy\n"),
    (b"\xef\xbb\xbf", b"\xef\xbb\xbftags: easy\n"),
]


@pytest.mark.parametrize(("head", "tagged"), HEADS)
@pytest.mark.parametrize("music", [MUSIC, MUSIC.rstrip(), b"| C |  \n\n\n"])
def test_only_the_tags_line_changes(head: bytes, tagged: bytes, music: bytes) -> None:
    assert with_tag(head + music, "easy") == tagged + music
    assert without_tag(tagged + music, "EASY") == head + music
    twice = with_tag(tagged + music, "left hand")
    assert without_tag(without_tag(twice, "left hand"), "easy") == head + music


@pytest.mark.parametrize("chart", sorted((demo_library().root).rglob("*.txt")), ids=lambda path: path.stem)
def test_the_demo_charts_come_back_byte_for_byte(chart: Path) -> None:
    content = chart.read_bytes()
    tagged = with_tag(content, "spring recital 2027")
    assert tagged != content
    reading = read_bytes(tagged)
    assert reading.chart is not None
    assert (reading.chart.header("tags") or "").endswith("spring recital 2027")
    assert without_tag(tagged, "spring recital 2027") == content


_WORDS = st.text(st.characters(exclude_categories=("C", "Z"), exclude_characters=",|"), min_size=1, max_size=8)
_SPACE = st.sampled_from(["", " ", "  ", "\t"])
_ENDING = st.sampled_from(["\n", "\r\n", "\r"])


@given(st.lists(_WORDS, max_size=3), _SPACE, _SPACE, _ENDING, st.booleans(), st.booleans(), _WORDS)
def test_tagging_and_untagging_leave_no_trace(
    tags: list[str], before: str, behind: str, ending: str, line: bool, mark: bool, tag: str
) -> None:
    written = f"tags:{before}{f',{before}'.join(tags)}{behind}{ending}" if line else ""
    text = f"{chr(0xFEFF) if mark else ''}title: A{ending}{written}key: C{ending}{ending}| C | F |"
    content = text.encode()
    if line and tag.casefold() in (each.casefold() for each in tags):
        assert with_tag(content, tag) == content
    else:
        assert without_tag(with_tag(content, tag), tag) == content


REMOVED = [
    (b"tags: a, b, c\n| C |\n", "a", b"tags: b, c\n| C |\n"),
    (b"tags: a, b, c\n| C |\n", "b", b"tags: a, c\n| C |\n"),
    (b"tags: a,b,c\n| C |\n", "c", b"tags: a,b\n| C |\n"),
    (b"tags: a, A, b\n| C |\n", "a", b"tags: b\n| C |\n"),
    (b"tags: a\n| C |\n", "a", b"| C |\n"),
    (b"tags: a\n| C |\n", "b", b"tags: a\n| C |\n"),
    (b"title: A\n| C |\n", "b", b"title: A\n| C |\n"),
]


@pytest.mark.parametrize(("content", "tag", "left"), REMOVED)
def test_a_tag_is_taken_out(content: bytes, tag: str, left: bytes) -> None:
    assert without_tag(content, tag) == left


def test_a_tag_that_is_there_stays_as_it_is() -> None:
    assert with_tag(b"tags: Easy\n| C |\n", "easy") == b"tags: Easy\n| C |\n"


@pytest.mark.parametrize("tag", ["", "  ", "a, b", "a\nb", "a\x00", "x" * 81])
def test_what_is_no_tag_is_refused(tag: str) -> None:
    with pytest.raises(TaggingError):
        checked_tag(tag)


@pytest.mark.parametrize("content", [b"key: H\n\n| C |\n", b"tags: a\ntags: b\n\n| C |\n", b"\xff", b""])
def test_a_chart_with_faults_is_left_alone(content: bytes) -> None:
    with pytest.raises(TaggingError, match="faults"):
        with_tag(content, "easy")


def library_of(folder: Path, content: bytes = b"title: A\n\n| C |\n") -> Library:
    (folder / "a.txt").write_bytes(content)
    return Library(folder)


def test_a_file_is_changed_whole(tmp_path: Path) -> None:
    library = library_of(tmp_path)
    (tmp_path / "a.txt").chmod(0o640)
    assert tag_charts(library, {"a.txt": ["easy", "waltz"]}).changed == ("a.txt",)
    assert (tmp_path / "a.txt").read_bytes() == b"title: A\ntags: easy, waltz\n\n| C |\n"
    assert (tmp_path / "a.txt").stat().st_mode & 0o777 == 0o640
    assert tag_charts(library, {"a.txt": ["easy"]}).unchanged == ("a.txt",)
    assert untag_charts(library, {"a.txt": ["waltz", "easy"]}).changed == ("a.txt",)
    assert (tmp_path / "a.txt").read_bytes() == b"title: A\n\n| C |\n"
    assert os.listdir(tmp_path) == ["a.txt"]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    library = library_of(tmp_path)
    (tmp_path / "b.txt").symlink_to("a.txt")
    tag_charts(library, {"b.txt": ["easy"]})
    assert (tmp_path / "b.txt").is_symlink()
    assert b"easy" in (tmp_path / "a.txt").read_bytes()


def test_a_link_out_of_the_library_is_not_followed(tmp_path: Path) -> None:
    inside, outside = tmp_path / "in", tmp_path / "out.txt"
    inside.mkdir()
    outside.write_bytes(b"title: A\n\n| C |\n")
    (inside / "a.txt").symlink_to(outside)
    (fault,) = tag_charts(Library(inside), {"a.txt": ["easy"]}).faults
    assert "out of the library" in fault[1].message
    assert b"easy" not in outside.read_bytes()


def test_a_chart_that_changes_meanwhile_is_not_overwritten(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    library = library_of(tmp_path)
    edits = [b"title: A sharper one\n\n| C | F |\n", b"title: A flatter one\ntags: waltz\n\n| C | F |\n"]
    sync = os.fsync

    def edited(descriptor: int) -> None:
        sync(descriptor)
        if edits:
            (tmp_path / "a.txt").write_bytes(edits.pop(0))

    monkeypatch.setattr(rewriting.os, "fsync", edited)
    assert tag_charts(library, {"a.txt": ["easy"]}).changed == ("a.txt",)
    assert (tmp_path / "a.txt").read_bytes() == b"title: A flatter one\ntags: waltz, easy\n\n| C | F |\n"
    assert os.listdir(tmp_path) == ["a.txt"]


def test_a_chart_that_never_stays_the_same_is_left_to_its_writer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    library = library_of(tmp_path)
    counts = iter(range(1000))
    monkeypatch.setattr(
        rewriting.os, "fsync", lambda _: (tmp_path / "a.txt").write_bytes(b"title: %d\n\n| C |\n" % next(counts))
    )
    (fault,) = tag_charts(library, {"a.txt": ["easy"]}).faults
    assert "keeps changing" in fault[1].message
    assert b"easy" not in (tmp_path / "a.txt").read_bytes()
    assert os.listdir(tmp_path) == ["a.txt"]


def test_a_crash_before_the_swap_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    library = library_of(tmp_path)

    def crash(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(rewriting.os, "replace", crash)
    with pytest.raises(KeyboardInterrupt):
        tag_charts(library, {"a.txt": ["easy"]})
    assert (tmp_path / "a.txt").read_bytes() == b"title: A\n\n| C |\n"
    assert os.listdir(tmp_path) == ["a.txt"]


def test_one_chart_that_cannot_be_changed_costs_only_itself(tmp_path: Path) -> None:
    library = library_of(tmp_path)
    (tmp_path / "faulty.txt").write_bytes(b"key: H\n\n| C |\n")
    done = tag_charts(library, {"gone.txt": ["easy"], "faulty.txt": ["easy"], "a.txt": ["easy"]})
    assert done.changed == ("a.txt",)
    assert [path for path, _ in done.faults] == ["gone.txt", "faulty.txt"]
    assert not (tmp_path / "gone.txt").exists()


def test_a_library_that_can_only_be_read_is_told_before_anything_is_tried(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    library = library_of(tmp_path)
    with pytest.raises(SavingError, match="--library"):
        tag_charts(Library(tmp_path, demo=True), {"a.txt": ["easy"]})
    monkeypatch.setattr("corpus.saving.os.access", lambda *_: False)
    monkeypatch.setattr(rewriting, "_content", lambda *_: pytest.fail("the chart was looked at"))
    with pytest.raises(SavingError, match="only be read"):
        tag_charts(library, {"a.txt": ["easy"]})
