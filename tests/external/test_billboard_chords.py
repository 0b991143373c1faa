"""Every distinct chord label of an open corpus, put into our spelling: the same sound as mir_eval hears.

Source: J. A. Burgoyne, J. Wild and I. Fujinaga, "An expert ground-truth set for audio chord recognition and music
analysis", ISMIR 2011 (McGill Billboard annotations, release 2.0, CC0), labels in the syntax of Harte et al. 2005; the
referee is mir_eval's ``chord.encode``, the bass joined to the chord.
"""

from __future__ import annotations

import re
from collections import Counter

import pytest

from grammar.symbols import read_chord, read_numeral
from shared.pitch import Pitch
from tests.helpers.datasets import dataset
from tests.helpers.harte import labels, to_symbol

chord = pytest.importorskip("mir_eval.chord", reason="mir_eval is not installed")

#: Shorthands that mir_eval reads otherwise than the chord name (semitones above the root that it has more), and how
#: many distinct labels have them: it stacks thirds, where C11 leaves out the 3rd and a 13th leaves out the 11th.
READ_OTHERWISE = {"11": 4, "13": 5, "maj13": 5, "min13": 5}
EXCEPTIONS = {"11": 12, "13": 5, "maj13": 5, "min13": 2}
LABELS = 684


@pytest.fixture(scope="module")
def distinct() -> list[str]:
    """Every distinct label of the corpus."""
    files = sorted(dataset("billboard").glob("*.txt"))
    assert files, "the folder holds no annotation"
    return sorted({label for file in files for label in labels(file)})


def test_every_label_reads_as_mir_eval_hears_it(distinct: list[str]) -> None:
    exceptions: Counter[str] = Counter()
    for label in distinct:
        ours = read_chord(to_symbol(label))
        root, bitmap, bass = chord.encode(label, reduce_extended_chords=True)
        theirs = {(root + place) % 12 for place in range(12) if bitmap[place]}
        shorthand = re.split(r"[(/]", label.partition(":")[2])[0]
        if shorthand in READ_OTHERWISE:
            exceptions[shorthand] += 1
            theirs.remove((root + READ_OTHERWISE[shorthand]) % 12)
        assert ours.pitch_classes == theirs, label
        assert ours.root.pitch_class == root, label
        assert ((ours.bass or ours.root).pitch_class - root) % 12 == bass, label
    assert len(distinct) == LABELS
    assert exceptions == EXCEPTIONS


def test_every_label_is_written_and_read_back(distinct: list[str]) -> None:
    for label in distinct:
        ours = read_chord(to_symbol(label))
        assert read_chord(ours.name) == ours, label
        for tonic in (Pitch("C"), Pitch("A", -1), Pitch("F", 1)):
            numeral = ours.counted(tonic)
            assert numeral.on(tonic) == ours, label
            assert read_numeral(numeral.number) == numeral, label
            assert read_numeral(numeral.roman) == numeral, label
