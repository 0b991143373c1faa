"""Counts many progressions over a library, the rare ones together.

Most progressions are looked up by their short sequences (``search.narrowing``). Those that this does not narrow much,
such as lines of the bass and cadences where a section ends, have to be asked of most tunes. Where a sample shows that
few tunes match them, one pass over the strings asks whether any of them matches, and each is counted in the tunes that
this leaves; the very rare ones in a pass of their own, which leaves fewer still.

Conventions: totals are those of ``search.finding.totals``.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

import duckdb

from corpus.reading import OpenIndex, Snapshot
from search.filters import Condition, Filters
from search.finding import Totals, totals
from search.matching import SMALL, Matcher
from search.questions import Question

#: So many tunes are a sample; what these shares of them or less match is asked together.
_SAMPLE, _SHARES = 2000, (0.025, 0.08)
#: It is worth it for what has to be asked of more than this share of all tunes.
_MANY = 0.1


def totals_together(index: OpenIndex, questions: Sequence[Question]) -> list[Totals]:
    """The totals of several questions, in the order given.

    Raises:
        ReadingError: If a filter cannot be read or a pattern is too large for the engine.
    """
    snapshot = index.snapshot()
    ((charts,),) = snapshot.rows("SELECT count(*) FROM charts")
    among: dict[int, Condition] = {}
    if charts >= SMALL:
        # A pattern that is too large for the engine says so when it is asked by itself.
        with suppress(duckdb.InvalidInputException):
            among = _rare(snapshot, questions, _MANY * charts)
    known = ([among[number]] if number in among else [] for number in range(len(questions)))
    return [totals(snapshot, question, each) for question, each in zip(questions, known, strict=True)]


def _rare(snapshot: Snapshot, questions: Sequence[Question], many: float) -> dict[int, Condition]:
    """For the questions that few tunes match but many have to be asked: among which tunes these are."""
    asked: dict[int, Matcher] = {}
    for number, question in enumerate(questions):
        if replace(question.filters, mode=None) == Filters():
            matcher = Matcher(snapshot, question, question.pattern)
            if any(lookup is None or lookup.tunes > many for lookup in matcher.lookups()):
                asked[number] = matcher
    if not asked:
        return {}
    counts = ", ".join(
        f"count(*) FILTER ({' OR '.join(f'regexp_matches({view.column}, ?)' for view in matcher.views)})"
        for matcher in asked.values()
    )
    texts = [text for matcher in asked.values() for text in matcher.texts]
    (matching,) = snapshot.rows(f"SELECT {counts} FROM (FROM charts LIMIT {_SAMPLE})", texts)
    among: dict[int, Condition] = {}
    least = -1.0
    for group, share in enumerate(_SHARES):
        most = share * _SAMPLE
        few = [number for number, times in zip(asked, matching, strict=True) if least < times <= most]
        least = most
        if few:
            _any_of(snapshot, f"any_of{group}", [asked[number] for number in few])
            among.update(dict.fromkeys(few, Condition(f"id IN (SELECT id FROM any_of{group})", (), "")))
    return among


def _any_of(snapshot: Snapshot, name: str, matchers: Sequence[Matcher]) -> None:
    """Makes a temporary table of the tunes that any of the patterns matches."""
    columns: dict[str, list[str]] = {}
    for matcher in matchers:
        for view, text in zip(matcher.views, matcher.texts, strict=True):
            columns.setdefault(view.column, []).append(f"(?:{text})")
    where = " OR ".join(f"regexp_matches({column}, ?)" for column in columns)
    sql = f"CREATE OR REPLACE TEMP TABLE {name} AS SELECT id FROM charts WHERE {where}"
    snapshot.rows(sql, ["|".join(each) for each in columns.values()])
