"""Keys found for whole charts, changes of key on the way, and remarks on written keys."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from corpus.index import make_index
from corpus.library import Library, demo_library
from corpus.reading import OpenIndex
from corpus.tunes import PlayedChart, played, stretches_of, stretches_of_each
from grammar.charts import read_chart
from search.asking import answer, ask
from shared.match import Reach
from tests.helpers.remarked_keys import key_remark


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


def test_many_charts_together_are_told_what_each_is_told_alone() -> None:
    texts = [
        f"[A]\n{CHORUS}[B]\n{UP}",
        "key: G\n\n| C | F |\n",
        VERSE,
        "| C | Cm |\nkey: D\n| D | G |\n",
        "| Am | E7 |\n",
    ]
    charts = [chart for text in texts * 60 if (chart := read_chart(text).chart)]
    together = stretches_of_each(charts)
    assert (len(together), together[1], len(together[0])) == (300, (), 2)
    for chart, found in zip(charts[:5], together, strict=False):
        alone = stretches_of(chart) if found else ()
        assert [(each.from_bar, each.to_bar) for each in found] == [(each.from_bar, each.to_bar) for each in alone]
        for one, other in zip(found, alone, strict=True):
            assert [each.key for each in one.keys] == [each.key for each in other.keys]
            assert [each.chance for each in one.keys] == pytest.approx([each.chance for each in other.keys])
    assert together[-5:] == together[:5]


def test_a_chart_without_chords_has_no_key() -> None:
    chart = read_chart(VERSE).chart
    assert chart is not None
    with pytest.raises(ValueError, match="no key"):
        stretches_of(replace(chart, sections=()))


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


@pytest.mark.parametrize(
    ("key", "lines"),
    [
        ("D dorian", "| Dm7 | G7 | Dm7 | G7 |"),
        ("D dorian", "| Dm7 | Em7 | Dm7 | G |\n| Dm7 | C | G | Dm7 |"),
        ("A dorian", "| Am | D | Am | D |\n| C | D | Am | Am |"),
        ("E dorian", "| Em7 | A | Em7 | A |\n| G | A | Em7 | Em7 |"),
        ("G mixolydian", "| G | F | C | G |"),
        ("D mixolydian", "| D | C | G | D |\n| D | Am | C | D |"),
        ("A mixolydian", "| A | G | D | A |\n| A | G | A | A |"),
        ("E phrygian", "| Em | F | Em | F |\n| Em | Dm | F | Em |"),
        ("A phrygian", "| Am | Bb | Am | Gm |\n| Am | Bb | Gm | Am |"),
        ("F lydian", "| F | G | F | G |\n| F | G | Em | F |"),
        ("C lydian", "| C | D | C | D |\n| C | Bm | D | C |"),
        ("C", "| C | Am | F | G7 |\n| C | Am | F G7 | C |"),
        ("C", "| C7 | F7 | C7 | C7 |\n| F7 | F7 | C7 | C7 |\n| G7 | F7 | C7 | G7 |"),
        ("C", "| C | D7 | G7 | C |\n| C | D7 | Dm7 G7 | C |"),
        ("C", "| C | Bb | F | C |\n| C | Am | G7 | C |"),
        ("Am", "| Am | Dm | E7 | Am |\n| F | Dm | E7 | Am |"),
        ("Am", "| Am | G | F | E |"),
        ("Am", "| Am | G | F | G |\n| Am | G | F | Am |"),
        ("Dm", "| Dm | Gm | A7 | Dm |\n| Bb | Gm | A7 | Dm |"),
    ],
)
def test_the_mode_is_told_where_the_chords_say_so(key: str, lines: str) -> None:
    """Common practice; the progressions are our own or everybody's."""
    assert [told for told, *_ in segments(f"{lines}\n{lines}\n")] == [key]


def test_a_rival_stands_on_another_tonic_unless_the_third_is_in_doubt() -> None:
    """All keys on one tonic are counted alike, so that such a rival would change nothing."""
    told, rival = played_text(VERSE * 2).found
    assert (str(told.key), rival.key.tonic == told.key.tonic) == ("C", False)
    told, rival = played_text("| C | Cm | F | C |\n| Cm | C | G | Cm |\n" * 2).found
    assert {str(told.key), str(rival.key)} == {"C", "Cm"}


