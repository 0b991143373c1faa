"""Counts for a survey, made by DuckDB from the strings of the index: by item, by group of tunes, by block of tunes.

Conventions:
    * Chords are counted in the key in force (the column ``tonic``), silence left out; equal chords in a row within one
      key are one, and no sequence crosses a change of key.
    * Under a section filter a chord belongs to the section in which it begins, and no sequence leaves those sections.
    * The cadence of a section is its last two different chords, told for every time that it is played; a section of one
      chord has none. Where one chord ends a section and begins the next, a section of that chord alone and one that
      goes on from it look alike; it is taken for the former.
    * Blocks are for the bootstrap over tunes: each tune by itself in small groups, else tunes dealt into so many hands.

A chart is taken apart within a row, as lists, so that nothing has to be sorted; what is gathered is one row for each
item that a chart has, which DuckDB may spill to disk.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

from corpus.codes import KEY_CHANGES, SECTION_ENDS, SECTION_STARTS
from corpus.reading import OpenIndex, Snapshot
from search.filters import Filters
from search.survey_tokens import FAMILIES, Tokens
from shared.pattern import Item, Strength

#: Most blocks of tunes, most items told of a survey, and most groups.
BLOCKS, MOST_ITEMS, MOST_GROUPS = 1000, 100_000, 60
#: Most tunes of a group that the bootstrap draws from; its intervals are narrowed to the size of the group afterwards.
SAMPLED = 20_000
_CHORD = f"[^{SECTION_STARTS}{SECTION_ENDS}{KEY_CHANGES}]"


class What(Enum):
    """What a survey counts."""

    ROOTS = "roots"
    FAMILIES = "families"
    SEQUENCES = "sequences"
    TRANSITIONS = "transitions"
    BEFORE = "before"
    AFTER = "after"
    CADENCES = "cadences"
    KEYS = "keys"
    MODES = "modes"
    LENGTHS = "lengths"
    METRES = "metres"

    @property
    def of_tunes(self) -> bool:
        """Whether whole tunes are counted rather than chords."""
        return self in _COLUMNS


#: What whole tunes are counted by: a column of charts.
_COLUMNS = {What.KEYS: "key", What.MODES: "mode", What.LENGTHS: "bars", What.METRES: "metre"}


@dataclass(frozen=True, slots=True)
class Grouping:
    """Groups of tunes.

    Attributes:
        sql: Rows ``id``, ``grp`` (text), from ``asked``, the charts that are asked; a chart may be in several groups.
        parameters: Its parameters.
    """

    sql: str
    parameters: tuple[Any, ...] = ()


#: All tunes in one group.
ALL = Grouping("SELECT id, '' AS grp FROM asked")


@dataclass(frozen=True, slots=True)
class Tally:
    """How often one item was counted in one group: in all, and in how many tunes."""

    group: str
    item: Any
    times: int
    charts: int


@dataclass(slots=True)
class Tallies:
    """All counts of a survey.

    Attributes:
        charts: Tunes asked, in any group or none.
        groups: Tunes of each group, by its name.
        totals: Everything counted in each group, in times.
        rows: The counts, the commonest first.
        items: How many different items there are; at most ``MOST_ITEMS`` of them are in the rows.
        more_groups: Smaller groups that were left out.
    """

    charts: int
    groups: dict[str, int]
    totals: dict[str, int] = field(default_factory=dict)
    rows: list[Tally] = field(default_factory=list)
    items: int = 0
    more_groups: int = 0


@dataclass(frozen=True, slots=True)
class Blocks:
    """Counts of one group for the bootstrap: one row a block, one column an item, and each block's total."""

    counts: list[list[int]]
    totals: list[int]


