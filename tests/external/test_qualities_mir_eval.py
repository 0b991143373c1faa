"""Pitch classes of every named quality against mir_eval's reading of Harte's chord labels, on all twelve roots.

Source: mir_eval (C. Raffel et al.), module ``chord``, after Harte et al. 2005. Every quality is put to it as a plain
list of degrees, and by shorthand where it has one. ``reduce_extended_chords`` makes it keep tones above the octave;
without it its twelve-place maps drop them, which is checked too.
"""

from __future__ import annotations

import pytest

from grammar.symbols import read_chord
from shared.quality_names import BY_NAME, QUALITIES, NamedQuality
from tests.helpers.harte import SHORTHANDS, to_symbol

chord = pytest.importorskip("mir_eval.chord", reason="mir_eval is not installed")

ROOTS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]

#: Shorthands that mir_eval reads otherwise than the chord name is read here: what it has more, and why.
READ_OTHERWISE: dict[str, tuple[set[int], str]] = {
    "11": ({4}, "its 11 keeps the 3rd (stacked thirds); C11 leaves it out"),
    "13": ({5}, "its 13 keeps the 11th (stacked thirds); C13 leaves it out"),
    "maj13": ({5}, "its maj13 keeps the 11th (stacked thirds); Cmaj13 leaves it out"),
    "min13": ({5}, "its min13 keeps the 11th (stacked thirds); Cm13 leaves it out"),
}
#: What its twelve-place maps drop of a shorthand, in semitones above the root: everything above the octave.
DROPPED = {
    "9": {2},
    "maj9": {2},
    "min9": {2},
    "min11": {2, 5},
    "11": {2, 5},
    "13": {2, 9},
    "maj13": {2, 9},
    "min13": {2, 9},
}


def _sounds(label: str, reduce: bool = True) -> set[int]:
    root, bitmap, _ = chord.encode(label, reduce_extended_chords=reduce)
    return {(root + place) % 12 for place in range(12) if bitmap[place]}


@pytest.mark.parametrize("row", QUALITIES, ids=[row.name or "major" for row in QUALITIES])
def test_pitch_classes_on_all_roots(row: NamedQuality) -> None:
    degrees = ",".join(map(str, row.quality.tones))
    for root in ROOTS:
        ours = read_chord(root + row.name)
        assert ours.pitch_classes == _sounds(f"{root}:({degrees})"), root
        assert ours.root.pitch_class == chord.pitch_class_to_semitone(root)


@pytest.mark.parametrize("shorthand", SHORTHANDS)
def test_shorthands(shorthand: str) -> None:
    more, reason = READ_OTHERWISE.get(shorthand, (set(), ""))
    for root in ROOTS:
        ours = set(read_chord(to_symbol(f"{root}:{shorthand}")).pitch_classes)
        theirs = _sounds(f"{root}:{shorthand}")
        above = chord.pitch_class_to_semitone(root)
        assert theirs == ours | {(above + each) % 12 for each in more}, reason
        assert len(theirs) == len(ours) + len(more), reason


def test_every_shorthand_of_theirs_is_known() -> None:
    assert set(SHORTHANDS) == set(chord.QUALITIES) - {""}


@pytest.mark.parametrize("shorthand", SHORTHANDS)
def test_what_the_twelve_place_maps_drop(shorthand: str) -> None:
    more = READ_OTHERWISE[shorthand][0] if shorthand in READ_OTHERWISE else set()
    whole = set(read_chord(to_symbol(f"C:{shorthand}")).pitch_classes)
    dropped = DROPPED.get(shorthand, set())
    kept = more & {4}
    assert _sounds(f"C:{shorthand}", reduce=False) == (whole - dropped) | kept


@pytest.mark.parametrize("row", QUALITIES, ids=[row.name or "major" for row in QUALITIES])
def test_basses_are_joined(row: NamedQuality) -> None:
    degrees = ",".join(map(str, row.quality.tones))
    for bass in ("b7", "9", "#4", "3"):
        label = f"Eb:({degrees})/{bass}"
        ours = read_chord(to_symbol(label))
        _, _, theirs = chord.encode(label, reduce_extended_chords=True)
        assert ours.bass is not None
        assert (ours.bass.pitch_class - ours.root.pitch_class) % 12 == theirs
        assert ours.pitch_classes == _sounds(label)


#: Labels with additions and omissions, as the article writes them.
@pytest.mark.parametrize(
    ("label", "symbol"),
    [
        ("C:maj(9)", "Cadd9"),
        ("C:maj(*3)", "C5"),
        ("C:7(*5,13)", "C7(add13,no5)"),
        ("A:min7(11)/b3", "Am7(add11)/C"),
        ("Eb:sus4(b7,9)", "Eb9sus4"),
        ("F#:hdim7/b5", "F#m7b5/C"),
        ("G:7(b9)", "G7b9"),
        ("D:min(*b3)", "D5"),
        ("Bb:(1,3,5)", "Bb"),
    ],
)
def test_labels_with_degrees(label: str, symbol: str) -> None:
    ours = read_chord(to_symbol(label))
    assert ours.sound == read_chord(symbol).sound
    assert ours.pitch_classes == _sounds(label)


def test_the_helper_refuses_what_is_no_label() -> None:
    with pytest.raises(ValueError, match="no"):
        to_symbol("Cmaj7")
    assert to_symbol("C:maj7") == "Cmaj7"
    assert BY_NAME["maj7"] == read_chord("Cmaj7").quality
