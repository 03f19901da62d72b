"""The examples of the Guide to the Expression of Uncertainty in Measurement, Supplement 1.

JCGM 101:2008, clauses 9.2 to 9.4, drawn through the sampler and held against the exact
values (quadrature or closed form), not the printed ones, which carry the noise of their own
draws. The printed values are noted beside them; they are second-hand or from memory.

Where a distribution is not symmetric, the shortest 95 % interval ends at quantiles whose
levels follow from the exact distribution function, so its ends are tested as quantiles:
standard error sqrt(p (1-p) / n) / density. Estimating the shortest interval itself would
converge with the cube root of n only.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from scipy.special import ndtr

from leadline.sampling import Input, Law, Normal, RankCorrelation, Sampler, Uniform, rank_correlation
from leadline.sampling.law import Array

BLOCKS = 64
N = BLOCKS * 2**14  # 1 048 576
ALARM = 4.8  # standard errors; false alarm 1.6e-6 for each comparison, 6e-5 for all 37 of this file
ROOT3 = math.sqrt(3.0)


def outcomes(laws: Sequence[Law], model: Callable[[Array], Array], pairs: Sequence[RankCorrelation] = ()) -> Array:
    """Return the model's result in N draws, sorted."""
    inputs = [Input(f"x{at}", law) for at, law in enumerate(laws)]
    sampler = Sampler(inputs, pairs, seed=101)
    return np.sort(np.concatenate([model(sampler.draw(block)) for block in range(BLOCKS)]))


def total(x: Array) -> Array:
    return np.asarray(x.sum(axis=0))


def assert_mean_and_sd(y: Array, mean: float, sd: float) -> None:
    assert abs(y.mean() - mean) < ALARM * sd / N**0.5
    fourth = float(np.mean((y - mean) ** 4))
    assert abs(y.var() - sd**2) < ALARM * math.sqrt(fourth - sd**4) / N**0.5


def assert_quantile(y: Array, level: float, exact: float, density: float) -> None:
    standard_error = math.sqrt(level * (1.0 - level) / N) / density
    assert abs(float(np.quantile(y, level)) - exact) < ALARM * standard_error


def density_at(y: Array, point: float) -> float:
    """Return the density from the draws within 2 % of the middle half's width."""
    reach = 0.02 * float(np.subtract(*np.quantile(y, [0.75, 0.25])))
    return float(np.mean(np.abs(y - point) < reach)) / (2.0 * reach)


def rectangular(sd: float) -> Law:
    return Uniform(-sd * ROOT3, sd * ROOT3)


ADDITIVE: list[tuple[list[Law], float, float]] = [
    # exact: 2 and 2 x 1.95996; printed 2.0 and 3.92 (seen second-hand, Table 2)
    ([Normal(0.0, 1.0)] * 4, 2.0, 3.91992796908),
    # exact: 2 and 2 sqrt(3) (2 - (3/5)^(1/4)); printed 2.0 and 3.88 (seen second-hand, Table 3)
    ([rectangular(1.0)] * 4, 2.0, 3.87940674135),
    # exact: by quadrature; printed 10.1 and 17.0 (from memory, Table 4)
    ([rectangular(1.0)] * 3 + [rectangular(10.0)], 10.1488915651, 17.0158140999),
]


@pytest.mark.parametrize(
    ("laws", "sd", "half_width"),
    ADDITIVE,
    ids=["9.2.2 normal", "9.2.3 rectangular", "9.2.4 one dominant rectangular"],
)
def test_additive_models(laws: list[Law], sd: float, half_width: float) -> None:
    # n = 1 048 576; standard errors of the ends 0.0053, 0.0047 and 0.0094
    y = outcomes(laws, total)
    assert_mean_and_sd(y, 0.0, sd)
    for level, end in ((0.025, -half_width), (0.975, half_width)):
        assert_quantile(y, level, end, density_at(y, end))


