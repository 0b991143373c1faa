"""The words that a library uses for styles, tags and sections: they tell a slip from a filter that fits nothing."""

from __future__ import annotations

from collections.abc import Iterable

from corpus.reading import OpenIndex
from search.filters import Filters
from shared.errors import nearest

_MOST = 8


def styles(index: OpenIndex) -> list[str]:
    """Every style, the commonest first."""
    return _column(
        index, "SELECT style FROM charts WHERE style IS NOT NULL GROUP BY style ORDER BY count(*) DESC, style"
    )


def tags(index: OpenIndex) -> list[str]:
    """Every tag, the commonest first."""
    sql = "SELECT tag FROM (SELECT unnest(tags) AS tag FROM charts) GROUP BY tag ORDER BY count(*) DESC, tag"
    return _column(index, sql)


def labels(index: OpenIndex) -> list[str]:
    """Every section label, the commonest first."""
    sql = "SELECT label FROM sections WHERE label IS NOT NULL GROUP BY label ORDER BY count(*) DESC, label"
    return _column(index, sql)


def _column(index: OpenIndex, sql: str) -> list[str]:
    return [value for (value,) in index.rows(sql)]


def unknown_words(index: OpenIndex, style: str | None, asked: Iterable[str], section: str | None) -> list[str]:
    """A sentence for every style, tag or section asked for that no chart has, with the nearest that some have."""
    sentences = []
    wanted = [("style", style, styles), ("section", section, labels), *(("tag", tag, tags) for tag in asked)]
    for kind, word, known_of in wanted:
        if word is None:
            continue
        known = known_of(index)
        fits = (each.casefold() == word.casefold() for each in known)
        if kind != "tag":
            fits = (word.casefold() in each.casefold() for each in known)
        if not any(fits):
            offered = nearest(word, known) or known[:_MOST]
            sentences.append(f"No chart has the {kind} “{word}”; {_offer(offered)}.")
    return sentences


def nothing_fits(index: OpenIndex, filters: Filters) -> list[str]:
    """Why a library answers nothing, in sentences: it has no tunes, none fits, or no chart has a word asked for.

    Raises:
        ReadingError: If a filter cannot be read.
    """
    conditions = list(filters.conditions())
    where = " AND ".join(["TRUE", *(condition.sql for condition in conditions)])
    values = [value for condition in conditions for value in condition.parameters]
    ((every, fitting),) = index.rows(f"SELECT count(*), count(*) FILTER ({where}) FROM charts", values)
    if not every:
        return ["The library has no tunes."]
    unknown = unknown_words(index, filters.style, filters.tags, filters.section)
    return unknown if fitting else ["No tune fits.", *unknown]


def _offer(words: Iterable[str]) -> str:
    listed = ", ".join(words)
    return f"there are: {listed}" if listed else "the library has none"
