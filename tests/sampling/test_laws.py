"""What holds for every law: round trips, monotone maps, moments, plain data and refusals."""

from __future__ import annotations

import json
import math
import pickle
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import betainc, ndtr, ndtri
from scipy.stats import beta

from leadline.errors import SamplingError
from leadline.sampling import (
    LAWS,
    Clipped,
    Discrete,
    Empirical,
    Law,
    LawError,
    Lognormal,
    Normal,
    Pert,
    Triangular,
    TruncatedNormal,
    Uniform,
    law_from_description,
    probability_outside,
)
from leadline.sampling.law import Array
from leadline.sampling.pert import _table
from sampling import law_examples as examples

EPS = float(np.finfo(float).eps)
quick = settings(max_examples=60)


def values_at(law: Law, z: Array) -> Array:
    out = np.empty_like(z)
    law.from_scores(z, out)
    return out


def assert_is_quantile(law: Law, x: Array, p: Array, slack: float = 1e-9) -> None:
    """P(X < x) <= p <= P(X <= x), with x moved by its own rounding: holds with steps too."""
    grain = 8.0 * EPS * (np.abs(x) + law.sd + abs(law.mean)) + 2e-9 * law.sd * isinstance(law, Pert)
    assert np.all(np.asarray(law.cdf(x + grain)) >= p - slack)
    assert np.all(np.asarray(law.cdf(np.nextafter(x - grain, -np.inf))) <= p + slack)


@quick
@given(examples.any_law, st.lists(st.floats(0.0, 1.0), min_size=1, max_size=9))
def test_quantile_inverts_cdf(law: Law, chances: list[float]) -> None:
    p = np.array(chances)
    x = law.quantile(p)
    inside = np.isfinite(x)
    assert_is_quantile(law, x[inside], p[inside])
    assert np.all(inside | (p == 0.0) | (p == 1.0))


@quick
@given(examples.any_law, st.lists(st.floats(-5.0, 5.0), min_size=1, max_size=9))
def test_scores_map_to_the_quantile_of_their_chance(law: Law, scores: list[float]) -> None:
    z = np.array(scores)
    assert_is_quantile(law, values_at(law, z), ndtr(z))


@quick
@given(examples.any_law, st.lists(st.floats(-40.0, 40.0), min_size=2, max_size=40))
def test_map_is_monotone_and_stays_in_the_support(law: Law, scores: list[float]) -> None:
    z = np.sort(np.array(scores))
    x = values_at(law, z)
    low, high = law.support
    # Rounding of the value itself, for scores a few units in the last place apart.
    grain = 4.0 * EPS * np.abs(x[1:]) + 4.0 * EPS * min(high - low, 1e300)
    assert np.all(np.diff(x) >= -np.where(np.isfinite(grain), grain, 0.0))
    assert np.all((x >= low) & (x <= high))


@quick
@given(examples.any_law, st.integers(1, 9000))
def test_may_write_over_its_own_scores(law: Law, size: int) -> None:
    z = np.random.default_rng(size).standard_normal(size)
    expected = values_at(law, z)
    law.from_scores(z, z)
    assert z.tobytes() == expected.tobytes()


@quick
@given(examples.any_law, st.lists(st.floats(-200.0, 200.0), min_size=1, max_size=9))
def test_above_completes_cdf(law: Law, points: list[float]) -> None:
    x = np.array(points)
    np.testing.assert_allclose(law.cdf(x) + law.above(x), 1.0, rtol=0.0, atol=1e-12)


@quick
@given(examples.smooth)
def test_smooth_moments_match_quadrature(law: Law) -> None:
    # exact: the integrals of g(z) phi(z) and g(z)^2 phi(z) by the trapezoid rule, h = 1/400;
    # a law that grows as exp(sigma z) needs the range shifted by 2 sigma.
    z = np.linspace(-13.0, 13.0, 10_401)
    density = np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi) * (z[1] - z[0])
    x = values_at(law, z)
    mean = float(density @ x)
    sd = math.sqrt(float(density @ (x - mean) ** 2))
    assert law.mean == pytest.approx(mean, abs=1e-6 * law.sd)
    assert law.sd == pytest.approx(sd, rel=2e-6)
    assert law.cdf(law.median) == pytest.approx(0.5, abs=1e-9)


