"""Named progressions asked of an index: how many tunes use each, and where they stand in a tune.

Conventions: a progression is asked as its entry in the catalogue says (strength, mode, count, reach, rotation), under
the filters given; counts are those that a search for its name gives.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from corpus.catalogue import Catalogue, Progression, catalogue
from corpus.library import Library
from corpus.reading import OpenIndex, Snapshot
from search.asking import Asked
from search.automata import TooManyStates
from search.filters import Filters
from search.finding import commonest, find, times_in, totals
from search.looking_up import SMALL
from search.matching import Matcher
from search.named_rules import KEY_RISE, rule_answer, rule_expression, rule_totals
from search.questions import Question
from search.relations import may_hold
from search.together import Sought, Tally, tallies
from shared.errors import ChoiceError, SamechangesError
from shared.match import Answer, Count, Hit, Place, Reach
from shared.pattern import Pattern


@dataclass(frozen=True, slots=True)
class Use:
    """How a library uses one progression.

    Attributes:
        entry: The progression.
        charts: How many tunes have it.
        matches: How often it is played in them.
        keys: Home keys with how many of these tunes are in them, the commonest first.
    """

    entry: Progression
    charts: int
    matches: int
    keys: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class NamedPlace:
    """A named progression at one place of a tune.

    Attributes:
        entry: The progression.
        count: What it was counted from there.
        place: Where.
        within: The names of longer progressions that it is part of there.
    """

    entry: Progression
    count: Count
    place: Place
    within: tuple[str, ...] = ()


def named(text: str, library: Library | None = None) -> Progression | None:
    """The progression that a text names, of the catalogue or of a library's own; None where it names none."""
    return catalogue(library).named(text)


def entry_meant(name: str, known: Catalogue) -> Progression:
    """The progression of a name.

    Raises:
        ChoiceError: If there is none; the nearest names are offered.
    """
    entry = known.named(name)
    if entry is None:
        raise ChoiceError(f"there is no progression “{name}” in the catalogue", known.nearest(name))
    return entry


def question_of(
    entry: Progression, filters: Filters | None = None, limit: int = 20, sort: str = "best", **more: bool
) -> Asked:
    """The question that a progression stands for.

    Args:
        entry: The progression.
        filters: Which charts and sections are asked.
        limit: How many tunes are shown, 0 for all.
        sort: Their order.
        more: ``rotate`` or ``anywhere`` where these are asked for beside what the entry says.

    Raises:
        SamechangesError: If the filters ask for another mode than the progression is of.
    """
    filters = filters or Filters()
    if entry.mode is not None:
        if _other_mode(entry, filters):
            raise SamechangesError(
                f"“{entry.name}” is asked of tunes in a {entry.mode.label} key alone; leave out the mode {filters.mode}"
            )
        filters = replace(filters, mode=entry.mode.label)
    pattern = replace(entry.pattern or Pattern(()), text=entry.written)
    reach = Reach.ANYWHERE if more.get("anywhere") else entry.reach
    rotate = entry.rotate or bool(more.get("rotate"))
    question = Question(pattern, entry.strength, reach, rotate, entry.count, filters, limit, sort)
    return Asked(question, ())


def _other_mode(entry: Progression, filters: Filters) -> bool:
    """Whether the filters ask for another mode than a progression is of."""
    typed = None if filters.mode is None else filters.mode.strip().casefold()
    return entry.mode is not None and typed not in (None, entry.mode.label)


def answer_named(index: OpenIndex, entry: Progression, asked: Asked) -> Answer:
    """The answer to the question that a progression stands for."""
    question = asked.question
    if entry.pattern is not None:
        answer = find(index, question)
        return replace(answer, said=f"{entry.name}: {answer.said[:1].lower()}{answer.said[1:]}")
    said = ", ".join([f"{entry.name}: tunes by a rule of its own", *question.filters.sentences()])
    return rule_answer(index, entry.text, f"{said}.", question.filters, question.limit)


def uses(index: OpenIndex, entries: Iterable[Progression], filters: Filters | None = None) -> list[Use]:
    """How a library uses each progression, in the order given.

    Raises:
        ReadingError: If a filter cannot be read.
    """
    entries, filters = list(entries), filters or Filters()
    counted = _counted(index, entries, filters)
    return [
        Use(entry, tally.charts, tally.matches, commonest(tally.keys.items()))
        if (tally := counted.get(number))
        else _use(index, entry, filters)
        for number, entry in enumerate(entries)
    ]


