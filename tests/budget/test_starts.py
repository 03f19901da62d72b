"""Starts of engines, against the binomial law and sampling from it."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from budget.burn_missions import NO_DRAWS, START_KG, departing, flown, quantity
from budget.missions import ENGINE, TANK, ferry_mission
from leadline.budget import compile_plan
from leadline.budget.starts import chance_of_at_least
from leadline.constants import STANDARD_GRAVITY_M_S2
from leadline.vehicle import Burn, BurnTime, Coast, Column, Engine, FiniteBurn, Ignition, Mission, Number

EXHAUST = 316.0 * STANDARD_GRAVITY_M_S2


def starting(
    starts: int, count: int, needed: int, chance: Number, *, running: int | None = None, first_column: int = 0
) -> Mission:
    """Build a ferry whose only burn starts so often, a pass each."""
    draws = tuple(Column(first_column + k, f"legs.out.ignition#{k + 1}") for k in range(starts))
    finite = None if starts == 1 else FiniteBurn("earth", 300e3, passes=starts)
    engine = Engine(ENGINE, 316.0, 30_000.0, 1.65, count=count, needed=needed, ignites=chance)
    burn = Burn("out", ENGINE, TANK, 900.0, finite, draws, running)
    requirements = (Ignition("ignition of out", "out"), BurnTime("time", ("out",), 1e4))
    return ferry_mission((burn,), requirements, engine=engine)


def fly(mission: Mission, draws: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Give the margin of ignition and the number of engines that run."""
    ledger = compile_plan(mission).ledger(draws)
    return ledger.margins[0], ledger.rows[1].quantities["engines_running"]


@given(st.integers(1, 12), st.integers(1, 12), st.floats(0.01, 1.0))
def test_k_of_n_is_the_tail_of_the_binomial_law(needed: int, count: int, chance: float) -> None:
    # exact: the survival function of the binomial law, by SciPy
    expected = stats.binom.sf(needed - 1, count, chance)
    assert chance_of_at_least(needed, count, chance) == pytest.approx(expected, rel=1e-12, abs=1e-15)


def test_two_of_three_by_hand() -> None:
    # exact: 3 p^2 (1 - p) + p^3 with p = 0.996
    assert chance_of_at_least(2, 3, 0.996) == pytest.approx(3 * 0.996**2 * 0.004 + 0.996**3, rel=1e-14)
    assert chance_of_at_least(1, 1, 0.996) == 0.996


def test_how_often_enough_light_is_the_binomial_chance() -> None:
    """2 of 3 engines at 0.9 a start, two starts: exact chance S^2 with S = 0.972.

    n = 2^17: standard error 6.3e-4; |z| < 4.06 has a false-alarm rate of 5e-5, for a fixed seed.
    """
    n = 2**17
    draws = np.random.default_rng(11).random((2, n))
    margin, running = fly(starting(2, 3, 2, 0.9), draws)
    expected = float(chance_of_at_least(2, 3, 0.9)) ** 2
    error = math.sqrt(expected * (1.0 - expected) / n)
    assert abs(np.mean(margin >= 0) - expected) < 4.06 * error
    all_three = 0.9**6  # exact: all light at both starts
    assert abs(np.mean(running == 3) - all_three) < 4.06 * math.sqrt(all_three * (1.0 - all_three) / n)
    assert set(np.unique(running)) == {2.0, 3.0}


def test_the_number_lit_follows_the_binomial_law() -> None:
    """All counts of 4 engines at 0.7, one needed: chi-square with 3 degrees of freedom below 23.0 (chance 4e-5)."""
    n = 2**16
    _, running = fly(starting(1, 4, 1, 0.7), np.random.default_rng(5).random((1, n)))
    law = stats.binom.pmf(np.arange(5), 4, 0.7)
    expected = n * np.array([law[0] + law[1], *law[2:]])  # none lit runs as one and fails by name
    found = np.array([np.sum(running == k) for k in (1, 2, 3, 4)])
    assert np.sum((found - expected) ** 2 / expected) < 23.0


