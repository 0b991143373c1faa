r"""Versions of a pattern that are one or two chords away, as regular expressions over the strings of an index.

What counts as near:
    * One edit swaps a chord for any one other chord, puts one chord in, or leaves one out. A chord here is one event of
      a tune; what is kept of the pattern takes runs of chords as always (``search.expressions``).
    * At least two of the chords asked for are kept as asked. A chord is put in between two others, never before the
      first or after the last. The first and the last are left out only where at least three chords are kept.
    * In the bar form every bar stays: an edit swaps a chord of a bar, puts one in anywhere in a bar, or leaves one out
      of a bar that has several.
    * What may be missing (``6m?``) is never edited. A pattern of open length (``..``, ``+``) has no near versions.

What is found:
    * Best first. What exact matches take is not taken again; in what is left, and never across what was taken, versions
      one edit away are found from the left, then those two edits away. So nothing is found as a farther version that
      could be had as a nearer one at the same place.
    * Of the versions that begin at one start the first of this order is taken: edits stand late rather than early (of
      two, by halves: those with fewer edits in the first half of the pattern come first, and so on within each half);
      at one place a chord is put in before it is swapped, and swapped before it is left out. Where two lengths compete
      that is the cheapest first: what was asked for and one chord more is found before a chord less. What the taken
      place then costs is told by ``search.differences``.

The expressions are built by halves, so that their size grows little faster than the pattern: with one edit, the whole
is its first half unedited and its second half edited, or the other way round. Large ones run far faster without the
codes of rare qualities, which hardly any tune has: ``without_rare`` serves all tunes in which ``RARE`` is not found.
(Measured: of a large program RE2 keeps few states, and forgets them as fast as it makes them.)
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from corpus.codes import BAR_BEGINS, BAR_ENDS
from search.borders import borders_of
from search.expressions import ANY, Compiler, either
from search.places import MATCH_BEGINS, MATCH_ENDS
from shared.errors import Fault, ReadingError
from shared.pattern import BarOf, Gap, Group, Item, Part, Pattern, Strength

#: How many edits a near search may make.
MOST_EDITS = 2
#: The least that must be kept of a pattern, and the least where its first or last chord is left out.
_LEAST_KEPT, _LEAST_WITHOUT_AN_END = 2, 3
#: Bounds above which the engine has no room left to run an expression fast (measured): characters without rare codes,
#: and for two edits the chords of a quality on any root.
_LARGEST = 30_000
_MOST_ROOTLESS = 2

#: What a tune holds that has qualities beyond the table of names.
RARE = "[\U00010000-\U0010ffff]"
_RARE_CODES = re.compile("[\U00010000-\U0010ffff](?:-[\U00010000-\U0010ffff])?")
#: What no sign is.
NOTHING = r"[^\x{0}-\x{10FFFF}]"

#: What stands for a match once it is taken: the number of its edits. No chord and no mark looks like that.
TAKEN = "012"
_MATCH = re.compile(rf"\{MATCH_BEGINS}[^{MATCH_ENDS}]*\{MATCH_ENDS}")
_MATCH_OR_TAKEN = re.compile(rf"[{TAKEN}]|{_MATCH.pattern}")


def near_expression(pattern: Pattern, strength: Strength, shift: int = 0, edits: int = 1) -> str:
    """The regular expression for the versions of a pattern that are so many edits away.

    It is meant for what is left of a string when versions with fewer edits have been taken out of it: there it finds
    none of these.

    Args:
        pattern: A counted pattern.
        strength: How much must agree of what is kept.
        shift: Semitones that every degree is raised by, to count the pattern from another tonic.
        edits: How many, 1 or 2.

    Raises:
        ReadingError: If the pattern is open in length, has too few chords to be known by what is left of them, or is
            too large.
    """
    refuse_open(pattern)
    rootless = [item for item in pattern.items() if any(one.root is None and one.quality for one in item.alternatives)]
    if edits > 1 and strength is Strength.FAMILY and len(rootless) > _MOST_ROOTLESS:
        message = f"{len(rootless)} chords name a quality on any root, too many for a search two chords away"
        raise _refused(pattern, message, f"at most {_MOST_ROOTLESS} of them, or a search one chord away")
    text = _Versions(Compiler(strength, shift, borders_of(pattern, near=True)), pattern, edits).text()
    if len(without_rare(text)) > _LARGEST:
        expected = "fewer chords, or a search one chord away" if edits > 1 else "fewer chords"
        raise _refused(pattern, f"this pattern is too large for a search {_away(edits)}", expected)
    return text


def without_rare(text: str) -> str:
    """An expression as it need be for a tune without rare qualities (``RARE``), where it finds the same."""
    return _RARE_CODES.sub("", text).replace("[]", NOTHING)


def refuse_open(pattern: Pattern) -> None:
    """Refuses a pattern that has no near versions.

    Raises:
        ReadingError: If it is open in length or has fewer than two chords that must be there.
    """
    for part in _every(pattern.parts):
        if part is Gap.FEW or (isinstance(part, Group) and part.most is None):
            sign = ".." if part is Gap.FEW else "+"
            message = f"“{sign}” leaves open how many chords are asked for, so nothing is near to it"
            raise _refused(pattern, message, "a pattern without “..” and “+”", sign)
    if _sure(pattern.parts) < _LEAST_KEPT:
        raise _refused(pattern, "one chord alone has no near versions", "at least two chords that must be there")


def pieces(pattern: Pattern, edits: int) -> tuple[Pattern, ...]:
    """Parts of a pattern of which every version with at most so many edits holds at least one as it is.

    There is one piece more than edits, for an edit spoils one piece at most, and a chord put in between two pieces
    spoils none; a pattern of fewer bars than that has no such pieces.
    """
    sure = [number for number, part in enumerate(pattern.parts) if _sure([part])]
    count = min(edits + 1, len(sure))
    if pattern.bars and count <= edits:
        return ()
    starts = [sure[number * len(sure) // count] for number in range(1, count)]
    borders = [0, *starts, len(pattern.parts)]
    return tuple(replace(pattern, parts=pattern.parts[begin:end]) for begin, end in pairwise(borders))


def marked(steps: Sequence[str]) -> tuple[str, list[int]]:
    """A string with all its matches between two signs.

    Args:
        steps: For each number of edits, from none, the string with its matches between the signs, and the sign of
            ``TAKEN`` where one with fewer edits stood.

    Returns:
        The string, and how many edits each match has, in the order in which they stand.

    >>> marked(["x{ab}yc", "x0y{c}"])
    ('x{ab}y{c}', [0, 1])
    """
    *earlier, last = steps
    waiting = [iter(_MATCH.findall(step)) for step in earlier]
    edits: list[int] = []

    def put_back(found: re.Match[str]) -> str:
        taken = found[0]
        edits.append(int(taken) if taken in TAKEN else len(earlier))
        return next(waiting[int(taken)]) if taken in TAKEN else taken

    return _MATCH_OR_TAKEN.sub(put_back, last), edits


@dataclass(frozen=True, slots=True)
class _Place:
    """A part of a pattern as it may be edited.

    Attributes:
        text: Its expression, joint included.
        swapped: That of any one chord in its stead, None where it cannot be swapped.
        put_in: That of one chord before it, None where none can be put in.
        left_out: Whether it can be left out.
        inside: For a bar the places in it.
        joints: For a bar the joints before and behind it.
    """

    text: str
    swapped: str | None = None
    put_in: str | None = None
    left_out: bool = False
    inside: tuple[_Place, ...] = ()
    joints: tuple[str, str] = "", ""


class _Versions:
    def __init__(self, compiler: Compiler, pattern: Pattern, edits: int) -> None:
        self.compiler = compiler
        self.pattern = pattern
        self.edits = edits
        chords = _sure(pattern.parts)
        self.losses = min(edits, chords - _LEAST_KEPT)
        self.ends = chords - edits >= _LEAST_WITHOUT_AN_END and not pattern.bars
        self.anyone = Compiler(Strength.EXACT, 0).item(ANY)

    def text(self) -> str:
        """All versions."""
        text = self.line(self.places(), self.edits, self.losses)
        assert text is not None
        return text

    def places(self) -> list[_Place]:
        """The places of the pattern.

        Joints stand on the side of the middle chord, which has none: so nothing is taken before the first chord or
        behind the last, whichever of them are left out (fewer than there are on one side of the middle, and it).
        """
        sure = [number for number, part in enumerate(self.pattern.parts) if isinstance(part, Item | BarOf)]
        middle = sure[len(sure) // 2]
        borders = self.compiler.borders
        made = []
        for number, part in enumerate(self.pattern.parts):
            late, one = number > middle, number == middle
            before, behind = borders.joint if late else borders.first, "" if late or one else borders.last
            if isinstance(part, BarOf):
                made.append(
                    _Place(before + self.compiler.one(part) + behind, inside=self.bar(part), joints=(before, behind))
                )
                continue
            text = before + self.compiler.one(part) if one else self.compiler.part(part, late)
            between = not self.pattern.bars and sure[0] < number <= sure[-1]
            item = isinstance(part, Item)
            made.append(
                _Place(
                    text,
                    swapped=before + self.anyone + behind if item else None,
                    put_in=self.compiler.jointed(self.anyone, late) if between else None,
                    left_out=item and (self.ends or sure[0] < number < sure[-1]),
                )
            )
        return made

    def bar(self, bar: BarOf) -> tuple[_Place, ...]:
        """The places in a bar, its end the last of them."""
        inner = self.compiler.inner
        several = _sure(bar.body) > 1
        made = []
        for part in bar.body:
            text = inner.part(part, before=True)
            if isinstance(part, Item):
                made.append(_Place(text, self.anyone, self.anyone, several))
            else:
                made.append(_Place(text, put_in=self.anyone))
        return (*made, _Place("", put_in=self.anyone))

    def line(self, places: Sequence[_Place], edits: int, losses: int) -> str | None:
        """The places with so many edits, at most ``losses`` of which lose a chord; None where that cannot be."""
        if edits == 0:
            return "".join(place.text for place in places)
        if len(places) == 1:
            return self.edited(places[0], edits, losses)
        middle = len(places) // 2
        versions = []
        for early in range(edits + 1):
            for lost, others in _shared(early, edits - early, losses):
                first = self.line(places[:middle], early, lost)
                second = self.line(places[middle:], edits - early, others)
                if first is not None and second is not None:
                    versions.append(first + second)
        return either(versions) if versions else None

    def edited(self, place: _Place, edits: int, losses: int) -> str | None:
        """One place with so many edits."""
        if place.inside:
            inner = self.line(place.inside, edits, losses)
            before, behind = place.joints
            return None if inner is None else rf"{before}\{BAR_BEGINS}{inner}\{BAR_ENDS}{behind}"
        versions = []
        if place.put_in is not None:
            versions.append(place.put_in * edits + place.text)
        if place.swapped is not None and losses and (edits == 1 or place.put_in is not None):
            versions.append((place.put_in or "") * (edits - 1) + place.swapped)
        if place.left_out and losses and edits == 1:
            versions.append("")
        return either(versions) if versions else None


def _shared(early: int, late: int, losses: int) -> Iterator[tuple[int, int]]:
    """How many chords the first and the second half may lose, given their edits and what both may lose together."""
    if early + late <= losses:
        yield early, late
        return
    for lost in range(min(early, losses), -1, -1):
        if losses - lost <= late:
            yield lost, losses - lost


def _sure(parts: Iterable[Part]) -> int:
    """How many chords of some parts must be there."""
    return sum(_sure(part.body) if isinstance(part, BarOf) else isinstance(part, Item) for part in parts)


def _every(parts: Iterable[Part]) -> Iterator[Part]:
    for part in parts:
        yield part
        if isinstance(part, Group | BarOf):
            yield from _every(part.body)


def _away(edits: int) -> str:
    return "one chord away" if edits == 1 else f"{edits} chords away"


def _refused(pattern: Pattern, message: str, expected: str, sign: str = "") -> ReadingError:
    text = pattern.text
    column = max(1, text.find(sign) + 1) if sign else 1
    return ReadingError([Fault(message, 1, column, len(sign) or max(1, len(text)), text, expected)])
