"""Sample sizes and allowed failures from published tables, and the judgement of a run."""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from leadline.risk import (
    Judgement,
    Replicates,
    Verdict,
    allowed_failures,
    allowed_failures_uniform_prior,
    exact_lower_bound,
    exact_upper_bound,
    judge,
    judge_replicates,
    smallest_sample,
    smallest_sample_uniform_prior,
)
from leadline.risk.acceptance import FURTHEST, MOST_CASES

# published: OECD/NEA CSNI-R(2013)8 part 2 p. 22, tables 1-3 (one side, orders 1 to 3), as transcribed in a public test
# suite. Rows: confidence; columns: coverage 0.95, 0.96, 0.97, 0.98, 0.99.
COVERAGES = (0.95, 0.96, 0.97, 0.98, 0.99)
ONE_SIDED: dict[tuple[int, float], tuple[int, ...]] = {
    (1, 0.96): (63, 79, 106, 160, 321),
    (1, 0.97): (69, 86, 116, 174, 349),
    (1, 0.98): (77, 96, 129, 194, 390),
    (1, 0.99): (90, 113, 152, 228, 459),
    (1, 0.995): (104, 130, 174, 263, 528),
    (1, 0.999): (135, 170, 227, 342, 688),
    (2, 0.95): (93, 117, 157, 236, 473),
    (2, 0.96): (99, 124, 166, 249, 500),
    (2, 0.97): (105, 132, 177, 266, 534),
    (2, 0.98): (115, 144, 193, 290, 581),
    (2, 0.99): (130, 164, 219, 330, 662),
    (3, 0.95): (124, 156, 208, 313, 628),
    (3, 0.96): (130, 163, 218, 328, 658),
    (3, 0.97): (138, 173, 231, 347, 696),
    (3, 0.98): (148, 186, 248, 374, 749),
    (3, 0.99): (165, 207, 277, 418, 838),
    (3, 0.995): (182, 229, 306, 461, 924),
    (3, 0.999): (220, 277, 370, 557, 1119),
}
# published: H. Glaeser, "GRS Method for Uncertainty and Sensitivity Evaluation", NURETH-14, slide 8, coverage 0.95,
# order 1, as transcribed in a public test suite; confidence: (one side, two sides)
GLAESER = {0.5: (14, 34), 0.8: (32, 59), 0.9: (45, 77), 0.95: (59, 93), 0.99: (90, 130)}
# published: values of an R script, two sides, orders 1 to 10, in a public unit test; (coverage, confidence): sizes
TWO_SIDED: dict[tuple[float, float], tuple[int, ...]] = {
    (0.95, 0.95): (93, 153, 208, 260, 311, 361, 410, 458, 506, 554),
    (0.99, 0.999): (920, 1302, 1640, 1957, 2259, 2552, 2837, 3117, 3391, 3662),
}
# published: OpenTURNS python/test/t_Wilks_std.expout, one side, orders 1 to 5
OPENTURNS: dict[tuple[float, float], tuple[int, ...]] = {
    (0.95, 0.95): (59, 93, 124, 153, 181),
    (0.95, 0.90): (45, 77, 105, 132, 158),
    (0.90, 0.90): (22, 38, 52, 65, 78),
    (0.90, 0.95): (29, 46, 61, 76, 89),
}
# exact: smallest n with scipy.stats.binom.cdf(k, n, 1 - P) <= 1 - C for k = 0, 1, 2 ... computed independently
RUNS: dict[tuple[float, float], tuple[int, ...]] = {
    (0.9973, 0.90): (852, 1440, 1970, 2473, 2959, 3433, 3899, 4358, 4811, 5259, 5704),
    (0.9973, 0.95): (1109, 1756, 2330, 2870, 3388, 3891, 4384, 4867, 5343, 5814, 6279),
    (0.99865, 0.90): (1705, 2880, 3941, 4947, 5920, 6868, 7800, 8717, 9624, 10521, 11410),
    (0.99865, 0.95): (2218, 3513, 4662, 5742, 6778, 7785, 8770, 9737, 10690, 11631, 12562),
    (0.997, 0.95): (998, 1580, 2097, 2583, 3049, 3502, 3945, 4380, 4809, 5232, 5651),
    (0.999, 0.90): (2302, 3889, 5321),
}
# exact: largest k with the same property, for n runs; None where n is too small
ALLOWED: dict[tuple[float, float], dict[int, int | None]] = {
    (0.99, 0.90): {500: 1, 852: 4, 1000: 5, 1109: 6, 2000: 13, 5000: 40, 10_000: 86},
    (0.99, 0.95): {500: 1, 852: 3, 1000: 4, 1109: 5, 2000: 12, 5000: 38, 10_000: 83},
    (0.9973, 0.90): {500: None, 852: 0, 1109: 0, 1500: 1, 2000: 2, 5000: 8, 10_000: 19},
    (0.9973, 0.95): {500: None, 1000: None, 1109: 0, 2000: 1, 5000: 7, 10_000: 18},
    (0.99865, 0.90): {1500: None, 1705: 0, 3000: 1, 5000: 3, 10_000: 8},
    (0.99865, 0.95): {2000: None, 3000: 0, 5000: 2, 10_000: 7},
}


