"""What must hold of the statistics whatever the counts; published examples are checked in tests/external."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.statistics import benjamini_hochberg, drawn_shares, g_squared, log_odds, percentiles, wilson

counts = st.integers(0, 1000)


@given(st.integers(1, 5000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_a_wilson_interval_holds_its_share(pair: tuple[int, int]) -> None:
    hits, of = pair
    low, high = wilson(hits, of)
    assert 0 <= low <= hits / of <= high <= 1
    assert wilson(of - hits, of) == (pytest.approx(1 - high), pytest.approx(1 - low))


@given(counts, counts, counts, counts)
def test_g_squared_does_not_mind_which_group_is_first(k11: int, k12: int, k21: int, k22: int) -> None:
    value = g_squared(k11, k12, k21, k22)
    assert value >= 0
    assert g_squared(k21, k22, k11, k12) == pytest.approx(value, abs=1e-8)
    assert g_squared(k12, k11, k22, k21) == pytest.approx(value, abs=1e-8)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        (lambda: wilson(3, 2), "3 of 2"),
        (lambda: wilson(0, 0), "0 of 0"),
        (lambda: g_squared(1, -1, 2, 3), "negative"),
        (lambda: log_odds({"a": 1}, {"b": 1}, 0), "prior"),
    ],
)
def test_counts_that_mean_nothing_are_refused(wrong: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        wrong()


@given(st.dictionaries(st.sampled_from("abcdef"), counts), st.dictionaries(st.sampled_from("abcdef"), counts))
def test_log_odds_turn_round_with_the_groups(first: dict[str, int], second: dict[str, int]) -> None:
    there, back = log_odds(first, second, 0.5), log_odds(second, first, 0.5)
    assert set(there) == {*first, *second}
    for item, (ratio, z) in there.items():
        assert back[item] == (pytest.approx(-ratio), pytest.approx(-z))


def test_log_odds_of_equal_groups_are_nothing() -> None:
    assert set(log_odds({"a": 3, "b": 1}, {"a": 3, "b": 1}, 0.5).values()) == {(0.0, 0.0)}
    assert log_odds({"a": 3}, {"a": 9}, 0.5) == {"a": (0.0, 0.0)}
    assert log_odds({}, {}, 0.5) == {}


@given(st.lists(st.floats(0, 1), max_size=30))
def test_corrected_chances_keep_their_order_and_never_shrink(chances: list[float]) -> None:
    corrected = benjamini_hochberg(chances)
    assert all(before <= after <= 1 for before, after in zip(chances, corrected, strict=True))
    by_chance = [each for _, each in sorted(zip(chances, corrected, strict=True))]
    assert by_chance == sorted(by_chance)


def test_draws_are_the_same_each_time_and_differ_between_groups() -> None:
    counted, totals = [[1, 0], [3, 2], [0, 5]], [4, 9, 6]
    assert np.array_equal(drawn_shares(counted, totals), drawn_shares(counted, totals))
    assert not np.array_equal(drawn_shares(counted, totals), drawn_shares(counted, totals, 1))


def test_units_that_are_alike_leave_no_doubt() -> None:
    low, high = percentiles(drawn_shares([[1], [1], [1]], [4, 4, 4]))
    assert (low[0], high[0]) == (0.25, 0.25)


def test_draws_of_nothing_are_nothing() -> None:
    assert not drawn_shares([[0], [0]], [0, 0]).any()
