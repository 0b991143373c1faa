"""Chord labels of Harte et al. 2005: what they stand for, how they are written, what is said of faulty ones."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.harte import harte_or_fault, read_harte, write_harte
from grammar.symbols import read_chord
from shared.chord import Chord
from shared.errors import Fault, ReadingError
from shared.pitch import LETTERS, Degree, Pitch
from shared.quality import Quality
from shared.quality_names import QUALITIES

#: Label, chord name.
LABELS = [
    ("C", "C"),
    ("C:maj", "C"),
    ("C/3", "C/E"),
    ("Bb:min7/b7", "Bbm7/Ab"),
    ("F#:dim7", "F#dim7"),
    ("E:hdim7", "Em7b5"),
    ("G:9(*3,11)", "G11"),
    ("D:(1,b3,b5)", "Ddim"),
    ("D:(1,4,5)", "Dsus4"),
    ("A:maj(9)", "Aadd9"),
    ("A:maj(2)", "Aadd9"),
    ("A:maj(4)", "Aadd11"),
    ("A:sus4(2)", "Asus2sus4"),
    ("A:sus4(b7,9)", "A9sus4"),
    ("A:7(#9)", "A7#9"),
    ("A:7(*5,13)", "A7(no5,add13)"),
    ("A:min(*b3)", "A5"),
    ("A:min(*3)", "A5"),
    ("A:1", "A5(no5)"),
    ("A:1/5", "A5(no5)/E"),
    ("A:11", "A11"),
    ("A:maj/1", "A"),
    ("Ab:maj/9", "Ab/Bb"),
    ("Cbb:maj", "Cbb"),
    ("C####:maj", "E"),
    ("B♭:min", "Bbm"),
]


@pytest.mark.parametrize(("label", "name"), LABELS)
def test_a_label_stands_for_a_chord(label: str, name: str) -> None:
    chord = read_harte(label)
    assert chord is not None
    assert read_chord(chord.name) == chord
    assert chord == read_chord(name)


def test_no_chord_and_an_unknown_one_are_none() -> None:
    assert read_harte("N") is None
    assert read_harte("X") is None
    assert write_harte(None) == "N"


#: Name, label: the fewest degrees, never a shorthand that programs read differently.
WRITTEN = [
    ("C", "C:maj"),
    ("Ebm7/Db", "Eb:min7/b7"),
    ("C6/9", "C:maj6(9)"),
    ("Cadd9", "C:maj(9)"),
    ("C7sus4", "C:sus4(b7)"),
    ("C7alt", "C:7(*5,b9,#9,#11,b13)"),
    ("C11", "C:9(*3,11)"),
    ("C13", "C:9(13)"),
    ("C5", "C:5"),
    ("C/D", "C:maj/2"),
]


@pytest.mark.parametrize(("name", "label"), WRITTEN)
def test_a_chord_is_written(name: str, label: str) -> None:
    assert write_harte(read_chord(name)) == label


PITCHES = st.builds(Pitch, st.sampled_from(LETTERS), st.integers(-2, 2))
TONES = st.builds(Degree, st.integers(2, 13).filter(lambda n: n not in (8, 10, 12)), st.integers(-2, 1))


@given(PITCHES, st.sampled_from([row.quality for row in QUALITIES]), st.none() | PITCHES)
def test_every_named_chord_is_read_back(root: Pitch, quality: Quality, bass: Pitch | None) -> None:
    chord = Chord(root, quality, bass)
    read = read_harte(write_harte(chord))
    assert read is not None
    assert (read.root, read.quality) == (root, quality)
    assert (read.bass or read.root).pitch_class == (chord.bass or chord.root).pitch_class


@given(PITCHES, st.sets(TONES, max_size=6))
def test_any_tones_are_written_and_read_back_or_refused(root: Pitch, tones: set[Degree]) -> None:
    quality = Quality.of([Degree(1), *tones])
    read = harte_or_fault(write_harte(Chord(root, quality)))
    if isinstance(read, Fault):
        assert "no chord name" in read.message
    else:
        assert read == Chord(root, quality)


#: Faulty label, column, length, nearest.
FAULTY = [
    ("C:majj7", 6, 2, "C:maj7"),
    ("C:mni", 3, 3, "C:min"),
    ("Cm7", 2, 2, "C:min7"),
    ("Cm7/Bb", 2, 5, "C:min7/b7"),
    ("C:min7(*5", 9, 1, "C:min7(*5)"),
    ("C:maj/", 6, 1, "C:maj"),
    ("C:maj/15", 7, 2, "C:maj"),
    ("C:min7()", 8, 1, "C:min7"),
    ("H:min", 1, 5, "B:min"),
    ("c:maj", 1, 5, "C:maj"),
    ("", 1, 1, ""),
    ("Z", 1, 1, ""),
    ("C:" + "9" * 100, 1, 102, ""),
]


@pytest.mark.parametrize(("label", "column", "length", "near"), FAULTY)
def test_a_faulty_label_is_refused_with_its_place(label: str, column: int, length: int, near: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read_harte(label)
    (fault,) = caught.value.faults
    assert (fault.column, fault.length, fault.nearest) == (column, length, near)
    if near:
        assert read_harte(near) is not None


@given(st.text(alphabet="CDAGbm#:/(),*1234567 jNXinadush♭", max_size=14))
def test_any_text_is_a_chord_or_a_fault_inside_it(text: str) -> None:
    read = harte_or_fault(text)
    if isinstance(read, Fault):
        assert 1 <= read.column <= max(1, len(text))
        assert read.column + read.length - 1 <= max(1, len(text))
        assert not read.nearest or not isinstance(harte_or_fault(read.nearest), Fault)
