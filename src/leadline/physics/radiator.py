"""Heat a radiator gets rid of in orbit about the Earth or the Moon and in deep space.

One side of a flat radiator at one temperature, per unit of area:

    e s T^4 = q + a S cos z + a r S F + e p F                                                        (1)

with q the heat rejected, e the infrared emittance, s the Stefan-Boltzmann constant, a the solar
absorptance, S the sunlight, z its angle from the radiator's normal, r the albedo and p the infrared
emission of the body below, F the radiator's view factor to it. The 3 K of deep space
are left out: they add a millionth. Fins, view of the vehicle's own parts and
heat capacity are not modelled.

Low lunar orbit at noon is the sizing case: the ground below is as hot as it gets, and a radiator that
sees much of it cannot reject heat at all at usual temperatures.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import EARTH_RADIUS_M, MOON_RADIUS_M, Source, Standing

__all__ = [
    "COATINGS",
    "ENVIRONMENTS",
    "SIZING_ENVIRONMENT",
    "STEFAN_BOLTZMANN_W_M2_K4",
    "Coating",
    "Environment",
    "absorbed",
    "area_needed",
    "heat_rejected",
    "orbit_average_absorbed",
    "rejection_margin",
    "sink_temperature",
    "temperature_needed",
    "view_factor_facing",
    "view_factor_side",
    "view_factor_sphere",
]

Array = npt.NDArray[np.float64]
Value = Array | float

STEFAN_BOLTZMANN_W_M2_K4: Final = 5.670374419e-8
"""Stefan-Boltzmann constant, exact in the SI of 2019 to the digits printed."""

_CODATA: Final = Source("CODATA recommended values of the fundamental physical constants", "Stefan-Boltzmann constant")
_SUN: Final = Source("IAU 2015 Resolution B3", "nominal total solar irradiance 1361 W/m2, from memory", year=2015)
_EARTH: Final = Source(
    "Mean albedo 0.30 and outgoing infrared 237 W/m2 of the Earth",
    "balance (1 - 0.30) 1361/4 = 238; 237 read in public thermal codes",
    Standing.SECOND_HAND,
)
_MOON: Final = Source(
    "Moon fact sheet: Bond albedo 0.11, geometric albedo 0.12",
    "infrared of the subsolar ground (1 - 0.11) 1361 W/m2, light sent back upwards at noon by the geometric albedo",
    Standing.SECOND_HAND,
)
_MOON_NIGHT: Final = Source(
    "Infrared of the Moon's night side, 5.2 W/m2", "common design value, from memory", Standing.PRACTICE
)
_COATING: Final = Source(
    "Absorptance and emittance of white paint and mirrors, 0.08-0.20 new, 0.2-0.35 aged, 0.80-0.92",
    "handbook ranges, from memory; the pairs here are picked by us from within them",
    Standing.PRACTICE,
)


@dataclass(frozen=True, slots=True)
class Coating:
    """What a radiator's face absorbs and emits; each a number or (n,)."""

    solar_absorptance: Value
    infrared_emittance: Value
    source: Source


COATINGS: Final = {
    "beginning of life": Coating(0.10, 0.88, _COATING),
    "end of life": Coating(0.20, 0.85, _COATING),
}
"""White coating, new and aged."""


@dataclass(frozen=True, slots=True)
class Environment:
    """What shines on the radiator.

    Parameters
    ----------
    sunlight_w_m2
        Direct sunlight along the radiator's normal, S cos z.
    reflected_w_m2
        Sunlight sent back by the ground below, r S; 0 over the night side.
    infrared_w_m2
        Infrared emission p of the ground below.
    view_factor
        The radiator's view factor F to the ground.
    sources
        Where the numbers come from.
    """

    sunlight_w_m2: float
    reflected_w_m2: float
    infrared_w_m2: float
    view_factor: float
    sources: tuple[Source, ...]


def view_factor_facing(body_radius_m: float, altitude_m: Value) -> Array:
    """View factor of a small plate that faces the body below: (R/(R+h))^2."""
    return np.asarray((body_radius_m / (body_radius_m + np.asarray(altitude_m))) ** 2)


def view_factor_side(body_radius_m: float, altitude_m: Value) -> Array:
    """View factor of a small plate at right angles to the ground below: (t - sin t cos t)/pi, sin t = R/(R+h)."""
    t = np.arcsin(body_radius_m / (body_radius_m + np.asarray(altitude_m)))
    return np.asarray((t - np.sin(t) * np.cos(t)) / np.pi)


def view_factor_sphere(body_radius_m: float, altitude_m: Value) -> Array:
    """View factor of a small sphere, referred to its whole surface: (1 - cos t)/2, sin t = R/(R+h)."""
    sine = body_radius_m / (body_radius_m + np.asarray(altitude_m))
    return np.asarray(0.5 * (1.0 - np.sqrt(1.0 - sine**2)))


_S: Final = 1361.0
_EARTH_LIGHT, _EARTH_INFRARED = 0.30 * _S, 237.0
_MOON_LIGHT, _MOON_INFRARED, _MOON_DARK = 0.12 * _S, (1.0 - 0.11) * _S, 5.2
_EARTH_SIDE: Final = float(view_factor_side(EARTH_RADIUS_M, 400e3))
_EARTH_FACING: Final = float(view_factor_facing(EARTH_RADIUS_M, 400e3))
_MOON_SIDE: Final = float(view_factor_side(MOON_RADIUS_M, 100e3))
_MOON_FACING: Final = float(view_factor_facing(MOON_RADIUS_M, 100e3))
_BY_EARTH, _BY_MOON = (_SUN, _EARTH), (_SUN, _MOON)

SIZING_ENVIRONMENT: Final = "low lunar orbit, noon"
"""The environment to size a radiator of a lunar mission in."""

