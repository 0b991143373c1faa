"""Matches as concordance lines: the progression in one column, what comes before it and after it on either side."""

from __future__ import annotations

from collections.abc import Sequence

from grammar.symbols import read_numeral
from shared.match import Answer, Hit, Place

#: By what the lines are put in order: best first, by the chord just before the match, or by the one just after it.
ORDERS = ("best", "before", "after")


def concordance_lines(answer: Answer, by: str, roman: bool) -> list[str]:
    """A line for each place, the matches one under the other.

    Args:
        answer: An answer whose places have their context.
        by: One of ``ORDERS``.
        roman: Whether Roman numerals stand for numbers.
    """
    rows = [(hit, place) for hit in answer.hits for place in hit.places]
    if by == "before":
        rows.sort(key=lambda row: row[1].before[::-1])
    elif by == "after":
        rows.sort(key=lambda row: row[1].after)
    shown = [
        (_words(place.before, roman), _words(place.numbers, roman), _words(place.after, roman), _where(hit, place))
        for hit, place in rows
    ]
    before, match, after = (max((len(row[column]) for row in shown), default=0) for column in range(3))
    return [
        f"{one.rjust(before)}  [ {two.ljust(match)} ]  {three.ljust(after)}  {where}"
        for one, two, three, where in shown
    ]


def _words(numbers: Sequence[str], roman: bool) -> str:
    return " ".join(read_numeral(number).roman if roman else number for number in numbers)


def _where(hit: Hit, place: Place) -> str:
    section = f" {place.section}" if place.section else ""
    return f"{hit.title},{section} bar {place.from_bar}"