def test_the_margin_is_continuous_and_falls_with_the_draw() -> None:
    draws = np.linspace(0.0, 1.0, 10_001)[None, :]
    margin, running = fly(starting(1, 3, 2, 0.9), draws)
    assert np.diff(margin) == pytest.approx(np.full(10_000, -1e-4))  # exact: P(lit >= 2) - u
    assert margin[0] == pytest.approx(0.972)
    assert (np.diff(running) <= 0).all()
    # exact: at least m light where u is at most P(lit >= m)
    np.testing.assert_array_equal(running == 3, draws[0] <= 0.9**3)


def test_the_worst_start_decides() -> None:
    draws = np.random.default_rng(3).random((3, 200))
    margin, running = fly(starting(3, 3, 1, 0.8), draws)
    alone = [fly(starting(1, 3, 1, 0.8), draws[k : k + 1]) for k in range(3)]
    np.testing.assert_array_equal(margin, np.min([one for one, _ in alone], axis=0))
    np.testing.assert_array_equal(running, np.min([number for _, number in alone], axis=0))


def test_the_chance_itself_may_be_dispersed() -> None:
    chances, draws = np.array([0.99, 0.9, 0.5]), np.full(3, 0.95)
    mission = starting(1, 1, 1, Column(1, "vehicle.ferry.engines.main.ignites"))
    margins = compile_plan(mission).evaluate(np.array([draws, chances])).margins
    np.testing.assert_allclose(margins[0], chances - 0.95)  # exact


def test_fewer_engines_burn_longer() -> None:
    ledger = compile_plan(starting(1, 3, 1, 0.9)).ledger(np.array([[0.5, 0.9, 0.9995]]))
    used = 18_000.0 * (1.0 - math.exp(-900.0 / EXHAUST))
    seconds = used * EXHAUST / 30_000.0  # exact
    np.testing.assert_allclose(ledger.rows[1].quantities["engines_running"], [3.0, 2.0, 1.0])
    np.testing.assert_allclose(ledger.rows[1].quantities["burn_time_s"], seconds / np.array([3.0, 2.0, 1.0]))
    assert ledger.margins[0, 2] < 0  # none of three: 1 in 1000
    assert np.isfinite(ledger.margins).all()


def test_an_engine_that_is_out_is_not_tried() -> None:
    draws = np.array([[0.5, 0.95]])
    margin, running = fly(starting(1, 3, 2, 0.97, running=2), draws)
    np.testing.assert_allclose(margin, 0.97**2 - draws[0])  # exact: both must light
    np.testing.assert_array_equal(running, [2.0, 2.0])


def test_each_engine_takes_its_own_losses() -> None:
    finite = FiniteBurn("earth", 200e3, passes=2)
    mission = departing(finite, thrust_n=50_000.0, count=3, needed=1, running=2, start_loss_kg=30.0, stop_loss_kg=10.0)
    ledger = flown(mission)
    # exact: two engines, two starts and stops each
    assert (quantity(ledger, "start_loss_kg"), quantity(ledger, "stop_loss_kg")) == (120.0, 40.0)
    burned = quantity(ledger, "propellant_burned_kg")
    assert ledger.rows[1].stack_mass_kg[0] == pytest.approx(START_KG - burned - 160.0, rel=1e-12)


def test_an_engine_that_lights_for_sure_draws_nothing() -> None:
    engine = Engine(ENGINE, 316.0, 30_000.0, 1.65)
    mission = ferry_mission((Burn("out", ENGINE, TANK, 900.0), Coast("wait", 10.0)), engine=engine)
    ledger = compile_plan(mission).ledger(NO_DRAWS)
    assert "engines_running" not in ledger.rows[1].quantities
    labels = [label.kind for label in compile_plan(mission).requirements]
    assert "ignition" not in labels
