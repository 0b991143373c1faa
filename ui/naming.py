"""A progression asked for by its name where a pattern is expected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from shared.errors import Fault, ReadingError

if TYPE_CHECKING:
    from corpus.catalogue import Progression
    from corpus.library import Library
    from corpus.reading import OpenIndex
    from search.asking import Asked
    from shared.match import Answer


def entry_named(text: str, library: Library) -> Progression | None:
    """The progression that a text names, where it is no pattern; None where it is one.

    Raises:
        ReadingError: If it is neither; the nearest name is offered beside what is wrong with it as a pattern.
    """
    from grammar.patterns import read_pattern

    try:
        read_pattern(text)
    except ReadingError as error:
        from corpus.catalogue import catalogue, folded

        known = catalogue(library)
        entry = known.named(text)
        # Some names are the chords themselves: “5 4 1 (” is meant as a pattern.
        if entry is not None and not _readable(folded(text)):
            return entry
        raise ReadingError(_offering(error, known.nearest(text, 1))) from None
    return None


def _readable(text: str) -> bool:
    """Whether a text is a pattern."""
    from grammar.patterns import read_pattern

    try:
        read_pattern(text)
    except ReadingError:
        return False
    return True


def _offering(error: ReadingError, names: Sequence[str]) -> list[Fault]:
    """The faults, the first one with the nearest name of a progression."""
    first, *others = error.faults
    if not names:
        return [first, *others]
    nearest = " or ".join(each for each in (first.nearest, f"the name “{names[0]}”") if each)
    return [replace(first, nearest=nearest), *others]


def asked_by_name(entry: Progression, options: dict[str, Any]) -> Asked:
    """The question that a named progression makes with the options of ``find``; its strength and count are its own."""
    from search.progressions import question_of
    from ui.filter_options import filters_of

    more = {"anywhere": options["anywhere"], "rotate": options["rotate"]}
    filters = filters_of(options, None, entry.strength)
    return question_of(entry, filters, options["limit"], options["sort"], **more)


def answered_by_name(opened: OpenIndex, entry: Progression, asked: Asked) -> Answer:
    """The answer to such a question."""
    from search.progressions import answer_named

    return answer_named(opened, entry, asked)
