"""Statistics of counts: intervals of shares, two groups compared, corrections for many comparisons, the bootstrap.

Conventions: counts are whole numbers or floats of 0 or more, shares and chances lie between 0 and 1, intervals are of
95% and two-sided, logarithms are natural. Nothing here knows of tunes or chords.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Numbers = npt.NDArray[np.float64]

_Item = TypeVar("_Item", bound=Hashable)

#: The normal quantile of a two-sided interval of 95%.
Z_95 = 1.959963984540054
#: How often the bootstrap draws, and from which seed: the same counts give the same interval.
DRAWS, _SEED = 1000, 20110101
_PERCENTILES = (2.5, 97.5)


def wilson(hits: float, of: float) -> tuple[float, float]:
    """The Wilson score interval of a share, without continuity correction.

    Args:
        hits: How many of them have it, 0 to ``of``.
        of: How many there are, more than 0.

    Raises:
        ValueError: If the counts make no share.

    Source: R. G. Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in Medicine 17
    (1998), 857-872, method 3.

    >>> [round(bound, 4) for bound in wilson(81, 263)]
    [0.2553, 0.3662]
    """
    if not 0 <= hits <= of or of <= 0:
        raise ValueError(f"{hits} of {of} is no share")
    spread = Z_95 * Z_95 / of
    share = hits / of
    middle = share + spread / 2
    half = math.sqrt(spread * (share * (1 - share) + spread / 4))
    low, high = (middle - half) / (1 + spread), (middle + half) / (1 + spread)
    # At the ends the bounds are 0 and 1 exactly, but for rounding.
    return (0.0 if hits == 0 else max(0.0, low)), (1.0 if hits == of else min(1.0, high))


def g_squared(k11: float, k12: float, k21: float, k22: float) -> float:
    """The log-likelihood ratio G² of a table of two rows and two columns, over all four cells.

    Source: T. Dunning, "Accurate methods for the statistics of surprise and coincidence", Computational Linguistics
    19/1 (1993), 61-74.

    Raises:
        ValueError: If a count is negative.

    >>> round(g_squared(110, 2442, 111, 29114), 2)
    270.72
    """
    rows, columns = (k11 + k12, k21 + k22), (k11 + k21, k12 + k22)
    if min(k11, k12, k21, k22) < 0:
        raise ValueError("counts are not negative")
    total = sum(rows)
    cells = ((k11, 0, 0), (k12, 0, 1), (k21, 1, 0), (k22, 1, 1))
    terms = (count * math.log(count * total / (rows[row] * columns[column])) for count, row, column in cells if count)
    # Independent rows give 0, but for rounding.
    return max(0.0, 2 * math.fsum(terms))


def chance_of_g_squared(value: float) -> float:
    """The chance of a G² as large as this or larger where the rows do not differ: chi-squared, one degree of freedom.

    >>> round(chance_of_g_squared(3.841458820694124), 6)
    0.05
    """
    return math.erfc(math.sqrt(value / 2))


def log_odds(
    first: Mapping[_Item, float], second: Mapping[_Item, float], prior: float
) -> dict[_Item, tuple[float, float]]:
    """How much likelier each item is in one group than in another: log-odds ratios with a Dirichlet prior.

    Args:
        first: The counts of one group by item.
        second: The counts of the other.
        prior: What is added to each count, more than 0, the same for every item that either group has.

    Returns:
        For each item the log of the odds ratio (above 0 where the first group has more of it) and its z-score, the
        ratio over its standard deviation. Both are 0 for a single item, which cannot be commoner than itself.

    Source: B. L. Monroe, M. P. Colaresi and K. M. Quinn, "Fightin' words", Political Analysis 16/4 (2008), 372-403,
    equations 15, 16, 20 and 22.

    Raises:
        ValueError: If the prior is not more than 0.
    """
    if prior <= 0:
        raise ValueError("a prior is more than 0")
    items = list(dict.fromkeys([*first, *second]))
    if len(items) < 2:
        return dict.fromkeys(items, (0.0, 0.0))
    all_first = sum(first.values()) + prior * len(items)
    all_second = sum(second.values()) + prior * len(items)
    scores = {}
    for item in items:
        one, other = first.get(item, 0) + prior, second.get(item, 0) + prior
        ratio = math.log(one / (all_first - one)) - math.log(other / (all_second - other))
        scores[item] = ratio, ratio / math.sqrt(1 / one + 1 / other)
    return scores


def benjamini_hochberg(chances: Sequence[float]) -> list[float]:
    """Chances corrected for many comparisons: the false discovery rate at which each would just be kept.

    Args:
        chances: The chance of each comparison by itself.

    Returns:
        The corrected chances, in the same order.

    Source: Y. Benjamini and Y. Hochberg, "Controlling the false discovery rate", Journal of the Royal Statistical
    Society B 57/1 (1995), 289-300.

    >>> benjamini_hochberg([0.01, 0.04, 0.03])
    [0.03, 0.04, 0.04]
    """
    count = len(chances)
    order = sorted(range(count), key=chances.__getitem__, reverse=True)
    corrected = [0.0] * count
    least = 1.0
    for rank, place in zip(range(count, 0, -1), order, strict=True):
        least = min(least, chances[place] * (count / rank))
        corrected[place] = least
    return corrected


def drawn_shares(counts: Any, totals: Any, stream: int = 0) -> Numbers:
    """Shares as they would come out of other tunes: those there are, drawn again with replacement (the bootstrap).

    Args:
        counts: How often each unit (a row) has each item (a column).
        totals: How much each unit has in all.
        stream: Which random numbers are drawn; groups that are compared take different ones.

    Returns:
        One row a draw, one column an item. A draw without anything at all gives 0.

    Source: B. Efron and R. J. Tibshirani, "An Introduction to the Bootstrap" (1993), chapters 6 and 13.
    """
    import numpy as np

    counted, whole = np.asarray(counts, dtype=np.float64), np.asarray(totals, dtype=np.float64)
    units = len(whole)
    drawn = (
        np.random.default_rng([_SEED, stream])
        .multinomial(units, np.full(units, 1 / units), size=DRAWS)
        .astype(np.float64)
    )
    below = (drawn @ whole)[:, np.newaxis]
    shares: Numbers = np.divide(drawn @ counted, below, out=np.zeros((DRAWS, counted.shape[1])), where=below > 0)
    return shares


def percentiles(draws: Numbers) -> tuple[Numbers, Numbers]:
    """The lower and upper bound of each column of draws: the interval that holds 95% of them."""
    import numpy as np

    low, high = np.percentile(draws, _PERCENTILES, axis=0)
    return low, high
