"""Progressions that no pattern can say, each found by a rule of its own.

``pedal on 1``, ``pedal on 5``
    Three chords or more in a row over one bass, which at least twice stand on another root than that bass: as two
    other roots, or as one that comes back after the bass's own chord.
``part of the circle of fifths``
    Four roots or more in a row, each a fifth below the one before. The fifth is perfect, or the diminished one of the
    scale: 4 to 7 in major, b6 to 2 in minor (Open Music Theory 2e, on the circle of fifths).
``key rise``
    The key goes up by a semitone or a tone and keeps its mode, and the key that was left does not come back.

Conventions: chords are counted from the tonic of the key in force; a run of chords on one root is one root. Expressions
are over the strings of ``corpus.codes``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from corpus.catalogue import RULES
from corpus.codes import FIRST_GROUP, LAST_GROUP, SECTION_ENDS, SECTION_STARTS, group_code_ranges
from corpus.reading import OpenIndex, Snapshot
from grammar.keys import read_key
from grammar.symbols import read_chord
from search.filters import Filters
from search.places import FoundChart, SoundingSegment, chord_spans, places
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
    own = f"(?:{_class(_chords(bass, bass))}{_JOINT})"
    over = {root: _chords(root, bass) for root in range(12) if root != bass}
    every = _class([each for ranges in over.values() for each in ranges])
    twice = []
    for root, ranges in over.items():
        other = _class([each for another, some in over.items() if another != root for each in some])
        twice.append(f"(?:{_class(ranges)}{_JOINT})+(?:{own}+{every}|{other})")
    return f"{own}*(?:{'|'.join(twice)})(?:{_JOINT}(?:{every}|{_class(_chords(bass, bass))}))*"


@dataclass(frozen=True, slots=True)
class RuleFound:
    """What a rule finds in a library: tunes, times as played, and how many tunes in each home key."""

    charts: int
    matches: int
    keys: tuple[tuple[str, int], ...]


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
    found = list(_rises(snapshot, filters) if rule == KEY_RISE else _runs(snapshot, rule, filters))
    if filters.section is not None:
        label = filters.section.casefold().strip()
        found = [(hit, kept) for hit, all_of in found if (kept := [p for p in all_of if _in_section(p.section, label)])]
    ordered = sorted(found, key=lambda each: (-sum(place.times for place in each[1]), each[0].title.casefold()))
    hits = tuple(
        Hit(chart.title, chart.path, chart.key, Count.TONIC, tuple(where))
        for chart, where in ordered[: limit or len(ordered)]
    )
    return Answer(said, len(found), sum(place.times for _, where in found for place in where), hits)


def rule_found(index: OpenIndex, rule: str, filters: Filters) -> RuleFound:
    """How often a rule holds in a library, counted without looking at places where none are asked for."""
    if filters.section is not None:
        answer = rule_answer(index, rule, "", filters, 0)
        return RuleFound(answer.charts, answer.matches, _counted((str(hit.key), 1) for hit in answer.hits))
    snapshot = index.snapshot()
    where, values = _where(filters)
    if rule == KEY_RISE:
        sql = (
            "SELECT key, list_transform(segments, lambda each: each.key) AS keys, count(*) FROM charts "
            f"WHERE len(segments) > 1{where} GROUP BY ALL"
        )
        rows = [(key, len(risen), times) for key, keys, times in snapshot.rows(sql, values) if (risen := rises(keys))]
        matches = sum(each * times for _, each, times in rows)
        return RuleFound(sum(times for *_, times in rows), matches, _counted((key, times) for key, _, times in rows))
    sql = f"""
        SELECT key, count(*), sum(len(regexp_extract_all(tonic, ?)))::BIGINT FROM charts
        WHERE regexp_matches(tonic, ?){where} GROUP BY key
    """
    text = rule_expression(rule)
    counted = snapshot.rows(sql, [text, text, *values])
    keys = _counted((key, charts) for key, charts, _ in counted)
    return RuleFound(sum(row[1] for row in counted), sum(row[2] for row in counted), keys)


def _counted(pairs: Iterable[tuple[str, int]]) -> tuple[tuple[str, int], ...]:
    """Keys with how many tunes are in them, the commonest first."""
    counts: dict[str, int] = {}
    for key, times in pairs:
        counts[key] = counts.get(key, 0) + times
    return tuple(sorted(counts.items(), key=lambda each: (-each[1], each[0])))


def _where(filters: Filters) -> tuple[str, list[Any]]:
    conditions = list(filters.conditions())
    sql = "".join(f" AND {condition.sql}" for condition in conditions)
    return sql, [value for condition in conditions for value in condition.parameters]


_CHART = "id, title, path, key, chords, event_bars, played_bars, segments"


def _charts(snapshot: Snapshot, columns: str, where: str, values: Sequence[Any]) -> Iterator[tuple[FoundChart, Any]]:
    """Charts with what the index knows of their places, and one more row of columns."""
    rows = snapshot.rows(f"SELECT {_CHART}, {columns} FROM charts WHERE {where} ORDER BY id", list(values))
    sections: dict[int, list[tuple[str | None, int, int]]] = {}
    sql = "SELECT chart, label, first_bar, last_bar FROM sections WHERE list_contains(?, chart) ORDER BY position"
    for chart, label, first, last in snapshot.rows(sql, [[row[0] for row in rows]]) if rows else ():
        sections.setdefault(chart, []).append((label, first, last))
    for chart, title, path, key, chords, event_bars, played_bars, *more in rows:
        known = (title, path, read_key(key), chords.split(" "), event_bars, played_bars, sections.get(chart, []))
        yield FoundChart(*known), more


def _runs(snapshot: Snapshot, rule: str, filters: Filters) -> Iterator[tuple[FoundChart, list[Place]]]:
    """The charts in which a rule told by chords holds, with the places."""
    text = rule_expression(rule)
    where, values = _where(filters)
    marked = f"regexp_replace(tonic, '{text}', '{{\\0}}', 'g')"
    for chart, (segments, string) in _charts(snapshot, marked, f"regexp_matches(tonic, ?){where}", [text, *values]):
        sounding = [
            SoundingSegment(read_key(each["key"]).tonic, each["first"], each["last"], each["from_bar"], each["to_bar"])
            for each in segments
        ]
        yield chart, list(places(chord_spans(string, sounding, chart.event_bars), chart))


def _rises(snapshot: Snapshot, filters: Filters) -> Iterator[tuple[FoundChart, list[Place]]]:
    """The charts whose key rises, with the bars in which the new keys begin."""
    where, values = _where(filters)
    for chart, (segments, _) in _charts(snapshot, "1", f"len(segments) > 1{where}", values):
        found = []
        for at in rises([each["key"] for each in segments]):
            before, after = segments[at], segments[at + 1]
            bar = chart.played_bars[after["from_bar"]]
            names = (chart.chords[before["last"]], chart.chords[after["first"]])
            tonics = (read_key(before["key"]).tonic, read_key(after["key"]).tonic)
            numbers = tuple(read_chord(name).counted(t).number for name, t in zip(names, tonics, strict=True))
            found.append(Place(chart.label(bar), bar, bar, 1, names, numbers))
        if found:
            yield chart, found


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


def _in_section(label: str | None, asked: str) -> bool:
    """Whether a section is meant by a label: its own, or how it begins, up to a space or a number."""
    own = (label or "").casefold()
    return bool(own) and (own == asked or (own.startswith(asked) and not own[len(asked)].isalpha()))
