"""How long an orbit stays in the radiation belts, and how often it enters them.

The belts are shells between two altitudes over the equator. That is an upper bound: away from the magnetic equator they
thin out, and an inclined orbit spends less in them. Published bounds disagree; `BOUNDS` keeps each with its source, and
a study may give its own.

Symbols: r radius, q perigee radius, e eccentricity, E specific energy, h specific angular momentum, mu the
gravitational parameter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import Source, Standing

__all__ = ["BOUNDS", "INNER_BELT", "OUTER_BELT", "Belt", "BeltStay", "stay", "time_from_perigee", "time_in_shell"]

Array = npt.NDArray[np.float64]
Numbers = Array | float

BLOCK: Final = 4096
"""Cases worked on at once, so that what is in between stays in the processor's cache."""

SLENDER: Final = 1e-3
"""(1 - e)/(1 + e) below which an orbit is treated as all but a parabola; the closed forms keep 13 digits above."""

EARTH_RADIUS_M: Final = 6_378_137.0
"""Equatorial radius of the WGS 84 ellipsoid; turns the radii of one source into altitudes."""


@dataclass(frozen=True, slots=True)
class Belt:
    """A shell of trapped radiation.

    Parameters
    ----------
    name
        Inner or outer.
    lower_altitude_m, upper_altitude_m
        Bounds over the equator, m.
    source
        Who says so.
    """

    name: str
    lower_altitude_m: float
    upper_altitude_m: float
    source: Source


def _pair(source: Source, inner_km: tuple[float, float], outer_km: tuple[float, float]) -> tuple[Belt, Belt]:
    return (
        Belt("inner", inner_km[0] * 1e3, inner_km[1] * 1e3, source),
        Belt("outer", outer_km[0] * 1e3, outer_km[1] * 1e3, source),
    )


_MILE_KM: Final = 1.609344
_EARTH_RADIUS_KM: Final = EARTH_RADIUS_M / 1e3

BOUNDS: Final = {
    "encyclopaedia": _pair(
        Source(
            "Encyclopaedia article on the Van Allen belts",
            "public copy; the outer belt ends at 58 000 km there, at 60 000 km in other texts",
            Standing.SECOND_HAND,
        ),
        (1_000.0, 12_000.0),
        (13_000.0, 60_000.0),
    ),
    "agency graphic": _pair(
        Source("NASA graphic of the radiation belts", "caption in a news copy", Standing.SECOND_HAND, 2013),
        (1e3 * _MILE_KM, 8e3 * _MILE_KM),
        (12e3 * _MILE_KM, 25e3 * _MILE_KM),
    ),
    "thesaurus": _pair(
        Source(
            "Unified Astronomy Thesaurus, Van Allen radiation belts", "concept 1758, in Earth radii from the centre"
        ),
        (0.2 * _EARTH_RADIUS_KM, 3.5 * _EARTH_RADIUS_KM),
        (3.5 * _EARTH_RADIUS_KM, 5.0 * _EARTH_RADIUS_KM),
    ),
    "glossary": _pair(
        Source("Glossary entry on the Van Allen belts", "public glossary", Standing.SECOND_HAND),
        (800.0, 6_000.0),
        (25_000.0, 36_000.0),
    ),
}
"""Published bounds, inner and outer belt, by the kind of source."""

INNER_BELT, OUTER_BELT = BOUNDS["encyclopaedia"]
"""What counts unless a study says otherwise: the widest bounds published."""


@dataclass(frozen=True, slots=True)
class BeltStay:
    """What n cases meet of one belt.

    Parameters
    ----------
    legs : (n,)
        How often the belt is met on the way up or down.
    time_s : (n,)
        Time inside, s.
    """

    legs: Array
    time_s: Array


