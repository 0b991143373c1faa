"""Strings of code points counted from another tonic, by way of the chords that they stand for."""

from __future__ import annotations

from corpus.codes import slot_groups


def moved(string: str, semitones: int) -> str:
    """A string of codes, marks and all, counted from a tonic that lies so many semitones lower."""
    return "".join([chr(_moved(ord(sign), semitones)) for sign in string])


def _moved(code: int, semitones: int) -> int:
    for base, groups in slot_groups():
        size = len(groups)
        if base <= code < base + 144 * size:
            place, slot = divmod(code - base, size)
            root, bass = divmod(place, 12)
            return base + ((root + semitones) % 12 * 12 + (bass + semitones) % 12) * size + slot
    return code
