"""The catalogue as data, and a teacher's own file: what is read, what is wrong with it, and what is written into it."""

from __future__ import annotations

from pathlib import Path

import pytest

from corpus.catalogue import COMMON, OWN_FILE, RULES, Catalogue, catalogue, folded, installed, read_entries
from corpus.library import Library
from corpus.own_progressions import name_progression
from corpus.saving import SavingError
from shared.errors import ReadingError
from shared.match import Count, Reach
from shared.pattern import Strength

OURS = """[[progression]]
name = "night bus loop"
also = ["bus"]
pattern = "4 1 6m 5"
rotate = true
strength = "loose"
mode = "major"
count = "tonic"
reach = "anywhere"
styles = ["pop"]
teaches = "Keep going."
source = "me"
"""


def test_there_are_enough_progressions_and_each_is_whole() -> None:
    assert len(installed()) >= 60
    for entry in installed():
        assert entry.styles, entry.name
        assert entry.teaches.endswith("."), entry.name
        assert not entry.own
        assert (entry.pattern is None) == (entry.text in RULES), entry.name
        assert "," not in entry.name


def test_every_rule_has_an_entry() -> None:
    assert {entry.text for entry in installed() if entry.pattern is None} == set(RULES)


def test_names_are_unlike() -> None:
    names = [folded(name) for entry in installed() for name in {entry.name, *entry.also}]
    assert len(names) == len(set(names))


#: Names that have to be there, with their chords where a source gives them (the sources are named in the catalogue).
PUBLISHED = {
    "doo-wop": "I vi IV,ii V",
    "four-chord loop": "I V vi IV",
    "canon": "I V vi iii IV I IV,ii V",
    "Andalusian": "1m b7maj b6 V",
    "lament bass": "/1 /b7 /b6 /5",
    "full circle": "1 4 7 3 6 2 5 1",
    "backdoor": "4m b77 1maj",
    "major-third cycle": "2m b37 b6maj 77 3maj 57 1maj",
    "minor line cliché": "1m 1m(maj7) 1m7 1m6",
    "major line cliché": "1 1maj7 17 16",
    "rhythm bridge": "| 37 | 37 | 67 | 67 | 27 | 27 | 57 | 57 |",
}


@pytest.mark.parametrize(("name", "pattern"), PUBLISHED.items())
def test_published_chords(name: str, pattern: str) -> None:
    entry = catalogue().named(name)
    assert entry is not None
    assert entry.text == pattern


def test_an_entry_of_a_library_is_treated_alike(tmp_path: Path) -> None:
    (tmp_path / OWN_FILE).write_text(OURS, encoding="utf-8")
    known = catalogue(Library(tmp_path))
    entry = known.named("BUS")
    assert entry is not None
    assert known.entries[-1] is entry
    assert len(known.entries) == len(installed()) + 1
    assert (entry.name, entry.own, entry.rotate, entry.strength) == ("night bus loop", True, True, Strength.LOOSE)
    assert (entry.count, entry.reach, entry.styles, entry.source) == (Count.TONIC, Reach.ANYWHERE, ("pop",), "me")
    assert not known.faults


def test_what_is_left_out_has_its_usual_value() -> None:
    ((entry,), faults) = read_entries('[[progression]]\nname = "a"\npattern = "1 4"\n', installed())
    assert not faults
    assert (entry.strength, entry.mode, entry.count, entry.reach) == (Strength.FAMILY, None, None, Reach.KEY)
    assert (entry.rotate, entry.source) == (False, COMMON)


FAULTS = [
    ("a = ", 1, "not TOML"),
    ("[[progression]\n", 1, "not TOML"),
    ("x = 1\n", 1, "“x” means nothing here"),
    ('progression = "1 4"\n', 1, "no list of tables"),
    ('[[progression]]\npattern = "1 4"\n', 1, "no name"),
    ('[[progression]]\nname = "a"\n', 1, "neither a pattern nor a rule"),
    ('[[progression]]\nname = "a"\npattern = "1 4"\nrule = "key rise"\n', 4, "both a pattern and a rule"),
    ('[[progression]]\nname = "a"\nrule = "key rises"\n', 3, "nearest: key rise"),
    ('[[progression]]\nname = "a, b"\npattern = "1 4"\n', 2, "a comma"),
    ('[[progression]]\nname = "!"\npattern = "1 4"\n', 2, "no letters or digits"),
    ('[[progression]]\nname = 3\npattern = "1 4"\n', 2, "is no text"),
    ('[[progression]]\nname = "backdoor"\npattern = "1 4"\n', 2, "name of “backdoor cadence” already"),
    ('[[progression]]\nname = "a"\nalso = ["b", "doo wop"]\npattern = "1 4"\n', 3, "name of “doo-wop” already"),
    ('[[progression]]\nname = "a"\nalso = "b"\npattern = "1 4"\n', 3, "no list of texts"),
    ('[[progression]]\nname = "a"\npattern = "1 )"\n', 3, "cannot stand there"),
    ('[[progression]]\nname = "a"\npattern = "C F"\n', 3, "names chords"),
    ('[[progression]]\nname = "a"\npattern = "1 4"\nstrenght = "loose"\n', 4, "nearest: strength"),
    ('[[progression]]\nname = "a"\npattern = "1 4"\nstrength = "lose"\n', 4, "nearest: loose"),
    ('[[progression]]\nname = "a"\npattern = "1 4"\nmode = "mixolidian"\n', 4, "nearest: mixolydian"),
    ('[[progression]]\nname = "a"\npattern = "1 4"\nrotate = "yes"\n', 4, "true or false"),
    ('[[progression]]\nname = "a"\npattern = "[ 1 4"\nrotate = true\n', 4, "no loop"),
]


