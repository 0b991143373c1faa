"""A question: a pattern with its strength, reach and filters, and the sentence that says it."""

from __future__ import annotations

from dataclasses import dataclass, field

from search.filters import Filters
from shared.match import Count, Reach
from shared.pattern import Pattern, Strength


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked.

    Attributes:
        pattern: The progression, counted.
        strength: How much of each chord must agree.
        reach: Whether it must stand in the key.
        rotate: Whether the pattern may begin at any of its parts.
        count: Asked under this count alone; None for both.
        filters: Which charts and sections are asked.
        limit: How many tunes are shown; 0 for all.
        sort: The order of the tunes.
        near: How many chords a version may be away.
        also: Patterns that the tune must hold as well, somewhere.
        without: Patterns that it must not hold.
        totals: Whether only the totals are asked for.
        context: How many bars before and after a match are told with it.
    """

    pattern: Pattern
    strength: Strength = Strength.FAMILY
    reach: Reach = Reach.KEY
    rotate: bool = False
    count: Count | None = None
    filters: Filters = field(default_factory=Filters)
    limit: int = 20
    sort: str = "best"
    near: int = 0
    also: tuple[Pattern, ...] = ()
    without: tuple[Pattern, ...] = ()
    totals: bool = False
    context: int = 0

    @property
    def sentence(self) -> str:
        """The question as a plain sentence."""
        what = {
            Strength.LOOSE: "by its roots alone",
            Strength.FAMILY: "by chord families",
            Strength.EXACT: "with the very qualities and basses",
        }[self.strength]
        where = "about any tonal centre" if self.reach is Reach.ANYWHERE else "in the key"
        parts = [f"Tunes with {self.pattern.text.strip()}, {what}, {where}"]
        if self.near:
            parts.append("or one chord away" if self.near == 1 else f"or up to {self.near} chords away")
        if self.rotate:
            parts.append("begun anywhere in the loop")
        if self.count is not None and self.reach is Reach.KEY:
            counted = {Count.TONIC: "the tonic", Count.RELATIVE: "the relative major"}[self.count]
            parts.append(f"counted from {counted} only")
        parts += [f"with {pattern.text.strip()} as well" for pattern in self.also]
        parts += [f"without {pattern.text.strip()}" for pattern in self.without]
        parts += self.filters.sentences()
        return ", ".join(parts) + "."
