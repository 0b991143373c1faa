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
    """

    pattern: Pattern
    strength: Strength = Strength.FAMILY
    reach: Reach = Reach.KEY
    rotate: bool = False
    count: Count | None = None
    filters: Filters = field(default_factory=Filters)
    limit: int = 20
    sort: str = "best"

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
        if self.rotate:
            parts.append("begun anywhere in the loop")
        if self.count is not None and self.reach is Reach.KEY:
            counted = {Count.TONIC: "the tonic", Count.RELATIVE: "the relative major"}[self.count]
            parts.append(f"counted from {counted} only")
        parts += self.filters.sentences()
        return ", ".join(parts) + "."