def remark(text: str) -> str:
    one = played_text(text)
    said = key_remark(one.chart, one.tune)
    return said.message if said else ""


def test_a_written_key_that_the_chords_contradict_is_remarked_on() -> None:
    said = remark(f"key: F#\n\n{VERSE}{VERSE}")
    assert said.startswith("“key: F#” is written, but the chords speak for C (found ")
    assert remark(f"key: C\n\n{VERSE}{VERSE}") == ""


@pytest.mark.parametrize(
    ("key", "lines", "speaks_for"),
    [
        ("B", VERSE, "C"),
        ("Eb", VERSE, "C"),
        ("Ebm", "| Am | Dm | E7 | Am |\n| F | Dm | E7 | Am |\n", "Am"),
        ("Ab", "| D | A | Bm | G |\n| D | A | G | D |\n", "D"),
    ],
    ids=["semitone below", "minor third above", "minor, a tritone off", "tritone"],
)
def test_keys_that_nobody_can_mean(key: str, lines: str, speaks_for: str) -> None:
    assert f"the chords speak for {speaks_for} (" in remark(f"key: {key}\n\n{lines}{lines}")


@pytest.mark.parametrize(
    ("key", "lines"),
    [
        ("C", VERSE),
        ("Am", VERSE),
        ("F", VERSE),
        ("A dorian", VERSE),
        ("D dorian", "| Dm7 | G7 | Dm7 | G7 |\n| Dm7 | G7 | Dm7 | G7 |\n"),
        ("G mixolydian", "| F | C | G | F |\n| F | C | F | C |\n"),
        ("E phrygian", "| F | Em | F | Dm |\n| F | Em | Dm | F |\n"),
        ("F lydian", "| G | F | G | F |\n| G | F | Em | G |\n"),
        ("Am", "| F | G | Am | F |\n| F | G | E7 | F |\n"),
        ("C", "| Dm7 | G7 | Dm7 | G7 |\n| Em7 A7 | Dm7 G7 | Em7 A7 | Dm7 G7 |\n"),
        ("C", "| F | G | F | G |\n| F | G | Am | G |\n"),
        ("G", "| D7 | C7 | D7 | C7 |\n| G7 | C7 | D7 | C7 |\n"),
        ("C", "| C7 | F7 | C7 | C7 |\n| F7 | F7 | C7 | C7 |\n| G7 | F7 | C7 | G7 |\n"),
        ("Bb", "| 1 | 6m | 4 | 5 |\n| 2m | 5 | 2m | 5 |\n"),
        ("Cm", "| Ab | Bb | Eb | Ab |\n| Ab | Bb | Gm | Ab |\n"),
        ("F#", "| C | F | G | C |\n"),
    ],
    ids=[
        "right", "relative minor", "fifth below", "a mode of the same notes", "dorian vamp", "mixolydian, tonic inside",
        "phrygian", "lydian", "minor, off the tonic", "turnarounds that never arrive", "fourth and fifth alone",
        "blues off its tonic", "blues", "numbers", "minor without its tonic", "too few chords to say",
    ],
)  # fmt: skip
def test_a_key_that_can_be_meant_draws_no_remark(key: str, lines: str) -> None:
    times = 1 if key == "F#" else 2
    assert remark(f"key: {key}\n\n{lines * times}") == ""


def test_bars_that_last_unlike_count_as_long_as_they_last(tmp_path: Path) -> None:
    line = "| F# | B | C#7 | F# | (1/4) C | D#m | G#m | C#7 | F# |\n"
    assert "the chords speak for F#" in remark(f"key: C\n\n{line * 4}")
    (tmp_path / "wrong.txt").write_text(f"key: C\n\n{line * 4}", encoding="utf-8")
    report = make_index(Library(tmp_path))
    assert [each.path for each in report.remarks if "the chords speak for F#" in each.fault.message] == ["wrong.txt"]


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
