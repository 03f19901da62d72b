"""What it costs to go from Earth orbit to the Moon, to stay there, and to come back.

The cost at Earth is that of the ellipse that reaches the Moon's distance; so is, by
symmetry, the perigee of the return. What the Moon sees of the flight, the excess speed,
comes from integrated three-body flights: two bodies alone put it 2 % too high, and say
nothing of faster flights, which cost at the Moon and hardly at Earth.
"""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import (
    EARTH_GM_M3_S2,
    EARTH_RADIUS_M,
    MOON_GM_M3_S2,
    MOON_MEAN_DISTANCE_M,
    MOON_RADIUS_M,
    Source,
    Standing,
)
from leadline.physics import orbits
from leadline.physics.even_table import EvenTable

__all__ = [
    "ARRIVAL_MODEL_SD_M_S",
    "DEPARTURE_MODEL_SD_M_S",
    "FLIGHT_TIMES",
    "SOURCE",
    "arrival_excess",
    "departure_cost",
    "departure_surcharge",
    "entry_state",
    "flight_time_range",
    "lunar_burn_cost",
    "minimum_energy_time",
]

Array = npt.NDArray[np.float64]
Value = Array | float

SOURCE: Final = Source(
    "Planar circular restricted three-body flights, integrated from a 200 km orbit at a distance of 384 400 km",
    "cost over minimum energy and excess speed at the Moon against flight time; scaled with the Moon's distance",
    Standing.COMPUTED,
)

DEPARTURE_MODEL_SD_M_S: Final = 5.0
ARRIVAL_MODEL_SD_M_S: Final = 8.0
"""What the model leaves out, as a standard deviation of the cost: direction of flight about the Moon (10 m/s between
the two), the inclination of the Moon's orbit, the Sun. Judged from the differences between the two- and three-body
tables; no source."""

# Flight time, h; cost over minimum energy, m/s; excess speed at the Moon, m/s: prograde about the Moon.
_FLIGHTS: Final = np.array(
    [
        (55.7, 60.0, 1410.2),
        (61.2, 40.0, 1245.0),
        (70.1, 20.0, 1054.5),
        (77.7, 10.0, 945.1),
        (84.0, 5.0, 885.5),
        (96.8, 0.0, 821.5),
        (126.9, 0.0, 821.5),
        (160.8, 5.0, 885.5),
        (191.6, 10.0, 945.2),
    ]
)
_HOUR_S: Final = 3_600.0
_TABLE_RADIUS_M: Final = EARTH_RADIUS_M + 200e3

FLIGHT_TIMES: Final = (55.7 * _HOUR_S, 191.6 * _HOUR_S)
"""Shortest and longest flight the table covers at the mean distance, s."""


def departure_cost(altitude_m: Value, distance_m: Value) -> Array:
    """Cost of leaving a circular Earth orbit on the ellipse that just reaches the Moon.

    Parameters
    ----------
    altitude_m : float or (n,)
        Altitude of the orbit, m.
    distance_m : float or (n,)
        Moon's distance on arrival, m.

    Returns
    -------
    (n,)
        Velocity change, m/s.
    """
    radius = EARTH_RADIUS_M + np.asarray(altitude_m)
    ellipse = orbits.speed(EARTH_GM_M3_S2, radius, 0.5 * (radius + distance_m))
    return np.asarray(ellipse - orbits.circular_speed(EARTH_GM_M3_S2, radius))


def minimum_energy_time(altitude_m: Value, distance_m: Value) -> Array:
    """Time from perigee to the Moon's distance on the minimum-energy ellipse, s (n,)."""
    return orbits.orbit_change_time(EARTH_GM_M3_S2, EARTH_RADIUS_M + np.asarray(altitude_m), distance_m)


def flight_time_range(distance_m: Value) -> tuple[Array, Array]:
    """Shortest and longest flight time the table covers at a distance, s (n,) each."""
    stretch = _stretch(distance_m)
    return FLIGHT_TIMES[0] * stretch, FLIGHT_TIMES[1] * stretch


def departure_surcharge(flight_time_s: Value, distance_m: Value) -> Array:
    """Cost at Earth of a flight time other than the minimum-energy one.

    Parameters
    ----------
    flight_time_s : float or (n,)
        From Earth orbit to the Moon, within `flight_time_range`, s.
    distance_m : float or (n,)
        Moon's distance on arrival, m.

    Returns
    -------
    (n,)
        Velocity change over `departure_cost`, m/s; not a number where the flight time lies
        outside the table.
    """
    surcharge, _ = _curves()
    return surcharge.at(_table_hours(flight_time_s, distance_m))