class Counting:
    """One survey's counting of one index, held fast."""

    def __init__(
        self,
        index: OpenIndex,
        filters: Filters,
        what: What,
        tokens: Tokens,
        length: int = 1,
        chord: Item | None = None,
    ) -> None:
        """Prepares the statements.

        Args:
            index: The index.
            filters: Which charts and sections are asked.
            what: What is counted.
            tokens: What counts as one chord.
            length: How many chords a sequence has.
            chord: What is preceded or followed.

        Raises:
            ReadingError: If a filter cannot be read.
        """
        self.snapshot: Snapshot = index.snapshot()
        self._asked, self._parameters = _asked(filters)
        self._events = _events(what, tokens, length, chord)
        self._by_times = what is not What.SEQUENCES
        # What is gathered may be larger than the library.
        self.snapshot.give_room()

    def values(self, sql: str, parameters: Sequence[Any]) -> list[str]:
        """The names of the groups that a grouping makes, the largest first."""
        return [
            value
            for (value,) in self._rows("", f"SELECT grp FROM ({sql}) GROUP BY 1 ORDER BY count(*) DESC, 1", parameters)
        ]

    def number(self, sql: str, parameters: Sequence[Any]) -> int:
        """The one number that a statement over ``asked`` gives."""
        ((number,),) = self._rows("", sql, parameters)
        return int(number)

    def tallies(self, grouping: Grouping) -> Tallies:
        """Counts everything, by group; the rarest items are left out of all groups alike where there are too many."""
        sizes = self._rows(
            f", groups AS ({grouping.sql})",
            "SELECT grp, count(*), (SELECT count(*) FROM asked) FROM groups GROUP BY grp ORDER BY 2 DESC, 1",
            grouping.parameters,
        )
        if not sizes:
            return Tallies(self.number("SELECT count(*) FROM asked", ()), {})
        groups = {name: charts for name, charts, _ in sizes[:MOST_GROUPS]}
        made = Tallies(sizes[0][2], groups, more_groups=len(sizes) - len(groups))
        order = "times DESC, charts DESC" if self._by_times else "charts DESC, times DESC"
        rows = self._rows(
            f""", groups AS ({grouping.sql}), tunes AS (SELECT * FROM asked){self._events},
            by_chart AS (SELECT id, item, count(*) AS n FROM events GROUP BY ALL),
            counted AS MATERIALIZED (
                SELECT grp, item, sum(n)::BIGINT AS times, count(*) AS charts FROM by_chart JOIN groups USING (id)
                WHERE list_contains(?, grp) GROUP BY ALL
            ),
            whole AS (SELECT grp, sum(times)::BIGINT AS total FROM counted GROUP BY grp),
            every AS (SELECT item, sum(times) AS times, sum(charts) AS charts FROM counted GROUP BY item),
            told AS (SELECT item FROM every ORDER BY {order}, item LIMIT {MOST_ITEMS})""",
            f"""SELECT grp, item, times, charts, total, (SELECT count(*) FROM every)
            FROM counted JOIN whole USING (grp) SEMI JOIN told USING (item) ORDER BY {order}, item""",
            (*grouping.parameters, list(groups)),
        )
        for group, item, times, charts, total, items in rows:
            made.totals[group] = total
            made.rows.append(Tally(group, item, times, charts))
            made.items = items
        return made

    def blocks(self, grouping: Grouping, items: Sequence[Any]) -> dict[str, Blocks]:
        """Counts some items by block of tunes, for each group, over at most ``SAMPLED`` tunes of it.

        Args:
            grouping: The groups.
            items: The items; everything else is in the totals alone.
        """
        rows = self._rows(
            f""", groups AS ({grouping.sql}),
            dealt AS (SELECT id, grp, row_number() OVER (PARTITION BY grp ORDER BY hash(id), id) AS turn FROM groups),
            drawn AS (SELECT id, grp, turn % {BLOCKS} AS block FROM dealt WHERE turn <= {SAMPLED}),
            tunes AS (SELECT * FROM asked SEMI JOIN drawn USING (id)){self._events},
            chosen AS (SELECT unnest(?) AS item, generate_subscripts(?, 1) AS place),
            by_chart AS (SELECT id, item, count(*) AS n FROM events GROUP BY ALL)""",
            """SELECT grp, block, coalesce(place, 0), sum(n)::BIGINT
            FROM by_chart JOIN drawn USING (id) LEFT JOIN chosen USING (item) GROUP BY ALL ORDER BY ALL""",
            (*grouping.parameters, list(items), list(items)),
        )
        found: dict[str, dict[int, list[int]]] = {}
        for group, number, place, count in rows:
            found.setdefault(group, {}).setdefault(number, [0] * (len(items) + 1))[place] += count
        return {
            group: Blocks([row[1:] for row in own.values()], [sum(row) for row in own.values()])
            for group, own in found.items()
        }

    def _rows(self, tables: str, sql: str, parameters: Sequence[Any]) -> list[tuple[Any, ...]]:
        return self.snapshot.rows(f"WITH {self._asked}{tables} {sql}", [*self._parameters, *parameters])


