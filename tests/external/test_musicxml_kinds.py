"""The kinds of MusicXML against music21's reading of them, on all twelve roots.

Source: W3C, MusicXML 4.0, data type ``kind-value``; music21 (M. S. Cuthbert and C. Ariza), modules ``harmony`` and
``musicxml.xmlToM21``, as referee. The scores are made here, one kind a measure.
"""

from __future__ import annotations

from typing import Any

import pytest

from grammar.musicxml_kinds import ALL_KINDS, FUNCTIONAL_SIXTHS, KINDS, kind_of, with_degrees
from grammar.musicxml_reading import read_musicxml
from shared.chord import Chord
from shared.pitch import Pitch
from shared.quality_names import QUALITIES
from tests.helpers.musicxml_scores import FOUR, degree, harmony, note, score

converter = pytest.importorskip("music21.converter", reason="music21 is not installed")

ROOTS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]

#: Kinds whose chord name says another tone or two than the standard's stack of thirds, which music21 keeps: what it has
#: and we have not.
STACKED = {
    "dominant-11th": ({4}, "the chord C11 has no third"),
    "dominant-13th": ({5}, "the chord C13 has no eleventh"),
    "major-13th": ({5}, "the chord Cmaj13 has no eleventh"),
    "minor-13th": ({5}, "the chord Cm13 has no eleventh"),
}
#: music21's own tones of the Neapolitan sixth are 1 b2 3 b5 above the root that is written: neither a triad on the
#: lowered second nor one on that root. The other three it counts from the tonic, as we do where no key says otherwise.
NOT_OURS = {"Neapolitan"}


def theirs(content: bytes) -> list[Any]:
    found = converter.parseData(content.decode(), format="musicxml").recurse()
    return list(found.getElementsByClass("Harmony"))


def ours(content: bytes) -> list[Chord | None]:
    (tune,) = read_musicxml(content)
    assert tune.chart is not None
    return [bar.cells[0].chord for _, bar in tune.chart.bars()]


def sound(symbol: Any) -> set[int]:
    return {pitch.pitchClass for pitch in symbol.pitches}


def scored(harmonies: list[str]) -> bytes:
    return score(*(FOUR * (index == 0) + each + note(4) for index, each in enumerate(harmonies)))


@pytest.mark.parametrize("root", ROOTS)
def test_kinds(root: str) -> None:
    kinds = [kind for kind in ALL_KINDS if kind not in ("other", "none")]
    content = scored([harmony(root, kind) for kind in kinds])
    for kind, chord, symbol in zip(kinds, ours(content), theirs(content), strict=True):
        assert chord is not None
        if kind in NOT_OURS:
            assert sound(symbol) != chord.pitch_classes
            continue
        extra, why = STACKED.get(kind, (set(), "both read the same"))
        base = chord.root.pitch_class
        assert sound(symbol) == chord.pitch_classes | {(base + each) % 12 for each in extra}, why


def test_the_standard_s_own_tones() -> None:
    content = scored([harmony("C", kind) for kind in KINDS])
    for (kind, each), symbol in zip(KINDS.items(), theirs(content), strict=True):
        assert sound(symbol) == {t.semitones for t in each.tones.tones}, kind


def test_no_chord() -> None:
    content = scored([harmony("C"), harmony("C", "none")])
    assert ours(content)[1] is None
    assert theirs(content)[1].pitches == ()


@pytest.mark.parametrize("row", QUALITIES, ids=[row.name or "major" for row in QUALITIES])
def test_degrees_of_every_quality(row: Any) -> None:
    kind, degrees = kind_of(row.quality)
    assert with_degrees(KINDS[kind].tones, degrees) == row.quality
    more = "".join(degree(each.value, each.alter, each.type) for each in degrees)
    content = scored([harmony(root, kind, more) for root in ROOTS])
    for chord, symbol in zip(ours(content), theirs(content), strict=True):
        assert chord is not None
        assert chord.quality == row.quality
        assert sound(symbol) == chord.pitch_classes


def test_functional_sixths_from_a_tonic() -> None:
    assert set(FUNCTIONAL_SIXTHS) - NOT_OURS == {"Italian", "French", "German"}
    assert ours(scored([harmony("C", "German")])) == [Chord(Pitch("A", -1), FUNCTIONAL_SIXTHS["German"].quality)]
