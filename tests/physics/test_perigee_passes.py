"""Departures in several perigee passes, against an integrated table, direct integration, and what must always hold."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from leadline.constants import STANDARD_GRAVITY_M_S2
from leadline.physics import finite_burn_grid
from leadline.physics.finite_burn import BurnStatus, burn_time, departure_loss
from leadline.physics.perigee_passes import Passes, PassOrbits, pass_orbits, perigee_passes

Array = npt.NDArray[np.float64]

GRAVITY_M3_S2 = 3.986004418e14
EARTH_RADIUS_M = 6_378_137.0

# cross-checked: dv = 3100 m/s, integrated pass by pass with SciPy, burns along the velocity and centred on perigee.
# Altitude km, Isp s, thrust-to-weight, passes; loss m/s; hours from first ignition to last cut-off; period h and apogee
# altitude km of the last orbit before the last pass. There each pass spends the same ideal velocity, loss included;
# here each stops at the energy of the impulsive schedule, so orbits differ by up to 3 % where losses are large.
INTEGRATED = [
    (200, 320, 0.02, 8, 151.4, 43.00, 19.07, 59062),
    (200, 320, 0.03, 4, 255.6, 14.63, 8.45, 28416),
    (200, 320, 0.05, 10, 16.4, 58.94, 24.24, 72042),
    (200, 320, 0.1, 2, 96.5, 3.81, 3.52, 10301),
    (200, 320, 0.15, 3, 20.1, 8.43, 5.87, 20020),
    (200, 320, 0.15, 8, 2.9, 42.52, 19.05, 59461),
    (200, 320, 0.3, 3, 5.1, 8.36, 5.86, 20047),
    (200, 320, 0.3, 6, 1.3, 27.38, 13.72, 45220),
    (200, 450, 0.03, 5, 206.7, 21.09, 11.15, 37131),
    (200, 450, 0.03, 8, 84.8, 42.94, 19.12, 59411),
    (200, 450, 0.1, 2, 118.6, 3.86, 3.53, 10329),
    (200, 450, 0.1, 5, 20.0, 20.56, 11.05, 37377),
    (200, 450, 0.15, 3, 24.6, 8.45, 5.87, 20035),
    (200, 450, 0.15, 6, 6.2, 27.43, 13.72, 45220),
    (200, 450, 0.2, 6, 3.5, 27.41, 13.72, 45222),
    (400, 320, 0.02, 6, 239.1, 31.02, 15.75, 49906),
    (400, 320, 0.03, 3, 390.3, 9.78, 6.46, 20831),
    (400, 320, 0.03, 4, 237.7, 15.88, 9.35, 31204),
    (400, 320, 0.05, 5, 59.3, 22.71, 12.46, 41237),
    (400, 320, 0.15, 3, 18.5, 9.08, 6.38, 21715),
    (400, 320, 0.2, 3, 10.5, 9.04, 6.38, 21730),
    (400, 320, 0.2, 6, 2.6, 30.37, 15.72, 50551),
    (400, 320, 0.3, 5, 1.7, 22.47, 12.44, 41367),
    (400, 450, 0.02, 8, 170.5, 48.67, 22.67, 67673),
    (400, 450, 0.05, 10, 18.5, 67.31, 29.48, 83690),
    (400, 450, 0.1, 4, 28.8, 15.44, 9.33, 31757),
    (400, 450, 0.15, 2, 50.3, 3.96, 3.75, 11229),
    (400, 450, 0.15, 5, 8.3, 22.53, 12.45, 41367),
    (400, 450, 0.3, 3, 5.7, 9.02, 6.38, 21745),
]


def about_earth(altitude_km: float, isp: float, weight: float, passes: int, delta_v: float = 3100.0) -> Passes:
    return perigee_passes(
        delta_v,
        isp * STANDARD_GRAVITY_M_S2,
        weight * STANDARD_GRAVITY_M_S2,
        passes=passes,
        radius_m=EARTH_RADIUS_M + altitude_km * 1e3,
        gravity_m3_s2=GRAVITY_M3_S2,
    )


def orbits_about_earth(altitude_km: float, isp: float, weight: float, passes: int) -> PassOrbits:
    return pass_orbits(
        3100.0,
        isp * STANDARD_GRAVITY_M_S2,
        weight * STANDARD_GRAVITY_M_S2,
        passes=passes,
        radius_m=EARTH_RADIUS_M + altitude_km * 1e3,
        gravity_m3_s2=GRAVITY_M3_S2,
    )


@pytest.mark.parametrize(("case", "expected"), [(row[:4], row[4:]) for row in INTEGRATED])
def test_passes_match_the_integrated_table(
    case: tuple[float, float, float, int], expected: tuple[float, float, float, float]
) -> None:
    loss, elapsed, period, apogee = expected
    got, orbits = about_earth(*case), orbits_about_earth(*case)
    assert got.status[0] == BurnStatus.COMPLETES
    assert got.loss_m_s[0] == pytest.approx(loss, rel=0.04, abs=0.06)
    assert got.elapsed_s[0] / 3600.0 == pytest.approx(elapsed, rel=0.03)
    assert got.period_s[-1, 0] / 3600.0 == pytest.approx(period, rel=0.03)
    assert (orbits.apogee_radius_m[-2, 0] - EARTH_RADIUS_M) / 1e3 == pytest.approx(apogee, rel=0.03)


def test_all_periods_of_four_passes() -> None:
    # cross-checked: 200 km, 450 s, 0.1 weights: 2.10, 3.51, 8.42 h and apogees 3659, 10 422, 28 994 km
    got = about_earth(200, 450, 0.1, 4)
    orbits = orbits_about_earth(200, 450, 0.1, 4)
    np.testing.assert_allclose(got.period_s[:, 0] / 3600.0, [2.10, 3.51, 8.42], rtol=0.004)
    np.testing.assert_allclose(
        (orbits.apogee_radius_m[:3, 0] - EARTH_RADIUS_M) / 1e3, [3659, 10_422, 28_994], rtol=0.006
    )


def direct(arc: float, cost: float, mass: float, passes: int) -> float:
    """Whole loss by DOP853, pass by pass, in the units of the circular orbit; `arc` is that of one pass."""
    exhaust = cost / mass
    thrust = exhaust * (1.0 - np.exp(-mass)) / (passes * arc)
    energy, perigee, left, spent = -0.5, 1.0, 1.0, 0.0
    for j in range(1, passes + 1):
        target = 0.5 * (1.0 + j * cost / passes) ** 2 - 1.0
        duration = left * exhaust / thrust * (1.0 - np.exp(-cost / passes / exhaust))
        taken, end = _burn(_before_perigee(energy, perigee, 0.5 * duration), left, thrust, exhaust, target)
        while abs(taken - duration) > 1e-9 and j > 1:
            duration = taken
            taken, end = _burn(_before_perigee(energy, perigee, 0.5 * duration), left, thrust, exhaust, target)
        ideal = -exhaust * np.log(1.0 - thrust * taken / (exhaust * left))
        spent, left, energy = spent + ideal, left * np.exp(-ideal / exhaust), target
        turn = (end[0] * end[3] - end[1] * end[2]) ** 2
        perigee = turn / (1.0 + np.sqrt(max(0.0, 1.0 + 2.0 * energy * turn)))
    return float(spent - cost)


def _burn(start: Array, left: float, thrust: float, exhaust: float, target: float) -> tuple[float, Array]:
    """Burn along the velocity until an energy is reached; return time and state."""

    def slopes(t: float, z: Array) -> list[float]:
        pull, speed = np.hypot(z[0], z[1]) ** -3, np.hypot(z[2], z[3])
        a = thrust / (left - thrust * t / exhaust) / speed
        return [z[2], z[3], a * z[2] - z[0] * pull, a * z[3] - z[1] * pull]

    def reached(t: float, z: Array) -> float:
        return float(0.5 * (z[2] ** 2 + z[3] ** 2) - 1.0 / np.hypot(z[0], z[1]) - target)

    reached.terminal = True  # type: ignore[attr-defined]
    longest = left * exhaust / thrust * (1.0 - 1e-9)
    path: Any = solve_ivp(slopes, (0.0, longest), start, "DOP853", events=reached, rtol=1e-11, atol=1e-12)
    return float(path.t_events[0][0]), np.asarray(path.y_events[0][0])


def _before_perigee(energy: float, perigee: float, time: float) -> Array:
    """Return the state on an ellipse some time before perigee, by Kepler's equation."""
    a = -0.5 / energy
    e = max(0.0, 1.0 - perigee / a)
    mean = -time / a**1.5
    E = mean / (1.0 - e)
    for _ in range(60):
        E -= (E - e * np.sin(E) - mean) / (1.0 - e * np.cos(E))
    minor, r = a * np.sqrt(1.0 - e * e), a * (1.0 - e * np.cos(E))
    speed = np.sqrt(a) / r
    return np.array([a * (np.cos(E) - e), minor * np.sin(E), -speed * np.sin(E), speed * minor / a * np.cos(E)])


