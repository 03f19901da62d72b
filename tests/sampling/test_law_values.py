"""Laws against values worked out elsewhere: closed forms and two statistics libraries.

Unless said otherwise the tolerance is 1e-9, relative: the values are given to 12 digits.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import scipy.stats

from leadline.sampling import (
    Discrete,
    Law,
    Lognormal,
    Normal,
    Pert,
    Triangular,
    TruncatedNormal,
    Uniform,
)
from sampling import law_examples as examples

PERT = [
    # cross-checked: mean and sd by the exact beta moments, quantiles by scipy.stats.beta (column
    # source: "computed with scipy.stats.beta"); chances 0.00135, 0.05, 0.5, 0.95, 0.99865
    ((0.0, 0.5, 1.0), 0.5, 0.188982236505, (0.0526950416853, 0.189255377438, 0.5, 0.810744622562, 0.947304958315)),
    (
        (0.0, 2.0, 10.0),
        3.0,
        1.73205080757,
        (0.0746939889219, 0.589773876118, 2.76672259393, 6.21276724016, 8.4671025996),
    ),
    (
        (90.0, 100.0, 130.0),
        103.333333333,
        7.126966451,
        (90.4702705731, 93.0576156565, 102.552406818, 116.29633272, 124.727710286),
    ),
    ((-1.0, 0.0, 1.0), 0.0, 0.377964473009, (-0.894609916629, -0.621489245124, 0.0, 0.621489245124, 0.894609916629)),
    (
        (310.0, 320.0, 322.0),
        318.666666667,
        2.03149800073,
        (312.026683778, 314.848255277, 318.976552274, 321.419233523, 321.937027008),
    ),
]

TRUNCATED = [
    # exact: closed form for mean and sd ("closed form; scipy.stats.truncnorm agrees");
    # cross-checked: quantiles at 0.05, 0.5, 0.95 ("computed")
    ((0.0, 1.0, -1.0, 2.0), 0.229637179091, 0.720945586859, (-0.843104558949, 0.171163918018, 1.52459668278)),
    ((100.0, 10.0, 85.0, math.inf), 101.387897505, 8.78949816246, (87.917046655, 100.838284866, 116.781425193)),
    ((320.0, 3.0, 314.0, 323.0), 319.311088463, 2.16283676058, (315.426209952, 319.486508246, 322.529313677)),
    ((0.0, 1.0, -3.0, 3.0), 0.0, 0.986578392558, (-1.63318631891, 0.0, 1.63318631891)),
]


@pytest.mark.parametrize(("ends", "mean", "sd", "quantiles"), PERT, ids=str)
def test_pert(ends: tuple[float, float, float], mean: float, sd: float, quantiles: tuple[float, ...]) -> None:
    law = Pert(*ends)
    assert law.mean == pytest.approx(mean, rel=1e-9, abs=1e-9)
    assert law.sd == pytest.approx(sd, rel=1e-9)
    at = [0.00135, 0.05, 0.5, 0.95, 0.99865]
    np.testing.assert_allclose(law.quantile(at), quantiles, rtol=1e-9, atol=1e-9)


def test_symmetric_pert_is_wider_than_the_classical_sixth() -> None:
    # exact: the beta(3, 3) law has variance 1/28, not 1/36; source: recomputed, a reference page has it wrong
    assert Pert(0.0, 0.5, 1.0).sd ** 2 == pytest.approx(1.0 / 28.0, rel=1e-12)


@pytest.mark.parametrize(
    ("ends", "mean", "variance"),
    [
        # exact: mean and variance in closed form, a third of the sum and the eighteenth of the squares
        ((0.0, 0.5, 1.0), 0.5, 0.0416666666667),
        ((0.0, 2.0, 10.0), 4.0, 4.66666666667),
        ((90.0, 100.0, 130.0), 106.666666667, 72.2222222222),
    ],
)
def test_triangular(ends: tuple[float, float, float], mean: float, variance: float) -> None:
    law = Triangular(*ends)
    assert law.mean == pytest.approx(mean, rel=1e-9)
    assert law.sd**2 == pytest.approx(variance, rel=1e-9)


@pytest.mark.parametrize(("parameters", "mean", "sd", "quantiles"), TRUNCATED, ids=str)
def test_truncated_normal(
    parameters: tuple[float, float, float, float], mean: float, sd: float, quantiles: tuple[float, ...]
) -> None:
    law = TruncatedNormal(*parameters)
    assert law.mean == pytest.approx(mean, rel=1e-9, abs=1e-9)
    assert law.sd == pytest.approx(sd, rel=1e-9)
    np.testing.assert_allclose(law.quantile([0.05, 0.5, 0.95]), quantiles, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize(
    ("median", "upper", "sigma", "mean", "sd", "lower"),
    [
        # exact: sigma = ln(x3/median)/3, mean = median e^(sigma^2/2), sd = mean sqrt(e^(sigma^2)-1),
        # lower point median^2/x3 ("closed form")
        (100.0, 130.0, 0.0874547548225, 100.383148853, 8.79579659917, 76.9230769231),
        (0.05, 0.1, 0.231049060187, 0.0513525625912, 0.0120250853911, 0.025),
        (1.0, 2.0, 0.231049060187, 1.02705125182, 0.240501707822, 0.5),
    ],
)
def test_lognormal_from_its_three_sigma_point(
    median: float, upper: float, sigma: float, mean: float, sd: float, lower: float
) -> None:
    law = Lognormal(median, (upper / median) ** (1.0 / 3.0))
    assert law.sigma == pytest.approx(sigma, rel=1e-9)
    assert law.mean == pytest.approx(mean, rel=1e-9)
    assert law.sd == pytest.approx(sd, rel=1e-9)
    # exact: the one-sided chance below three sigma
    assert law.cdf(upper) == pytest.approx(0.998650101968, rel=1e-9)
    assert law.quantile(1.0 - 0.998650101968) == pytest.approx(lower, rel=1e-9)


@pytest.mark.parametrize(
    ("mean", "sd", "sigma", "log_median"),
    [
        # exact: sigma = sqrt(ln(1+cv^2)), mu = ln(mean) - sigma^2/2 ("closed form")
        (100.0, 10.0, 0.0997513451196, 4.60019502056),
        (120.0, 12.0, 0.0997513451196, 4.78251657736),
        (1200.0, 480.0, 0.38525317016, 7.01586683322),
    ],
)
def test_lognormal_from_mean_and_sd(mean: float, sd: float, sigma: float, log_median: float) -> None:
    law = Lognormal.from_mean_sd(mean, sd)
    assert law.sigma == pytest.approx(sigma, rel=1e-9)
    assert math.log(law.median) == pytest.approx(log_median, rel=1e-9)


def test_normal_from_its_percentiles() -> None:
    # exact: the range from P10 to P90 is 2.563103 sd wide, from P5 to P95 3.289707 sd ("closed form")
    assert np.ptp(Normal(0.0, 0.390152073036).quantile([0.1, 0.9])) == pytest.approx(1.0, rel=1e-9)
    assert np.ptp(Normal(0.0, 0.303978415956).quantile([0.05, 0.95])) == pytest.approx(1.0, rel=1e-9)
    # exact: three sigma covers 0.9973 two-sided; 99.73 % one-sided needs 2.78215 sigma
    law = Normal(0.0, 1.0)
    assert law.cdf(3.0) - law.cdf(-3.0) == pytest.approx(0.997300203937, rel=1e-9)
    assert law.quantile(0.9973) == pytest.approx(2.78215045378, rel=1e-9)


def test_uniform_from_its_half_width() -> None:
    # exact: half-width over root three
    assert Uniform(-1.0, 1.0).sd == pytest.approx(0.57735026919, rel=1e-9)


def scipy_twin(law: Law) -> Any:
    """Return the same law as scipy.stats has it."""
    match law:
        case Normal():
            return scipy.stats.norm(law.mean, law.sd)
        case TruncatedNormal(parent=parent, low=low, high=high):
            ends = (low - parent.mean) / parent.sd, (high - parent.mean) / parent.sd
            return scipy.stats.truncnorm(*ends, loc=parent.mean, scale=parent.sd)
        case Lognormal():
            return scipy.stats.lognorm(law.sigma, scale=law.median)
        case Uniform(low=low, high=high):
            return scipy.stats.uniform(low, high - low)
        case Triangular(low=low, likely=likely, high=high):
            return scipy.stats.triang((likely - low) / (high - low), loc=low, scale=high - low)
        case Pert(low=low, high=high):
            return scipy.stats.beta(*law.shape, loc=low, scale=high - low)
        case _:
            raise NotImplementedError(law)


def openturns_twin(ot: Any, law: Law) -> Any:
    """Return the same law as OpenTURNS has it."""
    match law:
        case Normal():
            return ot.Normal(law.mean, law.sd)
        case TruncatedNormal(parent=parent, low=low, high=high):
            finite = math.isfinite(low), math.isfinite(high)
            bounds = ot.Interval([low], [high], [finite[0]], [finite[1]])
            return ot.TruncatedDistribution(ot.Normal(parent.mean, parent.sd), bounds)
        case Lognormal():
            return ot.LogNormal(math.log(law.median), law.sigma, 0.0)
        case Uniform(low=low, high=high):
            return ot.Uniform(low, high)
        case Triangular(low=low, likely=likely, high=high):
            return ot.Triangular(low, likely, high)
        case Pert(low=low, high=high):
            return ot.Beta(*law.shape, low, high)
        case _:
            raise NotImplementedError(law)


SMOOTH = [
    law
    for law in examples.ONE_OF_EACH
    if isinstance(law, (Normal, TruncatedNormal, Lognormal, Uniform, Triangular, Pert))
]
CHANCES = np.array([1e-6, 0.00135, 0.05, 0.31, 0.5, 0.84, 0.95, 0.99865, 1.0 - 1e-6])


@pytest.mark.parametrize("law", SMOOTH, ids=str)
def test_against_scipy(law: Law) -> None:
    # cross-checked: scipy.stats 1.17, frozen distributions
    twin = scipy_twin(law)
    x = law.quantile(CHANCES)
    np.testing.assert_allclose(x, twin.ppf(CHANCES), rtol=1e-9)
    np.testing.assert_allclose(law.cdf(x), twin.cdf(x), rtol=1e-8)
    np.testing.assert_allclose(law.above(x), twin.sf(x), rtol=1e-8)
    assert (law.mean, law.sd, law.median) == pytest.approx((twin.mean(), twin.std(), twin.median()), rel=1e-9)


@pytest.mark.parametrize("law", SMOOTH, ids=str)
def test_against_openturns(law: Law, need: Callable[[str], Any]) -> None:
    # cross-checked: OpenTURNS 1.27; its quantiles are solved for to about 1e-8 where it has no closed form
    twin = openturns_twin(need("openturns"), law)
    x = law.quantile(CHANCES)
    theirs = [twin.computeQuantile(float(p))[0] for p in CHANCES]
    np.testing.assert_allclose(x, theirs, rtol=1e-7)
    np.testing.assert_allclose(law.cdf(x), [twin.computeCDF([v]) for v in x], rtol=1e-7)
    assert law.mean == pytest.approx(twin.getMean()[0], rel=1e-7, abs=1e-12)
    assert law.sd == pytest.approx(twin.getStandardDeviation()[0], rel=1e-7)


def test_discrete_against_openturns(need: Callable[[str], Any]) -> None:
    # cross-checked: OpenTURNS 1.27, UserDefined
    values, chances = (3.0, 1.0, 7.0), (0.2, 0.5, 0.3)
    law = Discrete(values, chances)
    twin = need("openturns").UserDefined([[v] for v in values], chances)
    assert law.mean == pytest.approx(twin.getMean()[0], rel=1e-12)
    assert law.sd == pytest.approx(twin.getStandardDeviation()[0], rel=1e-12)
    for x in (0.0, 1.0, 2.0, 3.0, 6.9, 7.0):
        assert law.cdf(x) == pytest.approx(twin.computeCDF([x]), abs=1e-12)
    for p in (0.1, 0.49, 0.51, 0.69, 0.71, 0.99):
        assert law.quantile(p) == twin.computeQuantile(p)[0]
