"""The views of an index: every way of counting each chart that a question is asked of.

A view is a column of strings, the semitones by which the pattern is raised to be asked of it, what its numbers are
counted from, and the slots under which its short sequences are kept (see ``corpus.grams``).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from corpus.codes import TO_RELATIVE
from corpus.grams import CENTRE, MAJOR, MINOR, RELATIVE, TONIC
from corpus.unpacking import KeySegment
from grammar.keys import read_key
from search.apart import roots_of
from search.borders import bordered
from search.places import SoundingSegment
from search.questions import Question
from shared.key import Key, Mode
from shared.match import Count, Reach
from shared.pattern import Anchor, BarOf, Item, Pattern
from shared.pitch import CHROMATIC, Degree, Pitch

#: Semitones from the tonic of a relative major up to its 6, on which the relative minor stands.
_SIXTH = 9


@dataclass(frozen=True, slots=True)
class View:
    """One way of counting every chart.

    Attributes:
        column: The column of strings, in SQL; null where the view says nothing of a chart.
        where: Whether it says something, as a condition in SQL.
        slots: The slots under which its short sequences are kept.
        shift: Semitones by which the pattern is raised.
        count: The count that matches in it are told under.
        centre: For a tonal centre, its semitones above the home tonic; None where keys are followed.
        minor: Whether segments with a minor third are in it.
        major: Whether segments with a major third are in it.
    """

    column: str
    where: str
    slots: tuple[int, ...]
    shift: int
    count: Count
    centre: int | None = None
    minor: bool = True
    major: bool = True

    @property
    def kind(self) -> int:
        """One number for all views of one count, or one centre; the tonic's comes first."""
        return self.centre if self.centre is not None else int(self.count is Count.RELATIVE)

    @property
    def above(self) -> set[int]:
        """How far its 1 may lie above that of an earlier view which counts the same chords, in semitones."""
        if self.centre is not None:
            return set(range(1, 12))
        if self.slots == RELATIVE:
            # A step on the line of fifths is seven semitones.
            return {mode.fifths * 7 % 12 for mode in Mode if mode.minor_third}
        return {self.shift}

    @property
    def raised(self) -> int:
        """Semitones by which the pattern is raised against the numbers that are told of its matches."""
        return 0 if self.minor else self.shift

    def tonic(self, home: Key, key: Key) -> Pitch | None:
        """What a segment in ``key`` is counted from, None where the view leaves it out."""
        if self.centre is not None:
            return home.tonic.up(CHROMATIC[self.centre])
        if not (self.minor if key.minor_third else self.major):
            return None
        return key.relative_major.tonic if self.count is Count.RELATIVE and key.minor_third else key.tonic

    def sounding(self, home: Key, segments: Sequence[KeySegment], events: int) -> list[SoundingSegment]:
        """The segments of a chart as the view counts them; about a fixed centre the tune is one segment.

        Args:
            home: The home key.
            segments: The keys that the chart passes through.
            events: How many chords are played in it.
        """
        if self.centre is not None:
            # Where the key never changes the string is that of the one segment: counted from its key, begun with its
            # bars.
            first_bar = 0
            if len(segments) == 1:
                home, first_bar = read_key(segments[0].key), segments[0].from_bar
            return [SoundingSegment(self.tonic(home, home), 0, events - 1, first_bar, segments[-1].to_bar)]
        return [SoundingSegment(self.tonic(home, read_key(key)), *places) for key, *places in segments]


def views_of(question: Question, pattern: Pattern) -> list[View]:
    """The views that a question asks one of its patterns of, the tonic's first."""
    near = question.near > 0
    return [replace(view, column=bordered(view.column, pattern, near)) for view in _views_of(question, pattern)]


def _views_of(question: Question, pattern: Pattern) -> list[View]:
    bars = "_bars" if pattern.bars else ""
    rootless = not any(one.root or one.bass for item in pattern.items() for one in item.alternatives)
    if question.reach is Reach.ANYWHERE:
        column = f"coalesce(fixed{bars}, tonic{bars})"
        centres = range(1) if rootless else range(12)
        return [View(column, "TRUE", CENTRE, centre, Count.TONIC, centre) for centre in centres]
    column = f"CASE WHEN minor THEN tonic{bars} END"
    views = [
        View(f"tonic{bars}", "TRUE", TONIC, 0, Count.TONIC),
        View(column, "minor", MINOR, TO_RELATIVE, Count.RELATIVE, major=False),
        View(f"relative{bars}", "relative IS NOT NULL", RELATIVE, 0, Count.RELATIVE, major=False),
    ]
    if pattern.minor_one:
        column = f"CASE WHEN minor THEN NULL WHEN relative IS NULL THEN tonic{bars} ELSE major{bars} END"
        views.append(View(column, "NOT minor", MAJOR, _SIXTH, Count.RELATIVE, minor=False))
    if question.count is not None:
        return [view for view in views if view.count is question.count]
    return views[:1] if rootless else views


def doubtful_views(patterns: Sequence[Pattern], views: Sequence[View]) -> set[int]:
    """The numbers of the views in which a pattern may be found at a place where it is found in an earlier view too.

    What a match takes tells mostly what it was counted from. One pattern tells it by its first chord or its last: none
    of the roots that this may have may be another of them, counted from another view. Of several (the rotations of a
    loop) each must tell it by its first, which has one root, and no two may be one sequence of roots in two
    transpositions.
    """
    later = range(1, len(views))
    if len(patterns) > 1:
        if not all(len(_roots_at(pattern, 0)) == 1 for pattern in patterns):
            return set(later)
        rows = [roots_of(pattern) for pattern in patterns]
        shapes = {tuple((root - row[0]) % 12 for root in row) for row in set(rows) if row}
        return set() if all(rows) and len(shapes) == len(set(rows)) else set(later)
    places = [_roots_at(patterns[0], end) for end in (0, -1)]
    return {number for number in later if not any(_tells_apart(each, views[number].above) for each in places)}


def _tells_apart(places: Iterable[tuple[bool, Degree | Pitch | None]], semitones: Iterable[int]) -> bool:
    """Whether places (see ``_roots_at``) are other ones when they are raised by any of so many semitones."""
    places = list(places)
    known = {place.semitones for _, place in places if isinstance(place, Degree)}
    raised = {(place + step) % 12 for place in known for step in semitones}
    return bool(known) and len({bare for bare, _ in places}) == 1 and known.isdisjoint(raised)


def _roots_at(pattern: Pattern, end: int) -> set[tuple[bool, Degree | Pitch | None]]:
    """The roots that the first chord (0) or the last (-1) may have, or the basses where that is all that is asked.

    Nothing where any root will do, or other chords may come before it, or behind.
    """
    parts = [part for part in pattern.parts if not isinstance(part, Anchor)]
    part = parts[end] if parts else None
    item = part.body[end] if isinstance(part, BarOf) else part
    if not isinstance(item, Item):
        return set()
    found = {(one.bare_bass, one.bass if one.bare_bass else one.root) for one in item.alternatives}
    return found if all(place is not None for _, place in found) else set()
