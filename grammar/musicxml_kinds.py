"""The chord kinds of MusicXML 4.0 and what they mean here, with degrees added, altered and left out.

Conventions:
    * A kind is a set of chord tones above the root. ``tones`` are those of the standard; ``read`` are those of the
      chord name that a player takes the kind for, where that is another: the standard stacks thirds (its elevenths are
      ninths with an eleventh, its thirteenths are elevenths with a thirteenth), while the chord C11 has no third, and
      C13, Cmaj13 and Cm13 have no eleventh.
    * A degree that is added is counted from a dominant chord (a seventh is minor, all else major or perfect); one that
      is altered, or left out, is counted from the kind itself. An altered tone that the kind has not is added.
    * What is written is exact under both readings, so elevenths and thirteenths say which tone is left out.
    * The functional sixths (Neapolitan, Italian, French, German) are counted from a tonic, ``degree`` being where their
      own root stands; as sound they are a major triad over its third and chords with a minor seventh.

Source: W3C, MusicXML 4.0, data type ``kind-value`` and elements ``degree-alter`` and ``degree-type``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from shared.pitch import Degree
from shared.quality import Quality, tone

#: kind | tones by the standard | tones as read, where other
_TABLE = """
major              | 1 3 5
minor              | 1 b3 5
augmented          | 1 3 #5
diminished         | 1 b3 b5
dominant           | 1 3 5 b7
major-seventh      | 1 3 5 7
minor-seventh      | 1 b3 5 b7
diminished-seventh | 1 b3 b5 bb7
augmented-seventh  | 1 3 #5 b7
half-diminished    | 1 b3 b5 b7
major-minor        | 1 b3 5 7
major-sixth        | 1 3 5 6
minor-sixth        | 1 b3 5 6
dominant-ninth     | 1 3 5 b7 9
major-ninth        | 1 3 5 7 9
minor-ninth        | 1 b3 5 b7 9
dominant-11th      | 1 3 5 b7 9 11    | 1 5 b7 9 11
major-11th         | 1 3 5 7 9 11
minor-11th         | 1 b3 5 b7 9 11
dominant-13th      | 1 3 5 b7 9 11 13 | 1 3 5 b7 9 13
major-13th         | 1 3 5 7 9 11 13  | 1 3 5 7 9 13
minor-13th         | 1 b3 5 b7 9 11 13 | 1 b3 5 b7 9 13
suspended-second   | 1 2 5
suspended-fourth   | 1 4 5
pedal              | 1
power              | 1 5
Tristan            | 1 #4 #6 #9       | 1 b3 b5 b7
"""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind that stands on its root: the tones of the standard, and those that are read."""

    tones: Quality
    read: Quality


@dataclass(frozen=True, slots=True)
class FunctionalSixth:
    """A kind that is named by its place in the key.

    Attributes:
        degree: Where its own root stands, counted from the tonic.
        quality: Its tones above that root.
        bass: Its bass, counted from its own root; None where that is the root.
    """

    degree: Degree
    quality: Quality
    bass: Degree | None = None


@dataclass(frozen=True, slots=True)
class WrittenDegree:
    """A ``degree`` element: its number (1 to 13), its alteration in semitones, and add, alter or subtract."""

    value: int
    alter: int
    type: str


def _kinds() -> dict[str, Kind]:
    kinds = {}
    for line in _TABLE.strip().splitlines():
        name, tones, *read = (cell.strip() for cell in line.split("|"))
        standard = Quality.of(tone(each) for each in tones.split())
        kinds[name] = Kind(standard, Quality.spelled(read[0]) if read else standard)
    return kinds


#: The kinds that stand on their root.
KINDS = _kinds()
#: The kinds that are named by their place in the key (common practice).
FUNCTIONAL_SIXTHS = {
    "Neapolitan": FunctionalSixth(tone("b2"), Quality.spelled("1 3 5"), tone("3")),
    "Italian": FunctionalSixth(tone("b6"), Quality.spelled("1 3 b7")),
    "French": FunctionalSixth(tone("b6"), Quality.spelled("1 3 b5 b7")),
    "German": FunctionalSixth(tone("b6"), Quality.spelled("1 3 5 b7")),
}
#: Additions are read by more programs than alterations, and these by more than omissions.
_COSTS = {"add": 2, "alter": 3, "subtract": 6}
#: Nobody takes a chord for another one with its third altered, or for a pedal point; and not every program knows that
#: an added seventh is counted from a dominant chord, so a suspended seventh is written without one.
_UNUSUAL = 12
_OVERLOOKED = {("alter", 3), ("add", 7)}
#: What players leave out of the standard's elevenths and thirteenths.
_USUALLY_OUT = {("11th", 3), ("13th", 11)}
#: No chord, and a chord of which the text or the degrees say everything.
NONE, OTHER = "none", "other"
#: All 33 values that the standard has.
ALL_KINDS = (*KINDS, *FUNCTIONAL_SIXTHS, OTHER, NONE)


