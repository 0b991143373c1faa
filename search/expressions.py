r"""Compiles a pattern to a regular expression over the strings of an index.

The expressions run in DuckDB (RE2: linear time, leftmost match, each part taking as much as it can while the rest still
fits). Codes are those of ``corpus.codes``; what may stand between two chords is told by ``search.borders``.

An item takes a run of chords on one root. With M the chords on that root which it asks for and T the chords on that
root without a third (they go along with a written quality), the run is ``T* M (M|T)*``; an item without a root is one
such run for each of the twelve. An item that asks for basses alone takes a run over one of them. At exact strength an
item takes one chord.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from corpus.codes import (
    BAR_BEGINS,
    BAR_ENDS,
    DOMINANT_WITHOUT_THIRD,
    FIRST_GROUP,
    KEY_CHANGES,
    LAST_GROUP,
    SECTION_ENDS,
    SECTION_STARTS,
    group_code_ranges,
    group_of,
    group_of_quality,
    quality_code_range,
)
from search.borders import NONE, PLAIN, Borders, borders_of
from shared.errors import Fault, ReadingError
from shared.pattern import Anchor, BarOf, Gap, Group, Item, Part, Pattern, Strength, Wanted
from shared.pitch import Degree
from shared.quality import Family, Quality, Third
from shared.quality_names import BY_NAME

Ranges = set[tuple[int, int]]

_MOST_FEW = 4
#: How long all expressions of a question may be together: to compile so many takes the engine some seconds (measured).
MOST_TO_COMPILE = 250_000
#: What multiplies the time that a tune takes, from that of a pattern with one gap and no more (measured): another gap,
#: a chord of a quality on any root, one that may be missing. (The engine looks for the beginning of a match backwards
#: from its end, and there all ways to lay it stay open.)
_GAP, _ROOTLESS, _MISSING = 7, 24, 4
#: The same of a pattern that asks nothing.
_OPEN = 7
#: More than so many times longer nothing takes.
_LONGEST = 200
#: How many tunes may be asked of a pattern with a gap, each as often as its time is multiplied.
MOST_WORK = 1_000_000
ANY = Item((Wanted(),))
_THIRDLESS = DOMINANT_WITHOUT_THIRD, group_of(Family.OPEN_FIFTH)


def expression(pattern: Pattern, strength: Strength, shift: int = 0, near: bool = False) -> str:
    """The regular expression for a pattern.

    Args:
        pattern: A counted pattern.
        strength: How much must agree.
        shift: Semitones that every degree is raised by, to count the pattern from another tonic.
        near: Whether the strings are those that near versions are asked of (see ``search.borders``).
    """
    return Compiler(strength, shift, borders_of(pattern, near)).whole(pattern.parts)


def refuse_large(pattern: Pattern, characters: int) -> None:
    """Refuses a pattern whose expressions, in all rotations and about all centres, are too long together.

    Raises:
        ReadingError: If they are longer than ``MOST_TO_COMPILE``.
    """
    if characters > MOST_TO_COMPILE:
        message = f"this pattern makes expressions of {characters:,} characters in all"
        expected = f"at most {MOST_TO_COMPILE:,}: fewer chords, or a search in the key or without rotation"
        raise ReadingError([Fault(message, 1, 1, max(1, len(pattern.text)), pattern.text, expected)])


def too_large(pattern: Pattern) -> ReadingError:
    """The refusal of a pattern that the engine has no room for."""
    text = pattern.text
    message = "this pattern is too large to be searched"
    return ReadingError([Fault(message, 1, 1, len(text), text, "fewer items, or fewer groups and gaps")])


def work(pattern: Pattern, strength: Strength) -> int:
    """How many times longer than a pattern with one gap and nothing else left open a pattern takes.

    Without a gap no pattern takes longer, but for one that asks nothing of any chord: it is found everywhere.

    >>> from grammar.patterns import read_pattern
    >>> texts = ("1 4 5", "1 .. 4", "1 .. 4 .. 5", "_7 .. 1", "6m? 1 .. 4", "_ _")
    >>> [work(read_pattern(text).pattern, Strength.FAMILY) for text in texts]
    [1, 1, 7, 24, 4, 7]
    """
    flat = list(_flat(pattern.parts))
    gaps = sum(part is Gap.FEW for part in flat)
    missing = sum(isinstance(part, Group) and part.most == 1 for part in flat)
    rootless = sum(any(one.root is None and one.quality for one in item.alternatives) for item in pattern.items())
    times = _OPEN if asks_nothing(pattern) else 1
    if gaps:
        rootless *= strength is not Strength.LOOSE
        times *= _GAP ** (gaps - 1) * _MISSING**missing * _ROOTLESS**rootless
    return min(_LONGEST, times)


def asks_nothing(pattern: Pattern) -> bool:
    """Whether every chord of a pattern may be any."""
    return all(Wanted() in item.alternatives for item in pattern.items())


def refuse_slow(pattern: Pattern, strength: Strength, tunes: int) -> None:
    """Refuses a pattern that could be laid in too many ways over too many tunes.

    Args:
        pattern: The pattern.
        strength: How much must agree.
        tunes: How many tunes would be asked, once for every view.

    Raises:
        ReadingError: If that is more than ``MOST_WORK`` allows.
    """
    times = work(pattern, strength)
    most = MOST_WORK // times
    if times > 1 and tunes > most:
        message = f"this pattern could be laid in too many ways over {tunes:,} tunes"
        remedy = (
            "a chord that is named"
            if asks_nothing(pattern)
            else "one “..” and no chord on any root or that may be missing"
        )
        expected = f"at most {most:,}: filters, or {remedy}"
        raise ReadingError([Fault(message, 1, 1, max(1, len(pattern.text)), pattern.text, expected)])


def _flat(parts: Iterable[Part]) -> Iterator[Part]:
    for part in parts:
        yield part
        if isinstance(part, Group | BarOf):
            yield from _flat(part.body)


def rotations(pattern: Pattern) -> list[Pattern]:
    """The pattern begun at each of its parts in turn, the pattern itself first, no two alike.

    Equal chords that come to stand side by side are one, as everywhere.

    Raises:
        ReadingError: If the pattern is tied to a place or is open in length, and so has no rotations.
    """
    for part in pattern.parts:
        _refuse_in_loop(part, pattern.text)
    parts = pattern.parts
    first = parts[0]
    if len(parts) > 1 and isinstance(first, Item) and first.one_chord and first == parts[-1]:
        parts = parts[:-1]
    turned = [parts[turn:] + parts[:turn] for turn in range(len(parts))]
    unlike = dict.fromkeys([pattern.parts, *turned[1:], turned[0]])
    return [Pattern(each, pattern.bars, pattern.named, pattern.text) for each in unlike]


def _refuse_in_loop(part: Part, text: str) -> None:
    """A loop is made of chords alone."""
    if isinstance(part, Anchor | Gap) or (isinstance(part, Group) and part.most is None):
        sign = part.value if isinstance(part, Anchor | Gap) else "+"
        message = f"“{sign}” cannot stand in a loop that may begin anywhere"
        expected = "chords alone, or a search without rotation"
        raise ReadingError([Fault(message, 1, max(1, text.find(sign) + 1), len(sign), text, expected)])
    if isinstance(part, Group | BarOf):
        for each in part.body:
            _refuse_in_loop(each, text)


class Compiler:
    """Compiles parts of a pattern at one strength, its degrees raised by so many semitones.

    ``borders`` are what stands between two chords.
    """

    def __init__(self, strength: Strength, shift: int, borders: Borders = PLAIN) -> None:
        self.strength = strength
        self.shift = shift
        self.borders = borders

    @property
    def inner(self) -> Compiler:
        """The same for what is in a bar."""
        return Compiler(self.strength, self.shift, NONE)

    def whole(self, parts: Sequence[Part]) -> str:
        """A sequence of which at least one part surely takes a chord: no other is taken before it or behind it."""
        pivot = next(place for place, part in enumerate(parts) if isinstance(part, Item | BarOf))
        ahead, behind = self.parts(parts[:pivot], before=False), self.parts(parts[pivot + 1 :], before=True)
        return f"{ahead}{self.borders.first}{self.one(parts[pivot])}{behind}"

    def one(self, part: Part) -> str:
        """An item or a bar by itself."""
        if isinstance(part, BarOf):
            return rf"\{BAR_BEGINS}{self.inner.parts(part.body, before=True)}\{BAR_ENDS}"
        assert isinstance(part, Item)
        return self.item(part)

    def jointed(self, text: str, before: bool) -> str:
        """What takes a chord, with what stands between it and the chord before it, or the one behind it."""
        borders = self.borders
        return borders.joint + text if before else borders.first + text + borders.last

    def part(self, part: Part, before: bool) -> str:
        """A part with the joint before it, or behind it."""
        if isinstance(part, Anchor):
            return self.borders.anchors[part][before]
        if isinstance(part, Group):
            if part.most == 1:
                return f"(?:{self.parts(part.body, before)})?"
            again = self.with_a_chord(part.body, before)
            return f"(?:{again})*" if again else ""
        if part is Gap.FEW:
            return self.gap(_MOST_FEW, before)
        return self.jointed(self.one(part), before)

    def parts(self, parts: Iterable[Part], before: bool) -> str:
        """Parts in a row."""
        return "".join(self.part(part, before) for part in parts)

    def gap(self, most: int, before: bool) -> str:
        """Any chords, at most so many, as few as will do."""
        return f"(?:{self.jointed(self.item(ANY), before)}){{0,{most}}}?"

    def with_a_chord(self, parts: Sequence[Part], before: bool) -> str:
        """Parts that take a chord at least, though all may be missing; empty where there is none.

        To go round a loop once more without a chord would tell nothing, but take the signs that tell of a border.
        """
        if not parts or any(isinstance(part, Item | BarOf) for part in parts):
            return self.parts(parts, before)
        first, behind = parts[0], parts[1:]
        later = self.with_a_chord(behind, before)
        if isinstance(first, Anchor):
            return later and self.part(first, before) + later
        if isinstance(first, Group):
            now = self.with_a_chord(first.body, before)
            if now and first.most is None:
                now += self.part(first, before)
        else:
            now = self.jointed(self.item(ANY), before) + self.gap(_MOST_FEW - 1, before)
        ways = [now and now + self.parts(behind, before), later]
        return either([way for way in (reversed(ways) if first is Gap.FEW else ways) if way] or [""])

    def item(self, item: Item) -> str:
        """One item as a run of chords."""
        return _item_text(self.strength, self.shift, self.borders, item)

    def made(self, item: Item) -> str:
        """The same, put together anew."""
        wanted = self.loosened(item)
        if self.strength is Strength.EXACT:
            return _class(code for one in wanted for root in range(12) for code in self.codes(one, root))
        if all(one.bare_bass for one in wanted):
            basses = sorted({self.semitones(one.bass) for one in wanted})
            return either([self.run(self.over(bass), set()) for bass in basses])
        branches = []
        for root in range(12):
            core = {code for one in wanted for code in self.codes(one, root)}
            if core:
                branches.append(self.run(core, self.companions(wanted, root)))
        return either(branches)

    def over(self, bass: int) -> Ranges:
        """Every chord over a bass."""
        return {code for root in range(12) for code in group_code_ranges(root, bass, FIRST_GROUP, LAST_GROUP)}

    def loosened(self, item: Item) -> list[Wanted]:
        """The alternatives as the strength reads them: at loose strength roots and bare basses are all that is left."""
        if self.strength is not Strength.LOOSE:
            return list(item.alternatives)
        return [one if one.bare_bass else Wanted(one.root) for one in item.alternatives]

    def run(self, core: Ranges, companions: Ranges) -> str:
        """A run of chords: companions may stand before the first that is asked for, and anywhere behind it."""
        alone = companions and _class(core | companions) != _class(core)
        joint = self.borders.joint
        before = f"(?:{_class(companions)}{joint})*" if alone else ""
        return f"{before}{_class(core)}(?:{joint}{_class(core | companions)})*"

    def companions(self, wanted: Iterable[Wanted], root: int) -> Ranges:
        """Chords without a third that go along on this root, if their bass is allowed."""
        if self.strength is not Strength.FAMILY:
            return set()
        found: Ranges = set()
        for one in wanted:
            if one.root is None or self.semitones(one.root) == root:
                bass = None if one.bass is None else self.semitones(one.bass)
                found.update(group_code_ranges(root, bass, *_THIRDLESS))
        return found

    def semitones(self, place: object) -> int:
        """A degree in semitones, raised."""
        assert isinstance(place, Degree)
        return (place.semitones + self.shift) % 12

    def codes(self, one: Wanted, root: int) -> Iterable[tuple[int, int]]:
        """The codes on one root that an alternative asks for."""
        if one.root is not None and self.semitones(one.root) != root:
            return ()
        bass = None if one.bass is None else self.semitones(one.bass)
        if self.strength is Strength.EXACT and not (one.root is None and one.quality is None):
            return quality_code_range(root, root if bass is None else bass, _exact_quality(one))
        return group_code_ranges(root, bass, *_groups(one))


@lru_cache(maxsize=4096)
def _item_text(strength: Strength, shift: int, borders: Borders, item: Item) -> str:
    """One item as it is compiled; the rotations of a loop and the counts of a question ask for it again and again."""
    return Compiler(strength, shift, borders).made(item)


def groups_asked(one: Wanted, strength: Strength) -> frozenset[int]:
    """The groups of qualities (see ``corpus.codes``) that a chord taken by an alternative may have."""
    if strength is Strength.LOOSE:
        return frozenset(range(FIRST_GROUP, LAST_GROUP + 1))
    if strength is Strength.EXACT:
        return frozenset({group_of_quality(_exact_quality(one))})
    asked: set[int] = set()
    for first, last in (_groups(one), _THIRDLESS):
        asked.update(range(first, last + 1))
    return frozenset(asked)


def _exact_quality(one: Wanted) -> Quality:
    """The very quality asked for: where none is written, the plain triad."""
    return one.quality or BY_NAME["m" if one.third is Third.MINOR else ""]


def _groups(one: Wanted) -> tuple[int, int]:
    """The first and last group of chords that a written quality or third stands for."""
    family = one.family
    if family is Family.DOMINANT:
        return group_of(family), DOMINANT_WITHOUT_THIRD
    if family is Family.SUSPENDED:
        return DOMINANT_WITHOUT_THIRD, group_of(family)
    if family is not None:
        return group_of(family), group_of(family)
    if one.third is Third.MAJOR:
        return FIRST_GROUP, group_of(Family.OPEN_FIFTH)
    if one.third is Third.MINOR:
        return DOMINANT_WITHOUT_THIRD, LAST_GROUP
    return FIRST_GROUP, LAST_GROUP


def either(branches: Sequence[str]) -> str:
    """One of several expressions."""
    return branches[0] if len(branches) == 1 else f"(?:{'|'.join(branches)})"


def _class(ranges: Iterable[tuple[int, int]]) -> str:
    """A character class of inclusive ranges of code points, neighbours joined."""
    joined: list[list[int]] = []
    for first, last in sorted(ranges):
        if joined and first <= joined[-1][1] + 1:
            joined[-1][1] = max(joined[-1][1], last)
        else:
            joined.append([first, last])
    inner = "".join(chr(first) if first == last else f"{chr(first)}-{chr(last)}" for first, last in joined)
    return f"[{inner}]"


def only_expression(pattern: Pattern, strength: Strength, shift: int = 0) -> str:
    """The expression that a whole tune matches if it has no chords but those of the pattern's items.

    Args:
        pattern: The pattern.
        strength: How strictly its words are taken.
        shift: As ``expression`` has it.
    """
    compiler = Compiler(strength, shift)
    items = [compiler.item(item) for item in pattern.items()]
    return f"(?:[{SECTION_STARTS}{SECTION_ENDS}{KEY_CHANGES}]|{'|'.join(items)})*"