def pure(arc: float, cost: float, mass: float, passes: int) -> tuple[float, float, float]:
    """Cost, exhaust velocity and acceleration in the units of the orbit; `arc` is that of one pass."""
    exhaust = cost / mass
    return cost, exhaust, exhaust * (1.0 - np.exp(-mass)) / (passes * arc)


@pytest.mark.parametrize("passes", [1, 2, 3, 5, 8])
def test_passes_match_direct_integration_at_random_points(passes: int) -> None:
    # cross-checked: SciPy's DOP853; the page of perigee_passes says 0.31 % at most, measured over 1000 points
    rng = np.random.default_rng(passes)
    limit = finite_burn_grid.pass_cost_limit(passes)
    for _ in range(4):
        numbers = (rng.uniform(0.05, np.pi), rng.uniform(0.01, limit), rng.uniform(0.02, 2.5), passes)
        got = perigee_passes(*pure(*numbers), passes=passes, radius_m=1.0, gravity_m3_s2=1.0)
        assert got.loss_m_s[0] == pytest.approx(direct(*numbers), rel=0.0035)


def test_more_passes_than_shipped_are_integrated() -> None:
    # cross-checked: 200 km, 450 s, 0.1 weights, ten passes lose 5.0 m/s; and direct integration as above
    assert 10 not in finite_burn_grid.SHIPPED_PASSES
    numbers = (0.3, 0.35, 0.7, 10)
    got = perigee_passes(*pure(*numbers), passes=10, radius_m=1.0, gravity_m3_s2=1.0)
    assert got.loss_m_s[0] == pytest.approx(direct(*numbers), rel=0.0035)


