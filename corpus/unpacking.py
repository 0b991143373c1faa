"""What the index keeps of a chart's chords and places in short, and written out again.

Conventions: events and played bars count from 0, written bars from 1 (see ``schema.sql``). A name of a chord belongs to
the code points that it is counted as (see ``corpus.codes``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from corpus.codes import KEY_CHANGES, SECTION_ENDS, SECTION_STARTS

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
