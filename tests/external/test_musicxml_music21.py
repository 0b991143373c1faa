"""MusicXML read and written, against music21: same measures, same chord pitch classes, same repeats unfolded.

Source: music21 (M. S. Cuthbert and C. Ariza): its bundled scores with chord symbols, its own reader of MusicXML, and
its unfolding of repeats (``Stream.expandRepeats``) as referee. Where it hears or plays something else, that is listed.
"""

from __future__ import annotations

import random
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from corpus.unfolding import played_bars
from grammar.charts import read_chart
from grammar.musicxml_reading import read_musicxml
from grammar.musicxml_text import write_musicxml
from shared.chart import Chart
from tests.helpers.musicxml_scores import (
    BACKWARD,
    FORWARD,
    FOUR,
    harmony,
    left,
    note,
    right,
    score,
    sign,
    starts,
    stops,
    words,
)
from tests.strategies.charts import made_chart

music21 = pytest.importorskip("music21", reason="music21 is not installed")

DEMO_CHARTS = sorted((Path(__file__).resolve().parents[2] / "corpus" / "demo").rglob("*.txt"))

#: The onsets of a bar: where a chord begins, in quarter notes, and its pitch classes (none for no chord).
Onsets = list[tuple[Fraction, frozenset[int]]]

#: The bundled scores with chord symbols. Most of the madrigals' symbols are single chords of a modern edition.
SCORES = [
    "leadSheet/fosterBrownHair",
    "leadSheet/berlinAlexandersRagtime",
    "demos/ComprehensiveChordSymbolsTestFile",
    "demos/chord_realization_exercise",
    "monteverdi/madrigal.3.1",
    "monteverdi/madrigal.3.15",
    "monteverdi/madrigal.3.16",
    "monteverdi/madrigal.3.17",
    "monteverdi/madrigal.3.5",
    "monteverdi/madrigal.3.7",
    "monteverdi/madrigal.3.8",
    "monteverdi/madrigal.5.4",
]


def theirs(parsed: Any) -> list[Onsets]:
    """The bars that music21 plays, from the part with most chord symbols."""
    part = max(parsed.parts, key=lambda part: len(part.recurse().getElementsByClass("Harmony")))
    if part.recurse().getElementsByClass(("Repeat", "RepeatExpression")):
        part = part.expandRepeats()
    bars = []
    for measure in part.getElementsByClass("Measure"):
        symbols = measure.recurse().getElementsByClass("Harmony")
        placed = [(Fraction(s.getOffsetInHierarchy(measure)), s) for s in symbols]
        bars.append([(place, frozenset(p.pitchClass for p in s.pitches)) for place, s in placed])
    return bars


def ours(chart: Chart, held: bool = False) -> list[Onsets]:
    """The bars that we play, with holds too where ``held``; the silence before the first chord has no symbol there."""
    bars = []
    sounded = False
    for _, _, bar in played_bars(chart):
        onsets: Onsets = []
        place = Fraction(0)
        for cell, beats in zip(bar.cells, bar.beats(), strict=True):
            sounded = sounded or cell.chord is not None
            if (cell.struck or held) and sounded:
                onsets.append((place, cell.chord.pitch_classes if cell.chord else frozenset()))
            place += beats * 4 / bar.metre.unit
        bars.append(onsets)
    return bars


@cache
def bundled(name: str) -> tuple[list[Onsets], list[Onsets], Chart]:
    path = Path(music21.__file__).parent / "corpus" / f"{name}.mxl"
    (tune,) = read_musicxml(path.read_bytes())
    assert tune.chart is not None, tune.faults
    return theirs(music21.converter.parse(path)), ours(tune.chart), tune.chart


_ELEVENTH = "a thirteenth has no eleventh by its name"
#: Bars of a bundled score where music21 hears another chord: semitones above C that it has and we have not, those that
#: we have and it has not, and why.
OTHERWISE: dict[str, dict[int, tuple[set[int], set[int], str]]] = {
    "demos/ComprehensiveChordSymbolsTestFile": {
        11: (set(), {1, 5, 9}, "the kind is “minor-major”, which is none; it hears the root, we read the text “mMaj7”"),
        17: ({10}, set(), "an eleventh has no third by its name"),
        20: ({6}, set(), _ELEVENTH),
        21: ({6}, set(), _ELEVENTH),
        22: ({6}, set(), _ELEVENTH),
        **{bar: ({5}, set(), _ELEVENTH) for bar in (43, 44, 45, 46, 47)},
        55: ({0, 4, 6}, {5, 8}, "its Neapolitan sixth is no triad"),
        56: (set(), {3, 8, 11}, "the kind is “tristan”, in small letters; it hears the root"),
    }
}


@pytest.mark.parametrize("name", SCORES)
def test_bundled_scores(name: str) -> None:
    there, here, _ = bundled(name)
    assert len(here) == len(there)
    for number, (our, their) in enumerate(zip(here, there, strict=True), 1):
        more, less, why = OTHERWISE.get(name, {}).get(number, (set(), set(), "no reason known"))
        expected = [(place, tones - more | less) for place, tones in their]
        assert our == expected, f"bar {number}: {why}"
        for (_, tones), (_, read) in zip(their, our, strict=True):
            assert (tones - read, read - tones) == (more, less), f"bar {number}: {why}"