def with_degrees(base: Quality, degrees: Iterable[WrittenDegree]) -> Quality:
    """A quality with degrees added, altered and left out; the root always stays.

    Raises:
        ValueError: If a degree is not one of 1 to 13, or its type is none of the three.

    >>> str(with_degrees(KINDS["dominant"].read, [WrittenDegree(5, -1, "alter"), WrittenDegree(9, -1, "add")]))
    '1 3 b5 b7 b9'
    >>> str(with_degrees(KINDS["major"].read, [WrittenDegree(7, 0, "add")]))
    '1 3 5 b7'
    """
    tones = list(base.tones)
    degrees = tuple(degrees)
    for each in degrees:
        if not 1 <= each.value <= 13 or each.type not in ("add", "alter", "subtract"):
            raise ValueError(f"“{each.type} {each.value}” is no degree of a chord")
    for each in degrees:
        if each.type == "alter":
            found = next((i for i, t in enumerate(tones) if t.number == each.value), None)
            if found is None:
                found = next((i for i, t in enumerate(tones) if (t.number - each.value) % 7 == 0), None)
            if found is None or (found == 0 and each.alter):
                tones.append(_from_dominant(each))
            else:
                tones[found] = Degree(tones[found].number, tones[found].alteration + each.alter)
    for each in degrees:
        if each.type == "subtract":
            tones = [t for t in tones if t.number == 1 or (t.number - each.value) % 7]
    return Quality.of([*tones, *(_from_dominant(each) for each in degrees if each.type == "add")])


def _from_dominant(degree: WrittenDegree) -> Degree:
    number = degree.value if degree.value in (9, 11, 13) else (degree.value - 1) % 7 + 1
    return Degree(number, degree.alter - (number == 7))


@lru_cache(maxsize=4096)
def kind_of(quality: Quality) -> tuple[str, tuple[WrittenDegree, ...]]:
    """The kind that needs the fewest degrees for a quality (additions before alterations and omissions), and those.

    Both the standard's tones and those that are read here give the quality.

    >>> from shared.quality_names import BY_NAME
    >>> kind_of(BY_NAME["m7b5"]), kind_of(BY_NAME["13"])
    (('half-diminished', ()), ('dominant-13th', (WrittenDegree(value=11, alter=0, type='subtract'),)))
    """
    best: tuple[int, int, str, tuple[WrittenDegree, ...]] | None = None
    for order, (name, kind) in enumerate(KINDS.items()):
        if name == "Tristan":
            continue
        degrees = _between(kind.tones, quality)
        if with_degrees(kind.tones, degrees) == with_degrees(kind.read, degrees) == quality:
            cost = sum(_cost(name, each) for each in degrees) + (_UNUSUAL if name == "pedal" else 0)
            best = min(best or (999, 0, "", ()), (cost, order, name, degrees))
    assert best is not None, "every tone can be added to a root alone"
    return best[2], best[3]


def _cost(kind: str, degree: WrittenDegree) -> int:
    if degree.type == "subtract" and (kind[-4:], degree.value) in _USUALLY_OUT:
        return 1
    if (degree.type, degree.value) in _OVERLOOKED:
        return _UNUSUAL
    return _COSTS[degree.type] * (abs(degree.alter) if degree.type == "alter" else 1)


def _between(base: Quality, wanted: Quality) -> tuple[WrittenDegree, ...]:
    """The degrees that make one quality into another: tones altered, left out, added."""
    gone = [t for t in base.tones if t not in wanted.tones]
    new = [t for t in wanted.tones if t not in base.tones]
    altered = []
    for old in gone:
        changed = next((t for t in new if t.number == old.number), None)
        if changed is not None:
            altered.append(WrittenDegree(old.number, changed.alteration - old.alteration, "alter"))
            new.remove(changed)
        else:
            altered.append(WrittenDegree(old.number, 0, "subtract"))
    added = [WrittenDegree(t.number, t.alteration + (t.number == 7), "add") for t in new]
    return (*altered, *added)
