"""What the index keeps of a chart's chords and places in short, and written out again.

Conventions: events and played bars count from 0, written bars from 1 (see ``schema.sql``). A name of a chord belongs to
the code points that it is counted as (see ``corpus.codes``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from corpus.codes import KEY_CHANGES, SECTION_ENDS, SECTION_STARTS

#: Headers that columns of ``charts`` may tell word for word, in the order of the bits of ``told``, the lowest first.
TOLD_HEADERS = ("title", "key", "time", "tempo", "style", "level", "year", "tags")

_BITS = [(name, 1 << bit) for bit, name in enumerate(TOLD_HEADERS)]

#: The columns that ``tonic`` and ``tonic_bars`` are put together from.
PIECES = ("tonic_form", "tonic_pieces", "bars_form", "bars_pieces")
#: Between the pieces of a string, where no string has it.
_PIECES_APART = "|"
_WITHOUT_MARKS = str.maketrans("", "", f"{SECTION_STARTS}{SECTION_ENDS}{KEY_CHANGES}")


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
    pieces = text.replace(SECTION_STARTS, _PIECES_APART + SECTION_STARTS).lstrip(_PIECES_APART).split(_PIECES_APART)
    different = dict.fromkeys(pieces)
    if len(different) == len(pieces):
        return text, None
    numbers = {piece: str(number) for number, piece in enumerate(different, 1)}
    return _PIECES_APART.join(different), " ".join([numbers[piece] for piece in pieces])


def strings_in_pieces(chords: str, bars: str) -> tuple[str | None, str, str | None, str]:
    """The columns ``PIECES`` of a chart.

    Args:
        chords: Its column ``tonic``.
        bars: Its column ``tonic_bars``.
    """
    pieces, form = in_pieces(chords)
    bars_pieces, bars_form = in_pieces(bars)
    if form is not None and bars_form is None:
        # Without an order of its own it would have that of the chords.
        bars_form = "1"
    return form, pieces, None if bars_form == form else bars_form, bars_pieces


def headers_in_short(
    headers: Sequence[tuple[str, str]], texts: Sequence[str | None]
) -> tuple[int, list[tuple[str, str]]]:
    """The column ``told`` of a chart, and its headers without those that are told: the view ``headers`` has them again.

    Args:
        headers: Names and values, as written; of headers of one name the first is the one that a column may tell.
        texts: For each of ``TOLD_HEADERS`` what the chart's columns tell, None where they tell nothing.
    """
    first = dict(reversed(headers))
    told = {
        name: bit
        for (name, bit), text in zip(_BITS, texts, strict=True)
        if text is not None and first.get(name) == text
    }
    return sum(told.values()), [header for header in headers if told.pop(header[0], None) is None]


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


def event_bars(begun: Sequence[int]) -> list[int]:
    """For each event the played bar in which it begins, of the column ``begun``."""
    return [bar for bar, events in enumerate(begun) for _ in range(events)]


def played_bars(written: Sequence[Mapping[str, Any]]) -> list[int]:
    """For each played bar its number as written, of the column ``written``."""
    return [bar for run in written for bar in range(run["first_bar"], run["last_bar"] + 1)]
