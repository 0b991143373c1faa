"""Remarks on charts of numbers: what was written is read as it stands, but looks as if something else was meant."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator

from grammar.cells import Sign
from grammar.headers import Head
from grammar.places import Place
from shared.chart import Bar
from shared.errors import Fault
from shared.pitch import Degree
from shared.quality import Third

#: Degrees whose triad in a major key is minor (common practice).
_USUALLY_MINOR = (Degree(2), Degree(3), Degree(6))

#: Two digits that may be meant as two chords; 5, 6, 7 and 9 behind a number are plain enough.
_TWO_DIGITS = re.compile(r"[1-7][24]")

Said = tuple[Callable[[], Place], Sign]


def number_remarks(head: Head, bars: Iterable[Bar], written: Iterable[str], said: Iterable[Said]) -> Iterator[Fault]:
    """The remarks on a chart with numbers in it.

    Args:
        head: Its head.
        bars: Its bars.
        written: All that its numbers are among.
        said: Its cells as written, each with a way to its place; those that are no numbers are passed over.

    Yields:
        At most one on bare 2, 3 or 6 in a chart without minor chords, one on a minor key that numbers seem not to be
        counted from, and one on two digits that are read as one chord, such as 14.
    """
    sounding = (cell.chord for bar in bars for cell in bar.cells)
    minor = any(chord is not None and chord.quality.third is Third.MINOR for chord in sounding)
    key = head.key
    relative = key is not None and key.minor_third and not head.said_count
    if minor and not relative and not any(map(_TWO_DIGITS.search, written)):
        return
    numerals = [(where, each, each.numeral) for where, each in said if each.numeral is not None]
    for where, each, numeral in numerals:
        if _TWO_DIGITS.fullmatch(each.written):
            message = f"“{each.written}” is read as one chord, {numeral.number}"
            yield where().fault(message, "a space or a bar line between two chords", " ".join(each.written))
            break
    if not minor:
        for where, each, numeral in numerals:
            if each.bare and numeral.degree in _USUALLY_MINOR:
                message = f"a bare “{each.written}” is a major chord, and no chord of the chart is minor"
                yield where().fault(message, "m where minor is meant", _minor(each.written))
                break
    if key is None or not relative:
        return
    minors = {n.degree: where for where, _, n in reversed(numerals) if n.quality.third is Third.MINOR}
    if Degree(6) in minors and Degree(1) not in minors:
        message = f"numbers are counted from {key.tonic}, the tonic, and 6m stands here without any 1m"
        expected = f"“count: relative” where they are counted from {key.relative_major.tonic}"
        yield minors[Degree(6)]().fault(message, expected, "count: relative")


def _minor(written: str) -> str:
    """A bare number as a minor chord: ``6/1`` is ``6m/1``."""
    number, slash, bass = written.partition("/")
    return f"{number}m{slash}{bass}"