@quick
@given(examples.stepped)
def test_step_moments_are_the_sums(law: Law) -> None:
    # exact: jumps of the cdf at each value are its chance
    given_values: tuple[float, ...] = law.describe()["values"]
    x = np.unique(given_values)
    chance = np.diff(law.cdf(x), prepend=0.0)
    mean = float(chance @ x)
    assert float(chance.sum()) == pytest.approx(1.0, abs=1e-12)
    assert law.mean == pytest.approx(mean, abs=1e-9)
    assert law.sd == pytest.approx(math.sqrt(float(chance @ (x - mean) ** 2)), abs=1e-6)


@pytest.mark.parametrize(("low", "high"), [(-0.5, 0.8), (-math.inf, 1.5), (-5.0, math.inf), (-6.0, 6.0)])
def test_clipped_normal_moments(low: float, high: float) -> None:
    # exact: E = a F(a) + b S(b) + phi(a) - phi(b), the same for the square
    def density(x: float) -> float:
        return math.exp(-0.5 * x**2) / math.sqrt(2.0 * math.pi)

    def times(x: float, y: float) -> float:
        return x * y if y else 0.0

    below, over = float(ndtr(low)), float(ndtr(-high))
    a, b = density(low), density(high)
    mean = times(low, below) + times(high, over) + a - b
    square = times(low**2, below) + times(high**2, over) + (1.0 - below - over) + times(low, a) - times(high, b)
    law = Clipped(Normal(0.0, 1.0), low, high)
    assert law.mean == pytest.approx(mean, abs=1e-12)
    assert law.sd == pytest.approx(math.sqrt(square - mean**2), abs=1e-12)


def test_clipped_puts_the_rest_on_its_bounds() -> None:
    law = Clipped(Uniform(0.0, 10.0), 2.0, 7.0)
    # exact: two tenths sit on the lower bound, three on the upper
    assert law.cdf(1.999) == 0.0
    assert law.cdf(2.0) == pytest.approx(0.2)
    assert law.above(6.999) == pytest.approx(0.3, abs=1e-3)
    assert law.above(7.0) == 0.0
    assert law.median == 5.0
    assert law.support == (2.0, 7.0)


@pytest.mark.parametrize("weight", [0.01, 1.0, 4.0, 12.0, 100.0, 1000.0])
@pytest.mark.parametrize("mode", [0.0, 1e-6, 0.1, 0.37, 0.5, 0.8, 1.0])
def test_pert_table_is_true_to_a_billionth_of_the_range(mode: float, weight: float) -> None:
    # cross-checked: scipy.stats.beta 1.17, each half from its own tail; 6 007 points, none a node
    z = np.linspace(-6.0, 6.0, 6007)
    law = Pert(0.0, mode, 1.0, weight)
    exact = np.where(z < 0.0, beta.ppf(ndtr(z), *law.shape), beta.isf(ndtr(-z), *law.shape))
    assert np.max(np.abs(values_at(law, z) - exact)) <= 1e-9


def test_pert_builds_its_table_when_first_drawn_and_once() -> None:
    _table.cache_clear()
    laws = [Pert(float(low), low + 1.0, low + 4.0) for low in range(5)]
    assert _table.cache_info().misses == 0
    for law in laws:
        values_at(law, np.zeros(1))
    assert _table.cache_info().misses == 1


@pytest.mark.parametrize("law", examples.ONE_OF_EACH, ids=str)
def test_description_is_json_and_inverts(law: Law) -> None:
    text = json.dumps(law.describe(), allow_nan=False)
    assert law_from_description(json.loads(text)) == law
    assert pickle.loads(pickle.dumps(law)) == law  # noqa: S301 - our own bytes
    assert hash(law) == hash(law_from_description(law.describe()))


def test_registry_holds_every_kind_tested_here() -> None:
    assert set(LAWS) == {law.kind for law in examples.ONE_OF_EACH}
    assert all(LAWS[law.kind] is type(law) for law in examples.ONE_OF_EACH)


def test_quantile_outside_zero_to_one_is_nan() -> None:
    for law in examples.ONE_OF_EACH:
        assert np.all(np.isnan(law.quantile([-0.1, 1.1, math.nan]))), law.kind


