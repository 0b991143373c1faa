"""How far one chord is from another that was asked for: the weights, and the substitutions that have a name.

Conventions:
    * A cost is a whole number of small steps; costs of several differences are added up.
    * Semitones are counted upwards, 0 to 11: of a degree from the tonic, of an interval from the root asked for to the
      root found.
    * A degree asked for without a quality is taken for the chord that it usually carries (minor on 2, 3 and 6, half
      diminished on 7, else major), or for a dominant.
    * Names and table are common practice.

======================================  ====
difference                              cost
======================================  ====
same root, other quality or bass           1
a substitution that has a name             2
a chord put in                             2
a chord left out                           3
any other chord (a stranger)               4
======================================  ====

A chord put in weighs no more than a substitution, since all that was asked for is there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shared.chord import Numeral
from shared.pattern import Item, Wanted
from shared.pitch import Degree
from shared.quality import Family, Quality, Third

OTHER_QUALITY, SUBSTITUTION, PUT_IN, LEFT_OUT, STRANGER = 1, 2, 2, 3, 4

_SECOND, _FOURTH, _FIFTH = 2, 5, 7
_MAJOR = frozenset({Family.MAJOR, Family.OPEN_FIFTH})
_MINOR = frozenset({Family.MINOR})
_DOMINANT = frozenset({Family.DOMINANT})
_SUSPENDED = frozenset({Family.SUSPENDED})
_DIMINISHED = frozenset({Family.DIMINISHED})
_PREDOMINANT = frozenset({Family.MINOR, Family.HALF_DIMINISHED})
_OVER_ITS_FIFTH = frozenset({Family.DOMINANT, Family.SUSPENDED})
_USUAL = {2: _PREDOMINANT, 4: _MINOR, 9: _MINOR, 11: frozenset({Family.HALF_DIMINISHED, Family.DIMINISHED})}
_DIMINISHED_SEVENTH = Quality.spelled("1 b3 b5 bb7").mask


@dataclass(frozen=True, slots=True)
class _Rule:
    """A substitution: for a chord of certain families, one of certain families an interval higher.

    Attributes:
        name: What it is called.
        asked: The families that may be asked for.
        interval: The intervals from the root asked for to the root found.
        found: The families that may be found.
        degree: The degree that must be asked for, None for any.
        seventh: Whether the chord found must be a full diminished seventh.
    """

    name: str
    asked: frozenset[Family]
    interval: frozenset[int]
    found: frozenset[Family]
    degree: int | None = None
    seventh: bool = False


#: The more special ones first; the intervals of a diminished seventh are those of its tones.
_RULES = (
    _Rule("borrowed iv", _MAJOR, frozenset({0}), _MINOR, _FOURTH),
    _Rule("sus for dominant", _DOMINANT, frozenset({0}), _SUSPENDED),
    _Rule("ii for IV", _MAJOR, frozenset({9}), _PREDOMINANT, _FOURTH),
    _Rule("IV for ii", _PREDOMINANT, frozenset({3}), _MAJOR, _SECOND),
    _Rule("backdoor dominant", _DOMINANT, frozenset({3}), _DOMINANT, _FIFTH),
    _Rule("tritone substitution", _DOMINANT, frozenset({6}), _DOMINANT),
    _Rule("diminished seventh for dominant", _DOMINANT, frozenset({1, 4, 7, 10}), _DIMINISHED, seventh=True),
    _Rule("the same diminished seventh", _DIMINISHED, frozenset({3, 6, 9}), _DIMINISHED, seventh=True),
    _Rule("dominant for diminished seventh", _DIMINISHED, frozenset({2, 5, 8, 11}), _DOMINANT),
    _Rule("relative minor", _MAJOR, frozenset({9}), _MINOR),
    _Rule("relative major", _MINOR, frozenset({3}), _MAJOR),
)


@dataclass(frozen=True, slots=True)
class Swap:
    """What it means that one chord stands where another was asked for.

    Attributes:
        cost: By the table of this module.
        name: The name of the substitution; empty where it has none.
    """

    cost: int
    name: str = ""


def swap(asked: Item, found: Numeral, following: Item | None = None, raised: int = 0) -> Swap:
    """How near a chord is to an item that it does not match.

    Args:
        asked: The item; of several alternatives the nearest counts.
        found: The chord that stands there.
        following: The item that is asked for next: a dominant a fifth above it is secondary to it.
        raised: Semitones by which the items' degrees are raised to be counted as the chord is.

    >>> from grammar.patterns import read_pattern
    >>> from grammar.symbols import read_numeral
    >>> dominant, one = read_pattern("57 1").pattern.items()
    >>> swap(dominant, read_numeral("b27"), one)
    Swap(cost=2, name='tritone substitution')
    """
    swaps = [_swap(one, found, following, raised) for one in asked.alternatives]
    return min(swaps, key=lambda each: (each.cost, not each.name))


def _swap(asked: Wanted, found: Numeral, following: Item | None, raised: int) -> Swap:
    if asked.bare_bass:
        return Swap(STRANGER)
    if not isinstance(asked.root, Degree):
        return Swap(OTHER_QUALITY)
    root = (asked.root.semitones + raised) % 12
    families = set(_families(asked, root))
    name = _in_table(root, families, found) or _slash_chord(asked, root, families, found)
    if found.degree.semitones == root:
        leads = bool(families & _PREDOMINANT) or _leads_to(found, following, raised)
        return Swap(OTHER_QUALITY, name or _secondary(found, leads))
    name = name or _secondary(found, _leads_to(found, following, raised))
    return Swap(SUBSTITUTION, name) if name else Swap(STRANGER)


def _in_table(root: int, families: set[Family], found: Numeral) -> str:
    """The first substitution of the table that fits, or the empty name."""
    family, interval = _family(found.quality), (found.degree.semitones - root) % 12
    for rule in _RULES:
        if rule.degree is not None and rule.degree != root:
            continue
        if rule.seventh and found.quality.mask != _DIMINISHED_SEVENTH:
            continue
        if interval in rule.interval and family in rule.found and families & rule.asked:
            return rule.name
    return ""


def _slash_chord(asked: Wanted, root: int, families: set[Family], found: Numeral) -> str:
    """A ninth with a fourth on 5 is also written as the chord on 4, or the minor one on 2, over 5."""
    over_root = found.bass is not None and found.bass.semitones == root
    if over_root and families & _OVER_ITS_FIFTH and found.quality.family in _upper_part(found.degree.semitones - root):
        return "slash chord for 9sus4"
    if isinstance(asked.root, Degree) and isinstance(asked.bass, Degree):
        interval = asked.root.semitones - asked.bass.semitones
        ninth = found.quality.third is Third.NONE and found.quality.minor_seventh
        if ninth and (root - interval - found.degree.semitones) % 12 == 0 and families & _upper_part(interval):
            return "9sus4 for slash chord"
    return ""


def _upper_part(interval: int) -> frozenset[Family]:
    """The families that, this far above a bass, make its ninth with a fourth: major on 4 or minor on 2 over 5."""
    return {10: _MAJOR, 7: _MINOR}.get(interval % 12, frozenset())


def _leads_to(found: Numeral, following: Item | None, raised: int) -> bool:
    """Whether a chord stands a fifth above what is asked for next."""
    asked = following.alternatives if following is not None else ()
    goals = {(one.root.semitones + raised) % 12 for one in asked if isinstance(one.root, Degree)}
    return (found.degree.semitones - _FIFTH) % 12 in goals


def _secondary(found: Numeral, leads: bool) -> str:
    """A dominant on another degree than 5 that leads on is secondary."""
    dominant = _family(found.quality) is Family.DOMINANT and found.degree.semitones != _FIFTH
    return "secondary dominant" if dominant and leads else ""


def _family(quality: Quality) -> Family:
    """The family, a seventh without a third counted as suspended."""
    without = quality.family is Family.DOMINANT and quality.third is Third.NONE
    return Family.SUSPENDED if without else quality.family


def _families(asked: Wanted, root: int) -> Iterator[Family]:
    """The families that an alternative may mean: its own, those with its third, or what its degree usually carries."""
    if asked.family is not None:
        yield asked.family
    elif asked.third is Third.MINOR:
        yield from _PREDOMINANT | _DIMINISHED
    elif asked.third is Third.MAJOR:
        yield from _MAJOR | _DOMINANT | {Family.AUGMENTED}
    else:
        yield from _DOMINANT | _USUAL.get(root, _MAJOR)
