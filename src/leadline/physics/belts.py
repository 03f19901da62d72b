"""How long an orbit stays in the radiation belts, and how often it enters them.

The belts are shells between two altitudes over the equator. That is an upper bound: away from the magnetic equator they
thin out, and an inclined orbit spends less in them. Published bounds disagree; `BOUNDS` keeps each with its source, and
a study may give its own.

Symbols: r radius, q perigee radius, e eccentricity, E specific energy, h specific angular momentum, mu the
gravitational parameter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import Source, Standing
from leadline.physics.conics import Conics

__all__ = [
    "BOUNDS",
    "INNER_BELT",
    "OUTER_BELT",
    "Belt",
    "BeltStay",
    "stay",
    "stays",
    "time_from_perigee",
    "time_in_shell",
]

Array = npt.NDArray[np.float64]
Numbers = Array | float

BLOCK: Final = 8192
"""Cases worked on at once, so that what is in between stays in the processor's cache."""

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
    return Conics.of(perigee_radius_m, energy_j_kg, gravity_m3_s2).time_to(radius_m)


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
    orbits = Conics.of(perigee_radius_m, energy_j_kg, gravity_m3_s2)
    return orbits.time_to(shell_m[1]) - orbits.time_to(shell_m[0])


def stay(
    belt: Belt, perigee_radius_m: Array, energy_j_kg: Array, *, gravity_m3_s2: float, body_radius_m: float
) -> BeltStay:
    """Legs through one belt and time inside; see `stays`."""
    place = {"gravity_m3_s2": gravity_m3_s2, "body_radius_m": body_radius_m}
    return stays([belt], perigee_radius_m, energy_j_kg, **place)[0]


def stays(
    belts: Sequence[Belt], perigee_radius_m: Array, energy_j_kg: Array, *, gravity_m3_s2: float, body_radius_m: float
) -> list[BeltStay]:
    """Legs through belts and time inside, over orbits flown one after another and a last one flown outwards only.

    Parameters
    ----------
    belts
        The shells.
    perigee_radius_m, energy_j_kg : (p, n)
        Perigee radius, m, and specific energy, J/kg, of the p orbits of n cases. All but the last are flown round.
    gravity_m3_s2, body_radius_m
        Gravitational parameter, m3/s2, and the radius that altitudes count from, m.

    Returns
    -------
    list of BeltStay
        In the order of the belts. An orbit that reaches a belt meets it on the way up and on the way down, the last one
        on the way up.
    """
    shells = [(body_radius_m + belt.lower_altitude_m, body_radius_m + belt.upper_altitude_m) for belt in belts]
    passes, n = perigee_radius_m.shape
    legs, times = np.zeros((2, len(shells), n))
    for j in range(passes):
        ways = 1.0 if j == passes - 1 else 2.0
        for start in range(0, n, BLOCK):
            part = slice(start, start + BLOCK)
            orbits = Conics.of(perigee_radius_m[j, part], energy_j_kg[j, part], gravity_m3_s2)
            for shell, met, time in zip(shells, legs[:, part], times[:, part], strict=True):
                _add(orbits, shell, ways, met, time)
    legs[np.isnan(times)] = np.nan
    return [BeltStay(met, time) for met, time in zip(legs, times, strict=True)]


def _add(orbits: Conics, shell_m: tuple[float, float], ways: float, legs: Array, time_s: Array) -> None:
    """Add what orbits, flown one or two ways, meet of a shell."""
    if orbits.all_below(shell_m[0]):
        return
    inside = orbits.time_to(shell_m[1])
    inside -= orbits.time_to(shell_m[0])
    legs += ways * (inside > 0.0)
    inside *= ways
    time_s += inside