def test_near_impulsive_passes_lose_a_share_of_the_square() -> None:
    # cross-checked: loss(n) = loss0 / n^2 within 8 % for short arcs, loss0 the leading term of the single burn
    for passes in (2, 3, 5, 8):
        one = about_earth(200, 450, 1.0, 1).loss_m_s[0]
        assert about_earth(200, 450, 1.0, passes).loss_m_s[0] == pytest.approx(one / passes**2, rel=0.08)


def test_one_pass_is_the_single_burn() -> None:
    # exact
    got = about_earth(200, 450, 0.02, 1)
    one = departure_loss(
        3100.0,
        450 * STANDARD_GRAVITY_M_S2,
        0.02 * STANDARD_GRAVITY_M_S2,
        radius_m=EARTH_RADIUS_M + 200e3,
        gravity_m3_s2=GRAVITY_M3_S2,
    )
    assert got.loss_m_s[0] == one.loss_m_s[0]
    assert got.elapsed_s[0] == got.burning_s[0]
    assert got.period_s.shape == (0, 1)


def test_a_single_spiral_has_a_loss_but_no_orbit_about_one_perigee() -> None:
    got, orbits = about_earth(200, 450, 0.02, 1), orbits_about_earth(200, 450, 0.02, 1)
    assert got.status[0] == BurnStatus.COMPLETES
    assert orbits.status[0] == BurnStatus.PASS_TOO_LONG
    assert np.isnan(orbits.perigee_radius_m).all()


def test_parts_add_up() -> None:
    got, orbits = about_earth(300, 320, 0.07, 5), orbits_about_earth(300, 320, 0.07, 5)
    assert orbits.loss_m_s.sum(axis=0) == pytest.approx(got.loss_m_s, rel=1e-6)  # the table is stored as float32
    assert orbits.burning_s.sum(axis=0) == pytest.approx(got.burning_s, rel=1e-6)
    exhaust, acceleration = 320 * STANDARD_GRAVITY_M_S2, 0.07 * STANDARD_GRAVITY_M_S2
    assert got.burning_s == pytest.approx(burn_time(3100.0 + got.loss_m_s, exhaust, acceleration), rel=1e-12)
    # exact: the last energy is that of the impulse, and every ellipse has its energy's axis
    speed = np.sqrt(GRAVITY_M3_S2 / (EARTH_RADIUS_M + 300e3))
    assert orbits.energy_j_kg[-1] == pytest.approx(0.5 * (speed + 3100.0) ** 2 - speed**2, rel=1e-12)
    axes = 0.5 * (orbits.perigee_radius_m + orbits.apogee_radius_m)
    assert orbits.energy_j_kg == pytest.approx(-0.5 * GRAVITY_M3_S2 / axes, rel=1e-12)
    # exact: Kepler's third law
    assert got.period_s == pytest.approx(2.0 * np.pi * np.sqrt(axes[:-1] ** 3 / GRAVITY_M3_S2), rel=1e-12)


