"""Tables of a survey: counts named, with their shares and intervals, as pandas data frames (see ``search.survey``)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from search.statistics import (
    benjamini_hochberg,
    chance_of_g_squared,
    drawn_shares,
    g_squared,
    log_odds,
    percentiles,
    wilson,
)
from search.survey_counts import SAMPLED, Blocks, Counting, Grouping, Tallies, Tally, What
from search.survey_tokens import FAMILIES, ROOTS, Token, Tokens

if TYPE_CHECKING:
    import pandas as pd

    from search.statistics import Numbers
    from search.survey import SurveyQuestion

#: Items that get an interval by the bootstrap, and what is added to each count for the log-odds.
BOOTSTRAPPED, PRIOR = 200, 0.5
ITEM_COLUMNS = {
    What.ROOTS: ("root",),
    What.FAMILIES: ("family",),
    What.SEQUENCES: ("numbers",),
    What.TRANSITIONS: ("from", "to"),
    What.BEFORE: ("chord",),
    What.AFTER: ("chord",),
    What.CADENCES: ("from", "to", "cadence"),
    What.KEYS: ("key",),
    What.MODES: ("mode",),
    What.LENGTHS: ("bars",),
    What.METRES: ("metre",),
}
#: Cadences by their last two roots, in semitones above the tonic (common practice).
_CADENCES = {(7, 0): "authentic", (5, 0): "plagal", (10, 0): "backdoor", (7, 9): "deceptive", (7, 8): "deceptive"}
_DOMINANT = 7


def cadence_name(one_before: int, final: int) -> str:
    """What a cadence is called, by its last two roots in semitones above the tonic.

    >>> cadence_name(5, 0), cadence_name(2, 7), cadence_name(0, 4)
    ('plagal', 'half', 'other')
    """
    return _CADENCES.get((one_before, final)) or ("half" if final == _DOMINANT else "other")


def _named(question: SurveyQuestion, tokens: Tokens, item: Any) -> tuple[Any, ...]:
    """The columns of an item."""
    what = question.what
    if what.of_tunes:
        return (item,)
    if what is What.ROOTS:
        return (ROOTS[item],)
    if what is What.FAMILIES:
        return (FAMILIES[item].title,)
    if what is What.SEQUENCES:
        return ([tokens.name(token) for token in tokens.unpacked(item, question.length)],)
    if what in (What.BEFORE, What.AFTER):
        return (tokens.name(item),)
    first, second = _pair(tokens, item)
    names = tokens.name(first), tokens.name(second)
    return (*names, cadence_name(tokens.root(first), tokens.root(second))) if what is What.CADENCES else names


def _pair(tokens: Tokens, item: Any) -> tuple[Token, Token]:
    first, second = tokens.unpacked(item, 2)
    return first, second


def counted(
    counting: Counting, question: SurveyQuestion, tokens: Tokens, grouping: Grouping, tallies: Tallies, *, by: bool
) -> pd.DataFrame:
    """The table of one group, or of several one after another."""
    import pandas as pd

    of_tunes = question.what.of_tunes
    leading: dict[tuple[str, Token], int] = {}
    if question.what is What.TRANSITIONS:
        for row in tallies.rows:
            first = row.group, _pair(tokens, row.item)[0]
            leading[first] = leading.get(first, 0) + row.times
    spread = {} if of_tunes else _spreads(counting, grouping, tallies)
    order = {name: place for place, name in enumerate(tallies.groups)}
    rows = []
    for row in sorted(tallies.rows, key=lambda row: order[row.group]):
        charts = tallies.groups[row.group]
        made = {"group": row.group, "group_charts": charts} if by else {}
        made |= dict(zip(ITEM_COLUMNS[question.what], _named(question, tokens, row.item), strict=True))
        if of_tunes:
            low, high = wilson(row.charts, charts)
            rows.append(made | {"share": row.charts / charts, "charts": row.charts, "low": low, "high": high})
            continue
        made |= {"times": row.times, "share": row.times / tallies.totals[row.group]}
        made["share_low"], made["share_high"] = spread.get((row.group, row.item), (None, None))
        if leading:
            made["from_share"] = row.times / leading[row.group, _pair(tokens, row.item)[0]]
        low, high = wilson(row.charts, charts)
        rows.append(made | {"charts": row.charts, "of_tunes": row.charts / charts, "low": low, "high": high})
    return _typed(pd.DataFrame(rows, columns=None if rows else _columns(question.what, by)))


def _columns(what: What, by: bool) -> list[str]:
    """The columns of an empty table."""
    lead = ["group", "group_charts"] if by else []
    if what.of_tunes:
        return [*lead, *ITEM_COLUMNS[what], "share", "charts", "low", "high"]
    inner = ["from_share"] if what is What.TRANSITIONS else []
    share = ["times", "share", "share_low", "share_high", *inner]
    return [*lead, *ITEM_COLUMNS[what], *share, "charts", "of_tunes", "low", "high"]


def _typed(table: pd.DataFrame) -> pd.DataFrame:
    """Intervals as numbers, those that were not worked out as NaN."""
    intervals = [name for name in table.columns if name.endswith(("_low", "_high"))]
    return table.astype(dict.fromkeys(intervals, "float64"))


def _commonest(rows: Iterable[Tally]) -> list[Any]:
    """The items that get an interval, in the order of the rows."""
    return list(dict.fromkeys(row.item for row in rows))[:BOOTSTRAPPED]


def _spreads(counting: Counting, grouping: Grouping, tallies: Tallies) -> dict[tuple[str, Any], tuple[float, float]]:
    """The interval of each share by the bootstrap over tunes, by group and item."""
    items = _commonest(tallies.rows)
    if not items:
        return {}
    shares = {(row.group, row.item): row.times / tallies.totals[row.group] for row in tallies.rows}
    found = {}
    for group, blocks in counting.blocks(grouping, items).items():
        low, high = percentiles(_deviations(blocks, tallies.groups.get(group, 0)))
        for place, item in enumerate(items):
            share = shares.get((group, item), 0.0)
            found[group, item] = _within(share + low[place], 0), _within(share + high[place], 0)
    return found


def _deviations(blocks: Blocks, size: int, stream: int = 0) -> Numbers:
    """How far the shares of drawn tunes are from those of all, one row a draw, one column an item.

    Where only some tunes of a large group were counted they stray further than all of them would: the distance shrinks
    with the square root of the number of tunes.
    """
    import numpy as np

    whole = np.sum(blocks.counts, axis=0) / max(1, sum(blocks.totals))
    scale = math.sqrt(min(1.0, SAMPLED / max(1, size)))
    deviations: Numbers = (drawn_shares(blocks.counts, blocks.totals, stream) - whole) * scale
    return deviations


def _within(value: float, least: float) -> float:
    """A share (or a difference of shares, where ``least`` is -1) kept within its bounds."""
    return min(1.0, max(least, float(value)))


def compared(
    counting: Counting, question: SurveyQuestion, tokens: Tokens, grouping: Grouping, tallies: Tallies
) -> pd.DataFrame:
    """The table of two groups, one row an item, the clearest differences first."""
    import pandas as pd

    of_tunes = question.what.of_tunes
    names = list(tallies.groups)
    sizes = [tallies.groups[name] for name in names]
    pairs: dict[Any, list[Tally]] = {}
    for row in tallies.rows:
        empty = [Tally(name, row.item, 0, 0) for name in names]
        pairs.setdefault(row.item, empty)[names.index(row.group)] = row
    # Of whole tunes each counts once; of chords, as often as they are played.
    totals = sizes if of_tunes else [tallies.totals.get(name, 0) for name in names]
    first, second = ({item: float(each[side].times) for item, each in pairs.items()} for side in (0, 1))
    odds = log_odds(first, second, PRIOR)
    shares_of = {
        item: [_share(row.times, n) for row, n in zip(each, totals, strict=True)] for item, each in pairs.items()
    }
    differences = {item: shares[0] - shares[1] for item, shares in shares_of.items()}
    spread = _differences(counting, grouping, tallies, differences) if pairs and all(totals) else {}
    rows = []
    for item, each in pairs.items():
        made = dict(zip(ITEM_COLUMNS[question.what], _named(question, tokens, item), strict=True))
        shares = shares_of[item]
        for side, row, size, share in zip((1, 2), each, sizes, shares, strict=True):
            low, high = wilson(row.charts, size) if size else (0.0, 1.0)
            own: dict[str, float] = {} if of_tunes else {"times": row.times}
            own |= {"share": share, "charts": row.charts}
            own |= {} if of_tunes else {"of_tunes": _share(row.charts, size)}
            made |= {f"{name}_{side}": value for name, value in (own | {"low": low, "high": high}).items()}
        made["difference"] = differences[item]
        made["difference_low"], made["difference_high"] = spread.get(item, (None, None))
        cells = [cell for row, total in zip(each, totals, strict=True) for cell in (row.times, total - row.times)]
        made["g2"] = g_squared(*cells)
        made["p"] = chance_of_g_squared(made["g2"])
        made["log_odds"], made["z"] = odds[item]
        rows.append(made)
    for made, q in zip(rows, benjamini_hochberg([made["p"] for made in rows]), strict=True):
        made["q"] = q
    rows.sort(key=lambda made: -made["g2"])
    return _typed(pd.DataFrame(rows, columns=None if rows else [*ITEM_COLUMNS[question.what], "difference"]))


def _share(count: int, of: int) -> float:
    return count / of if of else 0.0


def _differences(
    counting: Counting, grouping: Grouping, tallies: Tallies, differences: Mapping[Any, float]
) -> dict[Any, tuple[float, float]]:
    """The interval of each difference of shares by the bootstrap over the tunes of both groups, by item."""
    items = _commonest(tallies.rows)
    blocks = counting.blocks(grouping, items)
    first, second = (
        _deviations(blocks[name], size, stream) for stream, (name, size) in enumerate(tallies.groups.items())
    )
    low, high = percentiles(first - second)
    return {
        item: (_within(differences[item] + low[place], -1), _within(differences[item] + high[place], -1))
        for place, item in enumerate(items)
    }
