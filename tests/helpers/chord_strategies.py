"""Hypothesis strategies for chords: tone sets, degrees, pitches, keys."""

from __future__ import annotations

from hypothesis import strategies as st

from shared.chord import Chord, Numeral
from shared.key import MAJOR_KEYS, MINOR_KEYS, Key
from shared.pitch import Degree, Pitch
from shared.quality import Quality, tone
from shared.quality_names import QUALITIES

#: Every tone that a chord symbol can name beside the root.
TONES = ["2", "b3", "3", "4", "b5", "5", "#5", "b6", "6", "bb7", "b7", "7", "b9", "9", "#9", "11", "#11", "b13", "13"]

mixtures: st.SearchStrategy[Quality] = st.sets(st.sampled_from(TONES), max_size=7).map(
    lambda names: Quality.of([tone("1"), *map(tone, names)])
)
qualities: st.SearchStrategy[Quality] = st.one_of(st.sampled_from([row.quality for row in QUALITIES]), mixtures)
degrees: st.SearchStrategy[Degree] = st.builds(Degree, st.integers(1, 7), st.integers(-2, 2))
pitches: st.SearchStrategy[Pitch] = st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2))
plain_pitches: st.SearchStrategy[Pitch] = st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-1, 1))
keys: st.SearchStrategy[Key] = st.sampled_from(MAJOR_KEYS + MINOR_KEYS)
chords: st.SearchStrategy[Chord] = st.builds(Chord, pitches, qualities, st.none() | pitches)
numerals: st.SearchStrategy[Numeral] = st.builds(Numeral, degrees, qualities, st.none() | degrees)
