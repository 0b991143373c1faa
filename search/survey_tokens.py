"""What a survey takes for one chord: its root, its root and family, or the very chord; as SQL and as a name.

Conventions:
    * A token is made from one code point of the index (see ``corpus.codes``): at loose strength the degree of the root
      (0 to 11), at family strength degree * 8 + family, at exact strength the code point itself, as text.
    * A mark that stands for no chord becomes a break, which no sequence crosses: -1, or ``!``.
    * Roots and basses are named 1 b2 2 b3 3 4 #4 5 b6 6 b7 7, as sound; families as ``shared.quality.Family`` has them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache

from corpus.codes import KEY_CHANGES, slot_rows
from shared.chord import Numeral
from shared.pattern import Item, Strength, Wanted
from shared.pitch import CHROMATIC, Degree
from shared.quality import Family, Quality, tone
from shared.quality_names import BY_NAME

FAMILIES = tuple(Family)
ROOTS = tuple(map(str, CHROMATIC))
#: The same as Roman numerals; a root by itself has no third, and is written with capitals.
ROMAN_ROOTS = tuple(Numeral(degree, Quality.spelled("1 3 5")).roman for degree in CHROMATIC)

Token = int | str


@dataclass(frozen=True, slots=True)
class _Range:
    """The code points of one table of qualities: where they begin, how many slots, and each slot's family and sound."""

    first: int
    size: int
    families: tuple[Family, ...]
    tones: tuple[int, ...]
    names: tuple[str | None, ...]

    @property
    def degree_sql(self) -> str:
        return f"(ord(x) - {self.first}) // {12 * self.size}"

    @property
    def family_sql(self) -> str:
        """The place of the family; families are runs of slots, in the order of their members."""
        slot = f"(ord(x) - {self.first}) % {self.size}"
        ends = [
            (self.size - self.families[::-1].index(each), place)
            for place, each in enumerate(FAMILIES)
            if each in self.families
        ]
        cases = " ".join(f"WHEN {slot} < {end} THEN {place}" for end, place in ends)
        return f"(CASE {cases} END)"


@cache
def _ranges() -> tuple[_Range, _Range]:
    rows = list(slot_rows())
    firsts = sorted({row[0] for row in rows})
    made = []
    for first in firsts:
        own = sorted((row for row in rows if row[0] == first), key=lambda row: row[2])
        families = tuple(Family(row[3]) for row in own)
        made.append(_Range(first, own[0][1], families, tuple(row[4] for row in own), tuple(row[5] for row in own)))
    named, rare = made
    return named, rare


@dataclass(frozen=True, slots=True)
class Tokens:
    """Tokens of one strength."""

    strength: Strength

    @property
    def sql(self) -> str:
        """The token of a sign ``x`` of the index's strings."""
        if self.strength is Strength.EXACT:
            return "x"
        named, rare = _ranges()
        parts = [each.degree_sql for each in (named, rare)]
        if self.strength is Strength.FAMILY:
            parts = [f"({each.degree_sql}) * {len(FAMILIES)} + {each.family_sql}" for each in (named, rare)]
        kind = "TINYINT"
        return (
            f"(CASE WHEN ord(x) < {named.first} THEN -1 WHEN ord(x) < {rare.first} THEN {parts[0]} "
            f"ELSE {parts[1]} END)::{kind}"
        )

    def sounds(self, value: str) -> str:
        """The condition that a value is a chord and no break."""
        return f"{value} <> '{KEY_CHANGES}'" if self.strength is Strength.EXACT else f"{value} >= 0"

    @property
    def _base(self) -> int:
        return 12 if self.strength is Strength.LOOSE else 12 * len(FAMILIES)

    def packed(self, values: Sequence[str]) -> str:
        """Several tokens as one value, in SQL."""
        if self.strength is Strength.EXACT:
            return " || ".join(values)
        made = f"{values[0]}::BIGINT"
        for value in values[1:]:
            made = f"({made}) * {self._base} + {value}"
        return made

    def unpacked(self, value: int | str, length: int) -> tuple[Token, ...]:
        """The tokens that one value was made of."""
        if isinstance(value, str):
            return tuple(value)
        made = []
        for _ in range(length):
            value, token = divmod(value, self._base)
            made.append(token)
        return tuple(reversed(made))

    def name(self, token: Token) -> str:
        """A token as it is written in a pattern of numbers: ``5``, ``57``, ``1maj7/3``."""
        if isinstance(token, str):
            return _exact_name(ord(token))
        if self.strength is Strength.LOOSE:
            return ROOTS[token]
        degree, family = divmod(token, len(FAMILIES))
        return f"{ROOTS[degree]}{FAMILIES[family].value}"

    def root(self, token: Token) -> int:
        """The degree of a token's root, in semitones."""
        if isinstance(token, str):
            return _parts(ord(token))[0]
        return token if self.strength is Strength.LOOSE else token // len(FAMILIES)

    def wanted(self, item: Item) -> list[int] | str:
        """The tokens that one item of a pattern stands for: their values, or at exact strength a class of signs.

        Raises:
            ValueError: If the item names no root.
        """
        if self.strength is Strength.EXACT:
            return "".join(sorted({sign for one in item.alternatives for sign in _exact_signs(one)}))
        values: set[int] = set()
        for one in item.alternatives:
            degree = _degree(one.root)
            if self.strength is Strength.LOOSE:
                values.add(degree)
            else:
                values.update(degree * len(FAMILIES) + FAMILIES.index(each) for each in _families(one))
        return sorted(values)


