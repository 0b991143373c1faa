"""Puts chord labels in the syntax of Harte et al. 2005 into our spelling.

A label is ``root:shorthand(degrees)/bass``; the degrees add a tone, or with ``*`` take one away; the bass is a degree
above the root. The shorthands 11, 13, maj13 and min13 came after the article and are read as the chord names C11, C13,
Cmaj13 and Cm13 are.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from shared.pitch import Pitch
from shared.quality import tone

#: Shorthand to chord name.
SHORTHANDS = {
    "maj": "",
    "min": "m",
    "dim": "dim",
    "aug": "aug",
    "maj7": "maj7",
    "min7": "m7",
    "7": "7",
    "dim7": "dim7",
    "hdim7": "m7b5",
    "minmaj7": "m(maj7)",
    "maj6": "6",
    "min6": "m6",
    "9": "9",
    "maj9": "maj9",
    "min9": "m9",
    "sus4": "sus4",
    "sus2": "sus2",
    "5": "5",
    "1": "5(no5)",
    "11": "11",
    "min11": "m11",
    "13": "13",
    "maj13": "maj13",
    "min13": "m13",
}
_LABEL = re.compile(r"([A-G][#b]*)(?::([a-z0-9]*)(?:\(([^)]*)\))?)?(?:/([#b]*\d+))?")
#: Cells of the annotations that are no chords: holds, silence, what was too hard to write, rests and metres.
_NO_CHORD = re.compile(r"\.|N|\*|&pause|\(\d+/\d+\)|x\d+|->")


def to_symbol(label: str) -> str:
    """A label as a chord symbol of ours.

    Raises:
        ValueError: If it is not a label of that syntax.

    >>> to_symbol("Ab:min7(*5,11)/b7")
    'Abm7(no5,add11)/Gb'
    >>> to_symbol("F:(1,3,7)"), to_symbol("C/3")
    ('F5(no5)(add3,add7)', 'C/E')
    """
    found = _LABEL.fullmatch(label)
    if not found:
        raise ValueError(f"{label!r} is not a chord label")
    root, shorthand, degrees, bass = found.groups()
    listed = [d for d in (degrees or "").split(",") if d]
    if shorthand == "" and listed:
        shorthand = "1"
    name = SHORTHANDS[shorthand or "maj"]
    omitted = [f"no{d[1:].lstrip('#b')}" for d in listed if d.startswith("*")]
    marks = omitted + [f"add{d}" for d in listed if not d.startswith("*") and d != "1"]
    behind = f"({','.join(marks)})" if marks else ""
    return f"{root}{name}{behind}{'/' + _bass(root, bass) if bass else ''}"


def _bass(root: str, degree: str) -> str:
    pitch = Pitch(root[0], root.count("#") - root.count("b")).up(tone(degree))
    return str(pitch)


def labels(file: Path) -> Iterator[str]:
    """Every chord label of one annotated song, in order: the cells between its bar lines that are chords."""
    for line in file.read_text(encoding="utf-8").splitlines():
        _, tab, body = line.partition("\t")
        if not tab or "|" not in body:
            continue
        bars = body[body.index("|") : body.rindex("|")]
        yield from (cell for cell in bars.replace("|", " ").split() if not _NO_CHORD.fullmatch(cell))
