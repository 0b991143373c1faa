"""Finds the tunes that hold a progression: how many, how often, and for those shown, where.

Every way of counting a chart is a view of the index: a column of strings, the semitones by which the pattern is raised
to be asked of it, and what its numbers are counted from. DuckDB counts the matches of every chart in each view; where
they stand is worked out only for the tunes that are shown, and wherever two views may have found the same place or a
section is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import duckdb

from corpus.reading import OpenIndex
from grammar.keys import read_key
from search.expressions import expression, rotations
from search.places import FoundChart, SoundingSegment, Span, bar_spans, chord_spans, places, unlike
from search.questions import Question
from shared.errors import ChoiceError, Fault, ReadingError, nearest
from shared.key import Key
from shared.match import Answer, Count, Hit, Reach
from shared.pattern import Anchor, BarOf, Item, Pattern
from shared.pitch import CHROMATIC, Pitch

#: Semitones from the tonic of a relative major up to its 6, on which the relative minor stands.
_SIXTH = 9

_ORDERS = {
    "best": "share DESC, found DESC, title, path",
    "title": "lower(title), path",
    "level": "level NULLS LAST, lower(title), path",
    "tempo": "tempo NULLS LAST, lower(title), path",
    "most": "found DESC, lower(title), path",
}
SORTS = tuple(_ORDERS)


@dataclass(frozen=True, slots=True)
class _View:
    """One way of counting every chart.

    Attributes:
        column: The column of strings, in SQL; null where the view says nothing of a chart.
        shift: Semitones by which the pattern is raised.
        count: The count that matches in it are told under.
        centre: For a tonal centre, its semitones above the home tonic; None where keys are followed.
        minor: Whether segments with a minor third are in it.
        major: Whether segments with a major third are in it.
    """

    column: str
    shift: int
    count: Count
    centre: int | None = None
    minor: bool = True
    major: bool = True

    def tonic(self, home: Key, key: Key) -> Pitch | None:
        """What a segment in ``key`` is counted from, None where the view leaves it out."""
        if self.centre is not None:
            return home.tonic.up(CHROMATIC[self.centre])
        if not (self.minor if key.minor_third else self.major):
            return None
        return key.relative_major.tonic if self.count is Count.RELATIVE and key.minor_third else key.tonic


def find(index: OpenIndex, question: Question) -> Answer:
    """Finds the tunes that hold a progression.

    Raises:
        ReadingError: If a filter cannot be read or the pattern is too large for the engine.
        ChoiceError: If the order asked for is none.
        ValueError: If the pattern still holds chord names (see ``search.asking``).
    """
    if question.pattern.named:
        raise ValueError("a pattern of chord names must be counted first")
    if question.sort not in _ORDERS:
        raise ChoiceError(f"there is no order “{question.sort}”", nearest(question.sort, SORTS) or SORTS)
    return _Search(index, question).answer()


def _views(question: Question) -> list[_View]:
    """The views that a question is asked of, the tonic's first."""
    bars = "_bars" if question.pattern.bars else ""
    rootless = not any(one.root or one.bass for item in question.pattern.items() for one in item.alternatives)
    if question.reach is Reach.ANYWHERE:
        column = f"coalesce(fixed{bars}, tonic{bars})"
        centres = range(1) if rootless else range(12)
        return [_View(column, centre, Count.TONIC, centre) for centre in centres]
    views = [_View(f"tonic{bars}", 0, Count.TONIC)]
    views.append(_View(f"relative{bars}", 0, Count.RELATIVE, major=False))
    if question.pattern.minor_one:
        column = f"CASE WHEN relative IS NULL THEN tonic{bars} ELSE major{bars} END"
        views.append(_View(column, _SIXTH, Count.RELATIVE, minor=False))
    if question.count is not None:
        return [view for view in views if view.count is question.count]
    return views[:1] if rootless else views


def _one_place(pattern: Pattern) -> bool:
    """Whether the first chord of a match tells what it was counted from, so that no two views can find one place."""
    first = next((part for part in pattern.parts if not isinstance(part, Anchor)), None)
    item = first.body[0] if isinstance(first, BarOf) else first
    if not isinstance(item, Item):
        return False
    bare = {one.bass for one in item.alternatives if one.bare_bass}
    roots = {one.root for one in item.alternatives if not one.bare_bass}
    return None not in roots and len(bare) + len(roots) == 1


