"""Two-body velocity changes: between circular orbits, to and from hyperbolas, of plane.

Symbols: mu the body's gravitational parameter, r a radius, a a semi-major axis.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import Source, Standing

__all__ = [
    "SOURCE",
    "apsides_change_cost",
    "circular_speed",
    "hyperbolic_cost",
    "orbit_change_cost",
    "orbit_change_time",
    "period",
    "plane_change_cost",
    "speed",
]

Array = npt.NDArray[np.float64]
Value = Array | float

SOURCE: Final = Source(
    "Vis-viva equation, impulsive burns at the apsides",
    "any textbook of astrodynamics, such as Bate, Mueller and White, chapters 1 and 3",
    Standing.PUBLISHED,
    1971,
)


def speed(mu_m3_s2: float, radius_m: Value, semi_major_axis_m: Value) -> Array:
    """Speed on a conic at a radius.

    Parameters
    ----------
    mu_m3_s2
        Gravitational parameter, m3/s2.
    radius_m, semi_major_axis_m : float or (n,)
        Radius and semi-major axis (negative for a hyperbola), m.

    Returns
    -------
    (n,)
        Speed, m/s: sqrt(mu (2/r - 1/a)).
    """
    return np.asarray(np.sqrt(mu_m3_s2 * (2.0 / np.asarray(radius_m) - 1.0 / np.asarray(semi_major_axis_m))))


def circular_speed(mu_m3_s2: float, radius_m: Value) -> Array:
    """Speed on a circular orbit, m/s (n,)."""
    return np.asarray(np.sqrt(mu_m3_s2 / np.asarray(radius_m)))


def period(mu_m3_s2: float, semi_major_axis_m: Value) -> Array:
    """Period of an ellipse, s (n,): 2 pi sqrt(a^3/mu)."""
    return np.asarray(2.0 * np.pi * np.sqrt(np.asarray(semi_major_axis_m) ** 3 / mu_m3_s2))


def hyperbolic_cost(mu_m3_s2: float, periapsis_m: Value, apoapsis_m: Value, excess_m_s: Value) -> Array:
    """Cost of a burn at periapsis between a closed orbit and a hyperbola, either way.

    Parameters
    ----------
    mu_m3_s2
        Gravitational parameter, m3/s2.
    periapsis_m, apoapsis_m : float or (n,)
        Radii of the closed orbit, m; equal for a circular one.
    excess_m_s : float or (n,)
        Hyperbolic excess speed, m/s.

    Returns
    -------
    (n,)
        Velocity change, m/s: sqrt(v_inf^2 + 2 mu/r_p) - sqrt(mu (2/r_p - 1/a)).
    """
    closed = speed(mu_m3_s2, periapsis_m, 0.5 * (np.asarray(periapsis_m) + apoapsis_m))
    return np.asarray(np.sqrt(np.square(excess_m_s) + 2.0 * mu_m3_s2 / np.asarray(periapsis_m)) - closed)


def orbit_change_cost(mu_m3_s2: float, from_radius_m: Value, to_radius_m: Value) -> Array:
    """Cost of the two-burn transfer between circular orbits of one plane.

    Parameters
    ----------
    mu_m3_s2
        Gravitational parameter, m3/s2.
    from_radius_m, to_radius_m : float or (n,)
        Radii of the two orbits, m.

    Returns
    -------
    (n,)
        Both velocity changes together, m/s.
    """
    axis = 0.5 * (np.asarray(from_radius_m) + to_radius_m)
    ends = (from_radius_m, to_radius_m)
    burns = [np.abs(speed(mu_m3_s2, r, axis) - circular_speed(mu_m3_s2, r)) for r in ends]
    return np.asarray(burns[0] + burns[1])


def apsides_change_cost(mu_m3_s2: float, from_radii_m: tuple[Value, Value], to_radii_m: tuple[Value, Value]) -> Array:
    """Cost of the two-burn transfer between orbits of one plane and one line of apsides.

    The first burn, at the low point of the first orbit, sets the high point of the second;
    the second burn, there, sets its low point.

    Parameters
    ----------
    mu_m3_s2
        Gravitational parameter, m3/s2.
    from_radii_m, to_radii_m
        Low and high radius of each orbit, float or (n,) each, m.

    Returns
    -------
    (n,)
        Both velocity changes together, m/s.
    """
    from_low, from_high = (np.asarray(radius) for radius in from_radii_m)
    to_low, to_high = (np.asarray(radius) for radius in to_radii_m)
    between = 0.5 * (from_low + to_high)
    first = speed(mu_m3_s2, from_low, between) - speed(mu_m3_s2, from_low, 0.5 * (from_low + from_high))
    second = speed(mu_m3_s2, to_high, 0.5 * (to_low + to_high)) - speed(mu_m3_s2, to_high, between)
    return np.asarray(np.abs(first) + np.abs(second))


def orbit_change_time(mu_m3_s2: float, from_radius_m: Value, to_radius_m: Value) -> Array:
    """Time of the two-burn transfer between circular orbits, s (n,): half its period."""
    return 0.5 * period(mu_m3_s2, 0.5 * (np.asarray(from_radius_m) + to_radius_m))


def plane_change_cost(speed_m_s: Value, angle_rad: Value) -> Array:
    """Cost of turning the plane of an orbit without changing its shape.

    Parameters
    ----------
    speed_m_s : float or (n,)
        Speed where the planes cross, m/s.
    angle_rad : float or (n,)
        Angle between the planes, rad.

    Returns
    -------
    (n,)
        Velocity change, m/s: 2 v sin(angle/2).
    """
    return np.asarray(2.0 * np.asarray(speed_m_s) * np.sin(0.5 * np.asarray(angle_rad)))
