"""Confidence intervals against statsmodels and scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import quantile_test
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.rates import confint_poisson

from sim_devices.tuning.intervals import delay, proportion, rate

COUNTS = st.integers(1, 5000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of)))


@given(COUNTS)
def test_a_proportion_has_the_interval_after_wilson(counts: tuple[int, int]) -> None:
    # Reference: statsmodels' proportion_confint, method 'wilson'
    hits, of = counts
    found = proportion(hits, of)
    assert (found.low, found.high) == pytest.approx(proportion_confint(hits, of, method="wilson"), abs=1e-12)


def test_an_interval_after_wilson_worked_out_by_hand() -> None:
    # Newcombe 1998, Statistics in Medicine 17:857, table I (from memory): 81 of 263 gives 0.2553 to 0.3662
    found = proportion(81, 263)
    assert (found.low, found.high) == pytest.approx((0.2553, 0.3662), abs=5e-5)


def test_of_nothing_any_proportion_may_be_true() -> None:
    found = proportion(0, 0)
    assert (found.low, found.high, found.share) == (0, 1, None)


@given(st.integers(0, 20_000), st.floats(0.01, 10_000))
def test_a_rate_has_the_exact_interval_after_poisson(count: int, cart_days: float) -> None:
    # Reference: statsmodels' confint_poisson, method 'exact-c' (central, Garwood 1936)
    found = rate(count, cart_days)
    expected = confint_poisson(count, cart_days, method="exact-c")
    assert (found.low, found.high) == pytest.approx((np.nan_to_num(expected[0]), expected[1]), rel=1e-9)


def test_no_false_alert_in_so_many_cart_days_is_no_proof_of_none() -> None:
    # Two-sided 95 %: -ln(0.025) = 3.689 expected events at most (textbook; 'rule of three' one-sided)
    assert rate(0, 100).high == pytest.approx(-np.log(0.025) / 100)


@given(st.lists(st.floats(0, 1e6), min_size=1, max_size=400))
def test_delays_have_intervals_of_order_statistics(seconds: list[float]) -> None:
    # Reference: scipy's quantile_test, confidence_interval
    found = delay(np.array(seconds))
    assert found is not None
    for share, low, high in ((0.5, found.median_low, found.median_high), (0.95, found.p95_low, found.p95_high)):
        expected = quantile_test(seconds, p=share).confidence_interval(0.95)
        told = [np.nan if end is None else end for end in (low, high)]
        np.testing.assert_array_equal(told, [expected.low, expected.high])


@given(st.lists(st.floats(0, 1e6), min_size=1, max_size=400))
def test_median_and_p95_are_by_nearest_rank(seconds: list[float]) -> None:
    # Reference: numpy's quantile, method 'inverted_cdf'
    found = delay(np.array(seconds))
    assert found is not None
    expected = np.quantile(seconds, [0.5, 0.95], method="inverted_cdf")
    assert (found.median, found.p95) == tuple(expected)


def test_five_delays_are_too_few_for_an_interval_of_their_median() -> None:
    # All five lie on one side of the median with 2 / 2^5 = 6.25 % chance
    found = delay(np.array([1.0, 2, 3, 4, 5]))
    assert found is not None
    assert (found.median_low, found.median, found.median_high) == (None, 3, None)


def test_of_no_delay_nothing_is_told() -> None:
    assert delay(np.array([])) is None
