"""Finite burns: loss of one burn, its statuses, its table against direct integration."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, minimize_scalar

from leadline.constants import STANDARD_GRAVITY_M_S2
from leadline.physics import finite_burn_grid, finite_burn_table
from leadline.physics.finite_burn import (
    BurnLoss,
    BurnStatus,
    Steering,
    arrival_loss,
    burn_time,
    departure_loss,
    near_impulsive_fixed,
    near_impulsive_tangential,
)

Array = npt.NDArray[np.float64]
Numbers = Array | float

GRAVITY_M3_S2 = 3.986004418e14  # Earth; reference value used by the grids below
EARTH_RADIUS_M = 6_378_137.0

# cross-checked: planar integration with SciPy for dv = 3100 m/s from a circular orbit, constant thrust and mass flow,
# stopped at the energy of the impulsive departure; altitude km, Isp s, thrust-to-weight in g0, tangential loss m/s,
# loss at the best fixed attitude m/s (None where it is not defined). Printed to 0.1 m/s.
SINGLE = [
    (200, 320, 0.01, 1741.0, None),
    (200, 320, 0.02, 1396.8, None),
    (200, 320, 0.05, 827.7, None),
    (200, 320, 0.15, 153.1, 343.4),
    (200, 320, 0.30, 41.5, 81.0),
    (200, 320, 1.00, 3.8, 7.2),
    (200, 450, 0.01, 1909.7, None),
    (200, 450, 0.03, 1401.4, None),
    (200, 450, 0.07, 643.2, None),
    (200, 450, 0.15, 191.7, 465.3),
    (200, 450, 0.20, 114.0, 245.9),
    (200, 450, 0.50, 19.5, 37.3),
    (300, 320, 0.05, 808.3, None),
    (300, 320, 0.10, 298.0, 847.1),
    (300, 320, 0.20, 86.8, 177.6),
    (300, 450, 0.10, 366.7, None),
    (300, 450, 0.40, 29.1, 56.0),
    (400, 320, 0.02, 1400.1, None),
    (400, 320, 0.10, 288.2, 796.6),
    (400, 320, 0.15, 142.3, 310.9),
    (400, 450, 0.01, 1905.2, None),
    (400, 450, 0.05, 931.0, None),
    (400, 450, 0.30, 49.0, 96.1),
    (400, 450, 0.70, 9.3, 17.4),
]

# cross-checked: the same integration along the velocity over other costs; dv m/s, Isp s, altitude km, thrust-to-weight,
# loss m/s printed to 0.0001.
GRID = [
    (500, 320, 200, 0.05, 2.9862),
    (500, 320, 200, 0.07, 1.5492),
    (500, 320, 200, 0.10, 0.7659),
    (500, 320, 400, 0.30, 0.0795),
    (500, 450, 400, 0.05, 2.9003),
    (1000, 320, 200, 0.15, 4.3372),
    (1000, 320, 400, 0.50, 0.3656),
    (1000, 450, 400, 0.07, 19.2984),
    (1500, 320, 200, 0.20, 9.9273),
    (1500, 320, 400, 1.00, 0.3726),
    (1500, 450, 400, 0.10, 40.0561),
    (2000, 320, 200, 0.30, 11.3473),
    (2000, 450, 200, 0.05, 339.7697),
    (2000, 450, 400, 0.15, 47.9216),
    (2500, 320, 200, 0.50, 8.1867),
    (2500, 450, 200, 0.07, 379.6006),
    (2500, 450, 400, 0.20, 55.8976),
    (3100, 320, 200, 1.00, 3.8445),
    (3100, 450, 200, 0.10, 378.9066),
    (3100, 450, 400, 0.30, 48.9936),
    (3500, 320, 400, 0.05, 989.9516),
    (3500, 450, 200, 0.15, 263.9416),
    (3500, 450, 400, 0.50, 25.7758),
]


def about_earth(
    delta_v: float, isp: float, altitude_km: float, weight: float, steering: Steering = Steering.TANGENTIAL
) -> BurnLoss:
    return departure_loss(
        delta_v,
        isp * STANDARD_GRAVITY_M_S2,
        weight * STANDARD_GRAVITY_M_S2,
        radius_m=EARTH_RADIUS_M + altitude_km * 1e3,
        gravity_m3_s2=GRAVITY_M3_S2,
        steering=steering,
    )


def pure(arc: Numbers, cost: Numbers, mass: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """Cost, exhaust velocity and acceleration in the units of the orbit, radius and gravity 1."""
    exhaust = cost / mass
    return cost, exhaust, exhaust * (1.0 - np.exp(-mass)) / arc


def from_200_km(delta_v: Numbers, exhaust: Numbers, acceleration: Numbers, available: Numbers = np.inf) -> BurnLoss:
    return departure_loss(
        delta_v,
        exhaust,
        acceleration,
        radius_m=EARTH_RADIUS_M + 200e3,
        gravity_m3_s2=GRAVITY_M3_S2,
        available_m_s=available,
    )


def tolerance(loss: float) -> float:
    """Return what was promised, 0.5 m/s about the Earth or 0.5 % of the loss, and half of the last digit printed."""
    return max(0.5, 0.005 * loss) + 0.05


@pytest.mark.parametrize(("altitude_km", "isp", "weight", "tangential", "fixed"), SINGLE)
def test_single_burns_match_the_reference(
    altitude_km: float, isp: float, weight: float, tangential: float, fixed: float | None
) -> None:
    assert about_earth(3100, isp, altitude_km, weight).loss_m_s[0] == pytest.approx(
        tangential, abs=tolerance(tangential)
    )
    other = about_earth(3100, isp, altitude_km, weight, Steering.FIXED)
    if fixed is None:
        assert other.status[0] == BurnStatus.TURNS_FROM_FIXED_THRUST
        assert np.isnan(other.loss_m_s[0])
        assert other.arc_rad[0] > other.arc_limit_rad[0]
    else:
        assert other.loss_m_s[0] == pytest.approx(fixed, abs=tolerance(fixed))


@pytest.mark.parametrize(("delta_v", "isp", "altitude_km", "weight", "loss"), GRID)
def test_tangential_grid_matches_the_reference(
    delta_v: float, isp: float, altitude_km: float, weight: float, loss: float
) -> None:
    # tighter than asked: 0.3 % of the loss, for a table whose error is said to be 0.25 %
    assert about_earth(delta_v, isp, altitude_km, weight).loss_m_s[0] == pytest.approx(loss, rel=0.003, abs=1e-4)


def direct(arc: float, cost: float, mass: float, *, angle: float | None = None, sign: float = 1.0) -> float:
    """Loss by DOP853 in the units of the orbit: along the velocity, or at an angle from the first velocity downwards.

    With `sign` -1 the mass grows.
    """
    exhaust = cost / mass
    acceleration = sign * exhaust * (1.0 - np.exp(-sign * mass)) / arc
    energy = 0.5 * (1.0 + cost) ** 2 - 1.0

    def slopes(t: float, z: Array) -> list[float]:
        x, y, vx, vy = z
        pull = (x * x + y * y) ** -1.5
        a = acceleration / (1.0 - sign * acceleration * t / exhaust)
        along = (vx, vy) / np.hypot(vx, vy) if angle is None else (-np.sin(angle), np.cos(angle))
        return [vx, vy, a * along[0] - x * pull, a * along[1] - y * pull]

    def reached(t: float, z: Array) -> float:
        return float(0.5 * (z[2] ** 2 + z[3] ** 2) - 1.0 / np.hypot(z[0], z[1]) - energy)

    reached.terminal = True  # type: ignore[attr-defined]
    longest = exhaust / acceleration * (1.0 - 1e-9) if sign > 0.0 else 1e6
    if angle is not None:
        longest = min(longest, 3.0 * arc)
    path: Any = solve_ivp(
        slopes, (0.0, longest), [1.0, 0.0, 0.0, 1.0], "DOP853", events=reached, rtol=1e-11, atol=1e-12
    )
    if path.t_events[0].size == 0:
        return 9.0
    return float(-sign * exhaust * np.log(1.0 - sign * acceleration * path.t_events[0][0] / exhaust) - cost)


def points(n: int, seed: int, mass_limit: float = 2.5) -> list[tuple[float, float, float]]:
    rng = np.random.default_rng(seed)
    arc = np.exp(rng.uniform(np.log(0.01), np.log(80.0), n))
    return list(zip(arc, rng.uniform(0.005, 1.0, n), rng.uniform(0.02, mass_limit, n), strict=True))


def test_departures_match_direct_integration_at_random_points() -> None:
    # cross-checked: SciPy's DOP853; the page of finite_burn says 0.25 % at most, measured over 2000 points
    drawn = points(60, seed=1)
    got = departure_loss(*pure(*np.array(drawn).T), radius_m=1.0, gravity_m3_s2=1.0)
    assert (got.status == BurnStatus.COMPLETES).all()
    np.testing.assert_allclose(got.loss_m_s, [direct(*x) for x in drawn], rtol=0.0026)


def test_arrivals_match_direct_integration_at_random_points() -> None:
    # cross-checked: DOP853, backwards from the circular orbit with growing mass; said 0.32 % at most
    drawn = points(12, seed=2, mass_limit=1.5)
    got = arrival_loss(*pure(*np.array(drawn).T), radius_m=1.0, gravity_m3_s2=1.0)
    np.testing.assert_allclose(got.loss_m_s, [_direct_arrival(*x) for x in drawn], rtol=0.0033)


def _direct_arrival(arc: float, cost: float, mass: float) -> float:
    """Loss of an arrival: the arc backwards, whose acceleration counts at the end, is found by root-finding."""

    def miss(log_backward: float) -> float:
        loss = direct(np.exp(log_backward), cost, mass, sign=-1.0)
        return float(log_backward + loss * mass / cost - np.log(arc))

    if miss(np.log(arc)) < 1e-10:
        return direct(arc, cost, mass, sign=-1.0)
    backward = np.exp(brentq(miss, np.log(arc) - 3.0, np.log(arc), xtol=1e-8))
    return direct(backward, cost, mass, sign=-1.0)


def test_fixed_steering_matches_direct_integration_at_random_points() -> None:
    # cross-checked: DOP853 and SciPy's bounded minimiser over the angle; said 0.15 % at most
    rng = np.random.default_rng(3)
    cost, mass = rng.uniform(0.005, 1.0, 8), rng.uniform(0.02, 2.5, 8)
    arc = rng.uniform(0.02, 1.0, 8) * finite_burn_grid.fixed_arc_limit(cost, mass)
    got = departure_loss(*pure(arc, cost, mass), radius_m=1.0, gravity_m3_s2=1.0, steering=Steering.FIXED)
    best = [
        minimize_scalar(
            lambda angle, x=x: direct(*x, angle=angle), bounds=(0.35 * x[0], 1.05 * x[0] + 0.1), options={"xatol": 1e-4}
        ).fun
        for x in zip(arc, cost, mass, strict=True)
    ]
    np.testing.assert_allclose(got.loss_m_s, best, rtol=0.0016)


def test_a_reference_angle_that_is_not_the_best_is_beaten() -> None:
    # cross-checked: at 200 km, 320 s and 0.1 weights the reference prints 986.7 m/s at 69.9 degrees. Integration at
    # that angle agrees, but it is not the best: at 85 degrees the loss is 902.7 m/s.
    speed = np.sqrt(GRAVITY_M3_S2 / (EARTH_RADIUS_M + 200e3))
    burn = about_earth(3100, 320, 200, 0.1, Steering.FIXED)
    numbers = (float(burn.arc_rad[0]), 3100 / speed, 3100 / (320 * STANDARD_GRAVITY_M_S2))
    assert direct(*numbers, angle=np.radians(69.9)) * speed == pytest.approx(986.7, abs=0.1)
    assert direct(*numbers, angle=np.radians(85.0)) * speed == pytest.approx(902.7, abs=0.1)
    assert burn.loss_m_s[0] == pytest.approx(902.6, abs=0.5)


def test_fixed_steering_at_its_limit_loses_about_30_percent() -> None:
    # pinned, and cross-checked by the test above: what the limit's fit promises
    cost, mass = (x.ravel() for x in np.meshgrid(np.linspace(0.01, 1.0, 30), np.linspace(0.01, 2.5, 30)))
    arc = finite_burn_grid.fixed_arc_limit(cost, mass) * (1.0 - 1e-9)
    got = departure_loss(*pure(arc, cost, mass), radius_m=1.0, gravity_m3_s2=1.0, steering=Steering.FIXED)
    share = got.loss_m_s / cost
    assert share.min() > 0.24
    assert share.max() < 0.35


def test_near_impulsive_forms_hold_where_the_arc_is_short() -> None:
    # published (recalled): the leading terms; the arc is below half a radian at one weight of thrust
    for isp in (320.0, 450.0):
        burn = about_earth(3100, isp, 200, 1.0)
        speed = np.sqrt(GRAVITY_M3_S2 / (EARTH_RADIUS_M + 200e3))
        assert near_impulsive_tangential(3100.0, burn.arc_rad, speed) == pytest.approx(burn.loss_m_s, rel=0.03)
        fixed = about_earth(3100, isp, 200, 1.0, Steering.FIXED)
        assert near_impulsive_fixed(3100.0, fixed.arc_rad) == pytest.approx(fixed.loss_m_s, rel=0.03)


def test_near_impulsive_tangential_takes_the_published_shares() -> None:
    # cross-checked: share of the fixed-attitude term, printed to three digits; 300 km, unsaid there, fits all five
    speed = np.sqrt(GRAVITY_M3_S2 / (EARTH_RADIUS_M + 300e3))
    delta_v = np.array([500.0, 1000.0, 2000.0, 3100.0, 4000.0])
    share = near_impulsive_tangential(delta_v, 0.1, speed) / near_impulsive_fixed(delta_v, 0.1)
    np.testing.assert_allclose(share, [0.120, 0.224, 0.392, 0.534, 0.626], atol=6e-4)


@pytest.mark.parametrize(
    ("delta_v", "exhaust", "acceleration", "status"),
    [
        (3100.0, 4400.0, 0.05, BurnStatus.COMPLETES),
        (3100.0, 4400.0, 0.03, BurnStatus.THRUST_TOO_LOW),
        (8000.0, 4400.0, 5.0, BurnStatus.COST_TOO_HIGH),
        (7000.0, 2500.0, 5.0, BurnStatus.EXHAUST_TOO_SLOW),
        (-1.0, 4400.0, 5.0, BurnStatus.NOT_A_BURN),
        (3100.0, 0.0, 5.0, BurnStatus.NOT_A_BURN),
        (3100.0, 4400.0, 0.0, BurnStatus.NOT_A_BURN),
        (3100.0, 4400.0, -1.0, BurnStatus.NOT_A_BURN),
        (np.nan, 4400.0, 5.0, BurnStatus.NOT_A_BURN),
        (3100.0, np.nan, 5.0, BurnStatus.NOT_A_BURN),
        (3100.0, 4400.0, np.nan, BurnStatus.NOT_A_BURN),
    ],
)
@pytest.mark.parametrize("arriving", [False, True])
def test_what_cannot_be_flown_is_named_and_has_no_loss(
    delta_v: float, exhaust: float, acceleration: float, status: BurnStatus, *, arriving: bool
) -> None:
    loss = arrival_loss if arriving else departure_loss
    # a sound burn beside it in the same block stays sound
    columns = (np.array([x, y]) for x, y in zip((delta_v, exhaust, acceleration), (3100.0, 4400.0, 3.0), strict=True))
    got = loss(*columns, radius_m=EARTH_RADIUS_M + 200e3, gravity_m3_s2=GRAVITY_M3_S2)
    assert got.status.tolist() == [status, BurnStatus.COMPLETES]
    assert np.isnan(got.loss_m_s).tolist() == [status != BurnStatus.COMPLETES, False]
    assert status.sentence.endswith(".")


def test_the_promised_range_about_the_earth_is_inside() -> None:
    delta_v, isp, weight, altitude = (
        x.ravel()
        for x in np.meshgrid([50.0, 3100.0, 4500.0], [200.0, 480.0], [0.005, 2.0], [150e3, 2000e3], indexing="ij")
    )
    got = departure_loss(
        delta_v,
        isp * STANDARD_GRAVITY_M_S2,
        weight * STANDARD_GRAVITY_M_S2,
        radius_m=EARTH_RADIUS_M + altitude,
        gravity_m3_s2=GRAVITY_M3_S2,
    )
    assert (got.status == BurnStatus.COMPLETES).all()


def test_propellant_that_runs_out_is_named_and_keeps_the_loss() -> None:
    enough = from_200_km(3100.0, 4400.0, 1.0)
    needed = 3100.0 + enough.loss_m_s[0]
    got = from_200_km(3100.0, 4400.0, 1.0, available=np.array([needed - 1e-6, needed + 1e-6]))
    assert got.status.tolist() == [BurnStatus.PROPELLANT_RUNS_OUT, BurnStatus.COMPLETES]
    assert got.loss_m_s.tolist() == [enough.loss_m_s[0]] * 2


def test_burn_time_is_the_mass_burnt_over_the_flow() -> None:
    # exact: 1000 kg of 4000 kg burnt at 10 kg/s with 3000 m/s of exhaust takes 100 s
    ideal = 3000.0 * np.log(4000.0 / 3000.0)
    assert burn_time(ideal, 3000.0, 10.0 * 3000.0 / 4000.0) == pytest.approx(100.0, rel=1e-14)


def test_burn_times_match_the_reference() -> None:
    # cross-checked: tangential burn times at 200 km, 320 s, thrust-to-weight 0.05 and 0.3
    for weight, seconds in ((0.05, 4569.3), (0.3, 674.7)):
        loss = about_earth(3100, 320, 200, weight).loss_m_s
        time = burn_time(3100.0 + loss, 320 * STANDARD_GRAVITY_M_S2, weight * STANDARD_GRAVITY_M_S2)
        assert time == pytest.approx(seconds, rel=1e-3)


def test_no_thrust_limit_upwards_and_no_cost_no_loss() -> None:
    # exact: an impulse loses nothing
    got = from_200_km(np.array([3000.0, 0.0]), 4400.0, np.array([1e9, 1.0]))
    assert got.loss_m_s == pytest.approx([0.0, 0.0], abs=1e-9)


NUMBERS = (st.floats(0.01, 6.2), st.floats(0.005, 1.0), st.floats(0.02, 2.5))


@given(*NUMBERS, st.floats(1.001, 3.0))
def test_loss_falls_with_thrust_up_to_one_turn(arc: float, cost: float, mass: float, factor: float) -> None:
    # Beyond one turn the loss still falls in the large, with a ripple of up to 0.5 % that the integration has too.
    delta_v, exhaust, acceleration = pure(arc, cost, mass)
    got = departure_loss(delta_v, exhaust, acceleration * np.array([1.0, factor]), radius_m=1.0, gravity_m3_s2=1.0)
    assert got.loss_m_s[0] > got.loss_m_s[1] > 0.0


@given(*NUMBERS)
def test_along_the_velocity_loses_less_than_fixed(arc: float, cost: float, mass: float) -> None:
    burn = pure(arc, cost, mass)
    fixed = departure_loss(*burn, radius_m=1.0, gravity_m3_s2=1.0, steering=Steering.FIXED)
    tangential = departure_loss(*burn, radius_m=1.0, gravity_m3_s2=1.0)
    assert fixed.status[0] == BurnStatus.TURNS_FROM_FIXED_THRUST or fixed.loss_m_s[0] > tangential.loss_m_s[0]


@given(*NUMBERS, st.floats(1e5, 1e8), st.floats(1e11, 1e17))
def test_any_body_is_the_same_in_its_own_units(
    arc: float, cost: float, mass: float, radius: float, gravity: float
) -> None:
    # exact: the equations of motion scale with radius and circular speed
    own = departure_loss(*pure(arc, cost, mass), radius_m=1.0, gravity_m3_s2=1.0)
    delta_v, exhaust, acceleration = pure(arc, cost, mass)
    speed = np.sqrt(gravity / radius)
    body = departure_loss(
        delta_v * speed, exhaust * speed, acceleration * gravity / radius**2, radius_m=radius, gravity_m3_s2=gravity
    )
    assert body.loss_m_s / speed == pytest.approx(own.loss_m_s, rel=1e-9)


def test_a_case_is_the_same_alone_and_in_a_block() -> None:
    rng = np.random.default_rng(4)
    columns = (rng.uniform(100, 4000, 9000), rng.uniform(3000, 4500, 9000), rng.uniform(0.1, 10, 9000))
    together = from_200_km(*columns)
    for i in (0, 4095, 4096, 8999):
        assert from_200_km(*(x[i] for x in columns)).loss_m_s[0] == together.loss_m_s[i]


def test_the_shipped_tables_are_what_the_script_makes() -> None:
    # stored as float32: 6e-8
    made = {"departure": finite_burn_table.departure_values(), "passes_2": finite_burn_table.pass_values(2).ravel()}
    for name, values in made.items():
        np.testing.assert_allclose(finite_burn_grid.shipped()[name], values, rtol=1e-6)


def test_the_shipped_file_is_small() -> None:
    path = Path(finite_burn_grid.__file__).parent / "data" / "finite_burn.npz"
    assert path.stat().st_size < 2e6