def _degree(root: object) -> int:
    if not isinstance(root, Degree):
        raise ValueError("an item without a root")
    return root.semitones


def _families(one: Wanted) -> Iterable[Family]:
    """The families that an alternative allows: its own, all but those of the other third, or all."""
    if one.family is not None:
        return (one.family,)
    if one.third is None:
        return FAMILIES
    major = {Family.AUGMENTED, Family.MAJOR, Family.DOMINANT}
    minor = {Family.MINOR, Family.HALF_DIMINISHED, Family.DIMINISHED}
    other = minor if one.third.value == "major" else major
    return tuple(each for each in FAMILIES if each not in other)


def _exact_signs(one: Wanted) -> Iterable[str]:
    from corpus.codes import quality_code_range
    from grammar.symbols import filled

    degree = _degree(one.root)
    bass = one.bass.semitones if isinstance(one.bass, Degree) else degree
    return [chr(code) for code, _ in quality_code_range(degree, bass, filled(one))]


def _parts(code: int) -> tuple[int, int, _Range, int]:
    """Degree, bass, table and slot of a code point."""
    named, rare = _ranges()
    table = rare if code >= rare.first else named
    place, slot = divmod(code - table.first, table.size)
    degree, bass = divmod(place, 12)
    return degree, bass, table, slot


@cache
def _exact_name(code: int) -> str:
    degree, bass, table, slot = _parts(code)
    name = table.names[slot]
    quality = BY_NAME[name] if name is not None else _heard(table.tones[slot], table.families[slot])
    return Numeral(CHROMATIC[degree], quality, CHROMATIC[bass]).number


#: How the tones of a sound are spelled, by semitone above the root, in each kind of chord (common practice).
_PLAIN = ("1", "b9", "9", "b3", "3", "11", "#11", "5", "b13", "13", "b7", "7")
_SPELLED = {
    Family.AUGMENTED: {3: "#9", 8: "#5"},
    Family.MAJOR: {3: "#9", 6: "#11", 9: "6"},
    Family.DOMINANT: {3: "#9"},
    Family.SUSPENDED: {2: "2", 3: "#9", 5: "4"},
    Family.OPEN_FIFTH: {3: "#9"},
    Family.HALF_DIMINISHED: {6: "b5"},
    Family.DIMINISHED: {6: "b5", 9: "bb7"},
}


def _heard(sound: int, family: Family) -> Quality:
    """A quality that sounds so and belongs to the family, spelled plainly."""
    spelled = _SPELLED.get(family, {})
    return Quality.of(tone(spelled.get(n, _PLAIN[n])) for n in range(12) if sound >> n & 1)