def test_bundled_lead_sheets_have_repeats_and_keys() -> None:
    for name, written in (("leadSheet/fosterBrownHair", 35), ("leadSheet/berlinAlexandersRagtime", 34)):
        _, here, chart = bundled(name)
        assert len(list(chart.bars())) == written, name
        assert len(here) == 65
        assert str(chart.key) == "C"


def changes(bars: list[Onsets]) -> list[Onsets]:
    """The bars without onsets at which the chord that sounds goes on."""
    sounding: frozenset[int] = frozenset()
    made = []
    for onsets in bars:
        kept: Onsets = []
        for place, tones in onsets:
            if tones != sounding:
                kept.append((place, tones))
            sounding = tones
        made.append(kept)
    return made


def written(chart: Chart) -> list[Onsets]:
    return theirs(music21.converter.parseData(write_musicxml(chart), format="musicxml"))


@pytest.mark.parametrize("path", DEMO_CHARTS, ids=lambda path: path.stem)
def test_music21_reads_the_demo_charts_that_we_write(path: Path) -> None:
    chart = read_chart(path.read_text(encoding="utf-8")).chart
    assert chart is not None
    assert changes(written(chart)) == changes(ours(chart, held=True))


@pytest.mark.parametrize("seed", range(40))
def test_music21_reads_the_charts_of_all_kinds_that_we_write(seed: int) -> None:
    chart = made_chart(random.Random(seed))
    assert changes(written(chart)) == changes(ours(chart, held=True))


def test_music21_reads_keys_metres_and_labels() -> None:
    text = "title: T\nby: Me\nkey: Eb\ntime: 3/4\n\n[A]\n| Eb | Bb7 |\n[B]\nkey: F# minor\ntime: 6/8\n| F#m |\n"
    chart = read_chart(text).chart
    assert chart is not None
    parsed = music21.converter.parseData(write_musicxml(chart), format="musicxml")
    found = [(key.tonic.name, key.mode) for key in parsed.recurse().getElementsByClass("Key")]
    assert found == [("E-", "major"), ("F#", "minor")]
    assert [each.ratioString for each in parsed.recurse().getElementsByClass("TimeSignature")] == ["3/4", "6/8"]
    assert [mark.content for mark in parsed.recurse().getElementsByClass("RehearsalMark")] == ["A", "B"]
    assert (parsed.metadata.title, parsed.metadata.composer) == ("T", "Me")


BACK, GO = right(BACKWARD), left(FORWARD)


def ending(numbers: str, back: bool) -> tuple[str, str]:
    """What stands before and behind the notes of an ending of one measure."""
    return left(starts(numbers)), right(stops(numbers) + BACKWARD * back)


#: What stands before and behind the chord of each measure. Left out is what music21 unfolds otherwise than players do
#: (two repeats without a sign where the second begins: it goes back to the start of both; a jump behind endings: it
#: takes the first ending again) or does not unfold (jumps that only sound, endings 1 and 3).
ORDERS: list[list[tuple[str, str]]] = [
    [("", ""), ("", BACK)],
    [("", ""), (GO, ""), ("", BACK), ("", "")],
    [("", ""), ending("1", True), ending("2", False), ("", "")],
    [("", ""), ending("1, 2", True), ending("3", False), ("", "")],
    [("", ""), (left(starts("1")), ""), ("", right(stops("1") + BACKWARD)), ending("2", False), ("", "")],
    [("", ""), ("", words("Fine")), ("", words("D.C. al Fine"))],
    [("", ""), ("", words("fine")), ("", words("Da Capo al Fine"))],
    [("", ""), ("", words("D.C."))],
    [("", ""), (sign("segno"), ""), ("", words("Fine")), ("", words("D.S. al Fine"))],
    [("", ""), (sign("segno"), ""), ("", words("Fine")), ("", words("Dal Segno al Fine"))],
    [("", ""), ("", words("To Coda")), ("", words("D.C. al Coda")), (words("Coda"), "")],
    [("", ""), ("", sign("coda")), ("", words("D.C. al Coda")), (sign("coda"), "")],
    [("", ""), ("", words("Fine")), ("", words("To Coda")), ("", words("D.C. al Coda")), (words("Coda"), "")],
    [("", ""), ("", words("To Coda")), ("", words("Fine")), ("", words("D.C. al Fine")), (words("Coda"), "")],
    [("", ""), ("", BACK), ("", words("D.C."))],
    [("", ""), (GO, ""), ("", BACK), ("", words("Fine")), ("", words("D.C. al Fine"))],
    [("", ""), (sign("segno"), ""), ("", BACK), ("", words("Fine")), ("", words("D.S. al Fine"))],
]


@pytest.mark.parametrize("signs", ORDERS)
def test_orders_of_playing(signs: list[tuple[str, str]]) -> None:
    chords = [harmony(root) for root in "CDEFGAB"]
    content = score(*(FOUR + a + chord + note(4) + z for (a, z), chord in zip(signs, chords, strict=False)))
    (tune,) = read_musicxml(content)
    assert tune.chart is not None
    played = ours(tune.chart)
    assert len(played) > len(signs)
    assert played == theirs(music21.converter.parseData(content.decode(), format="musicxml"))
