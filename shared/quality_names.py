"""The table of chord qualities: their names, other spellings and sources.

One row is ``name | other spellings | tones | family | source``. In the spellings ``{M}``, ``{m}``, ``{o}`` and ``{+}``
stand for every way of writing major, minor, diminished and augmented, ``{s}``, ``{b}`` and ``{#}`` for a suspension, a
flat and a sharp; a dash stands for an empty name (the plain major triad). The same table names a chord, reads it
(``grammar/chord.lark`` takes its spellings from here) and tells search its family. A triangle alone is the major
seventh, as players of jazz read it.

Sources: H2005 is Harte, Sandler, Abdallah and Gomez, "Symbolic representation of musical chords", ISMIR 2005; MX is the
kind-value table of MusicXML 4.0; CP is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from shared.quality import Family, Quality, tone

_WAYS = {
    "{M}": ("maj", "Maj", "ma", "Ma", "M", "MAJ", "MA", "major", "Major", "Δ", "j"),
    "{T}": ("maj", "Maj", "ma", "Ma", "M", "MAJ", "MA", "major", "Major"),
    "{m}": ("m", "min", "mi", "-", "Min", "MIN", "Mi", "MI", "minor", "Minor"),
    "{o}": ("dim", "o", "°", "Dim"),
    "{+}": ("+", "aug", "Aug"),
    "{s}": ("sus4", "sus"),
    "{b}": ("b", "-"),
    "{#}": ("#", "+"),
}

_TABLE = """
-        | {T}                                                    | 1 3 5           | maj  | H2005
m        | {m}                                                    | 1 b3 5          | m    | H2005
dim      | {o} mb5 m(b5) -b5 minb5                                | 1 b3 b5         | dim  | H2005
aug      | {+} +5 (#5) (+5) {M}#5                                 | 1 3 #5          | aug  | H2005
5        | 5th                                                    | 1 5             | 5    | MX
sus4     | {s} 4                                                  | 1 4 5           | sus4 | H2005
sus2     |                                                        | 1 2 5           | sus4 | MX
sus2sus4 | sus24 sus4sus2 sus(2,4)                              | 1 2 4 5         | sus4 | CP
(b5)     | {M}b5                                                  | 1 3 b5          | maj  | CP
6        | {M}6 add6                                              | 1 3 5 6         | maj  | H2005
m6       | {m}6 {m}add6                                           | 1 b3 5 6        | m    | H2005
6/9      | 69 6(9) 6add9 {M}6/9 {M}69 6(add9)                     | 1 3 5 6 9       | maj  | CP
m6/9     | {m}69 {m}6/9 {m}6(9) {m}6add9                          | 1 b3 5 6 9      | m    | CP
add9     | add2 2 (add9) (add2) (9) {M}add9 {M}(add9)             | 1 3 5 9         | maj  | CP
m(add9)  | {m}add9 {m}add2 {m}2 {m}(add9) {m}(add2)               | 1 b3 5 9        | m    | CP
add11    | add4 (add4) (add11) {M}add11 {M}add4                   | 1 3 5 11        | maj  | CP
m(add11) | {m}add11 {m}add4 {m}(add4) {m}(add11)                  | 1 b3 5 11       | m    | CP
add9add11| (add9,add11) (add9,11)                                 | 1 3 5 9 11      | maj  | CP
mb6      | {m}b6 {m}(b6)                                          | 1 b3 5 b6       | m    | CP
7        | dom7 dom                                               | 1 3 5 b7        | 7    | H2005
maj7     | {M}7 Δ j ({M}7) 7M 7maj                                       | 1 3 5 7         | maj  | H2005
m7       | {m}7                                                   | 1 b3 5 b7       | m    | H2005
m(maj7)  | {m}{M}7 {m}({M}7) {m}({M}) {m}{M} {m}#7 {m}(#7) {m}+7 {m}7M  | 1 b3 5 7        | m    | H2005
m7b5     | {m}7{b}5 {m}7({b}5) ø ø7 {m}7{o} h7 hdim7 hdim         | 1 b3 b5 b7      | m7b5 | H2005
dim7     | {o}7                                                   | 1 b3 b5 bb7     | dim  | H2005
dim(maj7)| {o}{M}7 {o}({M}7) {m}{M}7b5                            | 1 b3 b5 7       | dim  | CP
7b5      | 7{b}5 7({b}5)                                          | 1 3 b5 b7       | 7    | CP
7#5      | {+}7 7+ 7aug 7{#}5 7({#}5) 7(+)                        | 1 3 #5 b7       | 7    | MX
maj7b5   | {M}7{b}5 {M}7({b}5)                                    | 1 3 b5 7        | maj  | CP
maj7#5   | {M}7{#}5 {M}7({#}5) {M}7+ {+}{M}7 {+}({M}7)            | 1 3 #5 7        | aug  | CP
m7#5     | {m}7#5 {m}7(#5) {m}7+5                                 | 1 b3 #5 b7      | m    | CP
7sus4    | 7{s} {s}7 7({s}) sus47 74                              | 1 4 5 b7        | 7    | CP
7sus2    | 7(sus2) sus27                                          | 1 2 5 b7        | 7    | CP
maj7sus4 | {M}7{s} {M}7({s})                                      | 1 4 5 7         | sus4 | CP
maj7sus2 | {M}7sus2 {M}7(sus2)                                    | 1 2 5 7         | sus4 | CP
7b9      | 7{b}9 7({b}9) 7{b}9                                    | 1 3 5 b7 b9     | 7    | CP
7#9      | 7{#}9 7({#}9)                                          | 1 3 5 b7 #9     | 7    | CP
7#11     | 7{#}11 7({#}11)                                        | 1 3 5 b7 #11    | 7    | CP
7b13     | 7{b}13 7({b}13)                                        | 1 3 5 b7 b13    | 7    | CP
7b5b9    | 7b5(b9) 7(b5,b9) 7b9b5 7(b9,b5) 7-5-9                  | 1 3 b5 b7 b9    | 7    | CP
7b5#9    | 7b5(#9) 7(b5,#9) 7#9b5 7(#9,b5) 7-5+9                  | 1 3 b5 b7 #9    | 7    | CP
7#5b9    | 7#5(b9) 7(#5,b9) 7b9#5 7(b9,#5) {+}7b9 {+}7(b9) 7+b9   | 1 3 #5 b7 b9    | 7    | CP
7#5#9    | 7#5(#9) 7(#5,#9) 7#9#5 7(#9,#5) {+}7#9 {+}7(#9) 7+#9   | 1 3 #5 b7 #9    | 7    | CP
7b9#11   | 7(b9,#11) 7b9(#11)                                     | 1 3 5 b7 b9 #11 | 7    | CP
7#9#11   | 7(#9,#11) 7#9(#11)                                     | 1 3 5 b7 #9 #11 | 7    | CP
7b9b13   | 7(b9,b13) 7b9(b13) 7-9-13                              | 1 3 5 b7 b9 b13 | 7    | CP
7#9b13   | 7(#9,b13) 7#9(b13)                                     | 1 3 5 b7 #9 b13 | 7    | CP
7alt     | alt 7(alt)                                             | 1 3 b7 b9 #9 #11 b13 | 7 | CP
7add13   | 7(add13) 7(13) 7add6                                   | 1 3 5 b7 13     | 7    | CP
7add11   | 7(add11) 7add4 7(add4) 7(11)                           | 1 3 5 b7 11     | 7    | CP
9        |                                                        | 1 3 5 b7 9      | 7    | H2005
maj9     | {M}9 ({M}9) {M}7(9) {M}7add9                                  | 1 3 5 7 9       | maj  | H2005
m9       | {m}9 {m}7(9) {m}7add9                                  | 1 b3 5 b7 9     | m    | H2005
m(maj9)  | {m}{M}9 {m}({M}9) {m}{M}7(9)                           | 1 b3 5 7 9      | m    | CP
m9b5     | {m}9b5 {m}9(b5) ø9                                     | 1 b3 b5 b7 9    | m7b5 | CP
9b5      | 9{b}5 9({b}5)                                          | 1 3 b5 b7 9     | 7    | CP
9#5      | 9{#}5 9({#}5) {+}9 9+ 9aug                             | 1 3 #5 b7 9     | 7    | CP
9#11     | 9{#}11 9({#}11)                                        | 1 3 5 b7 9 #11  | 7    | CP
9b13     | 9{b}13 9({b}13)                                        | 1 3 5 b7 9 b13  | 7    | CP
9sus4    | 9{s} {s}9 9({s})                                       | 1 4 5 b7 9      | 7    | CP
7sus4b9  | 7sus4(b9) 7susb9 7b9sus 7b9sus4 7sus(b9) 7(b9)sus sus4(b9,b7) susb9 sus4b9 | 1 4 5 b7 b9 | 7 | CP
maj9sus4 | {M}9{s}                                                | 1 4 5 7 9       | sus4 | CP
maj7#11  | {M}7{#}11 {M}7({#}11)                                  | 1 3 5 7 #11     | maj  | CP
maj9#11  | {M}9{#}11 {M}9({#}11)                                  | 1 3 5 7 9 #11   | maj  | CP
maj9#5   | {M}9{#}5 {M}9({#}5) {+}{M}9                            | 1 3 #5 7 9      | aug  | CP
6#11     | 6(#11) {M}6#11                                         | 1 3 5 6 #11     | maj  | CP
6/9#11   | 69#11 6/9(#11) 69(#11)                                 | 1 3 5 6 9 #11   | maj  | CP
m7(add11)| {m}7add11 {m}7(11) {m}7add4 {m}7(add4) {m}7(add11)     | 1 b3 5 b7 11    | m    | CP
11       | 11{s}                                                  | 1 5 b7 9 11     | 7    | CP
m11      | {m}11 {m}9(11)                                         | 1 b3 5 b7 9 11  | m    | MX
maj11    | {M}11                                                  | 1 3 5 7 9 11    | maj  | MX
m11b5    | {m}11b5 {m}11(b5) ø11                                  | 1 b3 b5 b7 9 11 | m7b5 | CP
13       | 9add13 9(13)                                           | 1 3 5 b7 9 13   | 7    | CP
maj13    | {M}13                                                  | 1 3 5 7 9 13    | maj  | CP
m13      | {m}13                                                  | 1 b3 5 b7 9 13  | m    | CP
13sus4   | 13{s} {s}13 13({s})                                    | 1 4 5 b7 9 13   | 7    | CP
13b9     | 13{b}9 13({b}9)                                        | 1 3 5 b7 b9 13  | 7    | CP
13#9     | 13{#}9 13({#}9)                                        | 1 3 5 b7 #9 13  | 7    | CP
13#11    | 13{#}11 13({#}11)                                      | 1 3 5 b7 9 #11 13 | 7  | CP
13b5     | 13{b}5 13({b}5)                                        | 1 3 b5 b7 9 13  | 7    | CP
13b9#11  | 13(b9,#11) 13b9(#11)                                   | 1 3 5 b7 b9 #11 13 | 7 | CP
13sus4b9 | 13sus4(b9) 13susb9 13b9sus 13b9sus4 13sus(b9)          | 1 4 5 b7 b9 13  | 7    | CP
maj13#11 | {M}13{#}11 {M}13({#}11)                                | 1 3 5 7 9 #11 13 | maj | CP
"""

#: Pairs of names that sound alike and are both kept, because players mean different things by them.
SYNONYMS = (("11", "9sus4"),)


@dataclass(frozen=True, slots=True)
class NamedQuality:
    """A row of the table.

    Attributes:
        name: The one spelling that is written out, empty for the major triad.
        aliases: Every other spelling that is read.
        quality: The tones.
        family: The family, as the table states it (it must agree with ``quality.family``).
        source: Where the row comes from.
    """

    name: str
    aliases: tuple[str, ...]
    quality: Quality
    family: Family
    source: str


def _ways(spelling: str) -> list[str]:
    """Every spelling that one with ``{..}`` in it stands for."""
    pieces: list[tuple[str, ...]] = []
    while "{" in spelling:
        before, _, rest = spelling.partition("{")
        mark, _, spelling = rest.partition("}")
        pieces += [(before,), _WAYS["{" + mark + "}"]]
    pieces.append((spelling,))
    return ["".join(choice) for choice in product(*pieces)]


def _rows() -> tuple[NamedQuality, ...]:
    rows = []
    for line in _TABLE.strip().splitlines():
        name, spellings, tones, family, source = (cell.strip() for cell in line.split("|"))
        name = "" if name == "-" else name
        aliases = dict.fromkeys(way for spelling in spellings.split() for way in _ways(spelling))
        aliases.pop(name, None)
        if source == "H2005":
            source = "Harte et al. 2005"
        source = {"MX": "MusicXML 4.0", "CP": "common practice"}.get(source, source)
        rows.append(NamedQuality(name, tuple(aliases), Quality.spelled(tones), Family(family), source))
    return tuple(rows)


QUALITIES = _rows()
BY_NAME = {spelling: row.quality for row in QUALITIES for spelling in (row.name, *row.aliases)}
_NAMES = {row.quality: row.name for row in QUALITIES}


@lru_cache(maxsize=4096)
def quality_name(quality: Quality) -> str:
    """The one spelling of a quality: its name, or the nearest named one with what is altered, added and left out.

    >>> quality_name(Quality.spelled("1 b3 b5 b7")), quality_name(Quality.spelled("1 3 b7 9 13"))
    ('m7b5', '13(no5)')
    """
    if quality in _NAMES:
        return _NAMES[quality]
    best: tuple[int, int, int, int, str] | None = None
    for order, row in enumerate(QUALITIES):
        marks = _marks(row.quality, quality)
        if marks is None:
            continue
        text = _written(row.name, marks)
        unusual = sum(mark in _UNUSUAL for mark in marks)
        best = min(best or (99, 0, 0, 0, ""), (unusual, len(marks), len(text), order, text))
    if best is None:
        raise ValueError(f"the tones {quality} cannot be written as a chord")
    return best[4]


#: The alterations that are written without "add"; b9 and #9 stand beside the plain ninth only where "add" says so.
_ALTERATIONS = frozenset(map(tone, ("b5", "#5", "b6", "b9", "#9", "#11", "b13")))


#: Omissions that nobody writes where an addition says the same: maj7(add13), not maj13(no9).
_UNUSUAL = frozenset(("no7", "no9", "no11", "no13"))


def _written(name: str, marks: list[str]) -> str:
    """A name with marks behind it, in one pair of brackets where the name ends with such marks itself."""
    joined = ",".join(marks)
    if name.endswith(")") and "(maj" not in name:
        return f"{name[:-1]},{joined})"
    return f"{name}({joined})"


def _marks(base: Quality, wanted: Quality) -> list[str] | None:
    """What is written behind ``base`` to make it ``wanted``: alterations, suspensions, additions, omissions.

    None where no such marks lead there.
    """
    marks, made = [], base
    missing = sorted(set(wanted.tones) - set(base.tones), key=lambda t: (t not in _ALTERATIONS, t.number, t.alteration))
    for t in missing:
        if t in _ALTERATIONS:
            marks.append(str(t))
            made = made.altered(t)
        elif t.number in (2, 4):
            marks.append(f"sus{t}")
            made = made.suspended(t.number)
        else:
            marks.append(f"add{t}")
            made = made.added(t)
    for t in wanted.tones:
        if t not in made.tones:
            marks.append(f"add{t}")
            made = made.added(t)
    for t in made.tones:
        if t not in wanted.tones:
            marks.append(f"no{t.number}")
            made = made.without(t.number)
    return marks if made == wanted else None
