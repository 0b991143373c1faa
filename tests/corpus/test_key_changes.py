"""Keys found for whole charts, changes of key on the way, and remarks on written keys."""

from __future__ import annotations

from pathlib import Path

import pytest

from corpus.index import make_index
from corpus.key_remarks import key_remark
from corpus.library import Library, demo_library
from corpus.reading import OpenIndex
from corpus.tunes import PlayedChart, played
from grammar.charts import read_chart
from search.asking import answer, ask
from shared.match import Reach


def played_text(text: str) -> PlayedChart:
    chart = read_chart(text).chart
    assert chart is not None
    return played(chart)


def segments(text: str) -> list[tuple[str, int, int]]:
    return [(str(each.key), each.from_bar, each.to_bar) for each in played_text(text).tune.segments]


VERSE = "| C | Am | F | G |\n| C | Am | Dm G | C |\n"
CHORUS = "| F | G | C | Am |\n| F | G | C | C |\n"
UP = "| Gb | Ab | Db | Bbm |\n| Gb | Ab | Db | Db |\n"


def test_a_last_chorus_a_semitone_up() -> None:
    text = f"[Verse]\n{VERSE}[Chorus]\n{CHORUS}[Verse 2]\n{VERSE}[Chorus 2]\n{UP}"
    assert segments(text) == [("C", 0, 23), ("Db", 24, 31)]
    one = played_text(text)
    assert (str(one.tune.key), one.tune.key_found, str(one.found[0].key)) == ("C", True, "C")
    assert [(str(each.key), each.from_bar, each.to_bar) for each in one.stretches] == [("C", 0, 23), ("Db", 24, 31)]
    for each in one.stretches:
        assert 0.5 < each.keys[0].chance <= 1
        assert each.keys[1].chance < each.keys[0].chance


@pytest.mark.parametrize(
    "text",
    [
        "| C | A7 | D7 | G7 |\n| C | E7 | Am D7 | G7 C |\n" * 2,
        f"{VERSE}| Am | E7 | Am | D7 |\n| G | E7 | Dm G7 | C |\n{VERSE}",
        "| C7 | F7 | C7 | C7 |\n| F7 | F7 | C7 | C7 |\n| G7 | F7 | C7 | G7 |\n" * 2,
        f"{VERSE}| F | Fm | C | C7 |\n| Ab | Bb | C | C |\n{VERSE}",
    ],
    ids=["secondary dominants", "a bridge that leans on the relative", "blues", "borrowed chords"],
)
def test_applied_dominants_and_borrowed_chords_are_no_change(text: str) -> None:
    assert [key for key, *_ in segments(text)] == ["C"]


def test_in_the_key_follows_what_was_found(tmp_path: Path) -> None:
    """The risen chorus is counted from its own tonic; no match straddles the change unless anywhere."""
    folder = Library(tmp_path)
    text = f"title: Up\n\n[Verse]\n{VERSE}[Chorus]\n{CHORUS}[Verse 2]\n{VERSE}[Chorus 2]\n{UP}"
    (folder.root / "up.txt").write_text(text, encoding="utf-8")
    make_index(folder)
    with OpenIndex(folder) as index:
        ((key, found, chance, rival),) = index.rows("SELECT key, key_found, key_chance, key_rival FROM charts")
        assert (key, found) == ("C", True)
        assert 0.5 < chance <= 1
        assert rival not in (None, "C")
        (hit,) = answer(index, ask("4 5 1 6m")).hits
        assert [(place.section, place.from_bar) for place in hit.places][-1] == ("Chorus 2", 25)
        assert answer(index, ask("1 b5")).matches == 0
        assert answer(index, ask("1 b5", reach=Reach.ANYWHERE)).matches == 1


def test_a_written_key_stays_and_what_comes_before_it_is_found() -> None:
    text = "| C | F | G | C |\n| C | Am | F G | C |\nkey: D\n| D | G | A | D |\n"
    assert segments(text) == [("C", 0, 7), ("D", 8, 11)]
    assert played_text(f"key: Eb\n\n{VERSE}").found == ()
    assert segments(f"key: Eb\n\n{VERSE}") == [("Eb", 0, 7)]


def test_a_key_line_above_the_first_bar_is_a_written_home() -> None:
    one = played_text("[A]\nkey: D\n| D | G | A | D |\n")
    assert (str(one.tune.key), one.tune.key_found, one.found) == ("D", False, ())


def test_silence_belongs_to_the_key_before_it() -> None:
    one = played_text(f"| N.C. |\n{VERSE}| N.C. |\n")
    assert [(str(each.key), each.from_bar, each.to_bar) for each in one.tune.segments] == [("C", 0, 9)]


def test_modes_are_told_of_charts() -> None:
    assert segments("| Dm7 | G7 | Dm7 | G7 |\n" * 3)[0][0] == "D dorian"
    assert segments("| D | C | G | D |\n| D | C | G | D |\n")[0][0] == "D mixolydian"


def remark(text: str) -> str:
    one = played_text(text)
    said = key_remark(one.chart, one.tune)
    return said.message if said else ""


def test_a_written_key_that_the_chords_contradict_is_remarked_on() -> None:
    said = remark(f"key: F#\n\n{VERSE}{VERSE}")
    assert said.startswith("“key: F#” is written, but the chords speak for C (found ")
    assert remark(f"key: C\n\n{VERSE}{VERSE}") == ""


@pytest.mark.parametrize("key", ["C", "Am", "F", "A dorian"])
def test_a_key_that_can_be_meant_draws_no_remark(key: str) -> None:
    assert remark(f"key: {key}\n\n{VERSE}{VERSE}") == ""


def test_the_remark_is_in_the_report(tmp_path: Path) -> None:
    folder = Library(tmp_path)
    (folder.root / "wrong.txt").write_text(f"key: F#\n\n{VERSE}{VERSE}", encoding="utf-8")
    report = make_index(folder)
    assert [each.path for each in report.remarks if "the chords speak for C" in each.fault.message] == ["wrong.txt"]
    assert report.charts == 1


def test_no_demo_chart_draws_one() -> None:
    library = demo_library()
    for path in library.chart_paths():
        chart = library.read(path).chart
        assert chart is not None
        assert key_remark(chart, played(chart).tune) is None, path