def arrival_excess(flight_time_s: Value | None, distance_m: Value) -> Array:
    """Excess speed at the Moon, on the way out or, by symmetry, on the way home.

    Parameters
    ----------
    flight_time_s : float, (n,) or None
        Flight time within `flight_time_range`, s; None for the cheapest.
    distance_m : float or (n,)
        Moon's distance at the Moon's end of the flight, m.

    Returns
    -------
    (n,)
        Excess speed, m/s; not a number where the flight time lies outside the table.
    """
    scale = _two_body_excess(distance_m) / _two_body_excess(MOON_MEAN_DISTANCE_M)
    if flight_time_s is None:
        return np.asarray(_FLIGHTS[:, 2].min() * scale)
    _, excess = _curves()
    return np.asarray(excess.at(_table_hours(flight_time_s, distance_m)) * scale)


def lunar_burn_cost(excess_m_s: Value, periapsis_altitude_m: Value, apoapsis_altitude_m: Value) -> Array:
    """Cost of capture into, or escape from, an orbit about the Moon by a burn at periapsis.

    Parameters
    ----------
    excess_m_s : float or (n,)
        Excess speed at the Moon, m/s; see `arrival_excess`.
    periapsis_altitude_m, apoapsis_altitude_m : float or (n,)
        Altitudes of the orbit, m; equal for a circular one.

    Returns
    -------
    (n,)
        Velocity change, m/s.
    """
    periapsis = MOON_RADIUS_M + np.asarray(periapsis_altitude_m)
    apoapsis = MOON_RADIUS_M + np.asarray(apoapsis_altitude_m)
    return orbits.hyperbolic_cost(MOON_GM_M3_S2, periapsis, apoapsis, excess_m_s)


def entry_state(
    distance_m: Value, perigee_altitude_m: Value, interface_altitude_m: Value = 122_000.0
) -> tuple[Array, Array]:
    """Speed and flight-path angle with which a return from the Moon meets the atmosphere.

    Parameters
    ----------
    distance_m : float or (n,)
        Moon's distance at departure, m.
    perigee_altitude_m : float or (n,)
        Perigee the return would have without an atmosphere, m; below the interface.
    interface_altitude_m : float or (n,)
        Altitude at which entry begins, m.

    Returns
    -------
    speed_m_s : (n,)
        Inertial speed, m/s.
    angle_rad : (n,)
        Flight-path angle, rad, negative downward.
    """
    perigee = EARTH_RADIUS_M + np.asarray(perigee_altitude_m)
    interface = EARTH_RADIUS_M + np.asarray(interface_altitude_m)
    axis = 0.5 * (perigee + distance_m)
    there = orbits.speed(EARTH_GM_M3_S2, interface, axis)
    horizontal = perigee * orbits.speed(EARTH_GM_M3_S2, perigee, axis) / interface
    return there, np.asarray(-np.arccos(horizontal / there))


def _two_body_excess(distance_m: Value) -> Array:
    """Moon's own speed less that of the ellipse at the Moon's distance, m/s (n,)."""
    axis = 0.5 * (_TABLE_RADIUS_M + np.asarray(distance_m))
    arriving = orbits.speed(EARTH_GM_M3_S2, distance_m, axis)
    moon = orbits.speed(EARTH_GM_M3_S2 + MOON_GM_M3_S2, distance_m, MOON_MEAN_DISTANCE_M)
    return np.asarray(moon - arriving)


def _stretch(distance_m: Value) -> Array:
    """How much longer the minimum-energy flight is than at the mean distance (n,)."""
    return minimum_energy_time(200e3, distance_m) / minimum_energy_time(200e3, MOON_MEAN_DISTANCE_M)


def _table_hours(flight_time_s: Value, distance_m: Value) -> Array:
    hours = np.asarray(flight_time_s) / _HOUR_S / _stretch(distance_m)
    inside = (hours >= _FLIGHTS[0, 0]) & (hours <= _FLIGHTS[-1, 0])
    return np.where(inside, hours, np.nan)


@cache
def _curves() -> tuple[EvenTable, EvenTable]:
    """Surcharge and excess speed by hours of flight, on a grid fine enough for linear interpolation."""
    from scipy.interpolate import PchipInterpolator  # noqa: PLC0415  slow to import, and seldom needed

    hours = np.linspace(_FLIGHTS[0, 0], _FLIGHTS[-1, 0], 1_361)
    curves = (np.asarray(PchipInterpolator(_FLIGHTS[:, 0], _FLIGHTS[:, k])(hours)) for k in (1, 2))
    surcharge, excess = (EvenTable(float(hours[0]), float(hours[-1]), curve) for curve in curves)
    return surcharge, excess