def _asked(filters: Filters) -> tuple[str, list[Any]]:
    """The charts that are asked, as a table ``asked`` with all columns of charts, and the parameters."""
    conditions = list(filters.conditions())
    where = " AND ".join(f"({condition.sql})" for condition in conditions) or "true"
    values = [value for condition in conditions for value in condition.parameters]
    if filters.section is None:
        return f"asked AS (SELECT * FROM charts WHERE {where})", values
    label = filters.section.casefold().strip()
    # A chord with the marks beside it is one sign; its event tells the bar in which it begins. A shared chord of two
    # keys stands in both, so events are numbered by segment, with one number to spare for the mark between.
    sql = f"""wanted AS (
            SELECT chart, flatten(list(range(first_bar, last_bar + 1))) AS own FROM sections
            WHERE lower(label) = ? OR regexp_full_match(lower(label), ? || '($|\\P{{L}}.*)') GROUP BY chart
        ), numbered AS (
            SELECT charts.*, own, event_bars(begun) AS event_bars, played_bars(written) AS played_bars,
                regexp_extract_all(tonic, '{SECTION_STARTS}?{_CHORD}{SECTION_ENDS}?|{KEY_CHANGES}') AS signs,
                flatten(list_transform(key_segments(segments, charts.key, charts.events, charts.played),
                    lambda each: list_append(range(each.first::BIGINT, each.last::BIGINT + 1), -1))) AS numbers
            FROM charts JOIN wanted ON chart = id WHERE {where}
        ), asked AS (
            SELECT * REPLACE (array_to_string(list_transform(signs, lambda sign, place: CASE
                WHEN sign = '{KEY_CHANGES}' OR NOT list_contains(own, played_bars[event_bars[numbers[place] + 1] + 1])
                THEN '{KEY_CHANGES}' ELSE sign END), '') AS tonic)
            FROM numbered
        )"""
    return sql, [label, _quoted(label), *values]


def _quoted(text: str) -> str:
    """A text as a regular expression that matches just it."""
    return "".join(sign if sign.isalnum() else f"\\x{{{ord(sign):x}}}" for sign in text)


def _events(what: What, tokens: Tokens, length: int, chord: Item | None) -> str:
    """Tables after ``tunes`` (the charts that are counted), the last ``events``: a row ``id``, ``item`` a count."""
    if what in _COLUMNS:
        return f", events AS (SELECT id, {_COLUMNS[what]} AS item FROM tunes)"
    if what is What.CADENCES:
        return _cadences(tokens)
    if what is What.ROOTS:
        tokens = Tokens(Strength.LOOSE)
    elif what is What.FAMILIES:
        tokens = Tokens(Strength.FAMILY)
    if what is not What.SEQUENCES:
        length = 1 if what in (What.ROOTS, What.FAMILIES) else 2
    names = [f"t{place}" for place in range(length)]
    item = tokens.packed(names)
    where = [tokens.sounds(name) for name in names]
    if what is What.FAMILIES:
        item = f"t0 % {len(FAMILIES)}"
    elif what in (What.BEFORE, What.AFTER):
        assert chord is not None
        item, given = ("t0", "t1") if what is What.BEFORE else ("t1", "t0")
        where.append(_among(given, tokens.wanted(chord)))
    unnested = [f"unnest(chords{f'[{place + 1}:]' if place else ''}) AS {name}" for place, name in enumerate(names)]
    return f""", signs AS (SELECT id, {_listed("tonic", tokens)} AS every FROM tunes),
        heard AS (
            SELECT id, list_filter(every, lambda x, place: x IS DISTINCT FROM every[place + 1]) AS chords FROM signs
        ),
        rows_of AS (SELECT id, {", ".join(unnested)} FROM heard),
        events AS (SELECT id, {item} AS item FROM rows_of WHERE {" AND ".join(where)})"""


def _listed(column: str, tokens: Tokens) -> str:
    """The tokens of a string, marks of sections left out."""
    bare = f"replace(replace({column}, '{SECTION_STARTS}', ''), '{SECTION_ENDS}', '')"
    signs = f"string_split({bare}, '')"
    return signs if tokens.strength is Strength.EXACT else f"list_transform({signs}, lambda x: {tokens.sql})"


def _among(name: str, wanted: list[int] | str) -> str:
    if isinstance(wanted, str):
        return f"contains('{wanted}', {name})"
    return f"{name} IN ({', '.join(map(str, wanted)) or 'NULL'})"


def _cadences(tokens: Tokens) -> str:
    # A chord that sounds across the border of two sections is written once, between marks of both; it is doubled first,
    # so that every section is a piece of its own: between two chords, then at the head of a string, where a section of
    # that one chord is followed by one that begins with it.
    chord, border = f"({_CHORD})", f"{SECTION_ENDS}{SECTION_STARTS}"
    doubled = rf"regexp_replace(tonic, '{chord}<{chord}>', '\1\2><\2', 'g')"
    doubled = rf"regexp_replace({doubled}, '(^|[>!])<{chord}>{chord}', '\1<\2><\2\3', 'g')"
    pieces = f"string_split(replace(replace({doubled}, '{border}', '>|<'), '{KEY_CHANGES}', '|'), '|')"
    item = tokens.packed(["one_before", "final"])
    return f""", pieces AS (SELECT id, unnest({pieces}) AS piece FROM tunes),
        ended AS (SELECT id, {_listed("piece", tokens)} AS chords FROM pieces WHERE ends_with(piece, '{SECTION_ENDS}')),
        last_two AS (
            SELECT id, chords[-1] AS final, list_filter(chords, lambda x: x <> chords[-1])[-1] AS one_before FROM ended
        ),
        events AS (SELECT id, {item} AS item FROM last_two WHERE one_before IS NOT NULL)"""
