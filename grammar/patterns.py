"""Reads a pattern: a progression as a teacher writes it when asking for tunes.

Conventions:
    * Items stand apart by spaces, by commas with a space behind, or by dashes: any dash where the pattern has no space,
      an en or em dash, or a hyphen with spaces round it. A hyphen joined to an item belongs to it (``2-7`` is minor).
    * Counted repeats are written out while reading; equal items that come to stand side by side are one, since a chord
      that is struck again is one chord. Items that leave the root open (``_ _``, ``4,2m 4,2m``) stay two.
    * Columns of faults count from 1 in the pattern as typed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedInput, UnexpectedToken

from grammar.parsers import parser
from grammar.signs import plain
from grammar.symbols import read_symbol
from shared.errors import Fault, ReadingError
from shared.pattern import Anchor, BarOf, Gap, Group, Item, Part, Pattern, Wanted
from shared.pitch import Degree, Pitch

MOST_CHARACTERS = 1000
MOST_ITEMS = 64
MOST_GAPS = 3
#: How much may be left open: a chord on any root or one that may be missing counts as one, a gap as two. Each of them
#: multiplies the ways in which a match may be laid, and with these the time that a search takes.
MOST_OPEN = 6
_OPEN_IN_A_GAP = 2
_DEEPEST = 20

_RUN = re.compile(r"\d{2,}")
_ONE_DEGREE = re.compile(r"[1-7](6|7|9|11|13)")
_COMMA = re.compile(r",(?=[^()]*(?:\(|$))")


@dataclass(frozen=True, slots=True)
class ReadPattern:
    """A pattern with what is worth saying about how it was read.

    Attributes:
        pattern: The pattern.
        remarks: Places where it was read otherwise than it may look, such as equal items side by side.
    """

    pattern: Pattern
    remarks: tuple[Fault, ...] = ()


@cache
def _parser() -> Lark:
    return parser("pattern", "start", maybe_placeholders=False, propagate_positions=True)


def read_pattern(text: str) -> ReadPattern:
    """Reads a pattern in the notation of the README.

    Raises:
        ReadingError: If it cannot be read, can match nothing, or passes a bound (1,000 characters, 64 items once
            repeats are written out, three inner gaps, six chords left open); the fault gives the place.

    >>> [item.text for item in read_pattern("6-4-1-5").pattern.items()]
    ['6', '4', '1', '5']
    """
    if len(text) > MOST_CHARACTERS:
        raise _refused(text, 1, f"this pattern has {len(text)} characters", f"at most {MOST_CHARACTERS}")
    if not text.strip():
        raise _refused(text, 1, "this pattern is empty", "a progression such as 2m7 57 1maj7")
    _refuse_run(text)
    spaced = _spaced(text)
    try:
        tree = _parser().parse(spaced)
    except UnexpectedInput as error:
        raise ReadingError([_fault(text, error)]) from None
    reader = _Reader(text)
    parts = reader.parts(tree.children, 0)
    bars = any(isinstance(part, BarOf) for part in _flat(parts))
    if not bars:
        parts = _trimmed(parts)
    parts = _told_once(parts)
    _check(text, parts)
    _refuse_empty_sections(text, parts)
    pattern = Pattern(parts, bars, reader.named, text)
    return ReadPattern(pattern, tuple(reader.remarks))


def _refused(
    text: str, column: int, message: str, expected: str = "", nearest: str = "", length: int = 1
) -> ReadingError:
    return ReadingError([Fault(message, 1, column, length, text, expected, nearest)])


def _refuse_run(text: str) -> None:
    """One run of digits may be one degree with its quality or several degrees: only the first is read."""
    bare = text.strip()
    if not _RUN.fullmatch(bare) or _ONE_DEGREE.fullmatch(bare):
        return
    column = text.index(bare) + 1
    apart = " ".join(bare) if set(bare) <= set("1234567") else ""
    message = f"“{bare}” may be several chords or one"
    raise _refused(text, column, message, "spaces or dashes between chords", apart, len(bare))


def _spaced(text: str) -> str:
    """The text with every sign that only separates turned into a space, character for character."""
    signs = plain(text)
    signs = re.sub(r"[–—]", " ", signs)
    if " " not in text.strip() and "\t" not in text.strip():
        signs = signs.replace("-", " ")
    else:
        signs = re.sub(r"(?<!\S)-+(?!\S)", lambda m: " " * len(m.group()), signs)
    return re.sub(r",(?=\s|$)", " ", signs)


class _Reader:
    """Turns the parse tree into parts, writing counted repeats out."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.named = False
        self.counted = False
        self.remarks: list[Fault] = []
        self._written = 0

    def parts(self, nodes: Sequence[Tree[Token] | Token], depth: int) -> tuple[Part, ...]:
        """The parts that these nodes stand for; bar lines among them make it a sequence of bars."""
        if depth > _DEEPEST:
            raise _refused(self.text, 1, f"groups stand more than {_DEEPEST} deep", "a flatter pattern")
        pieces = [(node, self._pieces(node, depth)) for node in nodes if isinstance(node, Tree)]
        barred = any(node.data == "bar_line" for node, _ in pieces)
        if barred or any(isinstance(part, BarOf) for _, made in pieces for part in _flat(made)):
            return self._bars(pieces)
        return self._joined([part for _, made in pieces for part in made])

    def _pieces(self, node: Tree[Token], depth: int) -> tuple[Part, ...]:
        if node.data == "bar_line":
            return ()
        if node.data == "few":
            return (Gap.FEW,)
        if node.data == "anchor":
            return (Anchor(str(node.children[0])),)
        if node.data == "item":
            item = self._item(node.children[0])
            return (Group((item,), 0, 1),) if len(node.children) > 1 else (item,)
        return self._group(node, depth)

    def _group(self, node: Tree[Token], depth: int) -> tuple[Part, ...]:
        last = node.children[-1] if node.children else None
        times = last if isinstance(last, Token) else None
        body = self.parts([child for child in node.children if isinstance(child, Tree)], depth + 1)
        if not body:
            raise _refused(self.text, 1, "there are empty brackets in this pattern", "chords between ( and )")
        if times is None:
            return body
        if times == "?":
            return (Group(body, 0, 1),)
        if times == "+":
            if 2 * _count_items(body) > MOST_ITEMS:
                raise _refused(self.text, 1, "this pattern has too many items", f"at most {MOST_ITEMS}")
            alone = len(body) == 1 and isinstance(body[0], Item) and body[0].one_chord
            return body if alone else (*body, Group(_looped(body), 0, None))
        often = int(times[1:])
        items = often * _count_items(body)
        if often < 1 or items > MOST_ITEMS:
            column = (times.start_pos or 0) + 1
            message = f"“{times}” makes {items} items"
            raise _refused(self.text, column, message, f"1 to {MOST_ITEMS} in all", length=len(times))
        return self._joined([part for _ in range(often) for part in body], silent=True)

    def _item(self, token: Tree[Token] | Token) -> Item:
        assert isinstance(token, Token)
        offset = token.start_pos or 0
        alternatives, written = [], 0
        for text in _COMMA.split(str(token)):
            alternatives.append(self._wanted(text, offset + written))
            written += len(text) + 1
        return Item(tuple(alternatives), str(token))

    def _wanted(self, text: str, offset: int) -> Wanted:
        try:
            wanted = read_symbol(text)
        except ReadingError as error:
            raise ReadingError([fault.at(1, self.text, offset) for fault in error.faults]) from None
        for place in (wanted.root, wanted.bass):
            self.named |= isinstance(place, Pitch)
            self.counted |= isinstance(place, Degree)
        if self.named and self.counted:
            message = "chord names and numbers stand in one pattern"
            expected = "either names (Dm7 G7) or numbers (2m7 57)"
            raise _refused(self.text, offset + 1, message, expected, length=len(text))
        return wanted

    def _joined(self, parts: list[Part], silent: bool = False) -> tuple[Part, ...]:
        """The parts in a row, equal items side by side made one."""
        joined: list[Part] = []
        for part in parts:
            if isinstance(part, Anchor) and joined and joined[-1] is part:
                continue
            if isinstance(part, Item) and part.one_chord and joined and _last_item(joined) == part:
                if not silent and isinstance(joined[-1], Item):
                    self._remark(part)
                continue
            joined.append(part)
        return tuple(joined)

    def _remark(self, item: Item) -> None:
        message = f"equal chords side by side are one chord here: “{item.text} {item.text}” was read as “{item.text}”"
        if not any(remark.message == message for remark in self.remarks):
            form = f"| {item.text} | {item.text} |"
            self.remarks.append(Fault(message, 1, 0, 1, self.text, "bar lines where bars are meant", form))

    def _bars(self, pieces: list[tuple[Tree[Token], tuple[Part, ...]]]) -> tuple[Part, ...]:
        """Bars from what stands between bar lines; groups of bars and anchors stand between bars."""
        bars: list[Part] = []
        body: list[Part] = []
        drawn = False
        for node, made in pieces:
            if node.data == "bar_line":
                if body:
                    bars.append(BarOf(self._joined(body)))
                    body = []
                elif drawn:
                    column = (node.meta.start_pos or 0) + 1
                    raise _refused(self.text, column, "there is an empty bar before this line", "a chord in every bar")
                drawn = True
                continue
            kinds = {type(part) for part in _flat(made)}
            if Anchor in kinds and Item in kinds and BarOf not in kinds:
                column = (node.meta.start_pos or 0) + 1
                expected = "bar lines inside these brackets too, as in ([ | 1 | 4 | )?"
                raise _refused(self.text, column, "a section starts or ends inside a bar of this pattern", expected)
            whole = BarOf in kinds or Anchor in kinds
            if whole and body and isinstance(made[0], Anchor):
                bars.append(BarOf(self._joined(body)))
                body = []
            if whole and not body:
                bars.extend(made)
            elif whole:
                raise _refused(self.text, 1, "a bar holds other bars in this pattern", "a bar line before “(”")
            else:
                body.extend(made)
            drawn = False
        if body:
            bars.append(BarOf(self._joined(body)))
        return tuple(bars)