def test_published_one_sided_sizes() -> None:
    for (order, confidence), sizes in ONE_SIDED.items():
        ours = tuple(smallest_sample(coverage, confidence, order - 1) for coverage in COVERAGES)
        assert ours == sizes, (order, confidence)
    for (coverage, confidence), sizes in OPENTURNS.items():
        assert tuple(smallest_sample(coverage, confidence, k) for k in range(5)) == sizes


def test_published_two_sided_sizes() -> None:
    for confidence, (one, two) in GLAESER.items():
        assert smallest_sample(0.95, confidence) == one
        assert smallest_sample(0.95, confidence, sides=2) == two
    for (coverage, confidence), sizes in TWO_SIDED.items():
        ours = tuple(smallest_sample(coverage, confidence, k, sides=2) for k in range(10))
        assert ours == sizes


def test_runs_for_some_failures() -> None:
    for (chance, confidence), sizes in RUNS.items():
        assert tuple(smallest_sample(chance, confidence, k) for k in range(len(sizes))) == sizes


def test_allowed_failures() -> None:
    for (chance, confidence), table in ALLOWED.items():
        assert {n: allowed_failures(n, chance, confidence) for n in table} == table


@pytest.mark.parametrize("order", [1, 2, 5])
@pytest.mark.parametrize("coverage", [0.9, 0.95, 0.99])
def test_sizes_agree_with_openturns(need: Callable[[str], ModuleType], order: int, coverage: float) -> None:
    # cross-checked: OpenTURNS 1.27, Wilks.ComputeSampleSize (its order counts from 0)
    wilks = need("openturns").Wilks
    assert smallest_sample(coverage, 0.95, order - 1) == wilks.ComputeSampleSize(coverage, 0.95, order - 1)


def test_the_uniform_prior_rule_is_one_case_off() -> None:
    # published (second-hand): ECSS-E-ST-60-20C Rev. 1, annex E: 0.997 at 0.95 without failure takes 997 cases, and 1000
    # of them reach a confidence of 0.950585606425314; the classical rule says 998
    assert smallest_sample_uniform_prior(0.997, 0.95) == 997
    assert smallest_sample(0.997, 0.95) == 998
    assert scipy.stats.beta(1001, 1).sf(0.997) == pytest.approx(0.950585606425314, rel=1e-12)
    assert allowed_failures(997, 0.997, 0.95) is None
    assert allowed_failures_uniform_prior(997, 0.997, 0.95) == 0


@given(st.floats(0.5, 0.999), st.floats(0.5, 0.99), st.integers(0, 30))
def test_the_uniform_prior_rule_is_its_posterior(chance: float, confidence: float, failures: int) -> None:
    # exact: after k failures in n the posterior of the chance is Beta(n - k + 1, k + 1)
    n = smallest_sample_uniform_prior(chance, confidence, failures)

    def posterior(n: int) -> float:
        return float(scipy.stats.beta(n - failures + 1, failures + 1).sf(chance))

    # confidence too low for the rule to bind leaves n at its least, as many cases as failures
    assert posterior(n) >= confidence - 1e-12
    assert n == failures or posterior(n - 1) < confidence + 1e-12


@given(st.integers(1, 3000), st.floats(0.5, 0.9999), st.floats(0.5, 0.99))
def test_size_and_allowed_failures_are_inverse(n: int, chance: float, confidence: float) -> None:
    allowed = allowed_failures(n, chance, confidence)
    if allowed is None:
        assert smallest_sample(chance, confidence) > n
    else:
        assert smallest_sample(chance, confidence, allowed) <= n < smallest_sample(chance, confidence, allowed + 1)