def _counted(index: OpenIndex, entries: Sequence[Progression], filters: Filters) -> dict[int, Tally]:
    """Those progressions, by their places in a list, that are worth counting together, and what was counted of them."""
    conditions = list(filters.conditions())
    where = " AND ".join(["TRUE", *(condition.sql for condition in conditions)])
    snapshot = index.snapshot()
    values = [value for condition in conditions for value in condition.parameters]
    ((charts,),) = snapshot.rows(f"SELECT count(*) FROM charts WHERE {where}", values)
    # Which places count in a section is only known when all have been looked at.
    if charts < SMALL or filters.section is not None:
        return {}
    sought = _sought(snapshot, entries, filters)
    try:
        return dict(zip(sought, tallies(snapshot, list(sought.values()), conditions), strict=True))
    except TooManyStates:
        return {}


def _sought(index: Snapshot, entries: Sequence[Progression], filters: Filters) -> dict[int, Sought]:
    """What is counted of progressions by their places in a list.

    Left out are those that no expression tells, and those in the bar form, whose strings are others and longer.
    """
    found = {}
    for number, entry in enumerate(entries):
        if _other_mode(entry, filters) or entry.text == KEY_RISE or (entry.pattern is not None and entry.pattern.bars):
            continue
        mode = None if entry.mode is None else entry.mode.label
        if entry.pattern is None:
            found[number] = Sought([("tonic", rule_expression(entry.text))], mode)
            continue
        question = question_of(entry, filters).question
        matcher = Matcher(index, question, question.pattern)
        views = [(view.column, text) for view, text in zip(matcher.views, matcher.texts, strict=True)]
        found[number] = Sought(views, mode, bool(matcher.doubtful), partial(times_in, index, question))
    return found


def _use(index: OpenIndex, entry: Progression, filters: Filters) -> Use:
    if _other_mode(entry, filters):
        return Use(entry, 0, 0, ())
    question = question_of(entry, filters).question
    rule = entry.pattern is None
    found = rule_totals(index, entry.text, question.filters) if rule else totals(index, question)
    return Use(entry, found.charts, found.matches, found.keys)


def found_in(index: OpenIndex, known: Catalogue, path: str) -> list[NamedPlace]:
    """The named progressions of one tune, in the order of the chart, the longer first; parts say what they are part of.

    Args:
        index: The index.
        known: The progressions.
        path: The chart's path as the index has it.
    """
    ((chart,),) = index.rows("SELECT id FROM charts WHERE path = ?", [path])
    filters = Filters(chart=chart)
    places = []
    for entry in known.entries:
        asked = question_of(entry, filters, 0)
        if entry.pattern is not None and not _holds(index, asked.question):
            continue
        for hit in answer_named(index, entry, asked).hits:
            places += [NamedPlace(entry, hit.count, place) for place in hit.places]
    return in_order(told_within(places))


def _holds(index: OpenIndex, question: Question) -> bool:
    """Whether any tune matches, found out without looking at places."""
    snapshot = index.snapshot()
    Matcher(snapshot, question, question.pattern).table("used", question.filters.conditions())
    return bool(snapshot.rows("SELECT 1 FROM used LIMIT 1"))


def in_order(places: Iterable[NamedPlace]) -> list[NamedPlace]:
    """Places in the order of the chart, the longer first."""
    return sorted(places, key=lambda each: (each.place.from_bar, -each.place.to_bar, bool(each.within)))


def told_within(places: Sequence[NamedPlace]) -> list[NamedPlace]:
    """The places, each told with the progressions that it is part of where it stands."""
    covered: dict[str, set[int]] = {}
    for each in places:
        covered.setdefault(each.entry.name, set()).update(_bars(each.place))
    entries = {each.entry.name: each.entry for each in places}
    wholes = {
        name: [each for each in entries.values() if may_hold(each, entry) and not may_hold(entry, each)]
        for name, entry in entries.items()
    }
    return [
        replace(
            each,
            within=tuple(o.name for o in wholes[each.entry.name] if set(_bars(each.place)) <= covered[o.name]),
        )
        for each in places
    ]


def _bars(place: Place) -> range:
    """The written bars of a place; where it runs on over a repeat, the bar in which it begins."""
    return range(place.from_bar, max(place.from_bar, place.to_bar) + 1)


def places_by_chart(index: OpenIndex, known: Catalogue, filters: Filters) -> dict[str, list[NamedPlace]]:
    """For every chart (by path) its named progressions, each telling what it is part of."""
    found: dict[str, list[NamedPlace]] = {}
    for entry in known.entries:
        hits: Sequence[Hit] = answer_named(index, entry, question_of(entry, filters, 0)).hits
        for hit in hits:
            found.setdefault(hit.path, []).extend(NamedPlace(entry, hit.count, place) for place in hit.places)
    return {path: told_within(places) for path, places in sorted(found.items())}