def time_from_perigee(radius_m: Numbers, perigee_radius_m: Array, energy_j_kg: Array, gravity_m3_s2: float) -> Array:
    """Time from perigee up to a radius, on an ellipse, parabola or hyperbola.

    Parameters
    ----------
    radius_m : float or (n,)
        Radius to reach, m. Below perigee the time is zero, beyond apogee that to apogee.
    perigee_radius_m, energy_j_kg : (n,)
        Perigee radius, m, and specific energy v^2/2 - mu/r, J/kg.
    gravity_m3_s2
        Gravitational parameter, m3/s2.

    Returns
    -------
    (n,)
        Seconds.
    """
    q = np.asarray(perigee_radius_m, dtype=np.float64)
    e_less_1 = 2.0 * energy_j_kg * q / gravity_m3_s2
    # With w = tan(true anomaly / 2) and L = (1 - e)/(1 + e):  w^2 = (r - q)/(q - L r),
    # t = 2 q^2/h * integral of (1 + w^2)/(1 + L w^2)^2 dw                                                     (1)
    L = -e_less_1 / (2.0 + e_less_1)
    with np.errstate(divide="ignore", invalid="ignore"):
        apogee = np.where(L > 0.0, q / L, np.inf)
        r = np.fmin(np.fmax(radius_m, q), apogee)
        rise, room = r - q, np.where(r < apogee, np.fmax(q - L * r, 0.0), 0.0)
        square = np.where(room > 0.0, rise / room, np.inf)
        integral = _integral(L, q, rise * room, square)
    integral *= radius_m > q
    return np.asarray(np.sqrt(4.0 * q**3 / (gravity_m3_s2 * (2.0 + e_less_1))) * integral)


def _integral(L: Array, q: Array, product: Array, square: Array) -> Array:
    """Return the integral (1); `square` is w^2 and `product` is (r - q)(q - L r)."""
    bend = L * square
    integral = _closed(L, np.arctan(np.sqrt(bend)), product, q)
    if not (L >= SLENDER).all():
        hyperbola = L <= -SLENDER
        angle = np.arctanh(np.sqrt(-bend[hyperbola]))
        integral[hyperbola] = _closed(L[hyperbola], angle, product[hyperbola], q[hyperbola])
        rest = np.abs(L) < SLENDER
        integral[rest] = _near_parabola(L[rest], q[rest], product[rest], square[rest])
    return integral


def _closed(L: Array, angle: Array, product: Array, q: Array) -> Array:
    return np.asarray(((1.0 + L) * angle / np.sqrt(np.abs(L)) - np.sqrt(product) / q) / (2.0 * L))


def _near_parabola(L: Array, q: Array, product: Array, square: Array) -> Array:
    """Return the integral (1) close to a parabola, where the closed forms lose their digits near perigee."""
    bend = L * square
    series = np.zeros_like(square)
    for k in reversed(range(10)):
        series = series * -bend + (k + 1) * (1.0 / (2 * k + 1) + square / (2 * k + 3))
    root = np.sqrt(np.abs(bend))
    angle = np.where(L > 0.0, np.arctan(root), np.arctanh(np.fmin(root, 1.0)))
    return np.asarray(np.where(np.abs(bend) < 0.05, np.sqrt(square) * series, _closed(L, angle, product, q)))


def time_in_shell(
    shell_m: tuple[float, float], perigee_radius_m: Array, energy_j_kg: Array, gravity_m3_s2: float
) -> Array:
    """Time between two radii on the way from perigee outwards.

    Parameters
    ----------
    shell_m
        Lower and upper radius from the body's centre, m.
    perigee_radius_m, energy_j_kg : (n,)
        Perigee radius, m, and specific energy, J/kg.
    gravity_m3_s2
        Gravitational parameter, m3/s2.

    Returns
    -------
    (n,)
        Seconds; none if the orbit stays below or above.
    """
    low, high = (time_from_perigee(r, perigee_radius_m, energy_j_kg, gravity_m3_s2) for r in shell_m)
    return high - low


def stay(
    belt: Belt, perigee_radius_m: Array, energy_j_kg: Array, *, gravity_m3_s2: float, body_radius_m: float
) -> BeltStay:
    """Legs through a belt and time inside, over orbits flown one after another and a last one flown outwards only.

    Parameters
    ----------
    belt
        The shell.
    perigee_radius_m, energy_j_kg : (p, n)
        Perigee radius, m, and specific energy, J/kg, of the p orbits of n cases. All but the last are flown round.
    gravity_m3_s2, body_radius_m
        Gravitational parameter, m3/s2, and the radius that altitudes count from, m.

    Returns
    -------
    BeltStay
        An orbit that reaches the belt meets it on the way up and on the way down, the last one on the way up.
    """
    low, high = body_radius_m + belt.lower_altitude_m, body_radius_m + belt.upper_altitude_m
    passes, n = perigee_radius_m.shape
    legs, time = np.zeros(n), np.zeros(n)
    for j in range(passes):
        ways = 1.0 if j == passes - 1 else 2.0
        for start in range(0, n, BLOCK):
            part = slice(start, start + BLOCK)
            inside = time_in_shell((low, high), perigee_radius_m[j, part], energy_j_kg[j, part], gravity_m3_s2)
            time[part] += ways * inside
            legs[part] += np.where(np.isnan(inside), np.nan, ways * (inside > 0.0))
    return BeltStay(legs, time)