@pytest.mark.parametrize(
    ("coverage", "confidence", "failures", "sides"),
    [(1.0, 0.9, 0, 1), (0.9, 1.0, 0, 1), (0.9, 0.9, -1, 1), (0.9, 0.9, 0, 3), (float("nan"), 0.9, 0, 1)],
)
def test_impossible_sizes_are_refused(coverage: float, confidence: float, failures: int, sides: int) -> None:
    with pytest.raises(ValueError, match="between 0 and 1|sides must be 1 or 2"):
        smallest_sample(coverage, confidence, failures, sides)


# ------------------------------------------------------------------------------------------------ judgement


def test_verdicts_follow_the_exact_bounds() -> None:
    yes, no, open_ = judge(9600, 10_000, 0.95, 0.9), judge(9400, 10_000, 0.95, 0.9), judge(9510, 10_000, 0.95, 0.9)
    assert (yes.verdict, no.verdict, open_.verdict) == (Verdict.YES, Verdict.NO, Verdict.UNDECIDED)
    assert yes.low == exact_lower_bound(9600, 10_000, 0.9) >= 0.95
    assert no.high == exact_upper_bound(9400, 10_000, 0.9) < 0.95
    assert open_.low < 0.95 <= open_.high
    assert (yes.more_cases, no.more_cases) == (None, None)
    assert (yes.reason, no.reason, open_.reason) == ("", "", "")


@given(st.integers(1, 20_000), st.floats(0, 1), st.floats(0.01, 0.999), st.floats(0.51, 0.99))
def test_verdict_is_where_the_bounds_are(trials: int, share: float, chance: float, confidence: float) -> None:
    successes = round(share * trials)
    said = judge(successes, trials, chance, confidence)
    slack = 1e-12  # verdict and bounds come from one function and its inverse
    if said.verdict is Verdict.YES:
        assert said.low >= chance - slack
    elif said.verdict is Verdict.NO:
        assert said.high < chance + slack
    else:
        assert said.low < chance + slack
        assert said.high >= chance - slack
    assert said.verdict is Verdict.UNDECIDED or said.more_cases is None
    assert said.more_cases is None or said.more_cases > 0
    assert bool(said.reason) == (said.verdict is Verdict.UNDECIDED and said.more_cases is None)


def test_judgement_agrees_with_allowed_failures() -> None:
    for n in (45, 400, 1440, 2000):
        allowed = allowed_failures(n, 0.95, 0.9)
        assert allowed is not None
        assert judge(n - allowed, n, 0.95, 0.9).verdict is Verdict.YES
        assert judge(n - allowed - 1, n, 0.95, 0.9).verdict is Verdict.UNDECIDED


@pytest.mark.parametrize(("chance", "confidence"), [(0.95, 0.9), (0.5, 0.95), (0.9973, 0.9)])
@pytest.mark.parametrize("trials", [10, 200, 1440])
def test_a_wrong_verdict_is_as_rare_as_said(chance: float, confidence: float, trials: int) -> None:
    # exact: by the binomial law. At the wanted chance itself "no" is wrong; just below it "yes" is.
    said = [judge(k, trials, chance, confidence).verdict for k in range(trials + 1)]
    law = scipy.stats.binom(trials, chance).pmf(np.arange(trials + 1))
    for wrong in (Verdict.YES, Verdict.NO):
        assert sum(p for p, verdict in zip(law, said, strict=True) if verdict is wrong) <= 1 - confidence + 1e-12


def test_without_failures_the_missing_cases_are_exact() -> None:
    # published: 59 cases without failure show 95 % at 95 % (see above)
    assert judge(10, 10, 0.95, 0.95).more_cases == 49
    assert judge(58, 58, 0.95, 0.95).more_cases == 1
    assert judge(59, 59, 0.95, 0.95).verdict is Verdict.YES


@pytest.mark.parametrize(("successes", "trials"), [(955, 1000), (945, 1000), (9520, 10_000), (4765, 5000), (18, 20)])
def test_the_missing_cases_do_settle_it(successes: int, trials: int) -> None:
    said = judge(successes, trials, 0.95, 0.9)
    assert said.verdict is Verdict.UNDECIDED
    assert said.more_cases is not None
    total = trials + said.more_cases
    expected = successes * total / trials
    better = judge(int(np.ceil(expected)), total, 0.95, 0.9).verdict
    worse = judge(int(np.floor(expected)), total, 0.95, 0.9).verdict
    assert better is Verdict.YES if successes / trials > 0.95 else worse is Verdict.NO
    # and with a tenth of them it would still be open
    fewer = trials + said.more_cases // 10
    assert judge(round(successes * fewer / trials), fewer, 0.95, 0.9).verdict is Verdict.UNDECIDED


