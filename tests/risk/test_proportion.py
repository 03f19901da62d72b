"""Intervals for a chance: published tables, an independent library, and what each must satisfy."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from leadline.risk import (
    Interval,
    Replicates,
    clopper_pearson,
    exact_lower_bound,
    exact_upper_bound,
    jeffreys,
    paired_difference,
    replicate_difference,
    replicate_interval,
    replicate_mean,
    wilson,
)
from leadline.risk.proportion import FEW

Rule = Callable[[int, int, float], Interval]

R_VALUES = "SciPy test_morestats.py, values from R 3.6.2 binom.test / prop.test"
NEWCOMBE = "R. G. Newcombe, Stat. Med. 17 (1998) 857, Table I, as quoted in a public unit test"
NEWCOMBE_EXACT = "the same table's exact column, from memory, reproduced with SciPy"
BINOM = "statsmodels results_proportion.py, values from R binom::binom.confint"

# published: rule, (successes, trials, confidence), (low, high), tolerance of the printed digits, source
PUBLISHED: list[tuple[Rule, tuple[int, int, float], tuple[float, float], float, str]] = [
    (clopper_pearson, (20, 100, 0.95), (0.1266555521, 0.2918426891), 1e-9, R_VALUES),
    (clopper_pearson, (3, 50, 0.99), (0.006872485, 0.202706269), 1e-8, R_VALUES),
    (clopper_pearson, (0, 10, 0.95), (0.0, 0.3084971), 1e-6, R_VALUES),
    (clopper_pearson, (10, 10, 0.95), (0.6915029, 1.0), 1e-6, R_VALUES),
    (wilson, (3, 10, 0.95), (0.1077913, 0.6032219), 1e-6, R_VALUES),
    (wilson, (3, 10, 0.99), (0.07956632, 0.6799753), 1e-6, R_VALUES),
    (wilson, (0, 10, 0.95), (0.0, 0.2775328), 1e-6, R_VALUES),
    (wilson, (10, 10, 0.95), (0.7224672, 1.0), 1e-6, R_VALUES),
    (wilson, (81, 263, 0.95), (0.2553, 0.3662), 6e-5, NEWCOMBE),
    (wilson, (15, 148, 0.95), (0.0624, 0.1605), 6e-5, NEWCOMBE),
    (wilson, (0, 20, 0.95), (0.0, 0.1611), 6e-5, NEWCOMBE),
    (wilson, (1, 29, 0.95), (0.0061, 0.1718), 6e-5, NEWCOMBE),
    (clopper_pearson, (81, 263, 0.95), (0.2527, 0.3676), 6e-5, NEWCOMBE_EXACT),
    (clopper_pearson, (15, 148, 0.95), (0.0578, 0.1617), 6e-5, NEWCOMBE_EXACT),
    (clopper_pearson, (0, 20, 0.95), (0.0, 0.1684), 6e-5, NEWCOMBE_EXACT),
    (clopper_pearson, (1, 29, 0.95), (0.0009, 0.1776), 6e-5, NEWCOMBE_EXACT),
    (clopper_pearson, (18, 20, 0.95), (0.683017286, 0.9876514728), 1e-6, BINOM),
    (clopper_pearson, (4, 20, 0.95), (0.05733399705, 0.436614003), 1e-6, BINOM),
    (wilson, (18, 20, 0.95), (0.6989663548, 0.9721335188), 1e-6, BINOM),
    (wilson, (4, 20, 0.95), (0.08065766258, 0.4160174323), 1e-6, BINOM),
    (jeffreys, (18, 20, 0.95), (0.7161467427, 0.978627512), 1e-9, BINOM),
    (jeffreys, (4, 20, 0.95), (0.07152005248, 0.4082257625), 1e-9, BINOM),
]


@pytest.mark.parametrize(("rule", "seen", "ends", "tolerance", "source"), PUBLISHED)
def test_published_intervals(
    rule: Rule, seen: tuple[int, int, float], ends: tuple[float, float], tolerance: float, source: str
) -> None:
    interval = rule(*seen)
    assert (interval.low, interval.high) == pytest.approx(ends, abs=tolerance), source
    assert interval.value == seen[0] / seen[1]
    assert interval.confidence == seen[2]


@pytest.mark.parametrize("trials", [1, 2, 17, 400, 100_000, 100_000_000])
@pytest.mark.parametrize("share", [0.0, 1e-4, 0.3, 0.97, 1.0])
@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.999])
def test_intervals_agree_with_scipy_stats(trials: int, share: float, confidence: float) -> None:
    # cross-checked: scipy.stats.binomtest(...).proportion_ci, SciPy 1.17; it solves for the exact ends with brentq,
    # whose default xtol is 2e-12, so no more digits than that can be compared
    successes = round(share * trials)
    test = scipy.stats.binomtest(successes, trials)
    exact, score = clopper_pearson(successes, trials, confidence), wilson(successes, trials, confidence)
    for ours, theirs in (
        (exact, test.proportion_ci(confidence, "exact")),
        (score, test.proportion_ci(confidence, "wilson")),
    ):
        assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), rel=1e-9, abs=2e-12)


def test_exact_bound_keeps_its_digits_in_huge_samples() -> None:
    # exact: without a success the upper bound is 1 - tail**(1/n)
    assert clopper_pearson(0, 10**8, 0.5).high == pytest.approx(-math.expm1(math.log(0.25) / 10**8), rel=1e-12)


def test_one_sided_bounds_are_the_published_ones() -> None:
    # exact: the largest chance c with c**n <= 1 - confidence, turned round; printed to 12 digits
    assert 1 - exact_lower_bound(59, 59, 0.95) == pytest.approx(0.0495076098882, abs=1e-12)
    assert 1 - exact_lower_bound(852, 852, 0.9) == pytest.approx(0.00269891602289, abs=1e-12)
    assert exact_upper_bound(0, 59, 0.95) == pytest.approx(1 - 0.05 ** (1 / 59), rel=1e-12)
    assert exact_upper_bound(1, 1440, 0.9) == pytest.approx(0.00269848570152, abs=1e-12)
    assert exact_upper_bound(2, 1970, 0.9) == pytest.approx(0.00269940813063, abs=1e-12)


def test_jeffreys_ends_at_the_border_of_what_is_possible() -> None:
    # exact: Brown, Cai and DasGupta's convention at 0 and n; the other end from scipy.stats.beta
    assert jeffreys(0, 852, 0.9).low == 0.0
    assert jeffreys(0, 852, 0.9).high == pytest.approx(scipy.stats.beta(0.5, 852.5).ppf(0.95))
    assert jeffreys(852, 852, 0.9).high == 1.0


@given(st.integers(1, 10**9), st.floats(0, 1), st.floats(0.5, 0.9999))
def test_every_rule_holds_its_estimate_and_turns_round(trials: int, share: float, confidence: float) -> None:
    successes = round(share * trials)
    for rule in (clopper_pearson, wilson, jeffreys):
        interval, turned = rule(successes, trials, confidence), rule(trials - successes, trials, confidence)
        assert 0.0 <= interval.low <= interval.value + 1e-15
        assert interval.value - 1e-15 <= interval.high <= 1.0
        assert interval.low == pytest.approx(1 - turned.high, abs=1e-12)


def test_methods_name_rule_and_confidence() -> None:
    assert "Clopper-Pearson" in clopper_pearson(3, 9, 0.9).method
    assert "at least 90 % confidence" in clopper_pearson(3, 9, 0.9).method
    assert "Wilson" in wilson(3, 9, 0.9973).method
    assert "99.73 %" in wilson(3, 9, 0.9973).method
    assert "Jeffreys" in jeffreys(3, 9, 0.9).method
    assert "Tango" in paired_difference(1, 2, 3, 4, 0.9).method
    assert "7 degrees of freedom" in replicate_mean(np.linspace(0, 1, 8), 0.9).method


@pytest.mark.parametrize(("successes", "trials"), [(-1, 5), (6, 5), (0, 0), (1, -1), (math.nan, 5), (1, math.nan)])
def test_impossible_counts_are_refused(successes: int, trials: int) -> None:
    for rule in (clopper_pearson, wilson, jeffreys):
        with pytest.raises(ValueError, match="case|successes"):
            rule(successes, trials, 0.9)


@pytest.mark.parametrize("confidence", [0.0, 1.0, -0.5, 95, math.nan])
def test_impossible_confidence_is_refused(confidence: float) -> None:
    for call in (
        lambda: clopper_pearson(1, 2, confidence),
        lambda: wilson(1, 2, confidence),
        lambda: jeffreys(1, 2, confidence),
        lambda: replicate_mean(np.ones(3), confidence),
        lambda: paired_difference(1, 1, 1, 1, confidence),
        lambda: exact_lower_bound(1, 2, confidence),
    ):
        with pytest.raises(ValueError, match="confidence"):
            call()


# ------------------------------------------------------------------------------------------------ replicates


def test_replicate_mean_is_the_t_interval() -> None:
    # cross-checked: scipy.stats.ttest_1samp(...).confidence_interval, SciPy 1.17
    values = np.array([4.1, 3.9, 4.4, 4.0, 4.2])
    theirs = scipy.stats.ttest_1samp(values, 0.0).confidence_interval(0.9)
    ours = replicate_mean(values, 0.9)
    assert (ours.low, ours.high) == pytest.approx(tuple(theirs), rel=1e-12)
    assert ours.value == pytest.approx(4.12)


def test_counts_give_the_same_moments_as_values() -> None:
    # exact: shares of 4096 cases are whole multiples of 2**-12, so both ways are free of rounding
    met = [4000, 4010, 3990, 4096, 0]
    counted = Replicates.of_counts(5, sum(met), sum(k * k for k in met), 4096)
    valued = Replicates.of(np.array(met) / 4096, proportion=True, cases_each=4096)
    assert counted.mean == valued.mean
    assert counted.variance == pytest.approx(valued.variance, rel=1e-14)
    assert replicate_interval(counted, 0.9).low == pytest.approx(replicate_interval(valued, 0.9).low)


def test_equal_counts_have_no_scatter_at_all() -> None:
    # exact: 0.9 has no float; a variance from rounded squares would not be 0
    assert Replicates.of_counts(7, 7 * 900, 7 * 900**2, 1000).variance == 0.0


def test_shares_are_clipped_only_when_they_are_said_to_be_shares() -> None:
    values = np.array([0.99, 0.999, 1.0, 0.91])
    assert replicate_mean(values, 0.99).high > 1.0
    assert replicate_mean(values, 0.99, proportion=True).high == 1.0


def test_replicates_without_a_failure_are_not_called_certain() -> None:
    # exact: 1 - 0.05**(1/n) is the Clopper-Pearson bound without a failure (one side of 90 %)
    interval = replicate_mean(np.ones(10), 0.9, proportion=True, cases_each=4096)
    assert interval.high == 1.0
    assert interval.low == pytest.approx(0.05 ** (1 / 40_960), rel=1e-12)
    assert "widened to the Clopper-Pearson interval of 40 960 cases" in interval.method


def test_a_single_replicate_falls_back_on_its_cases_or_on_nothing() -> None:
    alone = replicate_mean(np.array([0.5]), 0.9, proportion=True, cases_each=1000)
    exact = clopper_pearson(500, 1000, 0.9)
    assert (alone.low, alone.high) == (exact.low, exact.high)
    assert "one replicate" in alone.method
    assert replicate_mean(np.array([3.0]), 0.9).high == math.inf


def test_widening_ends_where_the_rarer_side_is_seen_often_enough() -> None:
    def shares(failures: int) -> Interval:
        met = np.full(10, 1 - failures / 10 / 1024)
        return replicate_mean(met, 0.9, proportion=True, cases_each=1024)

    assert "widened" in shares(FEW - 10).method
    assert shares(FEW - 10).low < shares(FEW - 10).value
    assert "widened" not in shares(FEW).method


def test_no_replicates_are_refused() -> None:
    with pytest.raises(ValueError, match="at least one replicate"):
        replicate_mean(np.array([]), 0.9)
    with pytest.raises(ValueError, match="at least one replicate"):
        replicate_interval(Replicates(0, 0.0, 0.0), 0.9)


# ------------------------------------------------------------------------------------------------ paired difference

TANGO = "T. Tango, Stat. Med. 17 (1998) 891, section 6, as quoted in a public unit test"
PROPCIS = "R PropCIs::scoreci.mp(25, 28, 618), as quoted in a public unit test"

# published: (both, first only, second only, neither), confidence, (low, high), tolerance of the printed digits, source
PAIRED: list[tuple[tuple[int, int, int, int], float, tuple[float, float], float, str]] = [
    ((20, 9, 3, 0), 0.95, (-0.027, 0.390), 5e-4, TANGO),
    ((59, 6, 16, 80), 0.95, (-0.1240, -0.0054), 5e-5, "R contingencytables 3.0, test of Tango's interval"),
    ((1, 1, 7, 12), 0.95, (-0.517, -0.026), 5e-4, "R ratesci, comment beside its Tango interval"),
    ((565, 28, 25, 0), 0.90, (-0.0148, 0.0247), 5e-5, PROPCIS),
]


@pytest.mark.parametrize(("counts", "confidence", "ends", "tolerance", "source"), PAIRED)
def test_published_paired_differences(
    counts: tuple[int, int, int, int],
    confidence: float,
    ends: tuple[float, float],
    tolerance: float,
    source: str,
) -> None:
    interval = paired_difference(*counts, confidence)
    assert (interval.low, interval.high) == pytest.approx(ends, abs=tolerance), source


def test_published_lower_end_of_a_paired_difference() -> None:
    # published: the soft lens example, n = 44 with 0 and 1 differing (the same source)
    assert paired_difference(43, 0, 1, 0, 0.90).low == pytest.approx(-0.096, abs=5e-4), TANGO


def test_paired_ends_agree_with_mcnemar() -> None:
    # exact: at difference 0 the score statistic is (b - c) / sqrt(b + c), so an end is 0 when that is the quantile
    z = 6 / math.sqrt(12)
    confidence = 1 - 2 * scipy.stats.norm.sf(z)
    assert paired_difference(20, 9, 3, 0, confidence).low == pytest.approx(0.0, abs=1e-12)


def test_paired_difference_without_differing_cases() -> None:
    # exact: n d = z sqrt(n d (1 - d)) gives d = z^2 / (n + z^2)
    z2 = scipy.stats.norm.ppf(0.975) ** 2
    same = paired_difference(90, 0, 0, 10, 0.95)
    assert (same.value, same.low, same.high) == pytest.approx((0, -z2 / (100 + z2), z2 / (100 + z2)), rel=1e-12)
    apart = paired_difference(0, 40, 0, 0, 0.95)
    assert (apart.low, apart.high) == pytest.approx((40 / (40 + z2), 1.0), rel=1e-12)


counts = st.integers(0, 10**8)


@given(counts, counts, counts, counts, st.floats(0.1, 0.999))
def test_paired_difference_holds_its_estimate_and_turns_round(
    both: int, first: int, second: int, neither: int, confidence: float
) -> None:
    if both + first + second + neither == 0:
        return
    interval = paired_difference(both, first, second, neither, confidence)
    turned = paired_difference(neither, second, first, both, confidence)
    assert -1.0 <= interval.low <= interval.value <= interval.high <= 1.0
    assert interval.low < interval.high
    assert interval.low == -turned.high


@given(counts, counts, counts, st.integers(1, 10**8), st.floats(0.1, 0.999))
def test_paired_ends_solve_the_score_equation(
    both: int, first: int, second: int, neither: int, confidence: float
) -> None:
    # exact: the end is where |b - c - n d| equals z times its standard deviation at the constrained estimate, whose
    # likelihood is stationary: b / (q + d) + c / q = (n - b - c) 2 / (1 - 2 q - d)
    n = both + first + second + neither
    d = paired_difference(both, first, second, neither, confidence).high
    z = scipy.stats.norm.ppf(0.5 + 0.5 * confidence)
    spread = (n * d - first + second) ** 2 / (z * z * n)  # should be 2 q + d - d^2
    q = (spread - d + d * d) / 2
    if min(first, second) < 1:
        return
    left, right = first / (q + d) + second / q, 2 * (both + neither) / (1 - 2 * q - d)
    assert left == pytest.approx(right, rel=1e-5)


def test_blocks_that_never_differ_do_not_prove_equality() -> None:
    none = Replicates.of_counts(8, 0, 0, 128, proportion=False)
    bounded = replicate_difference(none, 900, 0, 0, 124, 0.95)
    pooled = paired_difference(900, 0, 0, 124, 0.95)
    assert (bounded.low, bounded.high) == (pooled.low, pooled.high)
    assert "since only 0 differ" in bounded.method
    alone = Replicates.of_counts(1, 60, 3600, 128, proportion=False)
    assert replicate_difference(alone, 30, 60, 0, 38, 0.95) == paired_difference(30, 60, 0, 38, 0.95)


def test_blocks_that_differ_often_are_bounded_by_their_scatter() -> None:
    # cross-checked: scipy.stats.ttest_1samp(...).confidence_interval, SciPy 1.17
    excess = np.array([12, 9, 14, 10])
    blocks = Replicates.of_counts(4, int(excess.sum()), int((excess**2).sum()), 128, proportion=False)
    ours = replicate_difference(blocks, 300, 55, 10, 147, 0.9)
    theirs = scipy.stats.ttest_1samp(excess / 128, 0.0).confidence_interval(0.9)
    assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), rel=1e-12)


def test_impossible_paired_counts_are_refused() -> None:
    with pytest.raises(ValueError, match="not all 0"):
        paired_difference(0, 0, 0, 0, 0.9)
    with pytest.raises(ValueError, match="0 or more"):
        paired_difference(1, -1, 0, 0, 0.9)