@pytest.mark.parametrize(
    ("delta_v", "exhaust", "acceleration", "status"),
    [
        (3100.0, 4400.0, 1.0, BurnStatus.COMPLETES),
        (3100.0, 4400.0, 0.1, BurnStatus.PASS_TOO_LONG),
        (5000.0, 4400.0, 5.0, BurnStatus.LEAVES_TOO_EARLY),
        (3100.0, 1200.0, 5.0, BurnStatus.EXHAUST_TOO_SLOW),
        (-1.0, 4400.0, 5.0, BurnStatus.NOT_A_BURN),
        (3100.0, 4400.0, 0.0, BurnStatus.NOT_A_BURN),
        (np.nan, 4400.0, 5.0, BurnStatus.NOT_A_BURN),
    ],
)
def test_what_cannot_be_flown_is_named(delta_v: float, exhaust: float, acceleration: float, status: BurnStatus) -> None:
    columns = tuple(
        np.array([x, y]) for x, y in zip((delta_v, exhaust, acceleration), (3100.0, 4400.0, 3.0), strict=True)
    )
    got = perigee_passes(*columns, passes=3, radius_m=EARTH_RADIUS_M + 200e3, gravity_m3_s2=GRAVITY_M3_S2)
    orbits = pass_orbits(*columns, passes=3, radius_m=EARTH_RADIUS_M + 200e3, gravity_m3_s2=GRAVITY_M3_S2)
    nothing = [status != BurnStatus.COMPLETES, False]
    assert got.status.tolist() == orbits.status.tolist() == [status, BurnStatus.COMPLETES]
    for column in (got.loss_m_s, got.elapsed_s, got.burning_s, orbits.perigee_radius_m[2], orbits.loss_m_s.sum(axis=0)):
        assert np.isnan(column).tolist() == nothing


def test_propellant_that_runs_out_is_named() -> None:
    available = np.array([3100.0, 3200.0])
    got = perigee_passes(
        3100.0, 4400.0, 3.0, passes=2, radius_m=6.6e6, gravity_m3_s2=GRAVITY_M3_S2, available_m_s=available
    )
    assert got.status.tolist() == [BurnStatus.PROPELLANT_RUNS_OUT, BurnStatus.COMPLETES]
    assert got.loss_m_s[0] == got.loss_m_s[1] > 0.0


NUMBERS = (st.floats(0.02, 3.1), st.floats(0.005, 0.45), st.floats(0.02, 2.5), st.integers(2, 8))


@given(*NUMBERS)
def test_passes_never_lose_more_than_fewer(arc: float, cost: float, mass: float, passes: int) -> None:
    burn = pure(arc, cost, mass, passes)
    more, fewer = (perigee_passes(*burn, passes=n, radius_m=1.0, gravity_m3_s2=1.0) for n in (passes, 1))
    assert 0.0 < more.loss_m_s[0] <= fewer.loss_m_s[0]


@given(*NUMBERS, st.floats(1.001, 3.0))
def test_loss_falls_with_thrust(arc: float, cost: float, mass: float, passes: int, factor: float) -> None:
    delta_v, exhaust, acceleration = pure(arc, cost, mass, passes)
    columns = (delta_v, exhaust, acceleration * np.array([1.0, factor]))
    got = perigee_passes(*columns, passes=passes, radius_m=1.0, gravity_m3_s2=1.0)
    assert got.loss_m_s[0] > got.loss_m_s[1]


@given(st.floats(0.02, 3.1), st.floats(0.005, 0.45), st.floats(0.02, 2.5), st.integers(2, 7))
def test_elapsed_time_grows_with_passes(arc: float, cost: float, mass: float, passes: int) -> None:
    burn = pure(arc, cost, mass, passes)
    fewer, more = (perigee_passes(*burn, passes=n, radius_m=1.0, gravity_m3_s2=1.0) for n in (passes, passes + 1))
    assert more.elapsed_s[0] > fewer.elapsed_s[0] > fewer.burning_s[0] > 0.0
