"""From the signs of a score (repeats, endings, D.C., D.S., Coda, Fine, rehearsal marks) to sections in playing order.

Conventions:
    * Measures count from 0. Signs hold at the start of their measure (a forward repeat, the start of an ending, a
      label, a segno, a coda) or at its end (a backward repeat, the end of an ending, a jump, to the coda, Fine).
    * A backward repeat goes back to the forward repeat before it, or behind the repeat before that, or to the start.
    * The repeat is played as often as its highest ending says. One ending alone that goes back is followed by a last
      time without it.
    * A jump is taken once, after the repeats that it closes. After it repeats are not played again (unless they say
      so), last endings are taken, and Fine and the way to the coda hold; from the coda on all is as before it.
    * A section starts at every rehearsal mark. Where one stands inside a repeat the repeat is written out. What is
      played after a jump is written out too, under the label that governs it.

Source: W3C, MusicXML 4.0, elements ``repeat``, ``ending`` and ``sound``; what they leave open is common practice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

#: How often something is played at most, and how many measures the sections hold at most.
MOST_TIMES = 99
MOST_MEASURES = 20_000
_CODA = "Coda"
_NOWHERE = -1


@dataclass(frozen=True, slots=True)
class Jump:
    """A jump back: to the start (``segno`` None) or to a segno by its name, then on to ``al``: fine, coda or either."""

    segno: str | None
    al: str = ""


@dataclass(slots=True)
class Signs:
    """What stands at a measure about the order of playing.

    Attributes:
        forward: A repeat starts here.
        times: A repeat ends here and is played so often in all; 0 where none ends.
        after_jump: That repeat is played after a jump too.
        ending: The numbers of the ending that starts here; empty where none starts, 0 alone where it has no number.
        ending_stops: An ending stops here.
        label: The rehearsal mark.
        segno: The name of a segno here (perhaps empty); None where there is none.
        coda: The name of a coda to which a jump leads.
        tocoda: The name of the coda to which a jump leads from here.
        fine: The piece ends here after a jump.
        jump: A jump back.
    """

    forward: bool = False
    times: int = 0
    after_jump: bool = False
    ending: tuple[int, ...] = ()
    ending_stops: bool = False
    label: str | None = None
    segno: str | None = None
    coda: str | None = None
    tocoda: str | None = None
    fine: bool = False
    jump: Jump | None = None


@dataclass(frozen=True, slots=True)
class Group:
    """Measures that are repeated.

    Attributes:
        body: What is played each time, from ``start``.
        endings: The endings with the times they are for.
        times: How often in all.
        end: The measure behind all of it.
    """

    start: int
    body: range
    endings: tuple[tuple[tuple[int, ...], range], ...]
    times: int
    end: int

    def pass_of(self, time: int) -> Iterator[int]:
        """The measures that are played at a time, from 1."""
        yield from self.body
        for numbers, measures in self.endings:
            if time in numbers:
                yield from measures


@dataclass(slots=True)
class Played:
    """A section: its label, and its measures and repeats in playing order."""

    label: str | None
    items: list[int | Group] = field(default_factory=list)


class TooLongError(Exception):
    """The sections would hold too many measures."""


def sections_of(signs: Sequence[Signs]) -> tuple[list[Played], list[tuple[int, str]]]:
    """The sections in playing order.

    Args:
        signs: The signs of every measure.

    Returns:
        The sections, and remarks: the measure and what is said of it.

    Raises:
        TooLongError: If they would hold more than ``MOST_MEASURES`` measures.

    >>> body = [Signs(label="A", forward=True), Signs(times=2), Signs(label="B"), Signs(jump=Jump(None))]
    >>> [(each.label, len(each.items)) for each in sections_of(body)[0]]
    [('A', 1), ('B', 2), ('A', 2), ('B', 2)]
    """
    order = _Order(signs)
    order.play()
    return [section for section in order.sections if section.items], order.remarks


class _Order:
    """Plays the score through once."""

    def __init__(self, signs: Sequence[Signs]) -> None:
        self._signs = signs
        self._groups = {group.start: group for group in _groups(signs)}
        self._member = {i: group for group in self._groups.values() for i in range(group.start, group.end)}
        self._labels: list[str | None] = []
        label: str | None = None
        for each in signs:
            label = each.label or label
            self._labels.append(label)
        self._labelled = label is not None
        self._expected = 0
        self._count = 0
        self._taken: set[tuple[str, int]] = set()
        self._jump: Jump | None = None
        self.sections = [Played(None)]
        self.remarks: list[tuple[int, str]] = []

    def play(self) -> None:
        """Plays from the start to the end."""
        position: int | None = 0
        while position is not None and position < len(self._signs):
            group = self._groups.get(position)
            if group and (self._jump is None or self._signs[group.end - 1].after_jump):
                position = self._group(group)
            elif (skip := self._skipped(position)) is not None:
                position = skip
            else:
                position = self._measure(position)

    def _skipped(self, position: int) -> int | None:
        """Behind the ending that starts here, where it is not the last; None where nothing is skipped."""
        group = self._member.get(position)
        if group is None:
            return None
        for numbers, measures in group.endings:
            if measures.start == position and group.times not in numbers:
                return measures.stop
        return None

    def _measure(self, position: int) -> int | None:
        """Plays one measure; the next one, None at the end."""
        self._add(position, position)
        onward = self._onward(position)
        if onward != _NOWHERE:
            return onward
        group = self._member.get(position)
        if group and any(
            measures.stop == position + 1 and group.times in numbers for numbers, measures in group.endings
        ):
            return group.end
        return position + 1

    def _onward(self, position: int) -> int | None:
        """Where a sign at the end of a measure leads; None at Fine, ``_NOWHERE`` where none leads anywhere."""
        signs = self._signs[position]
        jump = self._jump
        if jump and signs.fine and jump.al != "coda":
            return None
        if jump and signs.tocoda is not None and jump.al != "fine" and ("coda", position) not in self._taken:
            self._taken.add(("coda", position))
            coda = self._coda(signs.tocoda, position)
            if coda is not None:
                self._jump = None
                return coda
            self.remarks.append((position, "no coda to go to, so the music goes on"))
        if signs.jump and ("jump", position) not in self._taken:
            self._taken.add(("jump", position))
            self._jump = signs.jump
            return self._segno(signs.jump.segno, position)
        return _NOWHERE

    def _group(self, group: Group) -> int | None:
        """Plays a repeat; the measure behind it, or where a jump leads."""
        last = list(group.pass_of(group.times))
        leaves = next((i for i in last if self._signs[i].jump and ("jump", i) not in self._taken), None)
        inside = any(self._signs[i].label for i in range(group.start + 1, group.end))
        if not inside and leaves in (None, *last[-1:]) and _fits(group):
            self._add(group, group.start)
            self._expected = group.end
            onward = self._onward(last[-1]) if leaves is not None else _NOWHERE
            return group.end if onward == _NOWHERE else onward
        for time in range(1, group.times + 1):
            for position in group.pass_of(time):
                self._add(position, position)
                if time == group.times and position == leaves:
                    onward = self._onward(position)
                    return group.end if onward == _NOWHERE else onward
        self._expected = group.end
        return group.end

    def _add(self, item: int | Group, position: int) -> None:
        """Adds a measure or repeat; a label, or a measure that does not follow on, starts a section."""
        signs, label = self._signs[position], self._labels[position]
        current = self.sections[-1]
        if signs.label is not None:
            self.sections.append(Played(signs.label))
        elif signs.coda is not None and position != self._expected:
            self.sections.append(Played(_CODA))
        elif position != self._expected and self._labelled and label != current.label and current.items:
            jumped = ("D.C." if self._jump.segno is None else "D.S.") if self._jump else None
            self.sections.append(Played(label or jumped))
        self.sections[-1].items.append(item)
        measures = item.times * len(item.body) + sum(len(r) for _, r in item.endings) if isinstance(item, Group) else 1
        self._count += measures
        if self._count > MOST_MEASURES:
            raise TooLongError
        self._expected = position + 1

    def _segno(self, name: str | None, position: int) -> int:
        if name is None:
            return 0
        found = [i for i, each in enumerate(self._signs) if each.segno is not None]
        named = [i for i in found if self._signs[i].segno == name]
        before = [i for i in named or found if i <= position] or found
        if not before:
            self.remarks.append((position, "no segno to go back to, so the music goes back to the start"))
        return before[-1] if before else 0

    def _coda(self, name: str, position: int) -> int | None:
        found = [i for i, each in enumerate(self._signs) if each.coda is not None]
        named = [i for i in found if self._signs[i].coda == name]
        behind = [i for i in named or found if i > position] or found
        return behind[0] if behind else None


def _fits(group: Group) -> bool:
    """Whether a chart can hold the repeat as such: every time has one ending, or none has."""
    numbers = sorted(number for each, _ in group.endings for number in each)
    return len(group.body) > 0 and (not numbers or numbers == list(range(1, group.times + 1)))


def _groups(signs: Sequence[Signs]) -> Iterator[Group]:
    """The repeats of a score, in order."""
    start = position = 0
    while position < len(signs):
        if signs[position].forward:
            start = position
        group = None
        if signs[position].ending:
            group = _with_endings(signs, start, position)
        elif signs[position].times:
            times = signs[position].times
            group = Group(start, range(start, position + 1), (), times, position + 1)
        position += 1
        if group is not None:
            start = position = group.end
            if group.times > 1:
                yield group


def _with_endings(signs: Sequence[Signs], start: int, first: int) -> Group | None:
    """The repeat whose endings start at ``first``; None where nothing goes back."""
    endings: list[tuple[tuple[int, ...], range]] = []
    used: set[int] = set()
    position, goes_back, last_goes_back = first, False, False
    while position < len(signs) and signs[position].ending and not (endings and signs[position].forward):
        numbers = tuple(n for n in signs[position].ending if n not in used)
        if numbers == (0,):
            numbers = (max(used, default=0) + 1,)
        if not numbers:
            break
        used.update(numbers)
        end = _end_of_ending(signs, position)
        endings.append((numbers, range(position, end)))
        last_goes_back = signs[end - 1].times > 0
        goes_back = goes_back or last_goes_back
        position = end
    if not goes_back or not endings:
        return None
    times = max(used)
    if len(endings) == 1 and last_goes_back:
        times += 1
        behind = signs[position] if position < len(signs) else None
        if behind and not (behind.forward or behind.times or behind.ending or behind.label or behind.coda is not None):
            endings.append(((times,), range(position, position + 1)))
            position += 1
    return Group(start, range(start, first), tuple(endings), times, position)


def _end_of_ending(signs: Sequence[Signs], start: int) -> int:
    """The measure behind an ending: where it goes back or stops, else where something else starts, else after one."""
    for position in range(start, len(signs)):
        if signs[position].times or signs[position].ending_stops:
            return position + 1
        following = signs[position + 1] if position + 1 < len(signs) else None
        if following and (following.ending or following.forward):
            return position + 1
    return start + 1