@pytest.mark.parametrize(("text", "line", "words"), FAULTS)
def test_a_fault_is_told_with_its_place(text: str, line: int, words: str) -> None:
    entries, faults = read_entries(text, installed())
    assert not entries
    assert [fault.line for fault in faults] == [line]
    assert words in faults[0].sentence


def test_the_place_is_the_value_itself() -> None:
    _, (fault,) = read_entries('[[progression]]\nname = "a"\npattern = "1 4 )"\n', installed())
    assert fault.drawn().splitlines()[1].index("^") == fault.text.index(")")


def test_a_fault_costs_only_its_entry(tmp_path: Path) -> None:
    text = '[[progression]]\nname = "bad"\npattern = "1 )"\n\n' + OURS
    (tmp_path / OWN_FILE).write_text(text, encoding="utf-8")
    known = catalogue(Library(tmp_path))
    assert known.named("bus") is not None
    assert known.named("bad") is None
    assert [fault.line for fault in known.faults] == [3]


@pytest.mark.parametrize("content", [b"\xff\xfe", b"name = \xe9\n"])
def test_a_file_that_is_no_text_is_a_fault(tmp_path: Path, content: bytes) -> None:
    (tmp_path / OWN_FILE).write_bytes(content)
    known = catalogue(Library(tmp_path))
    assert len(known.entries) == len(installed())
    assert "UTF-8" in known.faults[0].sentence


def test_names_are_offered_by_likeness_and_by_their_words() -> None:
    known = catalogue()
    assert known.nearest("andalusien")[0] == "Andalusian"
    assert "minor blues" in known.nearest("blues minor", 5)
    assert Catalogue(()).nearest("blues") == ()


def test_a_name_is_written_behind_what_stands_there(tmp_path: Path) -> None:
    library = Library(tmp_path)
    entry = name_progression(library, "  night   bus “loop” \\", "4 1 6m 5", rotate=True)
    assert (entry.name, entry.text, entry.rotate, entry.own) == ("night bus “loop” \\", "4 1 6m 5", True, True)
    first = (tmp_path / OWN_FILE).read_bytes()
    name_progression(library, "another", "1 4")
    assert (tmp_path / OWN_FILE).read_bytes().startswith(first)
    assert {each.name for each in catalogue(library).entries if each.own} == {entry.name, "another"}


@pytest.mark.parametrize(
    "standing",
    [
        OURS.encode(),
        OURS.rstrip().encode(),
        OURS.replace("\n", "\r\n").encode(),
        b"\xef\xbb\xbf" + OURS.encode(),
        b"# a note \xc3\xa9   \n\n\n",
        b'[[progression]]\nname = "bad"\npattern = "1 )"',
    ],
)
def test_what_stands_there_keeps_every_byte(tmp_path: Path, standing: bytes) -> None:
    (tmp_path / OWN_FILE).write_bytes(standing)
    name_progression(Library(tmp_path), "another", "1 4")
    content = (tmp_path / OWN_FILE).read_bytes()
    assert content.startswith(standing)
    added = content.removeprefix(standing)
    assert added.count(b"\r\n") == (added.count(b"\n") if b"\r\n" in standing else 0)
    assert catalogue(Library(tmp_path)).named("another") is not None


REFUSED = [
    ("backdoor", "1 4", SavingError, "name of “backdoor cadence”"),
    ("  ", "1 4", SavingError, "needs a name"),
    ("a, b", "1 4", SavingError, "comma"),
    ("x" * 100, "1 4", SavingError, "100 letters"),
    ("fine", "1 )", ReadingError, "cannot stand there"),
    ("fine", "..", ReadingError, "match nothing"),
]


@pytest.mark.parametrize(("name", "pattern", "kind", "words"), REFUSED)
def test_what_cannot_be_named_is_refused(
    tmp_path: Path, name: str, pattern: str, kind: type[Exception], words: str
) -> None:
    with pytest.raises(kind, match=words):
        name_progression(Library(tmp_path), name, pattern)
    assert not (tmp_path / OWN_FILE).exists()


def test_a_file_that_cannot_be_read_is_not_written_into(tmp_path: Path) -> None:
    for content in (b"[[progression\n", b"# \xff\n"):
        (tmp_path / OWN_FILE).write_bytes(content)
        with pytest.raises((ReadingError, SavingError)):
            name_progression(Library(tmp_path), "another", "1 4")
        assert (tmp_path / OWN_FILE).read_bytes() == content


def test_the_demo_library_is_not_written_into(tmp_path: Path) -> None:
    with pytest.raises(SavingError, match="--library"):
        name_progression(Library(tmp_path, demo=True), "another", "1 4")
