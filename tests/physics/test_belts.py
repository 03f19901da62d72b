"""Time in the radiation belts, against closed forms, quadrature and an integrated departure."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from leadline.constants import STANDARD_GRAVITY_M_S2
from leadline.physics.belts import BOUNDS, INNER_BELT, OUTER_BELT, Belt, stay, time_from_perigee, time_in_shell
from leadline.physics.perigee_passes import pass_orbits

GRAVITY_M3_S2 = 3.986004418e14
EARTH_RADIUS_M = 6_378_137.0


def energy(perigee: float, e: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([(e - 1.0) * GRAVITY_M3_S2 / (2.0 * perigee)])


def time(radius: float, perigee: float, e: float) -> float:
    return float(time_from_perigee(radius, np.array([perigee]), energy(perigee, e), GRAVITY_M3_S2)[0])


@pytest.mark.parametrize("e", [0.05, 0.3, 0.72, 0.97, 0.999, 0.99999, 1.0, 1.00001, 1.001, 1.01, 1.5, 4.0])
@pytest.mark.parametrize("radius", [6.6001e6, 7e6, 2e7, 7e7])
def test_time_matches_quadrature_on_every_conic(e: float, radius: float) -> None:
    # exact: Kepler's second law, dt = r^2/h d(true anomaly), by SciPy's quadrature
    q = 6.6e6
    h = np.sqrt(GRAVITY_M3_S2 * q * (1.0 + e))
    apogee = q * (1.0 + e) / (1.0 - e) if e < 1.0 else np.inf
    reached = np.pi if radius >= apogee else np.arccos((q * (1.0 + e) / radius - 1.0) / e)
    expected, _ = quad(lambda v: (q * (1.0 + e) / (1.0 + e * np.cos(v))) ** 2 / h, 0.0, reached, epsrel=1e-12)
    # near perigee the arc cosine keeps half of the digits
    assert time(radius, q, e) == pytest.approx(expected, rel=1e-9)


def test_parabola_is_barkers_equation() -> None:
    # exact: t = sqrt(2 q^3/mu) (w + w^3/3), w = tan(v/2), r = q (1 + w^2)
    q, w = 7e6, np.array([0.1, 1.0, 3.0])
    expected = np.sqrt(2.0 * q**3 / GRAVITY_M3_S2) * (w + w**3 / 3.0)
    got = time_from_perigee(q * (1.0 + w * w), np.full(3, q), np.zeros(3), GRAVITY_M3_S2)
    np.testing.assert_allclose(got, expected, rtol=1e-13)


@given(st.floats(6.4e6, 1e7), st.floats(0.0, 0.995))
def test_apogee_is_half_a_period_away(q: float, e: float) -> None:
    # exact: Kepler's third law, the circle included
    half = np.pi * np.sqrt((q / (1.0 - e)) ** 3 / GRAVITY_M3_S2)
    assert time(1e12, q, e) == pytest.approx(half, rel=1e-9)


@given(st.floats(6.4e6, 1e7), st.floats(0.0, 2.0), st.floats(6e6, 1e8), st.floats(6e6, 1e8), st.floats(6e6, 1e8))
def test_shells_side_by_side_add_up(q: float, e: float, a: float, b: float, c: float) -> None:
    low, middle, high = sorted((a, b, c))
    orbit = (np.array([q]), energy(q, e), GRAVITY_M3_S2)
    parts = time_in_shell((low, middle), *orbit) + time_in_shell((middle, high), *orbit)
    whole = time_in_shell((low, high), *orbit)
    assert parts == pytest.approx(whole, rel=1e-9, abs=1e-6)
    assert whole >= 0.0


def test_an_orbit_below_or_above_the_shell_spends_nothing_in_it() -> None:
    # exact
    orbit = (np.array([7e6, 9e7]), np.concatenate([energy(7e6, 0.1), energy(9e7, 0.1)]), GRAVITY_M3_S2)
    assert time_in_shell((1e7, 2e7), *orbit).tolist() == [0.0, 0.0]


# cross-checked: departure of dv = 3100 m/s at 450 s from 200 km, integrated with SciPy; thrust-to-weight, passes, legs
# and hours in 1000-12 000 km, legs and hours in 13 000-60 000 km. There the way during the burns counts as flown; here
# the time on the orbits between and after them, hence 2 % or half of the last digit.
INTEGRATED = [
    (0.05, 4, 7, 7.15, 3, 9.98),
    (0.05, 5, 9, 8.20, 5, 14.50),
    (0.05, 8, 15, 13.54, 7, 29.63),
    (0.10, 2, 3, 3.85, 1, 3.63),
    (0.10, 4, 7, 6.96, 3, 9.95),
    (0.10, 6, 11, 10.20, 5, 18.93),
    (0.15, 8, 15, 13.44, 7, 29.60),
    (0.20, 10, 19, 16.69, 9, 30.03),
]


@pytest.mark.parametrize(("weight", "passes", "inner_legs", "inner_h", "outer_legs", "outer_h"), INTEGRATED)
def test_belt_hours_of_integrated_departures(
    weight: float, passes: int, inner_legs: int, inner_h: float, outer_legs: int, outer_h: float
) -> None:
    orbits = pass_orbits(
        np.array([3100.0]),
        450 * STANDARD_GRAVITY_M_S2,
        weight * STANDARD_GRAVITY_M_S2,
        passes=passes,
        radius_m=EARTH_RADIUS_M + 200e3,
        gravity_m3_s2=GRAVITY_M3_S2,
    )
    for belt, legs, hours in ((INNER_BELT, inner_legs, inner_h), (OUTER_BELT, outer_legs, outer_h)):
        got = stay(
            belt,
            orbits.perigee_radius_m,
            orbits.energy_j_kg,
            gravity_m3_s2=GRAVITY_M3_S2,
            body_radius_m=EARTH_RADIUS_M,
        )
        assert got.legs[0] == legs
        assert got.time_s[0] / 3600.0 == pytest.approx(hours, rel=0.02, abs=0.005)


def test_a_case_without_orbit_has_no_belt_hours() -> None:
    got = stay(
        INNER_BELT,
        np.array([[7e6, np.nan]]),
        np.array([[-1e7, np.nan]]),
        gravity_m3_s2=GRAVITY_M3_S2,
        body_radius_m=EARTH_RADIUS_M,
    )
    assert np.isnan(got.legs).tolist() == [False, True]
    assert np.isnan(got.time_s).tolist() == [False, True]


def test_bounds_are_ordered_and_the_default_is_the_widest() -> None:
    for inner, outer in BOUNDS.values():
        assert 0.0 < inner.lower_altitude_m < inner.upper_altitude_m <= outer.lower_altitude_m < outer.upper_altitude_m
    # published: encyclopaedia article, 1000-12 000 km; 13 000-60 000 km in the widest text
    assert (INNER_BELT.lower_altitude_m, INNER_BELT.upper_altitude_m) == (1e6, 12e6)
    assert (OUTER_BELT.lower_altitude_m, OUTER_BELT.upper_altitude_m) == (13e6, 60e6)
    thickness = [sum(belt.upper_altitude_m - belt.lower_altitude_m for belt in pair) for pair in BOUNDS.values()]
    assert thickness[0] == max(thickness)


def test_published_bounds_in_other_units() -> None:
    # published: agency graphic of 2013, 1-8 and 12-25 thousand miles = 1600-12 900 and 19 300-40 200 km; thesaurus,
    # 1.2-4.5 and 4.5-6.0 Earth radii from the centre
    def km(belt: Belt) -> list[float]:
        return [belt.lower_altitude_m / 1e3, belt.upper_altitude_m / 1e3]

    inner, outer = BOUNDS["agency graphic"]
    assert km(inner) + km(outer) == pytest.approx([1600, 12_900, 19_300, 40_200], abs=50)
    inner, outer = BOUNDS["thesaurus"]
    assert km(inner) + km(outer) == pytest.approx([1275.6, 22_323.5, 22_323.5, 31_890.7], abs=0.1)
