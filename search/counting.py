"""Counts many progressions over a library together, in a few passes over its strings.

What single searches do one after the other is done at once for a dozen questions: the tunes that may match are looked
up together, and their strings are read once. Of the expressions that have to be asked of all tunes, those that match
few of a sample are first asked as one, and each by itself of the tunes that this leaves.

Conventions: totals are those of ``search.finding.totals``; sections and near versions are not counted here.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any, NamedTuple

import duckdb

from corpus.reading import OpenIndex, Snapshot
from search.filters import Filters
from search.finding import Totals, commonest, recount, totals
from search.matching import SHARED, SMALL, Lookup, Matcher, candidates
from search.questions import Question

#: Questions counted at once.
_TOGETHER = 30
#: So many tunes are a sample; what this share of them or less matches is asked together.
_SAMPLE, _FEW = 2000, 0.08


class _View(NamedTuple):
    """One view of one question: its column of strings in SQL, its expression, the tunes that may match (None: all)."""

    question: int
    column: str
    text: str
    lookup: Lookup | None


def totals_together(index: OpenIndex, questions: Sequence[Question]) -> list[Totals]:
    """The totals of several questions, in the order given.

    Raises:
        ReadingError: If a filter cannot be read or a pattern is too large for the engine.
    """
    snapshot = index.snapshot()
    found: dict[int, Totals] = {}
    ordered = sorted(range(len(questions)), key=lambda number: repr(questions[number].filters))
    for filters, group in groupby(ordered, key=lambda number: questions[number].filters):
        alike = list(group)
        for begin in range(0, len(alike), _TOGETHER):
            some = alike[begin : begin + _TOGETHER]
            asked = [questions[number] for number in some]
            try:
                counted = _counted(index, snapshot, asked, filters)
            except duckdb.InvalidInputException:
                # One of them is too large for the engine: asked by itself, it says so.
                counted = [totals(index, question) for question in asked]
            found.update(zip(some, counted, strict=True))
    return [found[number] for number in range(len(questions))]


def _counted(index: OpenIndex, snapshot: Snapshot, questions: Sequence[Question], filters: Filters) -> list[Totals]:
    """The totals of questions under the same filters."""
    conditions = list(filters.conditions())
    where = "".join(f" AND {condition.sql}" for condition in conditions)
    filtered = [value for condition in conditions for value in condition.parameters]
    matchers = [Matcher(snapshot, question, question.pattern) for question in questions]
    views = [
        _View(number, view.column, text, lookup)
        for number, matcher in enumerate(matchers)
        for view, text, lookup in zip(matcher.views, matcher.texts, matcher.lookups(), strict=True)
    ]
    whole = _looked_up(snapshot, views, where, filtered)
    _matched(snapshot, views, whole, where, filtered)
    doubtful = [number for number, matcher in enumerate(matchers) if matcher.doubtful]
    several = snapshot.rows(
        "SELECT question, id, found FROM matched JOIN charts USING (id) "
        f"WHERE (several AND question IN ({', '.join(map(str, doubtful)) or 'NULL'})) OR ({SHARED})"
    )
    sql = (
        "SELECT question, key, count(*), sum(found)::BIGINT FROM matched JOIN charts USING (id) GROUP BY question, key"
    )
    rows = snapshot.rows(sql)
    made = []
    for number, question in enumerate(questions):
        own = [row[1:] for row in rows if row[0] == number]
        looked_at = {chart: times for asked, chart, times in several if asked == number}
        matches = sum(times for *_, times in own) + recount(index, question, looked_at)
        made.append(Totals(sum(charts for _, charts, _ in own), matches, commonest(row[:2] for row in own)))
    return made


def _looked_up(snapshot: Snapshot, views: Sequence[_View], where: str, filtered: Sequence[Any]) -> list[int]:
    """Makes the temporary table ``candidates``: which ``chart`` each ``view`` may match, and ``times`` where told.

    Returns:
        The views that are not in it and have to be asked of all charts.
    """
    known = {number: view.lookup for number, view in enumerate(views) if view.lookup is not None}
    empty = "SELECT 0 AS view, 0 AS chart, 0 AS times WHERE FALSE"
    snapshot.rows(f"CREATE OR REPLACE TEMP TABLE candidates AS {candidates(known) if known else empty}")
    rest = [number for number, view in enumerate(views) if view.lookup is None]
    ((charts,),) = snapshot.rows("SELECT count(*) FROM charts")
    if not rest or charts < SMALL:
        return rest
    counts = ", ".join(f"count(*) FILTER (regexp_matches({views[number].column}, ?))" for number in rest)
    sample = f"SELECT {counts} FROM (FROM charts LIMIT {_SAMPLE})"
    (matching,) = snapshot.rows(sample, [views[number].text for number in rest])
    few = [number for number, times in zip(rest, matching, strict=True) if times <= _FEW * _SAMPLE]
    for column in dict.fromkeys(views[number].column for number in few):
        together = [number for number in few if views[number].column == column]
        text = "|".join(f"(?:{views[number].text})" for number in together)
        snapshot.rows(
            f"INSERT INTO candidates SELECT unnest({together}), id, 0 FROM charts "
            f"WHERE {column} IS NOT NULL AND regexp_matches({column}, ?){where}",
            [text, *filtered],
        )
    return [number for number in rest if number not in few]


def _matched(
    snapshot: Snapshot, views: Sequence[_View], whole: Sequence[int], where: str, filtered: Sequence[Any]
) -> None:
    """Makes the temporary table ``matched``: how often (``found``) each ``question`` matches in a tune (``id``)."""
    cases, texts = [], []
    for number, view in enumerate(views):
        if view.lookup is not None and view.lookup.told:
            cases.append(f"WHEN {number} THEN times")
        elif number not in whole:
            cases.append(f"WHEN {number} THEN len(regexp_extract_all({view.column}, ?))")
            texts.append(view.text)
    branches = ["SELECT 0 AS view, 0 AS id, 0 AS found WHERE FALSE"]
    values: list[Any] = []
    if cases:
        case = f"CASE view {' '.join(cases)} END"
        branches.append(f"SELECT view, id, {case} AS found FROM candidates JOIN charts ON id = chart WHERE TRUE{where}")
        values += [*texts, *filtered]
    for number in whole:
        column = views[number].column
        counted = f"SELECT {number} AS view, id, len(regexp_extract_all({column}, ?)) AS found"
        branches.append(f"{counted} FROM charts WHERE {column} IS NOT NULL{where}")
        values += [views[number].text, *filtered]
    questions = [view.question for view in views]
    # Materialized, so that the condition on what was counted does not count everything a second time.
    snapshot.rows(
        f"""
        CREATE OR REPLACE TEMP TABLE matched AS
        WITH every AS MATERIALIZED ({" UNION ALL ".join(branches)})
        SELECT {questions}[view + 1] AS question, id, sum(found)::INTEGER AS found, count(*) > 1 AS several
        FROM every WHERE found > 0 GROUP BY ALL
        """,
        values,
    )
