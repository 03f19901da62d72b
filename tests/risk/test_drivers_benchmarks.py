"""Indices against closed forms: the benchmark functions themselves, then what is estimated of them.

Estimates are compared by their own jackknife standard error, which is worth 63 degrees of freedom. 5 of these errors
are allowed: a false alarm in 5 of a million comparisons (exact for normal estimates), so about 1 in 1 000 choices of
the seeds for the 170 comparisons of this file.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ndtr, stdtrit
from scipy.stats import multivariate_normal

from leadline.risk.drivers import Driver, Drivers, OutputDrivers, OutputKind, find_drivers
from risk.benchmark_functions import (
    Array,
    Benchmark,
    g_function,
    ishigami,
    limit_state,
    linear,
    morris_2006,
    normal_product,
    product_and_term,
)

CONFIDENCE = 1.0 - 2.0 * 2.4e-6  # 5 standard errors of a t law with 63 degrees of freedom
G_WEIGHTS = (0.0, 9.0, 99.0)

BENCHMARKS = [
    ishigami(),
    ishigami(b=0.05),
    g_function(),
    g_function(G_WEIGHTS),
    product_and_term(),
    normal_product(),
    morris_2006(),
    linear((3.0, 4.0, 3.0, 0.0)),
]


def pages_of(inputs: int, pages: int, cases: int, seed: int = 1) -> list[tuple[Array, Array]]:
    rng = np.random.Generator(np.random.SFC64(seed))
    return [(rng.standard_normal((inputs, cases)), rng.standard_normal((inputs, cases))) for _ in range(pages)]


def drivers_of(function: Benchmark, pages: list[tuple[Array, Array]], confidence: float = 0.95) -> Drivers:
    return find_drivers(
        function.margins, pages, inputs=function.inputs, requirements=["reserve"], confidence=confidence
    )


def by_name(output: OutputDrivers) -> dict[str, Driver]:
    assert output.reason is None
    return {driver.name: driver for driver in output.drivers}


# ------------------------------------------------------------------------------------------- the functions' own truth


# exact: closed forms. Printed to 12 digits and more by SciPy's test of Sobol' indices (Ishigami, a=7, b=0.1; V13 as
# corrected there), otherwise recomputed; tolerance 1e-10.
@pytest.mark.parametrize(
    ("function", "variance", "first", "total"),
    [
        (
            ishigami(),
            13.844587940719,
            (0.313905191148, 0.442411144790, 0.0),
            (0.557588855210, 0.442411144790, 0.243683664062),
        ),
        (
            ishigami(b=0.05),
            8.91694244035,
            (0.218518564427, 0.686894643649, 0.0),
            (0.313105356351, 0.686894643649, 0.0945867919243),
        ),
        (
            g_function(),
            0.465424431902,
            (0.716192168879, 0.17904804222, 0.0236757741778, 0.00716192168879, *[7.16192168879e-05] * 4),
            (0.787144126659, 0.242198192818, 0.0343169101541, 0.0104603870652, *[0.00010494905192] * 4),
        ),
        (product_and_term(), 19 / 144, (3 / 19, 3 / 19, 12 / 19), (4 / 19, 4 / 19, 12 / 19)),
        (normal_product(), 2.25, (4 / 9, 4 / 9), (5 / 9, 5 / 9)),
        (morris_2006(), 10.5, (*[0.0952380952381] * 10, *[0.0] * 20), (*[0.104761904762] * 10, *[0.0] * 20)),
        # failure of the linear limit state, derived: tolerance 1e-8
        (
            limit_state(1.0),
            float(ndtr(-1.0) * ndtr(1.0)),
            (0.279753910872, 0.15197622735, 0.0966217069159),
            (0.720246089128, 0.559437866319, 0.457124768361),
        ),
        (
            limit_state(2.0),
            float(ndtr(-2.0) * ndtr(2.0)),
            (0.159017998097, 0.0685345557486, 0.038333200166),
            (0.840982001903, 0.69216257922, 0.581355783391),
        ),
    ],
)
def test_benchmark_states_its_exact_indices(
    function: Benchmark, variance: float, first: tuple[float, ...], total: tuple[float, ...]
) -> None:
    tolerance = 1e-8 if function.name == "limit state" else 1e-10
    assert function.variance == pytest.approx(variance, rel=1e-10)
    assert function.first == pytest.approx(first, abs=tolerance)
    assert function.total == pytest.approx(total, abs=tolerance)


def test_limit_state_agrees_with_the_bivariate_normal() -> None:
    # cross-checked: scipy.stats.multivariate_normal (its own algorithm claims about 1e-8 here)
    p = float(ndtr(-1.5))
    joint = multivariate_normal(cov=[[1.0, 0.3], [0.3, 1.0]]).cdf([-1.5, -1.5])
    assert limit_state(1.5).first[1] == pytest.approx((joint - p * p) / (p * (1 - p)), abs=1e-6)


@pytest.mark.parametrize("function", BENCHMARKS, ids=lambda each: each.name)
def test_benchmark_has_the_variance_it_states(function: Benchmark) -> None:
    # exact: 2^16 cases; standard error of a variance from its 64 group means, 6 of them: false alarm 1e-7 each
    (scores, _), *_ = pages_of(len(function.inputs), 1, 2**16, seed=3)
    margin = function.margins(scores)[0]
    squares = ((margin - margin.mean()) ** 2).reshape(64, -1).mean(axis=1)
    assert abs(squares.mean() - function.variance) < 6 * squares.std(ddof=1) / 8


# ------------------------------------------------------------------------------------------------- what is estimated


def assert_holds(driver: Driver, first: float, total: float) -> None:
    assert driver.first.low - 1e-12 <= first <= driver.first.high + 1e-12, driver
    assert driver.total.low - 1e-12 <= total <= driver.total.high + 1e-12, driver


def test_the_allowance_is_five_standard_errors() -> None:
    # exact: quantile of the t law
    assert float(stdtrit(63, 0.5 + 0.5 * CONFIDENCE)) == pytest.approx(5.0, abs=0.03)


@pytest.mark.parametrize("function", BENCHMARKS, ids=lambda each: each.name)
def test_margin_indices_are_the_exact_ones(function: Benchmark) -> None:
    # exact: closed forms. Two pages of 2^14 cases, so that sums over pages are part of it.
    pages = pages_of(len(function.inputs), 2, 2**14)
    margin, *_ = drivers_of(function, pages, CONFIDENCE).outputs
    assert (margin.output, margin.kind, margin.cases) == ("reserve", OutputKind.MARGIN, 2**15)
    found = by_name(margin)
    for name, first, total in zip(function.inputs, function.first, function.total, strict=True):
        assert_holds(found[name], first, total)
        # The intervals are no wider than what 2^15 cases must give: a standard error of 0.02 at the very most.
        assert found[name].total.high - found[name].total.low < 10 * 0.02


@pytest.mark.parametrize("beta", [1.0, math.sqrt(2), 2.0, 3.0, -2.0])
def test_failure_indices_of_a_limit_state_are_the_exact_ones(beta: float) -> None:
    # exact: see `limit_state`; by symmetry those of -beta are those of beta
    exact = limit_state(abs(beta))
    margin, failure, whole = drivers_of(limit_state(beta), pages_of(3, 2, 2**14, seed=5), CONFIDENCE).outputs
    assert failure.kind is whole.kind is OutputKind.FAILURE
    assert (failure.output, whole.output) == ("reserve", "At least one requirement")
    assert failure.drivers[0].name == "x1"
    for output in (failure, whole):  # one requirement: the whole fails with it
        for name, first, total in zip(exact.inputs, exact.first, exact.total, strict=True):
            assert_holds(by_name(output)[name], first, total)
    for name, square in zip(exact.inputs, (0.5, 0.3, 0.2), strict=True):
        assert_holds(by_name(margin)[name], square, square)


def test_failure_of_the_whole_is_that_of_any_requirement() -> None:
    # exact: two requirements on different inputs fail independently with chance p each, so the whole fails with
    # q = 1 - (1 - p)². Frozen x2 leaves the whole's success to x1: E Var = (1 - p) p (1 - p), over q (1 - q).
    p = float(ndtr(-1.0))
    q = 1.0 - (1.0 - p) ** 2
    found = find_drivers(
        lambda z: z + 1.0, pages_of(2, 1, 2**14), inputs=("a", "b"), requirements=("x", "y"), confidence=CONFIDENCE
    )
    labels = [(output.output, output.kind.value) for output in found.outputs]
    whole_label = ("At least one requirement", "failure")
    assert labels == [("x", "margin"), ("y", "margin"), ("x", "failure"), ("y", "failure"), whole_label]
    for driver in found.outputs[-1].drivers:
        total = (1.0 - p) ** 2 * p / (q * (1.0 - q))
        assert_holds(driver, 1.0 - total, total)


def test_an_only_input_takes_all_and_one_without_effect_nothing() -> None:
    # exact: for the only input c = b, so the estimates are 1 - r² and 1 - r with r the correlation of A and B, which is
    # noise of 1/32 (six of it allowed: false alarm 2e-9); for the other input c = a and both are 0 without any scatter
    found = by_name(drivers_of(linear((2.0, 0.0)), pages_of(2, 1, 2**10)).outputs[0])
    assert found["x1"].first.value == pytest.approx(1.0, abs=(6 / 32) ** 2)
    assert found["x1"].total.value == pytest.approx(1.0, abs=6 / 32)
    assert (found["x2"].first.value, found["x2"].total.value) == pytest.approx((0.0, 0.0), abs=1e-14)


def test_first_order_estimate_scatters_less_than_the_plain_correlation() -> None:
    # exact: without the control variate an input without effect scatters by 1/sqrt(n) (r of independent samples)
    function, cases = linear((1.0, 2.0, 3.0)), 2**11
    runs = [drivers_of(function, pages_of(3, 1, cases, seed)).outputs[0] for seed in range(100)]
    smallest = [by_name(run)["x1"].first.value for run in runs]
    # the ratio is about 0.4; of 100 runs its own standard error is 7 %
    assert np.std(smallest) < 0.6 / math.sqrt(cases)
