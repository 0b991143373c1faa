"""Pitch classes of every named quality against music21's harmony.ChordSymbol, on all twelve roots.

Source: music21 (M. S. Cuthbert and C. Ariza), module ``harmony``; its table CHORD_TYPES and its reader of figures. It
writes a flat ``-``. It reads most of our names as they stand; where it refuses a name, ``OTHER_FIGURE`` has the figure
that says the same to it; where it reads the name as another chord, ``READ_OTHERWISE`` says what it adds or leaves out,
and why.
"""

from __future__ import annotations

import pytest

from grammar.symbols import read_chord
from shared.quality_names import QUALITIES, NamedQuality

harmony = pytest.importorskip("music21.harmony", reason="music21 is not installed")

ROOTS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]

#: Names that music21 cannot read, and the figure that says the same to it. It has no brackets, no "6/9" (it takes the
#: stroke for a bass), no "maj9" (M9 it has), no suspension of anything but a triad and a seventh, and no "alt".
OTHER_FIGURE = {
    "sus2sus4": "sus4add2",
    "(b5)": "b5",
    "6/9": "6add9",
    "m6/9": "m6add9",
    "m(add9)": "madd9",
    "m(add11)": "madd11",
    "m(maj7)": "mM7",
    "dim(maj7)": "mM7b5",
    "7sus2": "sus2addb7",
    "maj7sus4": "sus4add7",
    "maj7sus2": "sus2add7",
    "7alt": "7b9#9#11b13omit5",
    "maj9": "M9",
    "m(maj9)": "mM9",
    "9sus4": "7sus4add9",
    "maj9sus4": "sus4add7add9",
    "maj9#11": "M9#11",
    "maj9#5": "+M9",
    "6/9#11": "6add9add#11",
    "m7(add11)": "m7add11",
    "maj11": "M11",
    "maj13": "M9add13",
    "13sus4": "7sus4add9add13",
    "13sus4b9": "7sus4b9add13",
    "maj13#11": "M9#11add13",
}

_ELEVENTH = "its thirteenths keep the 11th (stacked thirds); players leave it out, and so does the name here"
_LOST = _ELEVENTH + "; and behind two digits it loses the alteration"
#: Names that music21 reads as another chord: a figure that it reads as we do, the semitones above the root that it has
#: and we have not, those that we have and it has not, and the reason.
READ_OTHERWISE: dict[str, tuple[str, set[int], set[int], str]] = {
    "11": ("7sus4add9", {4}, set(), "its eleventh keeps the 3rd (stacked thirds); players leave it out"),
    "13": ("9add13", {5}, set(), _ELEVENTH),
    "m13": ("m9add13", {5}, set(), _ELEVENTH),
    "13b9": ("7b9add13", {2, 5}, {1}, _LOST),
    "13#9": ("7#9add13", {2, 5}, {3}, _LOST),
    "13#11": ("9#11add13", {5}, {6}, _LOST),
    "13b5": ("9b5add13", {5}, set(), _ELEVENTH),
    "13b9#11": ("7b9#11add13", {2, 5}, {1, 6}, _LOST),
}


def _sounds(root: str, figure: str) -> set[int]:
    return {pitch.pitchClass for pitch in harmony.ChordSymbol(root.replace("b", "-") + figure).pitches}


def _ours(row: NamedQuality) -> set[int]:
    return {tone.semitones for tone in row.quality.tones}


@pytest.mark.parametrize("row", QUALITIES, ids=[row.name or "major" for row in QUALITIES])
def test_pitch_classes_on_all_roots(row: NamedQuality) -> None:
    figure = READ_OTHERWISE[row.name][0] if row.name in READ_OTHERWISE else OTHER_FIGURE.get(row.name, row.name)
    for root in ROOTS:
        assert read_chord(root + row.name).pitch_classes == _sounds(root, figure), root


@pytest.mark.parametrize("name", OTHER_FIGURE)
def test_no_stale_translation(name: str) -> None:
    assert name in {row.name for row in QUALITIES}
    with pytest.raises(ValueError, match=r"Invalid chord abbreviation|is not a supported accidental"):
        _sounds("C", name)


@pytest.mark.parametrize("name", READ_OTHERWISE)
def test_no_stale_exception(name: str) -> None:
    _, more, less, reason = READ_OTHERWISE[name]
    ours, theirs = set(read_chord(f"C{name}").pitch_classes), _sounds("C", name)
    assert (theirs - ours, ours - theirs) == (more, less), reason


#: Other spellings that both read (the tables of music21 itself).
@pytest.mark.parametrize(
    "figure",
    [
        "M",
        "maj",
        "min",
        "+",
        "o",
        "dim",
        "dom7",
        "M7",
        "m#7",
        "min7",
        "7+",
        "+7",
        "aug7",
        "ø7",
        "o7",
        "min6",
        "sus",
        "7sus",
        "+9",
        "aug9",
        "ø9",
        "ø11",
        "madd9",
        "add2",
        "m7add11",
        "7susb9",
        "mM7",
    ],
)
def test_other_spellings_that_both_read(figure: str) -> None:
    for root in ("C", "F#", "Bb"):
        assert read_chord(root + figure).pitch_classes == _sounds(root, figure)


#: Chords over a bass, chord tone or not.
@pytest.mark.parametrize(
    "symbol", ["C/E", "C/D", "Dm7/G", "F#m7b5/E", "Bb7/Ab", "Ebmaj7/D", "Am/G", "G7/B", "C/Bb", "F/G"]
)
def test_basses(symbol: str) -> None:
    chord = read_chord(symbol)
    theirs = harmony.ChordSymbol(symbol[0] + symbol[1:].replace("7b5", "7@5").replace("b", "-").replace("@", "b"))
    assert chord.pitch_classes == {pitch.pitchClass for pitch in theirs.pitches}
    assert chord.bass is not None
    assert chord.bass.pitch_class == theirs.bass().pitchClass
    assert chord.root.pitch_class == theirs.root().pitchClass