class _Search:
    def __init__(self, index: OpenIndex, question: Question) -> None:
        self.index = index.snapshot()
        self.question = question
        self.views = _views(question)
        patterns = rotations(question.pattern) if question.rotate else [question.pattern]
        self.doubtful = not all(map(_one_place, patterns))
        self.texts = [
            "|".join(expression(pattern, question.strength, view.shift) for pattern in patterns) for view in self.views
        ]

    def answer(self) -> Answer:
        """The totals, and the tunes shown with their places."""
        if self.question.filters.section is not None:
            return self._by_section()
        shown, charts, matches = self._counted(self.question.limit)
        if self.doubtful:
            # Several views of one chart, or two keys that share a chord, may have hit the same place: there every place
            # is looked at.
            rows, _, _ = self._counted(0)
            several = [row for row in rows if row[2]]
            spans = self._spans([row[0] for row in several])
            matches += sum(len(found) for views in spans.values() for found in views.values())
            matches -= sum(row[1] for row in several)
        ids = [row[0] for row in shown]
        return Answer(self.question.sentence, charts, matches, tuple(self._hits(ids, self._spans(ids))))

    def _by_section(self) -> Answer:
        """The same where only places in certain sections count: every place has to be looked at."""
        label = (self.question.filters.section or "").casefold().strip()
        charts = [row[0] for row in self._counted(0)[0]]
        found = {}
        every = self.facts(charts) if charts else {}
        for chart, views in self._spans(charts).items():
            facts = every[chart]
            kept = {
                view: within
                for view, spans in views.items()
                if (within := [s for s in spans if _in_section(facts.label(facts.played_bars[s.from_bar]), label)])
            }
            if kept:
                found[chart] = kept
        shown = [chart for chart in charts if chart in found]
        matches = sum(len(spans) for views in found.values() for spans in views.values())
        limited = shown[: self.question.limit] if self.question.limit else shown
        return Answer(self.question.sentence, len(shown), matches, tuple(self._hits(limited, found)))

    def _counted(self, limit: int) -> tuple[list[tuple[int, int, bool]], int, int]:
        """The charts with a match in the order asked for, at most ``limit`` (0 for all), and the totals.

        Returns:
            For each chart its number, its matches, and whether some may be the same place; how many charts, how many
            matches.
        """
        conditions = list(self.question.filters.conditions())
        hit = " OR ".join(f"regexp_matches({view.column}, ?)" for view in self.views)
        where = "".join(f" AND {condition.sql}" for condition in conditions)
        lists = [f"regexp_extract_all({view.column}, ?) AS m{each}" for each, view in enumerate(self.views)]
        names = [f"m{each}" for each in range(len(self.views))]
        counts = ", ".join(f"coalesce(len({name}), 0)" for name in names)
        taken = " + ".join(f"coalesce(length(array_to_string({name}, '')), 0)" for name in names)
        whole = "length(tonic_bars)" if self.question.pattern.bars else "length(tonic)"
        sql = f"""
            WITH matched AS (
                SELECT id, path, title, level, tempo, len(segments) AS keys, {whole} AS whole, {", ".join(lists)}
                FROM charts WHERE ({hit}){where}
            ), hits AS MATERIALIZED (
                SELECT id, path, title, level, tempo, keys, [{counts}] AS counts, ({taken}) / whole AS share,
                    list_sum([{counts}])::INTEGER AS found
                FROM matched
            )
            SELECT id, found, keys > 1 OR len(list_filter(counts, lambda n: n > 0)) > 1,
                (SELECT count(*) FROM hits), (SELECT sum(found)::BIGINT FROM hits)
            FROM hits ORDER BY {_ORDERS[self.question.sort]} {f"LIMIT {limit}" if limit else ""}
        """
        values = [value for condition in conditions for value in condition.parameters]
        rows = self._rows(sql, [*self.texts, *self.texts, *values])
        return [(row[0], row[1], row[2]) for row in rows], rows[0][3] if rows else 0, rows[0][4] if rows else 0

    def _rows(self, sql: str, parameters: Sequence[Any]) -> list[tuple[Any, ...]]:
        try:
            return self.index.rows(sql, list(parameters))
        except duckdb.InvalidInputException as error:
            if "too large" not in str(error):
                raise
            text = self.question.pattern.text
            message = "this pattern is too large to be searched"
            raise ReadingError(
                [Fault(message, 1, 1, len(text), text, "fewer items, or fewer groups and gaps")]
            ) from None

    def _spans(self, charts: Sequence[int]) -> dict[int, dict[Count, list[Span]]]:
        """The matches of charts as played, by count; a place found twice is told once, under the first view."""
        if not charts:
            return {}
        marked = ", ".join(f"regexp_replace({view.column}, ?, '{{\\0}}', 'g')" for view in self.views)
        sql = f"SELECT id, key, segments, event_bars, {marked} FROM charts WHERE list_contains(?, id)"
        spans_in = bar_spans if self.question.pattern.bars else chord_spans
        found: dict[int, dict[Count, list[Span]]] = {}
        for chart, key, segments, event_bars, *texts in self._rows(sql, [*self.texts, list(charts)]):
            home = read_key(key)
            told: list[tuple[Count, Span]] = []
            seen: list[Span] = []
            for view, text in zip(self.views, texts, strict=True):
                if text is None:
                    continue
                sounding = _sounding(view, home, segments, len(event_bars))
                fresh = unlike([*seen, *spans_in(text, sounding, event_bars)])[len(seen) :]
                seen += fresh
                told += [(view.count, span) for span in fresh]
            found[chart] = {
                count: sorted(spans, key=lambda span: span.begin)
                for count in Count
                if (spans := [span for each, span in told if each is count])
            }
        return {chart: found[chart] for chart in charts}

    def facts(self, charts: Sequence[int]) -> dict[int, FoundChart]:
        """What the index knows about the places of charts."""
        sections: dict[int, list[tuple[str | None, int, int]]] = {}
        sql = "SELECT chart, label, first_bar, last_bar FROM sections WHERE list_contains(?, chart) ORDER BY position"
        for chart, label, first, last in self.index.rows(sql, [list(charts)]):
            sections.setdefault(chart, []).append((label, first, last))
        sql = "SELECT id, title, path, key, chords, event_bars, played_bars FROM charts WHERE list_contains(?, id)"
        return {
            chart: FoundChart(title, path, read_key(key), chords.split(" "), event_bars, played, sections[chart])
            for chart, title, path, key, chords, event_bars, played in self.index.rows(sql, [list(charts)])
        }

    def _hits(self, charts: Sequence[int], spans: dict[int, dict[Count, list[Span]]]) -> list[Hit]:
        if not charts:
            return []
        facts = self.facts(charts)
        respelled = self.question.reach is Reach.ANYWHERE
        return [
            Hit(one.title, one.path, one.key, count, places(found, one, respelled))
            for chart in charts
            for one in (facts[chart],)
            for count, found in spans[chart].items()
        ]


def _sounding(view: _View, home: Key, segments: Sequence[dict[str, Any]], events: int) -> list[SoundingSegment]:
    """The segments of a chart as a view counts them; about a fixed centre the tune is one segment."""
    if view.centre is not None:
        # Where the key never changes the string is that of the one segment: counted from its key, begun with its bars.
        first_bar = 0
        if len(segments) == 1:
            home, first_bar = read_key(segments[0]["key"]), segments[0]["from_bar"]
        return [SoundingSegment(view.tonic(home, home), 0, events - 1, first_bar, segments[-1]["to_bar"])]
    return [
        SoundingSegment(
            view.tonic(home, read_key(segment["key"])),
            segment["first"],
            segment["last"],
            segment["from_bar"],
            segment["to_bar"],
        )
        for segment in segments
    ]


def _in_section(label: str | None, asked: str) -> bool:
    """Whether a section is meant by a label: its own, or how it begins, up to a space or a number."""
    if label is None:
        return False
    own = label.casefold()
    return own == asked or (own.startswith(asked) and not own[len(asked)].isalpha())
