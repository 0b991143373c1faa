"""The statistics against published examples, and against scipy and statsmodels."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.statistics import (
    DRAWS,
    Z_95,
    benjamini_hochberg,
    chance_of_g_squared,
    drawn_shares,
    g_squared,
    log_odds,
    percentiles,
    wilson,
)

scipy_stats = pytest.importorskip("scipy.stats", reason="scipy is not installed")


@pytest.mark.parametrize(
    ("cells", "value"),
    [((110, 2442, 111, 29114), 270.72), ((29, 13, 123, 31612), 263.90), ((9, 12, 429, 31327), 48.94)],
)
def test_g_squared_as_dunning_prints_it(cells: tuple[int, int, int, int], value: float) -> None:
    """T. Dunning, Computational Linguistics 19/1 (1993), 61-74, as transcribed by others; all four cells."""
    assert f"{g_squared(*cells):.2f}" == f"{value:.2f}"


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_as_newcombe_prints_it(hits: int, of: int, low: float, high: float) -> None:
    """R. G. Newcombe, Statistics in Medicine 17 (1998), 857-872, table I, method 3; transcribed by others."""
    assert [round(bound, 4) for bound in wilson(hits, of)] == [low, high]


def test_log_odds_of_a_brown_fox() -> None:
    """The method is that of Monroe, Colaresi and Quinn, Political Analysis 16/4 (2008), 372-403, from memory; the
    figure was recomputed by another program."""
    texts = "the quick brown fox jumps over the lazy pig", "the lazy purple pig jumps over the lazier donkey"
    first, second = (Counter(text.split()) for text in texts)
    assert len({*first, *second}) == 11
    _, z = log_odds(first, second, 0.05)["brown"]
    assert f"{z:+.8f}" == "+0.68942279"


counts = st.integers(0, 10_000)


@given(counts, counts, counts, counts)
def test_g_squared_against_scipy(k11: int, k12: int, k21: int, k22: int) -> None:
    rows, columns = (k11 + k12, k21 + k22), (k11 + k21, k12 + k22)
    if not all((*rows, *columns)):
        assert g_squared(k11, k12, k21, k22) == pytest.approx(0, abs=1e-9)
        return
    table = [[k11, k12], [k21, k22]]
    found = scipy_stats.chi2_contingency(table, correction=False, lambda_="log-likelihood")
    value = g_squared(k11, k12, k21, k22)
    assert value == pytest.approx(found.statistic, rel=1e-9, abs=1e-8)
    assert chance_of_g_squared(value) == pytest.approx(found.pvalue, rel=1e-6, abs=1e-9)


def test_the_normal_quantile_against_scipy() -> None:
    assert pytest.approx(scipy_stats.norm.ppf(0.975), abs=1e-15) == Z_95


@given(st.integers(1, 100_000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_wilson_against_statsmodels(pair: tuple[int, int]) -> None:
    proportion = pytest.importorskip("statsmodels.stats.proportion", reason="statsmodels is not installed")
    low, high = proportion.proportion_confint(*pair, alpha=0.05, method="wilson")
    assert wilson(*pair) == (pytest.approx(low, abs=1e-12), pytest.approx(high, abs=1e-12))


@given(st.lists(st.floats(0, 1), min_size=1, max_size=40))
def test_benjamini_hochberg_against_statsmodels(chances: list[float]) -> None:
    multitest = pytest.importorskip("statsmodels.stats.multitest", reason="statsmodels is not installed")
    _, corrected, _, _ = multitest.multipletests(chances, method="fdr_bh")
    assert benjamini_hochberg(chances) == pytest.approx(list(corrected), abs=1e-12)


def test_the_bootstrap_against_scipy() -> None:
    """The percentile interval of a ratio of sums over units; both draw at random, so they agree only nearly."""
    random = np.random.default_rng(7)
    totals = random.integers(20, 120, 150)
    hits = random.binomial(totals, random.beta(2, 5, 150))
    low, high = percentiles(drawn_shares(hits[:, np.newaxis], totals))

    def ratio(x: np.ndarray, y: np.ndarray, axis: int) -> np.ndarray:
        return np.asarray(x.sum(axis=axis) / y.sum(axis=axis))

    found = scipy_stats.bootstrap(
        (hits, totals), ratio, paired=True, n_resamples=4000, method="percentile", rng=np.random.default_rng(8)
    ).confidence_interval
    width = found.high - found.low
    assert low[0] == pytest.approx(found.low, abs=0.1 * width)
    assert high[0] == pytest.approx(found.high, abs=0.1 * width)


def test_the_bootstrap_is_as_wide_as_theory_says() -> None:
    """For units of one count each the share is a mean of zeros and ones: its deviation is that of the binomial."""
    hits = np.repeat([0, 1], [300, 100])
    draws = drawn_shares(hits[:, np.newaxis], np.ones(400))
    assert draws.shape == (DRAWS, 1)
    assert float(draws.std()) == pytest.approx(math.sqrt(0.25 * 0.75 / 400), rel=0.1)