def test_mass_calibration() -> None:
    # Inputs from memory (9.3.1, Table 5), so only the exact column computed from them is a reference:
    # u 0.0754797399554 mg (tolerance 1e-6), interval 1.2340 +- 0.149566740254 mg (1e-5).
    # Printed: 1.2341, 0.0754, [1.0834, 1.3825] (from memory, Table 6). Standard error of the ends 0.0002 mg.
    laws: list[Law] = [
        Normal(100_000.000, 0.050),
        Normal(1.234, 0.020),
        Uniform(1.10, 1.30),
        Uniform(7000.0, 9000.0),
        Uniform(7950.0, 8050.0),
    ]

    def deviation(x: Array) -> Array:
        reference, difference, air, weight, standard = x
        buoyancy = (air - 1.2) * (1.0 / weight - 1.0 / standard)
        return np.asarray((reference + difference) * (1.0 + buoyancy) - 100_000.0)

    y = outcomes(laws, deviation)
    assert_mean_and_sd(y, 1.234, 0.0754797399554)
    for level, end in ((0.025, 1.234 - 0.149566740254), (0.975, 1.234 + 0.149566740254)):
        assert_quantile(y, level, end, density_at(y, end))


LOSS = [
    # exact: by quadrature, in 1e-6, ends within 1: r, x1, mean, u, low, high; printed (from memory, Tables 7 and 8):
    # [0, 150], [0, 367], [1590, 3543]; r = 0.9: [0, 185], [13, 398], [1628, 3555]
    (0.0, 0.000, 50.0, 50.0, 0.0, 149.786613676),
    (0.0, 0.010, 150.0, 111.803398875, 0.0, 366.005289747),
    (0.0, 0.050, 2550.0, 502.493781056, 1593.5696661, 3548.56981127),
    (0.9, 0.000, 50.0, 67.2681202354, 0.0, 185.056460747),
    (0.9, 0.010, 150.0, 120.519707932, 12.6515596594, 397.478781644),
    (0.9, 0.050, 2550.0, 504.504707609, 1624.41858689, 3554.68246571),
]


def loss_cdf(y: float, x1: float, r: float) -> float:
    """Chance that X1^2 + X2^2 <= y, by quadrature over X1 with X2 normal given X1; y in 1e-6."""
    u, radius = 0.005, math.sqrt(y * 1e-6)
    # The substitution X1 = radius sin(t) takes the square root out of the ends.
    t = np.linspace(-0.5 * math.pi, 0.5 * math.pi, 20_001)
    first, half_chord = radius * np.sin(t), radius * np.cos(t)
    z = (first - x1) / u
    centre, sd = r * u * z, u * math.sqrt(1.0 - r**2)
    inside = ndtr((half_chord - centre) / sd) - ndtr((-half_chord - centre) / sd)
    density = np.exp(-0.5 * z**2) / (u * math.sqrt(2.0 * math.pi))
    return float(np.trapezoid(inside * density * half_chord, t))


@pytest.mark.parametrize(("r", "x1", "mean", "u", "low", "high"), LOSS)
def test_power_loss(r: float, x1: float, mean: float, u: float, low: float, high: float) -> None:
    # n = 1 048 576; standard errors of the ends 0.1 (12.65) to 1.5 (3554.7)
    below, above = loss_cdf(low, x1, r) if low else 0.0, loss_cdf(high, x1, r)
    assert above - below == pytest.approx(0.95, abs=1e-6)  # the exact ends hold 95 % ...

    def density(y: float) -> float:
        return (loss_cdf(y + 0.01, x1, r) - loss_cdf(y - 0.01, x1, r)) / 0.02

    pairs = [RankCorrelation("x0", "x1", float(rank_correlation(r)))] if r else []
    y = outcomes([Normal(x1, 0.005), Normal(0.0, 0.005)], lambda x: np.asarray(1e6 * (x**2).sum(axis=0)), pairs)
    assert_mean_and_sd(y, mean, u)
    assert_quantile(y, above, high, density(high))
    if low:
        assert density(low) == pytest.approx(density(high), rel=1e-3)  # ... and are the shortest
        assert_quantile(y, below, low, density(low))
