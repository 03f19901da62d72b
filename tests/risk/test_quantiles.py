"""Order-statistic bounds on quantiles, from values and from histograms."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from leadline.risk import Binned, binned_quantile, one_sided_rank, order_statistic_ranks, sample_quantile
from leadline.risk.quantiles import Side

Array = npt.NDArray[np.float64]


def test_first_and_last_values_bound_from_the_wilks_sizes_on() -> None:
    # published: 59 and 93 are the 95/95 one-sided sizes of order 1 and 2 (OECD/NEA CSNI-R(2013)8 part 2 p. 22, tables
    # 1-3, as transcribed in a public test suite)
    assert one_sided_rank(58, 0.95, 0.95, Side.UPPER) == 59  # even the largest of 58 is no bound
    assert one_sided_rank(59, 0.95, 0.95, Side.UPPER) == 59
    assert one_sided_rank(92, 0.95, 0.95, Side.UPPER) == 92
    assert one_sided_rank(93, 0.95, 0.95, Side.UPPER) == 92
    assert one_sided_rank(58, 0.05, 0.95, Side.LOWER) == 0
    assert one_sided_rank(59, 0.05, 0.95, Side.LOWER) == 1


def test_ranks_around_the_median() -> None:
    # published: for n = 10 the 2nd and 9th values hold the median with 97.9 % (from memory, W. J. Conover, Practical
    # Nonparametric Statistics; exact: 1 - 22 / 1024); ranks 3 and 8 would hold it with 89.1 % only
    assert order_statistic_ranks(10, 0.5, 0.95) == (2, 9)
    assert order_statistic_ranks(10, 0.5, 0.89) == (3, 8)


@pytest.mark.parametrize("n", [1, 5, 40, 1000, 20_000])
@pytest.mark.parametrize("p", [0.001, 0.04, 0.5, 0.77, 0.999])
@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.99])
def test_ranks_are_the_tightest_that_cover(n: int, p: float, confidence: float) -> None:
    # exact: brute force over the binomial law, scipy.stats.binom
    lower, upper = order_statistic_ranks(n, p, confidence)
    tail = (1 - confidence) / 2
    below = scipy.stats.binom(n, p)
    assert below.cdf(lower - 1) <= tail < below.cdf(lower)
    assert below.sf(upper - 1) <= tail < below.sf(upper - 2)


@pytest.mark.parametrize(("n", "p", "confidence"), [(40, 0.5, 0.95), (500, 0.9, 0.9), (1000, 0.02, 0.99)])
def test_ranks_agree_with_scipys_quantile_test(n: int, p: float, confidence: float) -> None:
    # cross-checked: scipy.stats.quantile_test(...).confidence_interval, SciPy 1.17
    values = np.random.default_rng(3).standard_normal(n)
    ours = sample_quantile(values, p, confidence)
    test: Any = scipy.stats.quantile_test(values, p=p)  # its stubs take the result's interval for a number
    theirs = test.confidence_interval(confidence)
    assert (ours.low, ours.high) == (theirs.low, theirs.high)


@given(st.integers(1, 10**9), st.floats(1e-6, 1 - 1e-6), st.floats(0.01, 0.999))
def test_ranks_turn_round(n: int, p: float, confidence: float) -> None:
    lower = one_sided_rank(n, 1 - p, confidence, Side.LOWER)
    upper = one_sided_rank(n, p, confidence, Side.UPPER)
    # 1 - p rounds, and at a tie (n = 15, p = 0.5, confidence 0.5) the last bit decides, so one apart is allowed
    assert abs(n + 1 - lower - upper) <= 1
    assert 0 <= lower <= n
    assert 1 <= upper <= n + 1


def test_a_small_sample_has_no_bounds() -> None:
    interval = sample_quantile(np.array([3.0, 1.0, 2.0]), 0.5, 0.9)
    assert (interval.value, interval.low, interval.high) == (2.0, -math.inf, math.inf)
    assert "no lower bound and no upper bound of 3 cases" in interval.method


def binned(values: Array, low: float = -4.0, width: float = 0.25, bins: int = 32) -> Binned:
    # divided before it is shifted: -1e-20 must stay below the edge at 0
    slots = np.clip(np.floor(values / width) - low / width, -1, bins).astype(int) + 1
    counts = np.bincount(slots, minlength=bins + 2)
    return Binned(counts, low, width, float(values.min()), float(values.max()))


finite = st.floats(-8, 8, allow_subnormal=False)


@given(st.lists(finite, min_size=1, max_size=200), st.floats(0.001, 0.999), st.sampled_from([0.5, 0.9, 0.99]))
def test_binned_bounds_hold_those_of_the_values(data: list[float], p: float, confidence: float) -> None:
    values = np.array(data)
    exact, ours = sample_quantile(values, p, confidence), binned_quantile(binned(values), p, confidence)
    assert ours.low <= exact.low
    assert ours.high >= exact.high
    assert ours.low <= ours.value <= ours.high
    assert values.min() <= ours.value <= values.max()


@given(st.lists(st.floats(-3.9, 3.9), min_size=30, max_size=200), st.floats(0.2, 0.8))
def test_binned_bounds_are_at_most_a_bin_wider(data: list[float], p: float) -> None:
    values = np.array(data)
    exact, ours = sample_quantile(values, p, 0.9), binned_quantile(binned(values), p, 0.9)
    assert exact.low - ours.low <= 0.25
    assert ours.high - exact.high <= 0.25


def test_values_outside_the_edges_are_bounded_by_the_ends_of_the_sample() -> None:
    values = np.concatenate([np.full(50, -100.0), np.full(50, 70.0)])
    low, high = (binned_quantile(binned(values), p, 0.9) for p in (0.2, 0.8))
    assert (low.low, low.high) == (-100.0, -4.0)
    assert (high.low, high.high) == (4.0, 70.0)


def test_binned_estimate_is_interpolated_in_its_bin() -> None:
    # exact: 100 values in [0, 1), one bin, so the fraction p lies at p
    sample = Binned(np.array([0, 100, 0]), 0.0, 1.0, 0.0, 1.0)
    assert binned_quantile(sample, 0.3, 0.9).value == pytest.approx(0.3, rel=1e-12)


def test_a_sample_of_one_value_has_it_for_every_quantile() -> None:
    sample = binned(np.full(1000, 1.1))
    interval = binned_quantile(sample, 0.05, 0.95)
    assert (interval.low, interval.value, interval.high) == (1.1, 1.1, 1.1)


def test_methods_say_what_they_rest_on() -> None:
    sample = binned(np.linspace(-3, 3, 1000))
    alone, stratified = binned_quantile(sample, 0.5, 0.9), binned_quantile(sample, 0.5, 0.9, independent=False)
    assert "rank 474 and rank 527 of 1 000 cases, at least 90 % confidence (exact binomial)" in alone.method
    assert "bin edges" in alone.method
    assert "cautious bound for stratified replicates" in stratified.method
    assert "exact" not in stratified.method
    assert (alone.low, alone.high) == (stratified.low, stratified.high)


@pytest.mark.parametrize(("n", "p"), [(0, 0.5), (5, 0.0), (5, 1.0), (5, math.nan)])
def test_impossible_quantiles_are_refused(n: int, p: float) -> None:
    with pytest.raises(ValueError, match="quantile"):
        order_statistic_ranks(n, p, 0.9)