def test_quantiles_at_the_ends_are_the_support() -> None:
    for law in examples.ONE_OF_EACH:
        np.testing.assert_allclose(law.quantile([0.0, 1.0]), law.support, rtol=1e-15, atol=0.0)


def test_truncated_moments_in_a_window_where_the_closed_form_fails() -> None:
    # exact: in so narrow a window the density is flat, so the law is uniform to 1e-10
    law = TruncatedNormal(0.0, 1.0, 0.0, 1e-5)
    assert law.sd == pytest.approx(1e-5 / math.sqrt(12.0), rel=1e-9)
    assert law.mean == pytest.approx(5e-6, rel=1e-9)


def test_median_of_steps_is_the_lower_one() -> None:
    # exact: half the chance lies at or below 2, so 2 is the smallest value that qualifies
    assert Discrete((3.0, 1.0, 2.0), (0.5, 0.2, 0.3)).median == 2.0
    assert Empirical((4.0, 2.0, 1.0, 3.0)).median == 2.0
    assert values_at(Empirical((4.0, 2.0, 1.0, 3.0)), np.zeros(1)) == 2.0


def test_discrete_leaves_out_values_without_a_chance() -> None:
    law = Discrete((0.0, 1.0, 2.0), (0.0, 1.0, 0.0))
    assert law.support == (1.0, 1.0)
    assert np.all(values_at(law, np.linspace(-40.0, 40.0, 99)) == 1.0)


def test_rare_values_at_both_ends_keep_their_chance() -> None:
    # exact: a chance of 1e-12 begins at the 1e-12 quantile of the score, on either side
    law = Discrete((0.0, 1.0, 2.0), (1e-12, 1.0 - 2e-12, 1e-12))
    edge = -float(ndtri(1e-12))
    z = np.array([-edge * (1 + 1e-5), -edge * (1 - 1e-5), edge * (1 - 1e-5), edge * (1 + 1e-5)])
    assert values_at(law, z).tolist() == [0.0, 1.0, 1.0, 2.0]
    assert law.above(1.0) == pytest.approx(1e-12, rel=1e-9)


@pytest.mark.parametrize(
    ("law", "low", "high", "chance"),
    [
        # exact: each tail in closed form
        (Normal(5.0, 1.0), 0.0, math.inf, ndtr(-5.0)),
        (Normal(0.0, 1.0), -math.inf, 12.0, ndtr(-12.0)),
        (Normal(0.0, 1.0), -3.0, 3.0, 2.0 * ndtr(-3.0)),
        (Lognormal(1.0, math.e), 0.0, math.inf, 0.0),
        (Lognormal(1.0, math.e), 0.0, math.exp(8.0), ndtr(-8.0)),
        (Uniform(-1.0, 1e6), 0.0, math.inf, 1.0 / (1e6 + 1.0)),
        (Triangular(-1e-3, 1.0, 2.0), 0.0, math.inf, 1e-6 / (2.001 * 1.001)),
        (Triangular(0.0, 1.0, 2.0), -math.inf, 2.0 - 1e-4, 1e-8 / 2.0),
        (Pert(0.0, 5.0, 10.0), 0.01, math.inf, betainc(3.0, 3.0, 1e-3)),
        (Pert(0.0, 5.0, 10.0), -math.inf, 9.99, betainc(3.0, 3.0, 1e-3)),
        (TruncatedNormal(0.0, 1.0, low=-2.0), -math.inf, 9.0, ndtr(-9.0) / ndtr(2.0)),
        (Empirical((1.0, 2.0, 3.0, 4.0)), 2.0, 3.0, 0.5),
        (Clipped(Normal(5.0, 1.0), low=0.0), 0.0, math.inf, 0.0),
    ],
)
def test_chance_outside_bounds(law: Law, low: float, high: float, chance: float) -> None:
    assert probability_outside(law, low, high) == pytest.approx(chance, rel=1e-9, abs=0.0)


def test_open_bounds_count_what_sits_on_them() -> None:
    engine_out = Discrete((0.0, 1.0), (0.004, 0.996))
    assert probability_outside(engine_out, 0.0, 1.0) == 0.0
    assert probability_outside(engine_out, 0.0, open_low=True) == pytest.approx(0.004)
    assert probability_outside(engine_out, high=1.0, open_high=True) == pytest.approx(0.996)
    assert probability_outside(engine_out, 2.0, 3.0) == 1.0
    assert probability_outside(Normal(0.0, 1.0)) == 0.0


