"""Progressions that no pattern can say, each found by a rule of its own.

``pedal on 1``, ``pedal on 5``
    Three chords or more in a row over one bass (a root that is held counts once), which at least twice stand on
    another root than that bass: as two other roots, or as one that comes back after the bass's own chord.
``part of the circle of fifths``
    Four roots or more in a row, each a fifth below the one before. The fifth is perfect, or the diminished one of the
    scale: 4 to 7 in major, b6 to 2 in minor (Open Music Theory 2e, on the circle of fifths).
``key rise``
    The key goes up by a semitone or a tone and keeps its mode, and the key that was left does not come back.

Conventions: chords are counted from the tonic of the key in force; a run of chords on one root is one root. Expressions
are over the strings of ``corpus.codes``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache

from corpus.catalogue import RULES
from corpus.codes import FIRST_GROUP, LAST_GROUP, SECTION_ENDS, SECTION_STARTS, group_code_ranges
from corpus.reading import OpenIndex, Snapshot
from corpus.unpacking import KeySegment, segments_of
from grammar.keys import read_key
from grammar.symbols import read_chord
from search.filters import Filters
from search.finding import Totals, commonest, in_section, totals_of
from search.looking_up import ONE_OF, SEVERAL_KEYS
from search.places import FACTS, FoundChart, SoundingSegment, chord_spans, places
from shared.key import Key
from shared.match import Answer, Count, Hit, Place

_JOINT = f"[{SECTION_STARTS}{SECTION_ENDS}]*"
_FALL = 5
#: Steps of the circle that are diminished fifths in the scale: from 4 to 7 in major, from b6 to 2 in minor.
_DIMINISHED = {5: 11, 8: 2}
LEAST_ROOTS, _MOST_ROOTS = 4, 10
_PEDALS = {"pedal on 1": 0, "pedal on 5": 7}
_RISES = (1, 2)
CIRCLE, KEY_RISE = RULES[2], RULES[3]


def _class(ranges: Iterable[tuple[int, int]]) -> str:
    inner = "".join(f"{chr(first)}-{chr(last)}" for first, last in sorted(ranges))
    return f"[{inner}]"


def _chords(root: int, bass: int | None = None) -> list[tuple[int, int]]:
    return list(group_code_ranges(root, bass, FIRST_GROUP, LAST_GROUP))


@cache
def rule_expression(rule: str) -> str:
    """The regular expression of a rule over strings of chords.

    Raises:
        KeyError: If the rule is none of those that are told by their chords.
    """
    if rule == CIRCLE:
        return "|".join(_falling(root, 1) for root in range(12))
    return _pedal(_PEDALS[rule])


def falls(root: int) -> tuple[int, ...]:
    """The roots a fifth below one, in semitones."""
    fall = (root + _FALL) % 12
    return (fall, _DIMINISHED[root]) if root in _DIMINISHED else (fall,)


def _falling(root: int, number: int) -> str:
    chord = _class(_chords(root))
    run = f"{chord}(?:{_JOINT}{chord})*"
    if number == _MOST_ROOTS:
        return run
    further = "|".join(_falling(fall, number + 1) for fall in falls(root))
    return f"{run}(?:{_JOINT}(?:{further})){'' if number < LEAST_ROOTS else '?'}"


def _pedal(bass: int) -> str:
    own = _chords(bass, bass)
    over = {root: _chords(root, bass) for root in range(12) if root != bass}
    every = [each for ranges in over.values() for each in ranges]
    threes = [_row(every, own, every)]
    for root, ranges in over.items():
        other = [each for another, some in over.items() if another != root for each in some]
        threes += [_row(own, ranges, other), _row(other, ranges, other + own)]
    held = _class(own + every)
    return f"(?:{held}{_JOINT})*(?:{'|'.join(threes)})(?:{_JOINT}{held})*"


def _row(first: Iterable[tuple[int, int]], held: Iterable[tuple[int, int]], last: Iterable[tuple[int, int]]) -> str:
    """Three chords in a row, of which the one between may be held."""
    return f"{_class(first)}{_JOINT}(?:{_class(held)}{_JOINT})+{_class(last)}"


def rule_answer(index: OpenIndex, rule: str, said: str, filters: Filters, limit: int = 20) -> Answer:
    """The tunes that a rule holds in, those with the most places first, and where.

    Args:
        index: The index.
        rule: One of ``corpus.catalogue.RULES``.
        said: What is searched, as a sentence.
        filters: Which charts and sections are asked.
        limit: How many tunes are shown, 0 for all.
    """
    snapshot = index.snapshot()
    _hold(snapshot, rule, filters)
    ranking = "SELECT id FROM held JOIN charts USING (id) ORDER BY found DESC, lower(title), path"
    if filters.section is not None:
        label = filters.section.casefold().strip()
        every = _placed(snapshot, rule, ranking)
        found = [(hit, kept) for hit, all_of in every if (kept := [p for p in all_of if in_section(p.section, label)])]
        charts, matches = len(found), sum(place.times for _, where in found for place in where)
        found = sorted(found, key=lambda each: -sum(place.times for place in each[1]))[: limit or len(found)]
    else:
        ((charts, matches),) = snapshot.rows("SELECT count(*), coalesce(sum(found), 0)::BIGINT FROM held")
        found = _placed(snapshot, rule, f"{ranking} LIMIT {limit}" if limit else ranking)
    hits = tuple(Hit(chart.title, chart.path, chart.key, Count.TONIC, tuple(where)) for chart, where in found)
    return Answer(said, charts, matches, hits)


def rule_totals(index: OpenIndex, rule: str, filters: Filters) -> Totals:
    """How often a rule holds in a library, counted without looking at places where none are asked for."""
    if filters.section is not None:
        return totals_of(rule_answer(index, rule, "", filters, 0))
    snapshot = index.snapshot()
    _hold(snapshot, rule, filters)
    sql = "SELECT key, count(*), sum(found)::BIGINT FROM held JOIN charts USING (id) GROUP BY key"
    rows = snapshot.rows(sql)
    keys = commonest((key, charts) for key, charts, _ in rows)
    return Totals(sum(row[1] for row in rows), sum(row[2] for row in rows), keys)


def _hold(snapshot: Snapshot, rule: str, filters: Filters) -> None:
    """Makes the temporary table ``held``: the charts in which a rule holds (``id``) and how often (``found``)."""
    conditions = list(filters.conditions())
    where = "".join(f" AND {condition.sql}" for condition in conditions)
    values = [value for condition in conditions for value in condition.parameters]
    if rule == KEY_RISE:
        sql = f"SELECT id, segments, key, begun FROM charts WHERE {SEVERAL_KEYS}{where}"
        keys = [(chart, [one.key for one in segments_of(*rest)]) for chart, *rest in snapshot.rows(sql, values)]
        risen = [(chart, times) for chart, its in keys if (times := len(rises(its)))]
        asked = "SELECT unnest(?::INTEGER[]) AS id, unnest(?::INTEGER[]) AS found"
        values = [[chart for chart, _ in risen], [times for _, times in risen]]
    else:
        # Materialized, so that the condition on what was counted does not count everything a second time.
        asked = f"""
            WITH every AS MATERIALIZED (
                SELECT id, len(regexp_extract_all(tonic, ?)) AS found FROM charts WHERE TRUE{where}
            )
            SELECT * FROM every WHERE found > 0
        """
        values = [rule_expression(rule), *values]
    snapshot.rows(f"CREATE OR REPLACE TEMP TABLE held AS {asked}", values)


_Placed = list[tuple[FoundChart, list[Place]]]


def _placed(snapshot: Snapshot, rule: str, ranking: str) -> _Placed:
    """The charts that a query names, in its order, with the places where a rule holds."""
    order = [chart for (chart,) in snapshot.rows(ranking)]
    marked = "NULL" if rule == KEY_RISE else f"regexp_replace(tonic, '{rule_expression(rule)}', '{{\\0}}', 'g')"
    found: dict[int, tuple[FoundChart, list[Place]]] = {}
    wanted = ", ".join(["id", "segments", marked, *FACTS])
    for chart, segments, text, *facts in snapshot.rows(f"SELECT {wanted} FROM charts WHERE {ONE_OF}", [order]):
        one, (key, begun) = FoundChart.of(facts), (facts[FACTS.index(column)] for column in ("key", "begun"))
        keys = segments_of(segments, key, begun)
        found[chart] = one, _rises(one, keys) if text is None else _runs(one, keys, text)
    return [found[chart] for chart in order]


def _runs(chart: FoundChart, segments: Sequence[KeySegment], text: str) -> list[Place]:
    """The places of a rule told by chords, from the string of a chart with every match between two signs."""
    sounding = [SoundingSegment(read_key(key).tonic, *its) for key, *its in segments]
    return list(places(chord_spans(text, sounding, chart.event_bars), chart))


def _rises(chart: FoundChart, segments: Sequence[KeySegment]) -> list[Place]:
    """The bars in which new keys begin that are a rise."""
    found = []
    for at in rises([each.key for each in segments]):
        before, after = segments[at], segments[at + 1]
        bar = chart.played_bars[after.from_bar]
        names = (chart.chords[before.last], chart.chords[after.first])
        tonics = (read_key(before.key).tonic, read_key(after.key).tonic)
        numbers = tuple(read_chord(name).counted(t).number for name, t in zip(names, tonics, strict=True))
        found.append(Place(chart.label(bar), bar, bar, 1, names, numbers))
    return found


def rises(keys: Sequence[str]) -> list[int]:
    """Behind which of the keys of a tune, in order, the next one rises by a semitone or a tone for good.

    >>> rises(["Ab", "A", "Bb"]), rises(["C", "D", "C"]), rises(["Am", "B"])
    ([0, 1], [], [])
    """
    read = [read_key(key) for key in keys]
    return [at for at in range(len(read) - 1) if _rise(read[at], read[at + 1], read[at + 2 :])]


def _rise(left: Key, entered: Key, later: Iterable[Key]) -> bool:
    up = (entered.tonic.pitch_class - left.tonic.pitch_class) % 12
    back = any(key.tonic.pitch_class == left.tonic.pitch_class for key in later)
    return up in _RISES and left.minor_third == entered.minor_third and not back
