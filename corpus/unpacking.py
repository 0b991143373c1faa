"""What the index keeps of a chart's chords and places in short, and written out again.

Conventions: events and played bars count from 0, written bars from 1 (see ``schema.sql``). A name of a chord belongs to
the code points that it is counted as (see ``corpus.codes``).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache, lru_cache
from itertools import count
from typing import NamedTuple

from corpus.codes import KEY_CHANGES, SECTION_ENDS, SECTION_STARTS

#: Headers that columns of ``charts`` may tell word for word, in the order of the bits of ``told``, the lowest first.
TOLD_HEADERS = ("title", "key", "time", "tempo", "style", "level", "year", "tags")

_BITS = [(name, 1 << bit) for bit, name in enumerate(TOLD_HEADERS)]

#: The columns that ``tonic`` and ``tonic_bars`` are put together from.
PIECES = ("tonic_form", "tonic_pieces", "bars_form", "bars_pieces")
#: Between the pieces of a string, where no string has it.
PIECES_APART = "|"
_BETWEEN = PIECES_APART + SECTION_STARTS
_WITHOUT_MARKS = str.maketrans("", "", f"{SECTION_STARTS}{SECTION_ENDS}{KEY_CHANGES}")

#: The sign of a bar in which no event begins; each event more is the next code point.
NONE_BEGIN = ord("0")


class KeySegment(NamedTuple):
    """A key that a tune passes through: its first and last event, and the first and last played bar of it."""

    key: str
    first: int
    last: int
    from_bar: int
    to_bar: int


#: The name and the value of a header.
Header = tuple[str, str]

#: A section as written: its label, its first and its last bar.
WrittenSection = tuple[str | None, int, int]


def names_in_short(names: str, codes: str) -> str:
    """The column ``names`` of a chart: ``event_names`` gives the same names again.

    Args:
        names: The chord of each event as written, a space between them.
        codes: All its events as code points, counted from one tonic, marks among them or not.
    """
    signs, each = codes.translate(_WITHOUT_MARKS), names.split(" ")
    of_sign = dict(zip(signs, each, strict=False))
    return " ".join(of_sign.values()) if [of_sign[sign] for sign in signs] == each else names


def in_pieces(text: str) -> tuple[str, str | None]:
    """A string of the index in pieces, each kept once, and their order (``schema.sql`` puts them together).

    A piece begins where a section starts. The order is None where none comes twice; the string is then in one piece.
    """
    before, *pieces = text.split(SECTION_STARTS)
    different = dict.fromkeys(pieces)
    if len(different) == len(pieces):
        return text, None
    numbers = dict(zip(different, count(1 if before else 0), strict=False))
    order = tuple(map(numbers.__getitem__, pieces))
    short = _BETWEEN.join(different)
    if before:
        return f"{before}{_BETWEEN}{short}", form_of((0, *order))
    return f"{SECTION_STARTS}{short}", form_of(order)


@lru_cache(maxsize=4096)
def form_of(order: tuple[int, ...]) -> str:
    """The order of pieces, given by their numbers from 0, as the index has it."""
    return " ".join([str(number + 1) for number in order])


def strings_in_pieces(chords: str, bars: str) -> tuple[str | None, str, str | None, str]:
    """The columns ``PIECES`` of a chart.

    Args:
        chords: Its column ``tonic``.
        bars: Its column ``tonic_bars``.
    """
    return pieces_in_short(in_pieces(chords), in_pieces(bars))


def pieces_in_short(
    chords: tuple[str, str | None], bars: tuple[str, str | None]
) -> tuple[str | None, str, str | None, str]:
    """The columns ``PIECES`` of a chart, by what ``in_pieces`` makes of its chords and of its bars."""
    (pieces, form), (bars_pieces, bars_form) = chords, bars
    if form is not None and bars_form is None:
        # Without an order of its own it would have that of the chords.
        bars_form = "1"
    return form, pieces, None if bars_form == form else bars_form, bars_pieces


def first_headers(headers: Sequence[Header]) -> dict[str, str]:
    """Headers by their names; of those of one name the first, which is the one that counts."""
    return dict(reversed(headers))


def headers_in_short(
    headers: Sequence[Sequence[Header]],
    firsts: Sequence[Mapping[str, str]],
    texts: Sequence[Sequence[str | None]],
) -> tuple[list[int], list[list[Header]]]:
    """The column ``told``, and of each chart the headers that are not told: the view ``headers`` has all of them again.

    Args:
        headers: The headers of each chart, as written.
        firsts: The same as ``first_headers`` gives them.
        texts: For each of ``TOLD_HEADERS`` what columns tell of each chart, None where they tell nothing.
    """
    told = [0] * len(headers)
    for (name, bit), column in zip(_BITS, texts, strict=True):
        if column.count(None) == len(column):
            continue
        written = [its.get(name) for its in firsts]
        told = [
            bits + bit if text == value and text is not None else bits
            for bits, text, value in zip(told, column, written, strict=True)
        ]
    rest = [
        [header for header in its if header[0] not in _told_by(bits)] if len(its) == len(first) else _rest(its, bits)
        for its, first, bits in zip(headers, firsts, told, strict=True)
    ]
    return told, rest


@cache
def _told_by(bits: int) -> frozenset[str]:
    """The names of the headers that are told."""
    return frozenset(name for name, bit in _BITS if bits & bit)


def _rest(headers: Sequence[Header], told: int) -> list[Header]:
    """The headers that are not told, where several have one name."""
    names = set(_told_by(told))
    rest = []
    for header in headers:
        if header[0] in names:
            names.remove(header[0])
        else:
            rest.append(header)
    return rest


def event_names(names: str, codes: str) -> list[str]:
    """The chord of each event as written.

    Args:
        names: The column ``names`` of a chart.
        codes: All its events as code points, counted from one tonic, marks among them or not.
    """
    signs = codes.translate(_WITHOUT_MARKS)
    each = names.split(" ")
    if len(each) == len(signs):
        return each
    of_sign = dict(zip(dict.fromkeys(signs), each, strict=True))
    return [of_sign[sign] for sign in signs]


def events_begun(begun: str) -> list[int]:
    """For each played bar how many events begin in it, of the column ``begun``."""
    return [ord(sign) - NONE_BEGIN for sign in begun]


def event_bars(begun: str) -> list[int]:
    """For each event the played bar in which it begins, of the column ``begun``."""
    return [bar for bar, events in enumerate(events_begun(begun)) for _ in range(events)]


def runs_in_short(runs: Iterable[tuple[int, int]]) -> str:
    """The column ``written`` of a chart: the first and last bars of the written bars that are played in a row."""
    return " ".join(map(_run_in_short, runs))


@lru_cache(maxsize=4096)
def _run_in_short(run: tuple[int, int]) -> str:
    first, last = run
    return f"{first}-{last}"


def played_bars(written: str) -> list[int]:
    """For each played bar its number as written, of the column ``written``."""
    return [bar for run in written.split() for bar in _span(run)]


def sections_in_short(sections: Iterable[WrittenSection]) -> str:
    """The column ``sections`` of a chart."""
    return "\n".join(
        [f"{first}-{last}" if label is None else f"{first}-{last} {label}" for label, first, last in sections]
    )


def sections_of(short: str) -> list[WrittenSection]:
    """The sections of the column of that name."""
    sections: list[WrittenSection] = []
    for line in filter(None, short.split("\n")):
        bars, labelled, label = line.partition(" ")
        run = _span(bars)
        sections.append((label if labelled else None, run.start, run.stop - 1))
    return sections


def segments_in_short(segments: Sequence[KeySegment], home: str, events: int, played: int) -> str | None:
    """The column ``segments`` of a chart: None where it has one, of all that is played, in the home key.

    Args:
        segments: Its segments.
        home: The home key.
        events: How many events it has.
        played: How many bars of it are played.
    """
    if len(segments) == 1 and segments[0] == (home, 0, events - 1, 0, played - 1):
        return None
    return "\n".join([f"{first}-{last} {begin}-{end} {key}" for key, first, last, begin, end in segments])


def segments_of(short: str | None, home: str, begun: str) -> list[KeySegment]:
    """The keys that a tune passes through.

    Args:
        short: Its column ``segments``.
        home: Its column ``key``.
        begun: Its column ``begun``.
    """
    if short is None:
        return [KeySegment(home, 0, sum(events_begun(begun)) - 1, 0, len(begun) - 1)]
    segments = []
    for line in filter(None, short.split("\n")):
        events, bars, key = line.split(" ", 2)
        (first, last), (begin, end) = (map(int, each.split("-")) for each in (events, bars))
        segments.append(KeySegment(key, first, last, begin, end))
    return segments


def _span(run: str) -> range:
    first, last = run.split("-")
    return range(int(first), int(last) + 1)
