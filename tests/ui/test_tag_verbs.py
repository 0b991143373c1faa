"""The verbs ``tag`` and ``untag``."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from corpus import rewriting, saving
from tests.helpers.commands import BAD_INPUT, FOUND, NOTHING, answer, library_of, run
from ui import tag_verbs
from ui.command import main

WALTZ = "title: Old Waltz\nkey: C\ntags: waltz\n\n| C | Fm | C | C |\n"
LOOP = "title: Loop\nkey: D\n\n|: D | A | Bm | G :|x4\n"


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return library_of(tmp_path, waltz=WALTZ, loop=LOOP)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.glob("*.txt")}


def test_a_tag_is_written_searched_for_and_taken_out(small: Path) -> None:
    before = contents(small)
    made = answer('tag "spring recital" loop "Old Waltz"', small)
    assert made == {"tag": "spring recital", "changed": ["loop.txt", "waltz.txt"], "unchanged": [], "faults": []}
    assert b"key: D\ntags: spring recital\n" in (small / "loop.txt").read_bytes()
    assert b"tags: waltz, spring recital\n" in (small / "waltz.txt").read_bytes()
    assert answer('find 1 --tag "spring recital"', small)["charts"] == 2
    assert run('untag "Spring Recital" loop waltz', small).exit_code == FOUND
    assert contents(small) == before
    assert answer('find 1 --tag "spring recital"', small)["charts"] == 0


def test_what_is_there_already_is_said(small: Path) -> None:
    done = run("tag WALTZ waltz", small)
    assert done.exit_code == NOTHING
    assert "waltz.txt: has “WALTZ” already" in done.stdout
    done = run("untag waltz loop", small)
    assert done.exit_code == NOTHING
    assert "does not have “waltz”" in done.stdout


REFUSED = [
    ("tag easy lop", "nearest: Loop"),
    ("untag walz waltz", "nearest: waltz"),
    ("untag alt waltz", "nearest: waltz"),
    ('tag "a, b" loop', "comma"),
    ("tag", "name a tag"),
    ("tag easy", "name a tag"),
    ("untag waltz", "name a tag"),
    ("tag easy loop --from-progressions", "give no tag"),
    ("tag --from-progressions --name bakdoor", "nearest: backdoor"),
]


@pytest.mark.parametrize(("line", "words"), REFUSED)
def test_bad_input_changes_nothing(small: Path, line: str, words: str) -> None:
    before = contents(small)
    done = run(line, small)
    assert done.exit_code == BAD_INPUT
    assert words in done.stderr
    assert contents(small) == before


def test_an_unknown_chart_stops_all_of_them(small: Path) -> None:
    before = contents(small)
    assert run("tag easy loop no-such-tune", small).exit_code == BAD_INPUT
    assert contents(small) == before


def test_a_new_tag_that_looks_like_an_old_one_is_remarked_on(small: Path) -> None:
    done = run("tag waltzes loop", small)
    assert done.exit_code == FOUND
    assert "there is “waltz” already" in done.stderr


def test_the_demo_library_is_only_read() -> None:
    for line in ("tag easy slane", "untag waltz slane", "tag --from-progressions --yes"):
        done = run(line)
        assert done.exit_code == BAD_INPUT
        assert "--library" in done.stderr


def test_proposals_are_shown_and_not_written(small: Path) -> None:
    before = contents(small)
    done = run("tag --from-progressions --name borrowed-4m --name doo-wop", small)
    assert done.exit_code == FOUND
    assert "Old Waltz  borrowed 4m" in done.stdout
    assert "Nothing was written; --yes writes 1 tag into 1 chart." in done.stdout
    made = answer('tag --from-progressions --name "four chords"', small)
    assert made["proposed"] == [{"title": "Loop", "path": "loop.txt", "tags": ["four-chord loop"]}]
    assert made["changed"] == []
    assert contents(small) == before


def test_proposals_are_written_on_yes_and_undone_by_untag(small: Path) -> None:
    before = contents(small)
    made = answer("tag --from-progressions --yes", small)
    assert made["changed"]
    for proposal in made["proposed"]:
        text = (small / proposal["path"]).read_text(encoding="utf-8")
        assert all(tag in text for tag in proposal["tags"])
    assert answer('find 1 --tag "four-chord loop"', small)["charts"] == 1
    assert run("tag --from-progressions", small).stdout.startswith("There is no tag to propose.")
    for proposal in made["proposed"]:
        for tag in proposal["tags"]:
            assert run(f'untag "{tag}" {proposal["path"]}', small).exit_code == FOUND
    assert contents(small) == before


def test_filters_choose_the_tunes_that_get_proposals(small: Path) -> None:
    made = answer("tag --from-progressions --tag waltz", small)
    assert {proposal["path"] for proposal in made["proposed"]} <= {"waltz.txt"}


@pytest.mark.parametrize(("said", "written"), [("y\n", True), ("n\n", False), ("\n", False)])
def test_someone_who_looks_is_asked(small: Path, monkeypatch: pytest.MonkeyPatch, said: str, written: bool) -> None:
    monkeypatch.setattr(tag_verbs, "_someone_looks", lambda: True)
    line = ["tag", "--from-progressions", "--name", "borrowed 4m", "--library", str(small)]
    done = CliRunner().invoke(main, line, input=said, catch_exceptions=False)
    assert "Old Waltz  borrowed 4m\nWrite 1 tag into 1 chart?" in done.output
    assert (b"waltz, borrowed 4m" in (small / "waltz.txt").read_bytes()) == written


def test_a_chart_that_changes_while_its_tag_is_written_keeps_the_change(
    small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As an editor that saves in that very moment: the tag is written into what was saved."""
    saved = [LOOP.replace("Loop", "Slow Loop").encode()]
    sync = rewriting.os.fsync

    def edited(descriptor: int) -> None:
        sync(descriptor)
        if saved:
            (small / "loop.txt").write_bytes(saved.pop())

    monkeypatch.setattr(rewriting.os, "fsync", edited)
    done = run("tag easy loop", small)
    assert done.exit_code == FOUND
    assert (small / "loop.txt").read_bytes() == b"title: Slow Loop\nkey: D\ntags: easy\n\n|: D | A | Bm | G :|x4\n"
    assert answer("find 1 --tag easy", small)["results"][0]["title"] == "Slow Loop"


def test_a_library_that_can_only_be_read_is_said_before_anything_else(
    small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = contents(small)
    monkeypatch.setattr(saving.os, "access", lambda *_: False)
    for line in ("tag easy no-such-tune", "untag waltz waltz", "tag --from-progressions --yes --name bakdoor"):
        done = run(line, small)
        assert done.exit_code == BAD_INPUT
        assert "only be read" in done.stderr
        assert "nearest" not in done.stderr
    assert contents(small) == before