def test_no_number_is_given_where_none_makes_sense() -> None:
    said = judge(950_000, 1_000_000, 0.95, 0.9)
    assert said.verdict is Verdict.UNDECIDED
    assert said.more_cases is None
    assert "100 000 000 cases" in said.reason
    assert FURTHEST * 1_000_000 == 100_000_000
    near = judge(9501, 10_000, 0.95, 0.9)
    assert near.more_cases is not None
    assert near.more_cases + 10_000 <= MOST_CASES


def test_sentences_can_be_quoted() -> None:
    # pinned: the wording is ours
    assert judge(9600, 10_000, 0.95, 0.9).sentence == (
        "Shown: the chance is at least 95 % with 90 % confidence; 10 000 cases put it above 95.73 %."
    )
    assert judge(9400, 10_000, 0.95, 0.9).sentence == (
        "Not met: the chance is below 95 % with 90 % confidence; 10 000 cases put it below 94.31 %."
    )
    assert judge(9510, 10_000, 0.95, 0.9).sentence == (
        "Not decided: 10 000 cases neither show nor rule out 95 % with 90 % confidence (bounds 94.81 % and 95.38 %); "
        "at the rate seen, about 69 000 more cases would decide it."
    )
    assert "no sensible number of further cases" in judge(19, 20, 0.95, 0.9).sentence


def test_impossible_judgements_are_refused() -> None:
    for successes, trials, chance, confidence in ((1, 0, 0.9, 0.9), (3, 2, 0.9, 0.9), (1, 2, 1.0, 0.9), (1, 2, 0.9, 1)):
        with pytest.raises(ValueError, match="case|between"):
            judge(successes, trials, chance, confidence)
    with pytest.raises(ValueError, match="shares of known numbers"):
        judge_replicates(Replicates.of(np.array([0.9, 0.8])), 0.9, 0.9)


def shares(mean: float, sd: float, count: int) -> Replicates:
    return Replicates(count, mean, sd**2, proportion=True, cases_each=4096)


def test_replicates_are_judged_by_one_sided_t_bounds() -> None:
    # exact: mean +- t quantile times sd / sqrt(R), the quantile from scipy.stats.t
    said = judge_replicates(shares(0.96, 0.01, 8), 0.95, 0.9)
    reach = scipy.stats.t(7).ppf(0.9) * 0.01 / np.sqrt(8)
    assert (said.low, said.high) == pytest.approx((0.96 - reach, 0.96 + reach), rel=1e-12)
    assert said.verdict is Verdict.YES
    assert judge_replicates(shares(0.94, 0.01, 8), 0.95, 0.9).verdict is Verdict.NO


def test_missing_blocks_settle_it() -> None:
    def settled(count: int) -> Judgement:
        return judge_replicates(shares(0.952, 0.01, count), 0.95, 0.9)

    said = settled(8)
    assert said.verdict is Verdict.UNDECIDED
    assert said.more_cases is not None
    assert said.more_cases % 4096 == 0
    blocks = 8 + said.more_cases // 4096
    assert settled(blocks).verdict is Verdict.YES
    assert settled(blocks - 1).verdict is Verdict.UNDECIDED


def test_replicates_that_never_fail_are_judged_like_so_many_cases() -> None:
    # exact: without scatter only the exact bound of the pooled cases is left
    said = judge_replicates(Replicates.of_counts(2, 8192, 2 * 4096**2, 4096), 0.9999, 0.9)
    alike = judge(8192, 8192, 0.9999, 0.9)
    assert (said.verdict, said.low) == (alike.verdict, alike.low)
    assert said.verdict is Verdict.UNDECIDED
    assert said.more_cases == 4 * 4096  # 23 025 cases are needed without failure, so six blocks


def test_replicates_at_the_wanted_chance_get_no_number() -> None:
    said = judge_replicates(shares(0.95, 0.01, 8), 0.95, 0.9)
    assert (said.verdict, said.more_cases) == (Verdict.UNDECIDED, None)
    assert "cases would be needed" in said.reason
