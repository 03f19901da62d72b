"""Costs to, at and from the Moon against tables, published legs and rules of the trade."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline.constants import EARTH_GM_M3_S2, EARTH_RADIUS_M, MOON_GM_M3_S2, MOON_RADIUS_M
from leadline.physics import lunar_transfer, orbits

KM = 1_000.0


@pytest.mark.parametrize(
    ("altitude", "distance", "cost", "hours"),
    # computed: two-body table of Earth orbit to the Moon's distance
    [
        (185, 356_500, 3128.0, 106.91),
        (185, 384_400, 3135.1, 119.46),
        (185, 406_700, 3140.2, 129.83),
        (200, 384_400, 3131.3, 119.47),
        (300, 384_400, 3106.4, 119.5),
        (400, 384_400, 3082.1, 119.6),
        (500, 406_700, 3063.3, 130.0),
    ],
)
def test_departure(altitude: float, distance: float, cost: float, hours: float) -> None:
    assert float(lunar_transfer.departure_cost(altitude * KM, distance * KM)) == pytest.approx(cost, abs=0.1)
    found = float(lunar_transfer.minimum_energy_time(altitude * KM, distance * KM))
    assert found / 3600 == pytest.approx(hours, abs=0.1)


@pytest.mark.parametrize(
    ("excess", "apoapsis", "cost"),
    # computed: two-body table, 200 km orbit, 384 400 km: excess 837.7 m/s
    [(837.7, 100.0, 823.8), (837.7, 10_000.0, 309.2), (837.7, 60_000.0 - 1737.4, 181.8)],
)
def test_capture_of_the_two_body_excess(excess: float, apoapsis: float, cost: float) -> None:
    assert float(lunar_transfer.lunar_burn_cost(excess, 100 * KM, apoapsis * KM)) == pytest.approx(cost, abs=0.2)


@pytest.mark.parametrize(
    ("hours", "surcharge", "insertion", "within"),
    # computed: circular restricted three-body flights, 384 400 km, prograde exactly, retrograde within 12 m/s
    [
        (96.8, 0.0, 818.3, 0.3),
        (84.0, 5.0, 840.5, 0.3),
        (70.1, 20.0, 905.9, 0.3),
        (55.7, 60.0, 1073.0, 0.3),
        (91.7, 5.0, 830.7, 12.0),
        (72.8, 20.0, 896.1, 12.0),
        (62.7, 40.0, 980.9, 12.0),
        (185.9, 10.0, 852.7, 12.0),
    ],
)
def test_three_body_flights(hours: float, surcharge: float, insertion: float, within: float) -> None:
    seconds, distance = hours * 3600, 384_400 * KM
    assert float(lunar_transfer.departure_surcharge(seconds, distance)) == pytest.approx(surcharge, abs=within / 2)
    excess = lunar_transfer.arrival_excess(seconds, distance)
    assert float(lunar_transfer.lunar_burn_cost(excess, 100 * KM, 100 * KM)) == pytest.approx(insertion, abs=within)


def test_faster_flights_cost_at_the_moon_and_hardly_at_earth() -> None:
    times = np.linspace(56, 96, 41) * 3600
    distance = 384_400 * KM
    at_earth = lunar_transfer.departure_surcharge(times, distance)
    at_moon = lunar_transfer.lunar_burn_cost(lunar_transfer.arrival_excess(times, distance), 100 * KM, 100 * KM)
    assert (np.diff(at_earth) <= 0).all()
    assert (np.diff(at_moon) < 0).all()
    assert np.ptp(at_moon) > 4 * np.ptp(at_earth)


@pytest.mark.parametrize(
    ("distance", "escape", "speed"),
    # computed: minimum-energy return from a 100 km orbit to a 40 km perigee; speed at 122 km, inertial
    [(356_500, 846.8, 10_975), (384_400, 824.6, 10_982), (406_700, 808.7, 10_987)],
)
def test_return(distance: float, escape: float, speed: float) -> None:
    found, angle = lunar_transfer.entry_state(distance * KM, 40 * KM)
    assert float(found) == pytest.approx(speed, abs=1.5)
    assert np.degrees(float(angle)) == pytest.approx(-6.39, abs=0.02)
    excess = lunar_transfer.arrival_excess(None, distance * KM)
    cost = float(lunar_transfer.lunar_burn_cost(excess, 100 * KM, 100 * KM))
    # the table is of two bodies; three bodies make it 6 m/s cheaper, the stated model error is 8
    assert cost == pytest.approx(escape, abs=9.0)


def test_published_legs() -> None:
    # published: Acta Astronautica 177 (2020) 351-372, Table 4, without its 5 % reserve: 407 km orbit to
    # the Moon 3.120 km/s; from there into a 100 km lunar orbit 0.907 km/s
    out = float(lunar_transfer.departure_cost(407 * KM, 384_400 * KM))
    assert out == pytest.approx(3_120.0, rel=0.015)
    for hours in (70.0, 78.0):  # the published insertion is of a flight of about three days
        excess = lunar_transfer.arrival_excess(hours * 3600, 384_400 * KM)
        insertion = float(lunar_transfer.lunar_burn_cost(excess, 100 * KM, 100 * KM))
        assert insertion == pytest.approx(907.0, rel=0.06)


def test_low_energy_flights_are_cheaper_than_ours() -> None:
    # published: Math. Probl. Eng. 2012, 971983, captions: 3.065 + 0.8082 km/s in 14.3 days from 167 km (recalled)
    ours = float(lunar_transfer.departure_cost(167 * KM, 384_400 * KM)) + 818.3
    assert 3_065.0 + 808.2 < ours < (3_065.0 + 808.2) * 1.03


def test_rules_of_the_trade() -> None:
    # common practice, no source: from 200 km the departure costs 3.0 to 3.15 km/s, a loose capture about 0.2, on to low
    # orbit about 0.6, so about 0.8 home and 4.7 in all
    distances = np.array([356_500.0, 384_400.0, 406_700.0]) * KM
    out = lunar_transfer.departure_cost(200 * KM, distances)
    assert ((out > 3_000) & (out < 3_150)).all()
    excess = lunar_transfer.arrival_excess(None, distances)
    loose = lunar_transfer.lunar_burn_cost(excess, 100 * KM, 60_000 * KM)
    low = lunar_transfer.lunar_burn_cost(excess, 100 * KM, 100 * KM)
    assert loose == pytest.approx(np.full(3, 200.0), abs=40.0)
    assert low - loose == pytest.approx(np.full(3, 600.0), rel=0.1)
    assert low == pytest.approx(np.full(3, 800.0), rel=0.06)
    assert out + low + low == pytest.approx(np.full(3, 4_700.0), rel=0.025)


def test_flight_times_outside_the_table_give_no_number() -> None:
    hours = np.array([40.0, 55.6, 55.8, 191.5, 191.7, np.nan])
    for function in (lunar_transfer.arrival_excess, lunar_transfer.departure_surcharge):
        found = np.isfinite(function(hours * 3600, 384_400 * KM))
        assert found.tolist() == [False, False, True, True, False, False]
    low, high = lunar_transfer.flight_time_range(406_700 * KM)
    ends = np.array([float(low) * 1.0001, float(high) * 0.9999])
    assert np.isfinite(lunar_transfer.arrival_excess(ends, 406_700 * KM)).all()


@given(st.floats(100.0, 40_000.0), st.floats(100.0, 40_000.0))
def test_orbit_change_there_costs_what_it_costs_back(first: float, second: float) -> None:
    radii = EARTH_RADIUS_M + first * KM, EARTH_RADIUS_M + second * KM
    there, back = (orbits.orbit_change_cost(EARTH_GM_M3_S2, *pair) for pair in (radii, radii[::-1]))
    assert float(there) == pytest.approx(float(back), abs=1e-9)
    assert float(there) >= 0.0


@given(st.floats(0.0, 2_000.0), st.floats(20.0, 1_000.0))
def test_capture_equals_capture_by_energy(excess: float, altitude: float) -> None:
    # exact: by conservation of energy
    radius = MOON_RADIUS_M + altitude * KM
    cost = float(orbits.hyperbolic_cost(MOON_GM_M3_S2, radius, radius, excess))
    before = cost + float(orbits.circular_speed(MOON_GM_M3_S2, radius))
    assert 0.5 * before**2 - MOON_GM_M3_S2 / radius == pytest.approx(0.5 * excess**2, rel=1e-9, abs=1e-3)


def test_plane_change_by_sixty_degrees_costs_the_speed_itself() -> None:
    assert float(orbits.plane_change_cost(1_633.0, np.radians(60))) == pytest.approx(1_633.0)  # exact


@given(st.floats(100.0, 40_000.0), st.floats(100.0, 40_000.0))
def test_apsides_change_between_circles_is_the_orbit_change(first: float, second: float) -> None:
    radii = EARTH_RADIUS_M + first * KM, EARTH_RADIUS_M + second * KM
    general = orbits.apsides_change_cost(EARTH_GM_M3_S2, (radii[0],) * 2, (radii[1],) * 2)
    assert float(general) == pytest.approx(float(orbits.orbit_change_cost(EARTH_GM_M3_S2, *radii)), abs=1e-9)


def test_a_burn_at_the_low_point_alone_changes_the_high_point() -> None:
    low, high = MOON_RADIUS_M + 100 * KM, MOON_RADIUS_M + 10_000 * KM
    cost = orbits.apsides_change_cost(MOON_GM_M3_S2, (low, high), (low, low))
    whole = orbits.hyperbolic_cost(MOON_GM_M3_S2, low, low, 800.0)
    loose = orbits.hyperbolic_cost(MOON_GM_M3_S2, low, high, 800.0)
    assert float(cost) == pytest.approx(float(whole - loose), rel=1e-9)  # exact: at one point, burns add
