"""What any keyboard teacher would say about these chords: each row is a chart, and patterns that do and do not find it.

All of it is common practice. Charts are in C major unless a key is given. They are also asked moved to other keys,
where the same numbers must find them and the same chord names must be counted alike.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from corpus.index import make_index
from corpus.library import Library
from corpus.reading import OpenIndex
from grammar.keys import read_key
from grammar.symbols import read_chord
from search.asking import answer, ask
from shared.match import Answer, Reach
from shared.pattern import Strength
from shared.pitch import Pitch

TONICS = ("C", "Eb", "F#", "A", "Db")


@contextmanager
def opened(*charts: str) -> Iterator[OpenIndex]:
    """The index of these charts, named 0, 1, 2, ..."""
    with TemporaryDirectory() as folder:
        for number, text in enumerate(charts):
            (Path(folder) / f"{number}.txt").write_text(text, encoding="utf-8")
        report = make_index(Library(Path(folder)))
        assert report.faults == ()
        with OpenIndex(Library(Path(folder))) as index:
            yield index


def chart(chords: str, key: str = "C") -> str:
    return f"key: {key}\n\n| {' | '.join(chords.split())} |\n"


def moved(chords: str, tonic: str) -> str:
    """Chords in C, or A minor, as they stand in another key (or its relative minor)."""
    up = Pitch(tonic[0], tonic.count("#") - tonic.count("b")).degree_in(Pitch("C"))
    return " ".join(read_chord(name).moved(up).name for name in chords.split())


def found(index: OpenIndex, pattern: str, **how: object) -> list[str]:
    """The stems of the charts found, in the order of their names."""
    return sorted({Path(hit.path).stem for hit in asked(index, pattern, **how).hits})


def asked(index: OpenIndex, pattern: str, **how: object) -> Answer:
    return answer(index, ask(pattern, limit=0, **how))  # type: ignore[arg-type]


PROGRESSIONS = [
    ("C Gm Bb F", "1 5m b7 4"),
    ("C Fm", "1 4m"),
    ("C7 F7", "17 47"),
    ("Am F C G", "6m 4 1 5"),
    ("Dm7 G13 Cmaj7 A7b9", "2m7 57 1maj7 67"),
    ("C Am7 Fmaj9 C", "1 6m7 4maj9 1"),
    ("Am7 Dm7 G7 Cmaj7 Fmaj7 Bm7b5 E7 Am7", "6m7 2m7 57 1maj7 4maj7 7m7b5 37 6m7"),
    ("C G/B Am C/G F C/E Dm7 G9sus4 G9", "1 5/7 6m 1/5 4 1/3 2m7 5"),
    ("C C/E F Dm/G", "1 1/3 4 2m/5"),
]


@pytest.mark.parametrize(("chords", "pattern"), PROGRESSIONS)
def test_numbers_find_the_chords_in_any_key(chords: str, pattern: str) -> None:
    with opened(*(chart(moved(chords, tonic), tonic) for tonic in TONICS)) as index:
        assert found(index, pattern) == ["0", "1", "2", "3", "4"]


@pytest.mark.parametrize(("chords", "pattern"), PROGRESSIONS)
def test_chord_names_find_the_chords_in_any_key(chords: str, pattern: str) -> None:
    with opened(*(chart(moved(chords, tonic), tonic) for tonic in TONICS)) as index:
        for tonic in TONICS:
            assert found(index, moved(chords, tonic), key=read_key(tonic)) == ["0", "1", "2", "3", "4"]


def test_numbers_are_shown_as_they_are_counted() -> None:
    for chords, pattern, numbers in (
        ("C Gm Bb F", "1 5 b7 4", "1 5m b7 4"),
        ("Dm7 G13 Cmaj7 A7b9", "2 5 1 6", "2m7 513 1maj7 67b9"),
        ("C Am7 Fmaj9 C", "1 6 4 1", "1 6m7 4maj9 1"),
        ("C G/B Am C/G F C/E Dm7 G9sus4 G9", "1 5 6 1 4 1 2 5", "1 5/7 6m 1/5 4 1/3 2m7 59sus4 59"),
    ):
        with opened(chart(chords)) as index:
            (hit,) = asked(index, f"[[ {pattern} ]]").hits
            assert " ".join(hit.places[0].numbers) == numbers


def test_the_fourth_chord_major_minor_or_seventh() -> None:
    """C F, C Fm and C7 F7: which patterns find which."""
    with opened(chart("C F"), chart("C Fm"), chart("C7 F7")) as index:
        assert found(index, "1 4") == ["0", "1", "2"]
        assert found(index, "1 4m") == ["1"]
        assert found(index, "17 47") == ["2"]
        assert found(index, "1maj 4maj") == ["0"]
        assert found(index, "I IV") == ["0", "2"]
        assert found(index, "I iv") == ["1"]
        assert found(index, "1 4", strength=Strength.EXACT) == ["0"]
        assert found(index, "17 47", strength=Strength.EXACT) == ["2"]
        assert found(index, "1 4m", strength=Strength.LOOSE) == ["0", "1", "2"]


def test_a_bare_numeral_rules_out_the_other_third_and_no_more() -> None:
    with opened(*(chart(f"C {name}") for name in ("F", "Fmaj7", "F7", "Fsus4", "Fm", "Dm7", "Dm7b5", "D"))) as index:
        assert found(index, "I IV") == ["0", "1", "2", "3"]
        assert found(index, "I ii") == ["5", "6"]
        assert found(index, "I iiø") == ["6"]
        assert found(index, "I II") == ["7"]


@pytest.mark.parametrize("pattern", ["6m 4 1 5", "1m b6 b3 b7", "vi IV I V", "i bVI bIII bVII"])
def test_a_minor_loop_is_found_under_either_count_in_either_key(pattern: str) -> None:
    with opened(chart("Am F C G", "C"), chart("Am F C G", "Am"), chart("Am F C G", "A dorian")) as index:
        expected = ["0", "1"] if "6" in pattern.split()[0] or pattern[0] == "v" else ["0", "1", "2"]
        assert found(index, pattern) == expected
        counts = {Path(hit.path).stem: hit.count.value for hit in asked(index, pattern).hits}
        tonic = pattern[0] in "6v"
        assert counts["0"] == ("tonic" if tonic else "relative")
        assert counts["1"] == ("relative" if tonic else "tonic")


def test_thirteen_is_found_by_seven_and_eleven_holds_its_tones() -> None:
    with opened(chart("Dm7 G13 Cmaj7"), chart("Dm7 G Cmaj7"), chart("Dm7 Gm7 Cmaj7")) as index:
        assert found(index, "2m7 57 1maj7") == ["0"]
        assert found(index, "2m7 513 1maj7", strength=Strength.EXACT) == ["0"]
    assert {tone.number for tone in read_chord("G13").quality.tones} >= {7, 9, 13}
    assert str(read_chord("Gm11").quality) == "1 b3 5 b7 9 11"
    assert read_chord("Cadd2") == read_chord("Cadd9")


@pytest.mark.parametrize(
    ("chords", "key", "bass", "other"),
    [
        ("C G/B Am C/G F C/E Dm7 G9sus4 G9", "C", "/1 /7 /6 /5 /4 /3 /2 /5", "/1 /7 /6 /4"),
        ("C C/E F Dm/G", "C", "/1 /3 /4 /5", "/1 /3 /4 /2"),
        ("Cm G7/B Cm/Bb Am7b5", "Cm", "/1 /7 /b7 /6", "/1 /7 /b7 /b6"),
    ],
)
def test_bass_lines(chords: str, key: str, bass: str, other: str) -> None:
    with opened(chart(chords, key)) as index:
        assert found(index, bass) == ["0"]
        assert found(index, bass, strength=Strength.LOOSE) == ["0"]
        assert found(index, other) == []


def test_a_chord_over_the_fifth() -> None:
    with opened(chart("C C/E F Dm/G")) as index:
        for pattern in ("4 /5", "4 2m/5", "4 _/5", "1 /3 /4 /5"):
            assert found(index, pattern) == ["0"], pattern
        for pattern in ("4 2m/4", "4 5/5", "4 2/5 1"):
            assert found(index, pattern) == [], pattern


def test_a_minor_line_with_its_numbers() -> None:
    with opened(chart("Cm G7/B Cm/Bb Am7b5", "Cm")) as index:
        (hit,) = asked(index, "1m 57/7 1m/b7 6m7b5", strength=Strength.EXACT).hits
        assert hit.places[0].numbers == ("1m", "57/7", "1m/b7", "6m7b5")


QUICK_CHANGE = "1 4 1 1 4 4 1 1 5 4 1 5"
BLUES = "C7 F7 C7 C7 F7 F7 C7 C7 G7 F7 C7 G7"


def test_twelve_bars_with_a_quick_change() -> None:
    """Bar by bar, a tune of the same roots at half speed is not it; in a row, both are."""
    half = " ".join(f"{name} {name}" for name in BLUES.split())
    pattern = f"| {' | '.join(QUICK_CHANGE.split())} |"
    slow = BLUES.replace("C7 F7 C7 C7 F7", "C7 C7 C7 C7 F7", 1)
    with opened(chart(BLUES), chart(half), chart(slow), chart(moved(BLUES, "Bb"), "Bb")) as index:
        assert found(index, pattern) == ["0", "3"]
        assert found(index, "1 4 1 4 1 5 4 1 5") == ["0", "1", "3"]
        (first, second) = asked(index, pattern).hits
        for hit in (first, second):
            assert [(place.from_bar, place.to_bar, place.times) for place in hit.places] == [(1, 12, 1)]


def test_a_bar_holds_just_what_is_written() -> None:
    with opened("key: C\n\n| C F | G |\n", "key: C\n\n| C | F | G |\n", "key: C\n\n| C F . | G |\n") as index:
        assert found(index, "| 1 4 | 5 |") == ["0", "2"]
        assert found(index, "| 1 | 4 | 5 |") == ["1"]
        assert found(index, "1 4 5") == ["0", "1", "2"]


def test_a_tonicisation_is_found_anywhere_and_not_in_the_key() -> None:
    with opened(chart("C Em7 A7 Dm F C"), chart("C Dm7 G7 C")) as index:
        assert found(index, "2m 5 1") == ["1"]
        assert found(index, "2m 5 1", reach=Reach.ANYWHERE) == ["0", "1"]
        (hit,) = (hit for hit in asked(index, "2m7 57 1m", reach=Reach.ANYWHERE).hits if hit.path == "0.txt")
        assert [place.numbers for place in hit.places] == [("2m7", "57", "1m")]


def test_a_loop_begun_anywhere() -> None:
    loops = [chart(names) for names in ("C G Am F", "G Am F C", "Am F C G", "F C G Am", "C F G Am")]
    with opened(*loops) as index:
        assert found(index, "1 5 6m 4", rotate=True) == ["0", "1", "2", "3"]
        assert found(index, "1 5 6m 4") == ["0"]
