"""Groups of tunes for a survey: by a header, or two groups against each other.

Conventions: tunes can be grouped by a fact of every chart (style, level, decade, key, mode, metre), by tags, or by any
other header. Values are compared without regard to case. In a comparison a style is meant by words of it, as in a
filter, everything else by the whole value; ``rest`` is every other tune that has a value. A tune that belongs to both
groups is left out of both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from search.survey_counts import Counting, Grouping
from shared.errors import ChoiceError, nearest

_DECADE = "(year // 10 * 10)::VARCHAR || 's'"
#: What a chart is grouped by, as SQL over its row.
_FACTS = {
    "style": "lower(style)",
    "level": "printf('%g', level)",
    "decade": _DECADE,
    "key": "key",
    "mode": "mode",
    "metre": "metre",
}
TAG, REST = "tag", "rest"
GROUPINGS = (*_FACTS, TAG)
#: What has an order of its own; other groups are told the largest first.
IN_ORDER = ("level", "decade")
_OFFERED = 8


@dataclass(frozen=True, slots=True)
class Grouped:
    """Groups of tunes, and what is worth saying about them.

    Attributes:
        by: What tunes are grouped by.
        grouping: The groups.
        having: Tunes that have any value.
        names: The two groups that are compared, as they are called; empty where all groups are told.
        in_both: Tunes that belong to both, and are therefore left out.
    """

    by: str
    grouping: Grouping
    having: int
    names: tuple[str, ...] = ()
    in_both: int = 0


def _source(by: str) -> tuple[str, tuple[Any, ...]]:
    """Rows ``id``, ``grp`` for every tune that has a value."""
    if by in _FACTS:
        return f"SELECT id, {_FACTS[by]} AS grp FROM asked WHERE grp IS NOT NULL", ()
    if by == TAG:
        return "SELECT DISTINCT id, grp FROM (SELECT id, lower(unnest(tags)) AS grp FROM asked)", ()
    own = "SELECT DISTINCT chart AS id, lower(value) AS grp FROM headers"
    return f"{own} WHERE name = ? AND value <> '' AND chart IN (SELECT id FROM asked)", (by,)


def known_by(counting: Counting, by: str) -> str:
    """What tunes are grouped by, as it is called.

    Raises:
        ChoiceError: If there is no such fact, and no tune has such a header.
    """
    name = by.strip().lower()
    if name in GROUPINGS:
        return name
    headers = [row[0] for row in counting.snapshot.rows("SELECT DISTINCT name FROM headers ORDER BY 1")]
    if name in headers:
        return name
    known = [*GROUPINGS, *headers]
    raise ChoiceError(f"no tune has a header “{by}” to group by", nearest(by, known) or GROUPINGS)


def values_by(counting: Counting, by: str) -> list[str]:
    """The values that tunes have, the commonest first; levels and decades in their own order.

    Raises:
        ChoiceError: If there is no such fact or header.
    """
    name = known_by(counting, by)
    values = counting.values(*_source(name))
    return sorted(values, key=in_order) if name in IN_ORDER else values


def in_order(value: str) -> float:
    """Where a level or decade stands among others."""
    return float(value.rstrip("s"))


def grouped(counting: Counting, by: str, against: tuple[str, str] | None = None) -> Grouped:
    """The groups that a survey is made by.

    Args:
        counting: The survey's counting.
        by: What tunes are grouped by: one of ``GROUPINGS``, or the name of a header.
        against: The values of two groups to compare; else every value makes a group.

    Raises:
        ChoiceError: If there is no such fact or header, no tune has one of the values, or the two are the same.
    """
    name = known_by(counting, by)
    sql, parameters = _source(name)
    having = counting.number(f"SELECT count(DISTINCT id) FROM ({sql})", parameters)
    if against is None:
        return Grouped(name, Grouping(sql, parameters), having)
    known = counting.values(sql, parameters)
    first, second = (_group(name, value, known) for value in against)
    if first == second:
        raise ChoiceError(f"“{against[0]}” and “{against[1]}” are one group; two are compared")
    sides, own = [], []
    for group, other in ((first, second), (second, first)):
        rest = group == REST and REST not in known
        sides.append(f"{'NOT ' if rest else ''}bool_or(list_contains(?, grp))")
        own.append(_values(name, other if rest else group, known))
    is_in = f"SELECT id, {sides[0]} AS one, {sides[1]} AS two FROM ({sql}) GROUP BY id"
    both = counting.number(f"SELECT count(*) FROM ({is_in}) WHERE one AND two", (*own, *parameters))
    picked = f"SELECT id, CASE WHEN one THEN ? ELSE ? END AS grp FROM ({is_in}) WHERE one <> two"
    return Grouped(name, Grouping(picked, (first, second, *own, *parameters)), having, (first, second), both)


def _values(by: str, group: str, known: Sequence[str]) -> list[str]:
    """The values that belong to a group: of styles those with its words, else its own."""
    return [each for each in known if (group in each if by == "style" else each == group)]


def _group(by: str, value: str, known: Sequence[str]) -> str:
    """The group that a value means, as it is called.

    Raises:
        ChoiceError: If no tune has it.
    """
    wanted = value.strip()
    same = next((each for each in known if each.casefold() == wanted.casefold()), None)
    if same is not None:
        return same
    if by == "style" and wanted and any(wanted.lower() in each for each in known):
        return wanted.lower()
    if wanted.casefold() == REST:
        return REST
    message = f"no tune asked has the {by} “{value}”"
    raise ChoiceError(message, nearest(wanted, known) or [*known[:_OFFERED], REST])