NAN = math.nan


REFUSED: list[tuple[Callable[[], Law], str]] = [
    (lambda: Normal(NAN, 1.0), "mean"),
    (lambda: Normal(0.0, 0.0), "sd"),
    (lambda: Normal(0.0, NAN), "sd"),
    (lambda: Normal(0.0, math.inf), "sd"),
    (lambda: Normal("18", 1.0), "mean"),  # type: ignore[arg-type]  # refused on purpose
    (lambda: Normal(mean=True, sd=1.0), "mean"),
    (lambda: TruncatedNormal(0.0, -1.0), "sd"),
    (lambda: TruncatedNormal(0.0, 1.0, NAN), "low"),
    (lambda: TruncatedNormal(0.0, 1.0, 2.0, 2.0), "high"),
    (lambda: TruncatedNormal(0.0, 1.0, 5.0), "low and high"),
    (lambda: Lognormal(0.0, 2.0), "median"),
    (lambda: Lognormal(1.0, 1.0), "spread"),
    (lambda: Lognormal(1.0, NAN), "spread"),
    (lambda: Lognormal(1e300, 1e6), "median"),
    (lambda: Lognormal.from_mean_sd(-1.0, 1.0), "mean"),
    (lambda: Lognormal.from_mean_sd(1.0, 0.0), "sd"),
    (lambda: Lognormal.from_mean_sd(1.0, NAN), "sd"),
    (lambda: Uniform(1.0, 1.0), "high"),
    (lambda: Uniform(-1e308, 1e308), "high"),
    (lambda: Triangular(0.0, 3.0, 2.0), "likely"),
    (lambda: Triangular(0.0, NAN, 2.0), "likely"),
    (lambda: Pert(0.0, -1.0, 2.0), "likely"),
    (lambda: Pert(0.0, 1.0, 2.0, weight=0.0), "weight"),
    (lambda: Pert(0.0, 1.0, 2.0, weight=NAN), "weight"),
    (lambda: Discrete((), ()), "values"),
    (lambda: Discrete((1.0, 2.0), (1.0,)), "chances"),
    (lambda: Discrete((1.0, 2.0), (1.5, -0.5)), "chances"),
    (lambda: Discrete((1.0, 2.0), (0.5, 0.4)), "chances"),
    (lambda: Discrete((1.0, NAN), (0.5, 0.5)), "values[1]"),
    (lambda: Empirical((1.0,)), "values"),
    (lambda: Empirical((1.0, math.inf)), "values[1]"),
    (lambda: Clipped(Normal(0.0, 1.0), 1.0, 0.0), "high"),
    (lambda: Clipped(Uniform(0.0, 1.0), 1.0), "low"),
    (lambda: Clipped(Uniform(0.0, 1.0), high=0.0), "high"),
    (lambda: law_from_description({"law": "gaussian"}), "law"),
    (lambda: law_from_description({"law": "normal", "mean": 1.0}), "parameters"),
]


@pytest.mark.parametrize(("build", "field"), REFUSED, ids=[f"{at}-{field}" for at, (_, field) in enumerate(REFUSED)])
def test_refusal_says_field_bound_value_and_remedy(build: Callable[[], Law], field: str) -> None:
    with pytest.raises(LawError) as caught:
        build()
    error = caught.value
    assert error.field == field
    assert isinstance(error, SamplingError)
    assert all(part in str(error) for part in (error.law, field, error.bound, error.remedy))
    again = pickle.loads(pickle.dumps(error))  # noqa: S301 - our own bytes
    assert str(again) == str(error)


def test_a_long_value_is_shortened_in_the_message() -> None:
    with pytest.raises(LawError, match=r"\.\.\.") as caught:
        Discrete(tuple(float(n) for n in range(1000)), (1.0,) * 1000)
    assert len(str(caught.value)) < 300


@given(st.floats(1e-3, 1e3), st.floats(0.001, 3.0))
@quick
def test_lognormal_from_mean_and_sd_has_them(mean: float, ratio: float) -> None:
    law = Lognormal.from_mean_sd(mean, ratio * mean)
    assert law.mean == pytest.approx(mean, rel=1e-12)
    assert law.sd == pytest.approx(ratio * mean, rel=1e-9)
