"""Finds the tunes that hold a progression: how many, how often, and for those shown, where.

A question is asked of views of the index (``search.views``). Totals are counted over all tunes (``search.matching``);
where matches stand is worked out only for the tunes that are shown, and wherever two views may have found the same
place or a section is asked for. Totals are exact in every case.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import zip_longest

from corpus.reading import OpenIndex
from grammar.keys import read_key
from search.differences import Differences, NoSuchVersion, differences
from search.filters import Condition
from search.matching import SHARED, MarkedChart, Matcher
from search.ordering import SORTS, Ranked, ranked
from search.places import (
    FoundChart,
    Span,
    bar_spans,
    chord_spans,
    counted,
    places,
)
from search.questions import Question
from search.views import View
from shared.errors import ChoiceError, nearest
from shared.match import Answer, Count, Hit, Reach
from shared.pattern import Strength


def find(index: OpenIndex, question: Question) -> Answer:
    """Finds the tunes that hold a progression.

    Raises:
        ReadingError: If a filter cannot be read or the pattern is too large for the engine.
        ChoiceError: If the order asked for is none.
        ValueError: If the pattern still holds chord names (see ``search.asking``).
    """
    if question.pattern.named:
        raise ValueError("a pattern of chord names must be counted first")
    if question.sort not in SORTS:
        raise ChoiceError(f"there is no order “{question.sort}”", nearest(question.sort, SORTS) or SORTS)
    return _Search(index, question).answer()


#: A match, the view that found it, and how it differs from the pattern.
_Match = tuple[View, Span, Differences]
_SAME = Differences(0, ())
#: Of near answers so many times those shown are weighed by what they have otherwise.
_WEIGHED = 5


class _Search:
    def __init__(self, index: OpenIndex, question: Question) -> None:
        self.index = index.snapshot()
        self.question = question
        self.matcher = Matcher(self.index, question, question.pattern)

    def answer(self) -> Answer:
        """The totals, and the tunes shown with their places."""
        self.matcher.table("hits", [*self.question.filters.conditions(), *self._other_patterns()])
        if self.question.filters.section is not None:
            return self._by_section()
        ((charts, matches),) = self.index.rows("SELECT count(*), coalesce(sum(found), 0)::BIGINT FROM hits")
        # Where several views of one chart, or two keys that share a chord, may have hit the same place, every place is
        # looked at.
        several = self.index.rows(
            "SELECT id, found FROM hits WHERE several "
            f"UNION SELECT id, found FROM hits JOIN charts USING (id) WHERE {SHARED}"
        )
        matches += sum(map(len, self._spans([chart for chart, _ in several]).values()))
        matches -= sum(found for _, found in several)
        if self.question.totals:
            return Answer(self.question.sentence, charts, matches, ())
        limit = self.question.limit
        if not self.question.near:
            shown = self._ranked(limit)
            return Answer(self.question.sentence, charts, matches, self._hits(shown, self._matches(shown)))
        weighed = self._ranked(_WEIGHED * limit)
        found = self._matches(weighed)
        if self.question.sort == "best":
            weighed.sort(key=lambda each: min(differs.cost for _, _, differs in found[each.chart]))
        shown = weighed[:limit] if limit else weighed
        return Answer(self.question.sentence, charts, matches, self._hits(shown, found))

    def _other_patterns(self) -> Iterator[Condition]:
        """What else a tune must hold, or not."""
        question = replace(self.question, rotate=False, near=0)
        for place, (pattern, sign) in enumerate(
            [*((each, "IN") for each in self.question.also), *((each, "NOT IN") for each in self.question.without)]
        ):
            Matcher(self.index, question, pattern).table(f"held{place}")
            yield Condition(f"id {sign} (SELECT id FROM held{place})", (), "")

    def _by_section(self) -> Answer:
        """The same where only places in certain sections count: every place has to be looked at."""
        label = (self.question.filters.section or "").casefold().strip()
        every = self._ranked(0)
        facts = self.facts([each.chart for each in every])
        found: dict[int, list[_Match]] = {}
        for chart, matches in self._matches(every, facts).items():
            one = facts[chart]
            kept = [each for each in matches if in_section(one.label(one.played_bars[each[1].from_bar]), label)]
            if kept:
                found[chart] = kept
        shown = [each for each in every if each.chart in found]
        limited = [] if self.question.totals else shown[: self.question.limit] if self.question.limit else shown
        return Answer(
            self.question.sentence, len(shown), sum(map(len, found.values())), self._hits(limited, found, facts)
        )

    def _ranked(self, limit: int) -> list[Ranked]:
        return ranked(self.index, "hits", self.matcher, self.question.sort, limit)

    def _spans(self, charts: Sequence[int]) -> dict[int, list[tuple[View, Span]]]:
        """The matches of charts as played; a place found twice is told once: the nearest, then under the first view."""
        return {each.chart: self._spans_of(each) for each in self.matcher.marked(charts)} if charts else {}

    def _spans_of(self, one: MarkedChart) -> list[tuple[View, Span]]:
        spans_in = bar_spans if self.question.pattern.bars else chord_spans
        told: list[tuple[View, Span]] = []
        home = read_key(one.key)
        for view, (text, edits) in zip(self.matcher.views, one.texts, strict=True):
            if text is not None:
                spans = spans_in(text, view.sounding(home, one.segments, len(one.event_bars)), one.event_bars)
                told += [
                    (view, replace(span, edits=away) if away else span)
                    for span, away in zip_longest(spans, edits, fillvalue=0)
                    if isinstance(span, Span)
                ]
        seen: dict[tuple[int, int], tuple[View, Span]] = {}
        for view, span in sorted(told, key=lambda each: each[1].edits):
            seen.setdefault((span.begin, span.end), (view, span))
        return sorted(seen.values(), key=lambda each: each[1].begin)

    def _matches(self, shown: Sequence[Ranked], facts: dict[int, FoundChart] | None = None) -> dict[int, list[_Match]]:
        """The matches of tunes, with how they differ from the pattern."""
        charts = [each.chart for each in shown]
        facts = (self.facts(charts) if facts is None else facts) if self.question.near else {}
        return {
            chart: [
                (view, span, self._differences(view, span, facts[chart]) if span.edits else _SAME)
                for view, span in spans
            ]
            for chart, spans in self._spans(charts).items()
        }

    def _differences(self, view: View, span: Span, facts: FoundChart) -> Differences:
        numerals = counted([facts.chords[event] for event in span.events], span.tonics)
        written = [facts.played_bars[bar] for bar in span.bars]
        raised = view.shift if view.centre is None else 0
        found = []
        for pattern in self.matcher.patterns:
            with suppress(NoSuchVersion):
                found.append(
                    differences(pattern, self.question.strength, span.text, numerals, written, view.shift, raised)
                )
        return min(found, key=lambda each: each.cost)

    def facts(self, charts: Sequence[int]) -> dict[int, FoundChart]:
        """What the index knows about the places of charts."""
        wanted = ", ".join(map(str, charts)) or "NULL"
        sections: dict[int, list[tuple[str | None, int, int]]] = {}
        sql = f"SELECT chart, label, first_bar, last_bar FROM sections WHERE chart IN ({wanted}) ORDER BY position"
        for chart, label, first, last in self.index.rows(sql):
            sections.setdefault(chart, []).append((label, first, last))
        sql = f"SELECT id, title, path, key, chords, event_bars, played_bars FROM charts WHERE id IN ({wanted})"
        return {
            chart: FoundChart(title, path, read_key(key), chords.split(" "), event_bars, played, sections[chart])
            for chart, title, path, key, chords, event_bars, played in self.index.rows(sql)
        }

    def _hits(
        self,
        shown: Sequence[Ranked],
        found: dict[int, list[_Match]],
        facts: dict[int, FoundChart] | None = None,
    ) -> tuple[Hit, ...]:
        facts = facts or self.facts([each.chart for each in shown])
        respelled = self.question.reach is Reach.ANYWHERE
        hits = []
        for each in shown:
            one = facts[each.chart]
            for count in Count:
                of_count = [
                    replace(span, differs=differs.words) if differs.words else span
                    for view, span, differs in found[each.chart]
                    if view.count is count
                ]
                if of_count:
                    where = places(of_count, one, respelled, self.question.context)
                    hits.append(Hit(one.title, one.path, one.key, count, where, self._why(each)))
        return tuple(hits)

    def _why(self, one: Ranked) -> tuple[str, ...]:
        """What speaks for a tune, in the words and order of best first."""
        said = [f"{min(one.share, 1):.0%} of the tune"]
        if self.question.strength is Strength.FAMILY and one.exact:
            said.insert(0, "the very chords")
        if self.question.reach is Reach.ANYWHERE:
            said.append("in the key" if one.home else "about another centre")
        if one.starts:
            said.append("starts a section")
        return tuple(said)


def in_section(label: str | None, asked: str) -> bool:
    """Whether a section is meant by a label: its own, or how it begins, up to a space or a number."""
    if label is None:
        return False
    own = label.casefold()
    return own == asked or (own.startswith(asked) and not own[len(asked)].isalpha())
