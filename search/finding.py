"""Finds the tunes that hold a progression: how many, how often, and for those shown, where.

A question is asked of views of the index (``search.views``). Totals are counted over all tunes (``search.matching``);
where matches stand is worked out only for the tunes that are shown, and wherever two views may have found the same
place or a section is asked for. Totals are exact in every case.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import TYPE_CHECKING, NamedTuple

from corpus.reading import OpenIndex, Snapshot
from corpus.unpacking import event_bars
from grammar.keys import read_key
from search.filters import Condition, Filters
from search.looking_up import ONE_OF, SEVERAL_KEYS, shared_chords
from search.matching import Matcher
from search.ordering import SORTS, Placed, Ranked, best_of, ranked, settled
from search.places import FACTS, FoundChart, Span, bar_spans, chord_spans, places, places_in_all
from search.questions import Question
from search.rows_asked import MarkedChart, Told
from search.tallies import Tallies, tallied
from search.views import View
from search.whole import Whole, asked_whole
from shared.errors import ChoiceError, nearest
from shared.match import Answer, Count, Hit, Reach
from shared.pattern import Strength

if TYPE_CHECKING:
    from search.differences import Differences, Explainer


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
    return _Search(index.snapshot(), question).answer()


@dataclass(frozen=True, slots=True)
class Totals:
    """How often a library has something.

    Attributes:
        charts: How many tunes have it.
        matches: How often it is played in them.
        keys: Home keys with how many of these tunes are in them, the commonest first.
    """

    charts: int
    matches: int
    keys: tuple[tuple[str, int], ...]


def totals(index: OpenIndex, question: Question) -> Totals:
    """Counts what ``find`` finds; places are looked at only where they decide.

    Raises:
        ReadingError: If a filter cannot be read or the pattern is too large for the engine.
    """
    if question.filters.section is not None:
        # Which places count is only known when all have been looked at.
        return totals_of(find(index, replace(question, limit=0)))
    return _Search(index.snapshot(), replace(question, totals=True)).totals()


def times_in(index: Snapshot, question: Question, charts: Sequence[int]) -> int:
    """How often some tunes (their numbers) have what a question asks for, as played: found place by place."""
    return _Search(index, question).times_in(charts)


def totals_of(answer: Answer) -> Totals:
    """The totals of an answer that shows all its tunes."""
    keys = Counter({hit.path: str(hit.key) for hit in answer.hits}.values())
    return Totals(answer.charts, answer.matches, commonest(keys.items()))


def commonest(counted: Iterable[tuple[str, int]]) -> tuple[tuple[str, int], ...]:
    """Keys with how many tunes are in them, the commonest first."""
    return tuple(sorted(counted, key=lambda each: (-each[1], each[0])))


#: A match, and the view that found it.
_Match = tuple[View, Span]


class _Found(NamedTuple):
    """A tune in its place, what is known about it, and its matches."""

    ranked: Ranked
    facts: FoundChart
    matches: list[_Match]

    def section(self, span: Span) -> str | None:
        """The label of the section in which a match begins."""
        return self.facts.label(self.facts.played_bars[span.from_bar])


#: The places of so many tunes are told apart at once.
_BATCH = 8192
#: So many tunes are asked for the very chords before all are.
_POOL = 2000
#: Of near answers so many times those shown are weighed by what they have otherwise.
_WEIGHED = 5


class _Search:
    def __init__(self, index: Snapshot, question: Question) -> None:
        self.index = index
        self.question = question
        self.matcher = Matcher(self.index, question, question.pattern)
        #: What a small library has of the pattern; None for others, which have it in the table ``hits``.
        self._whole: Whole | None = None
        self._explainers: dict[tuple[int, int], list[Explainer]] = {}

    def answer(self) -> Answer:
        """The totals, and the tunes shown with their places."""
        if (told := self._told()) is not None:
            return told
        self._hit_table()
        if self.question.filters.section is not None:
            return self._by_section()
        shown: list[_Found] = []
        if not self.question.totals:
            weighs = self.question.near and self.question.sort == "best"
            shown = self._weighed() if weighs else self._placed(self._ranked(self.question.limit))
        charts, matches = self._counted()
        return Answer(self.question.sentence, charts, matches, self._hits(shown))

    def _weighed(self) -> list[_Found]:
        """The tunes shown of a near search: those that have what was asked, then those that differ the least."""
        limit = self.question.limit
        ranked = self._ranked(_WEIGHED * limit)
        as_asked = [one for one in ranked if one.like[0] == 0]
        shown = self._placed(as_asked[: limit or None])
        if not limit or len(shown) < limit:
            shown += sorted(self._placed(ranked[len(as_asked) :]), key=self._cost)
        return shown[: limit or None]

    def _cost(self, one: _Found) -> int:
        """What the match of a tune costs that costs the least."""
        from search.substitutions import OTHER_QUALITY

        costs: list[int] = []
        for view, span in sorted(one.matches, key=lambda each: each[1].edits):
            # No edit costs less.
            if costs and min(costs) <= span.edits * OTHER_QUALITY:
                break
            costs.append(self._differences(view, span, one.facts).cost)
        return min(costs)

    def _told(self) -> Answer | None:
        """The answer about a large library where that takes no table of what is found; else None."""
        question = self.question
        if question.sort != "best" or not question.limit or question.also or question.without:
            return None
        if question.filters != Filters():
            return None
        tallies = tallied(self.index, self.matcher)
        if tallies is None:
            return None
        found = [] if question.totals else self._placed(self._best(tallies))
        shared = shared_chords(self.index)
        several = tallies.doubtful(self.index.arrays(f"SELECT id FROM {shared}")["id"] if shared else [])
        return Answer(question.sentence, len(tallies.ids), tallies.matches + self._played(several), self._hits(found))

    def _best(self, tallies: Tallies) -> list[Ranked]:
        """The tunes that are shown, best first."""
        limit = self.question.limit
        placed: list[Placed] | None = None
        if tallies.compares_strings:
            # Among the largest shares there most often are enough tunes that have the very chords.
            for number in (10 * limit, max(10 * limit, _POOL)):
                placed = placed or settled(self.index, self.matcher, *tallies.best(number), limit)
            tallies = tallies if placed else tallies.told_exact(self.index)
        return best_of(self.index, self.matcher, placed or tallies.best(limit)[0], limit, FACTS)

    def totals(self) -> Totals:
        """The totals alone, with the home keys."""
        self._hit_table()
        charts, matches = self._counted()
        which = Told("id IN (SELECT id FROM hits)", []) if self._whole is None else Told(ONE_OF, [self._whole.charts])
        rows = self.index.rows(f"SELECT key, count(*) FROM charts WHERE {which.sql} GROUP BY key", which.parameters)
        return Totals(charts, matches, commonest((key, times) for key, times in rows))

    def _hit_table(self) -> None:
        conditions = [*self.question.filters.conditions(), *self._other_patterns()]
        self._whole = asked_whole(self.index, self.matcher, conditions)
        if self._whole is None:
            self.matcher.table("hits", conditions)

    def _counted(self) -> tuple[int, int]:
        """How many tunes match, and how often they do as played."""
        if self._whole is not None:
            return len(self._whole.charts), self._whole.matches + self._played(self._whole.doubtful)
        # Where several views of one chart, or two keys that share a chord, may have hit the same place, every place is
        # looked at.
        shared = shared_chords(self.index)
        doubtful = f"several OR id IN (SELECT id FROM {shared})" if shared else "several"
        twice = f"FILTER ({doubtful})"
        ((charts, matches, several, views),) = self.index.rows(
            "SELECT count(*), coalesce(sum(found), 0)::BIGINT, "
            f"list({{'id': id, 'found': found}}) {twice}, bit_or(views) {twice} FROM hits"
        )
        return charts, matches + self._played([(each["id"], each["found"]) for each in several or ()], views)

    def _played(self, several: Sequence[tuple[int, int]], views: int = -1) -> int:
        """How many more matches some tunes have than were counted, when a place that was counted twice is one.

        Args:
            several: The tunes, each with how often it was counted.
            views: A bit for each view that may have found one.
        """
        if not several:
            return 0
        return self.times_in([chart for chart, _ in several], views) - sum(found for _, found in several)

    def times_in(self, charts: Sequence[int], views: int = -1) -> int:
        """How often the pattern is played in some tunes, found place by place in some views (a bit for each)."""
        if self._whole is not None:
            return sum(len(self._spans(one)) for one in self._whole.marked(charts))
        if self.matcher.near or self.question.pattern.bars:
            return sum(len(self._spans(one)) for one in self.matcher.find_in(charts, views))
        # In one key all views count the same chords, and where matches stand among them is all that has to be told.
        parts = (charts[first : first + _BATCH] for first in range(0, len(charts), _BATCH))
        times = sum(places_in_all(zip(*self.matcher.strings_in(part, views), strict=True)) for part in parts)
        moving = self.index.rows(f"SELECT id FROM charts WHERE {ONE_OF} AND {SEVERAL_KEYS}", [charts])
        return times + sum(len(self._spans(one)) for one in self.matcher.find_in([each for (each,) in moving], views))

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
        kept: list[_Found] = []
        for one in self._placed(self._ranked(0)):
            matches = [each for each in one.matches if in_section(one.section(each[1]), label)]
            if matches:
                kept.append(one._replace(matches=matches))
        shown = [] if self.question.totals else kept[: self.question.limit] if self.question.limit else kept
        return Answer(self.question.sentence, len(kept), sum(len(each.matches) for each in kept), self._hits(shown))

    def _spans(self, one: MarkedChart, bars: Sequence[int] | None = None) -> list[tuple[View, Span]]:
        """The matches of a tune as played; a place found twice is told once: the nearest, then under the first view.

        Near versions are told under the count, or about the centre, in which the tune comes nearest.

        Args:
            one: The tune with its matches marked.
            bars: For each event the played bar in which it begins, where that is known.
        """
        spans_in = bar_spans if self.question.pattern.bars else chord_spans
        told: list[tuple[View, Span]] = []
        home, bars = read_key(one.key), bars or event_bars(one.begun)
        for view, (text, edits) in zip(self.matcher.views, one.texts, strict=True):
            if text is not None:
                spans = spans_in(text, view.sounding(home, one.segments, len(bars)), bars)
                told += [
                    (view, replace(span, edits=away) if away else span)
                    for span, away in zip_longest(spans, edits, fillvalue=0)
                    if isinstance(span, Span)
                ]
        nearest = min(((span.edits, view.kind) for view, span in told), default=(0, 0))[1]
        seen: dict[tuple[int, int], tuple[View, Span]] = {}
        for view, span in sorted(told, key=lambda each: each[1].edits):
            if span.edits == 0 or view.kind == nearest:
                seen.setdefault((span.begin, span.end), (view, span))
        return sorted(seen.values(), key=lambda each: each[1].begin)

    def _ranked(self, limit: int) -> list[Ranked]:
        """So many tunes (0 for all) in their order."""
        if self._whole is not None:
            return self._whole.ranked(self.question.sort, limit)
        return ranked(self.index, "hits", self.matcher, self.question.sort, limit, FACTS)

    def _placed(self, tunes: Iterable[Ranked]) -> list[_Found]:
        """Tunes with their matches."""
        charts = ((one, FoundChart.of(one.marked.rest)) for one in tunes)
        return [_Found(one, chart, self._spans(one.marked, chart.event_bars)) for one, chart in charts]

    def _differences(self, view: View, span: Span, facts: FoundChart) -> Differences:
        """How a near version differs from the pattern."""
        # A search for what is there just so starts faster without it.
        from search.differences import NoSuchVersion, explainer

        view_is = view.shift, view.raised
        if view_is not in self._explainers:
            self._explainers[view_is] = [
                explainer(pattern, self.question.strength, *view_is) for pattern in self.matcher.patterns
            ]
        names = tuple([facts.chords[event] for event in span.events])
        written = [facts.played_bars[bar] for bar in span.bars]
        found = []
        for each in self._explainers[view_is]:
            with suppress(NoSuchVersion):
                found.append(each.differences(span.text, names, span.tonics, written))
        return min(found, key=lambda each: each.cost)

    def _hits(self, shown: Sequence[_Found]) -> tuple[Hit, ...]:
        respelled = self.question.reach is Reach.ANYWHERE
        hits = []
        for one, facts, matches in shown:
            for count in Count:
                of_count = [
                    replace(span, differs=self._differences(view, span, facts).words) if span.edits else span
                    for view, span in matches
                    if view.count is count
                ]
                if of_count:
                    where = places(of_count, facts, respelled, self.question.context)
                    hits.append(Hit(facts.title, facts.path, facts.key, count, where, self._why(one)))
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
