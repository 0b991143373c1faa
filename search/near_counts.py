r"""Counts and marks what is near to a pattern in the strings of an index, in SQL.

What is near, and in which order it is taken, is told in ``search.nearness``: of every string what was asked for is
taken out first, then what is one edit away, then two. A taken match leaves the number of its edits behind (``TAKEN``).

Of all that a search may ask, near versions cost the most. So each number of edits is asked only of tunes that may hold
such a version, codes of rare qualities only of tunes that may have one, and other views than the first only as far as
they may come nearer than it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from search.nearness import TAKEN, without_rare
from search.places import MATCH_BEGINS, MATCH_ENDS
from search.rows_asked import put_marks
from search.views import View

#: Whether a tune may have rare qualities, told without reading it: its codes are of three bytes, rare ones of four,
#: marks of one. A chord that stands in two keys is counted twice and looks like a rare one.
_MAY_BE_RARE = "strlen(tonic) - length(tonic) > 2 * events"
#: From so many characters on an expression is so slow that it pays to ask a shorter one of most tunes (measured).
_LARGE = 3000
_MARKED = rf"\{MATCH_BEGINS}[^{MATCH_ENDS}]*\{MATCH_ENDS}"


class Asked(NamedTuple):
    """What is asked of a view.

    Attributes:
        view: The view.
        texts: The expressions: of the pattern, of what is one edit away, and so on.
        holding: Which tunes may hold what is up to so many edits away, as conditions in SQL, from none on.
    """

    view: View
    texts: Sequence[str]
    holding: Sequence[str]


def counts_of_all(
    asked: Sequence[Asked], length: str, where: str, filtered: Sequence[Any], rare: bool
) -> tuple[str, list[Any]]:
    """What all views find, in SQL with its parameters: the table ``every`` with a row for each tune and view.

    Its columns are ``id``, ``view``, ``length``, ``found`` (how many exact matches), ``near`` (how many near versions)
    and ``edits`` (how many the nearest of all has, null where there is none). Near versions only count in the view that
    comes nearest, of several the first: in the others they need not be found.

    Args:
        asked: What is asked of each view.
        length: The column that says how long a tune is.
        where: What else a tune must be, in SQL.
        filtered: The parameters of that.
        rare: Whether a tune may have rare qualities.
    """
    selects: list[str] = []
    values: list[Any] = []
    # Views of one kind find different tunes, or count together; the others win only where they are nearer.
    first_wins = asked[0].view.kind == 0
    for number, each in enumerate(asked):
        source = "charts"
        if number and first_wins:
            source = "charts LEFT JOIN (SELECT id, edits AS rival FROM first) USING (id)"
        source = f"{source} WHERE {each.view.where} AND {each.holding[-1]}{where}"
        sql, parameters = _counts(each, number, length, source, bool(number) and first_wins, rare)
        selects.append(sql)
        values += [*parameters, *filtered]
    # Materialized, so that a condition on what was counted does not count everything a second time.
    names = ["first", *(f"other_{number}" for number in range(1, len(selects)))]
    counted = ", ".join(f"{name} AS MATERIALIZED ({sql})" for name, sql in zip(names, selects, strict=True))
    every = " UNION ALL ".join(f"SELECT * FROM {name}" for name in names)
    return f"{counted}, every AS ({every})", values


def _counts(asked: Asked, number: int, length: str, source: str, rivalled: bool, rare: bool) -> tuple[str, list[str]]:
    """What one view finds, with the parameters of its expressions.

    Args:
        asked: What is asked.
        number: The number of the view.
        length: The column that says how long a tune is.
        source: The tunes asked: what follows ``FROM``.
        rivalled: Whether the column ``rival`` says how many edits away another view comes, whose near versions count
            unless this one is nearer.
        rare: Whether a tune may have rare qualities.
    """
    last = len(asked.texts) - 1
    columns = [f"{condition} AS holding_{edits}" for edits, condition in enumerate(asked.holding[:-1])]
    columns += ["rival"] if rivalled else []
    columns += [f"{_MAY_BE_RARE} AS rare"] if rare else []
    sql = f"SELECT id, {length} AS length, {asked.view.column} AS left_0, {', '.join(columns)} FROM {source}"
    values: list[str] = []
    nearest = ""
    for edits, (sign, text) in enumerate(zip(TAKEN, asked.texts, strict=False)):
        left, after = f"left_{edits}", f"left_{edits + 1}"
        worth = [f"holding_{edits}"] if edits < last else []
        if rivalled and edits:
            worth.append(f"coalesce(rival > CASE {nearest}ELSE {edits} END, TRUE)")
        worth_asking = " AND ".join(worth) or "TRUE"
        if edits < last:
            taken, more = _asked(f"regexp_replace({left}, ?, '{sign}', 'g')", text, rare)
            sql = f"SELECT *, CASE WHEN {worth_asking} THEN {taken} ELSE {left} END AS {after} FROM ({sql})"
            # Whether there is any is known sooner than how many.
            found, worth_asking = f"strlen({after}) - strlen(replace({after}, '{sign}', ''))", f"{after} <> {left}"
        else:
            found, more = _asked(f"len(regexp_extract_all({left}, ?))", text, rare)
        sql = f"SELECT *, CASE WHEN {worth_asking} THEN {found} ELSE 0 END AS count_{edits} FROM ({sql})"
        nearest += f"WHEN count_{edits} > 0 THEN {edits} "
        values = more + values
    near = " + ".join(f"count_{edits}" for edits in range(1, last + 1))
    sql = (
        f"SELECT id, {number} AS view, length, count_0::INTEGER AS found, ({near})::INTEGER AS near, "
        f"CASE {nearest}END AS edits, NULL AS exact FROM ({sql})"
    )
    return sql, values


def marking(column: str, texts: Sequence[str]) -> tuple[str, list[str]]:
    """The strings that ``nearness.marked`` is made from, in SQL with its parameters.

    Of each number of edits, from none, the string in which its matches stand between two signs and those with fewer
    edits are taken out.
    """
    steps = []
    left = column
    for edits in range(len(texts)):
        steps.append(put_marks(left))
        left = taken_out(steps[-1], edits)
    return f"[{', '.join(steps)}]", [text for number in range(len(texts)) for text in texts[: number + 1]]


def taken_out(marked: str, edits: int) -> str:
    """A marked string whose matches, of so many edits, are taken, in SQL."""
    return f"regexp_replace({marked}, '{_MARKED}', '{TAKEN[edits]}', 'g')"


def _asked(sql: str, text: str, rare: bool) -> tuple[str, list[str]]:
    """An expression asked in full only of tunes that may need it."""
    if not rare or len(text) < _LARGE:
        return sql, [text]
    return f"CASE WHEN rare THEN {sql} ELSE {sql} END", [text, without_rare(text)]
