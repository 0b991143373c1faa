"""Every file of the open data is read, and gives what a naive reading of its text gives.

Sources: J. A. Burgoyne, J. Wild and I. Fujinaga, "An expert ground-truth set for audio chord recognition and music
analysis", ISMIR 2011 (McGill Billboard annotations, release 2.0, CC0); T. de Clercq and D. Temperley, "A corpus
analysis of rock harmony", Popular Music 30/1 (2011), 47-70 (corpus release 2.1, CC BY 4.0). The referee of chord labels
is mir_eval's ``chord.encode``.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from corpus.unfolding import played_bars
from grammar.billboard import read_billboard
from grammar.chart_text import write_chart
from grammar.charts import read_chart
from grammar.harte import read_harte, write_harte
from grammar.roman_text import read_roman_text
from grammar.symbols import read_chord
from shared.chart import Chart
from shared.foreign import ForeignTune
from shared.quality import Third
from tests.helpers.datasets import dataset
from tests.helpers.harte import labels, to_symbol

BILLBOARD_FILES, ROCK_FILES = 444, 198
#: What the files hold that a chart has no room for, and how often: counted in the files with grep.
BILLBOARD_REMARKS = {"“*”, too complex to transcribe, is written as silence": 31, "&pause": 68}
ROCK_REMARKS = {
    "the tonic changes inside the bar, which is written as two bars": 5,
    "the chords cannot share the bar as written, and stand at the nearest beats": 7,
}
#: Semitones above the tonic of the degrees of the major scale.
SCALE = {"I": 0, "II": 2, "III": 4, "IV": 5, "V": 7, "VI": 9, "VII": 11}

Song = tuple[Path, str, ForeignTune]


def texts(name: str, pattern: str) -> list[tuple[Path, str]]:
    return [(file, file.read_text(encoding="utf-8")) for file in sorted(dataset(name).glob(pattern))]


@pytest.fixture(scope="module")
def billboard() -> list[Song]:
    return [(file, text, read_billboard(text)[0]) for file, text in texts("billboard", "*.txt")]


@pytest.fixture(scope="module")
def rock() -> list[Song]:
    return [(file, text, read_roman_text(text)[0]) for file, text in texts("rock", "r*.txt")]


def chart_of(song: Song) -> Chart:
    chart = song[2].chart
    assert chart is not None, song[0].name
    return chart


def remarks(songs: list[Song]) -> Counter[str]:
    said = Counter(remark.message for *_, tune in songs for remark in tune.remarks)
    return Counter({("&pause" if "&pause" in message else message): times for message, times in said.items()})


def test_every_billboard_file_is_read(billboard: list[Song]) -> None:
    assert len(billboard) == BILLBOARD_FILES
    assert [file.name for file, _, tune in billboard if tune.chart is None or tune.faults] == []
    assert remarks(billboard) == BILLBOARD_REMARKS


def test_every_rock_file_is_read(rock: list[Song]) -> None:
    assert len(rock) == ROCK_FILES
    assert [file.name for file, _, tune in rock if tune.chart is None or tune.faults] == []
    assert remarks(rock) == ROCK_REMARKS


@pytest.mark.parametrize("name", ["billboard", "rock"])
def test_every_chart_is_written_and_read_back(name: str, request: pytest.FixtureRequest) -> None:
    for song in request.getfixturevalue(name):
        assert read_chart(write_chart(chart_of(song))).chart == chart_of(song), song[0].name


def naive_phrase(line: str) -> tuple[int, list[list[str]]]:
    """How often the phrase of a line is played, and the words of each of its bars."""
    first, last = line.index("|"), line.rindex("|")
    times = re.match(r"\s*x(\d+)", line[last + 1 :])
    return int(times.group(1)) if times else 1, [bar.split() for bar in line[first + 1 : last].split("|")]


def test_billboard_bars_are_those_of_the_text(billboard: list[Song]) -> None:
    for song in billboard:
        expected: list[tuple[str, str, list[Any]]] = []
        metre = tonic = ""
        for line in song[1].splitlines():
            if found := re.match(r"# (metre|tonic): (\S+)", line):
                metre, tonic = (found[2], tonic) if found[1] == "metre" else (metre, found[2])
            if line.startswith("#") or "|" not in line:
                continue
            times, bars = naive_phrase(line)
            for words in bars * times:
                own = words[0].strip("()") if words[0].startswith("(") else metre
                chords = [None if word in ("N", "*", "&pause") else read_chord(to_symbol(word)).sound
                          for word in words if word != "." and not word.startswith("(")]  # fmt: skip
                expected.append((own, tonic, chords))
        made = [
            (
                str(bar.metre),
                bar.key and bar.key.tonic.pitch_class,
                [cell.chord and cell.chord.sound for cell in bar.cells if cell.struck],
            )
            for _, _, bar in played_bars(chart_of(song))
        ]
        pitches = [(own, read_chord(tonic).root.pitch_class, chords) for own, tonic, chords in expected]
        assert made == pitches, song[0].name


def test_billboard_sections_begin_where_the_text_says(billboard: list[Song]) -> None:
    for song in billboard:
        named = [line for line in song[1].splitlines() if re.match(r"\S+\t[^|]*\w[^|]*\|", line)]
        made = [section.label for section in chart_of(song).sections if section.label is not None]
        assert len(made) == len(named), song[0].name
        for label, line in zip(made, named, strict=True):
            before = re.split(r"\t|, ", line.partition("|")[0].strip(" ,"))[1:]
            said = {word for word in before if not re.search(r"[()]", word)}
            assert sorted(" ".join(said).split()) == sorted(label.split()), song[0].name


def test_every_label_is_read_and_written_as_mir_eval_hears_it() -> None:
    chord = pytest.importorskip("mir_eval.chord", reason="mir_eval is not installed")
    distinct = sorted({label for file in dataset("billboard").glob("*.txt") for label in labels(file)})
    assert len(distinct) == 684
    for label in distinct:
        ours = read_harte(label)
        assert ours is not None
        assert ours.sound == read_chord(to_symbol(label)).sound, label
        again = write_harte(ours)
        assert read_harte(again) == ours, label
        root, bitmap, bass = chord.encode(again, reduce_extended_chords=True)
        assert ours.pitch_classes == {(root + place) % 12 for place in range(12) if bitmap[place]}, (label, again)
        assert ours.root.pitch_class == root, label
        assert ((ours.bass or ours.root).pitch_class - root) % 12 == bass, label


def naive_numeral(text: str) -> int:
    """Semitones above the tonic of a numeral and what is written behind it, counted from the ones behind slashes."""
    semitones = 0
    for part in text.split("/"):
        found = re.match(r"([#b]*)([IV]+|[iv]+)", part)
        assert found is not None, text
        semitones += SCALE[found[2].upper()] + found[1].count("#") - found[1].count("b")
    return semitones % 12


def naive_bass(text: str) -> int:
    """Semitones of the bass above the root: by the figures, for the kinds of chord that the analysts invert."""
    found = re.match(r"[#b]*([IViv]+)([^/]*)", text)
    assert found is not None, text
    numeral, figures = found.groups()
    minor = numeral.islower() and not re.match(r"d\d\d", figures)
    if re.search(r"(?<!\d)65?(?!\d)", figures) and "64" not in figures:
        return 3 if minor or "h" in figures else 4
    if re.search(r"64|43", figures):
        return 6 if re.search(r"[hox]", figures) else 8 if "a" in figures else 7
    if "42" in figures:
        # The scale's own seventh is a major one on these capitals alone; x is a diminished seventh.
        major = text.split("/")[0][: -len(figures)] in ("I", "IV", "bII", "bIII", "bVI", "bVII") and "d" not in figures
        return 9 if "x" in figures else 11 if major else 10
    return 0


def test_rock_files_give_their_degrees_exactly(rock: list[Song]) -> None:
    for song in rock:
        expected: list[tuple[int, int, bool | None] | None] = []
        for word in song[1].replace("|", " ").split():
            if word == "R":
                expected.append(None)
            elif word != "." and not word.startswith("["):
                root = naive_numeral(word)
                lower = None if "s4" in word else bool(re.match(r"[#b]*[iv]", word))
                expected.append((root, (root + naive_bass(word)) % 12, lower))
        made: list[tuple[int, int, bool | None] | None] = []
        for _, _, bar in played_bars(chart_of(song)):
            for cell in bar.cells:
                if not cell.struck:
                    continue
                if cell.chord is None or bar.key is None:
                    made.append(None)
                    continue
                numeral = cell.chord.counted(bar.key.tonic)
                bass = numeral.bass or numeral.degree
                third = numeral.quality.third
                minor = None if third is Third.NONE else third is Third.MINOR
                made.append((numeral.degree.semitones, bass.semitones, minor))
        assert made == expected, song[0].name


def test_rock_bars_tonics_and_metres_are_those_of_the_text(rock: list[Song]) -> None:
    for song in rock:
        tonic, metre, expected = "", "4/4", []
        for bar in song[1].strip().removesuffix("|").split("|"):
            changes = re.findall(r"\[([^\]]+)\]", bar)
            metre = next((each for each in changes if "/" in each), metre)
            tonics = [each for each in changes if "/" not in each]
            inside = re.search(r"[\w.]\s+\[[A-G]", bar)
            expected += [(metre, tonic), (metre, tonics[0])] if inside else [(metre, tonics[0] if tonics else tonic)]
            tonic = tonics[0] if tonics else tonic
        made = [(bar, str(bar.metre)) for _, _, bar in played_bars(chart_of(song))]
        assert len(made) == len(expected), song[0].name
        for (bar, written), (named, key) in zip(made, expected, strict=True):
            assert bar.own_metre or written == named, song[0].name
            assert bar.key is not None
            assert bar.key.tonic.pitch_class == read_chord(key).root.pitch_class, song[0].name