def _looped(body: tuple[Part, ...]) -> tuple[Part, ...]:
    """The body as it follows itself: where it ends as it begins, the seam is one chord."""
    first = body[0]
    if len(body) > 1 and isinstance(first, Item) and first.one_chord and first == body[-1]:
        return body[1:]
    return body


def _last_item(parts: Sequence[Part]) -> Part | None:
    """The item that a sequence certainly ends with, None where there is none."""
    last = parts[-1]
    if isinstance(last, Group) and last.most is None and len(parts) > 1:
        inner = _last_item(last.body)
        return inner if inner is not None and inner == _last_item(parts[:-1]) else None
    return last if isinstance(last, Item) else None


def _flat(parts: Sequence[Part]) -> list[Part]:
    found: list[Part] = []
    for part in parts:
        found.append(part)
        if isinstance(part, Group | BarOf):
            found.extend(_flat(part.body))
    return found


def _count_items(parts: Sequence[Part]) -> int:
    return sum(isinstance(part, Item) for part in _flat(parts))


def _trimmed(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    """Without gaps at either end: there they take nothing."""
    kept = list(parts)
    while kept and kept[0] is Gap.FEW:
        kept.pop(0)
    while kept and kept[-1] is Gap.FEW:
        kept.pop()
    return tuple(kept)


#: A border of the tune says more than the border of a section that it is, too.
_OF_THE_TUNE = {Anchor.SECTION_START: Anchor.TUNE_START, Anchor.SECTION_END: Anchor.TUNE_END}


def _told_once(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    """Without borders of sections beside the border of the tune that they are."""
    kept: list[Part] = []
    for part in parts:
        before = kept[-1] if kept else None
        if isinstance(part, Anchor) and isinstance(before, Anchor):
            if _OF_THE_TUNE.get(part) is before:
                continue
            if _OF_THE_TUNE.get(before) is part:
                kept.pop()
        kept.append(part)
    return tuple(kept)


def _check(text: str, parts: tuple[Part, ...]) -> None:
    flat = _flat(parts)
    items = _count_items(parts)
    if items > MOST_ITEMS:
        raise _refused(text, 1, f"this pattern has {items} items", f"at most {MOST_ITEMS}")
    gaps = sum(part is Gap.FEW for part in flat)
    if gaps > MOST_GAPS:
        raise _refused(text, 1, f"this pattern has {gaps} gaps (..)", f"at most {MOST_GAPS}")
    left_open = _left_open(parts)
    if left_open > MOST_OPEN:
        message = f"this pattern leaves {left_open} chords open (_ or ? counts as one, .. as two)"
        raise _refused(text, 1, message, f"at most {MOST_OPEN}", length=len(text))
    _refuse_loose_gap(text, parts)
    if not any(_certain(part) for part in parts):
        message = "this pattern can match nothing at all"
        raise _refused(text, 1, message, "at least one chord that must be there", length=max(1, len(text)))


def _left_open(parts: Sequence[Part], missing: bool = False) -> int:
    """How much is left open. A bar is no more than one chord here: where it ends is always known."""
    count = 0
    for part in parts:
        if part is Gap.FEW:
            count += _OPEN_IN_A_GAP
        elif isinstance(part, Item):
            count += missing + any(one.root is None and not one.bare_bass for one in part.alternatives)
        elif isinstance(part, BarOf):
            count += missing
        elif isinstance(part, Group):
            count += _left_open(part.body, missing=part.most is not None)
    return count


def _refuse_loose_gap(text: str, parts: Sequence[Part]) -> bool:
    """Refuses a gap that only chords which may be missing stand before: with them gone it would have no beginning.

    Returns:
        Whether a match has surely begun once the parts are through.
    """
    for part in parts:
        if part is Gap.FEW:
            message = "“..” follows only chords that may be missing"
            column = max(1, text.find("..") + 1)
            raise _refused(text, column, message, "a chord that must be there, or [, before it", length=2)
        if isinstance(part, Group) and part.least == 0:
            _refuse_loose_gap(text, part.body)
        else:
            return True
    return False


def _refuse_empty_sections(text: str, parts: Sequence[Part]) -> None:
    """A section that may start and end with no chord between is none."""
    started = False
    for part in parts:
        if part in (Anchor.SECTION_START, Anchor.TUNE_START):
            started = True
        elif started and part in (Anchor.SECTION_END, Anchor.TUNE_END):
            assert isinstance(part, Anchor)
            message = "what starts here may end with no chord between"
            expected = "a chord that must be there between “[” and “]”"
            raise _refused(text, text.find(part.value) + 1, message, expected, length=len(part.value))
        elif _certain(part):
            started = False


def _certain(part: Part) -> bool:
    """Whether a part takes at least one chord."""
    if isinstance(part, Item):
        return True
    if isinstance(part, BarOf):
        return any(map(_certain, part.body))
    return isinstance(part, Group) and part.least > 0 and any(map(_certain, part.body))


def _fault(text: str, error: UnexpectedInput) -> Fault:
    """Why the pattern's own signs could not be read."""
    if isinstance(error, UnexpectedToken) and error.token.type == "$END":
        place, found = len(text), "the pattern ends"
        opened = text.count("(") - text.count(")")
        # Brackets with nothing in them are left off.
        begun = text.strip().rstrip("( ")
        near = f"{begun}{')' * (begun.count('(') - begun.count(')'))}" if opened > 0 else ""
        expected = "a closing )" if opened > 0 else "a chord"
        return Fault(f"{found} too early", 1, max(1, place), 1, text, expected, near)
    place = error.pos_in_stream or 0
    found = text[place : place + 1]
    expected = "a chord (4, 2m7, IV, Dm7), .., _, ( ), [ ], |, ? or + after a group"
    near = {")": "( … )", "?": "6m?", ".": "..", "…": "..", "{": "(", "}": ")"}.get(found, "")
    return Fault(f"“{found}” cannot stand there", 1, place + 1, 1, text, expected, near)