ENVIRONMENTS: Final = {
    "low Earth orbit, noon": Environment(0.0, _EARTH_LIGHT, _EARTH_INFRARED, _EARTH_SIDE, _BY_EARTH),
    "low Earth orbit, night": Environment(0.0, 0.0, _EARTH_INFRARED, _EARTH_SIDE, _BY_EARTH),
    "low Earth orbit, noon, facing the Earth": Environment(
        0.0, _EARTH_LIGHT, _EARTH_INFRARED, _EARTH_FACING, _BY_EARTH
    ),
    "low Earth orbit, noon, full sun": Environment(_S, _EARTH_LIGHT, _EARTH_INFRARED, _EARTH_SIDE, _BY_EARTH),
    "deep space": Environment(0.0, 0.0, 0.0, 0.0, ()),
    "deep space, full sun": Environment(_S, 0.0, 0.0, 0.0, (_SUN,)),
    SIZING_ENVIRONMENT: Environment(0.0, _MOON_LIGHT, _MOON_INFRARED, _MOON_SIDE, _BY_MOON),
    "low lunar orbit, night": Environment(0.0, 0.0, _MOON_DARK, _MOON_SIDE, (_MOON_NIGHT,)),
    "low lunar orbit, noon, facing the Moon": Environment(0.0, _MOON_LIGHT, _MOON_INFRARED, _MOON_FACING, _BY_MOON),
}
"""Named environments: 400 km above the Earth, 100 km above the Moon; the radiator stands at right angles
to the ground and edge-on to the sun unless the name says otherwise."""


def absorbed(environment: Environment, coating: Coating) -> Value:
    """Heat absorbed from sun and ground by a square metre, W/m2; right side of (1) without q."""
    light = environment.sunlight_w_m2 + environment.reflected_w_m2 * environment.view_factor
    infrared = environment.infrared_w_m2 * environment.view_factor
    return coating.solar_absorptance * light + coating.infrared_emittance * infrared


def orbit_average_absorbed(noon: Environment, night: Environment, coating: Coating, sun_angle_rad: Value) -> Array:
    """Heat absorbed by a square metre, averaged over a circular orbit.

    Parameters
    ----------
    noon, night
        The environment below the sun and over the night side, both without direct sunlight.
    coating
        The radiator's face.
    sun_angle_rad
        Angle between the sun and the orbit's plane, any shape.

    Returns
    -------
    Array
        W/m2. What the day adds follows the cosine of the sun's zenith angle at the ground
        straight below, whose mean over the orbit is cos(angle)/pi; good for low orbits.
    """
    dark = absorbed(night, coating)
    return np.asarray(dark + (absorbed(noon, coating) - dark) * np.cos(sun_angle_rad) / np.pi)


def heat_rejected(
    area_m2: Value, temperature_k: Value, environment: Environment, coating: Coating, open_share: Value = 1.0
) -> Array:
    """Heat a radiator gets rid of.

    Parameters
    ----------
    area_m2, temperature_k
        Radiating area when open, and its temperature (n,).
    environment, coating
        What shines on it and what it absorbs and emits.
    open_share
        Share of the area that sees space (n,): 1 open, 0 stowed under cover.

    Returns
    -------
    (n,)
        W; below 0 it takes heat in.
    """
    net = _emitted(temperature_k, coating) - absorbed(environment, coating)
    return np.asarray(np.asarray(area_m2) * open_share * net)


def rejection_margin(
    heat_w: Value,
    area_m2: Value,
    temperature_k: Value,
    environment: Environment,
    coating: Coating,
    open_share: Value = 1.0,
) -> Array:
    """Heat that could be rejected beyond what must be, W (n,); below 0 the radiator is too small."""
    return np.asarray(heat_rejected(area_m2, temperature_k, environment, coating, open_share) - heat_w)


def area_needed(
    heat_w: Value, temperature_k: Value, environment: Environment, coating: Coating, open_share: Value = 1.0
) -> Array:
    """Area that rejects a heat.

    Parameters
    ----------
    heat_w, temperature_k
        Heat to reject and the radiator's temperature (n,).
    environment, coating, open_share
        As in `heat_rejected`.

    Returns
    -------
    (n,)
        m2; infinite where no area does it, as the environment gives at least as much as is emitted.
    """
    net = (_emitted(temperature_k, coating) - absorbed(environment, coating)) * open_share
    heat, net = np.broadcast_arrays(np.asarray(heat_w, dtype=np.float64), net)
    return np.asarray(np.divide(heat, net, out=np.full(net.shape, np.inf), where=net > 0.0))


def temperature_needed(
    heat_w: Value, area_m2: Value, environment: Environment, coating: Coating, open_share: Value = 1.0
) -> Array:
    """Temperature at which an area rejects a heat, K (n,); infinite where the radiator is stowed."""
    heat, area = np.broadcast_arrays(np.asarray(heat_w, dtype=np.float64), np.asarray(area_m2) * np.asarray(open_share))
    flux = np.divide(heat, area, out=np.full(heat.shape, np.inf), where=area > 0.0) + absorbed(environment, coating)
    return np.asarray((flux / (coating.infrared_emittance * STEFAN_BOLTZMANN_W_M2_K4)) ** 0.25)


def sink_temperature(environment: Environment, coating: Coating) -> float:
    """Temperature the radiator takes when it rejects nothing, K."""
    return float(temperature_needed(0.0, 1.0, environment, coating))


def _emitted(temperature_k: Value, coating: Coating) -> Array:
    """Left side of (1), W/m2."""
    return np.asarray(coating.infrared_emittance * STEFAN_BOLTZMANN_W_M2_K4 * np.asarray(temperature_k) ** 4)
