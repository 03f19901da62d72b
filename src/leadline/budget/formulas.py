"""Numbers that follow from other numbers of a study, in one registry.

Each is a pure function of the physics layer over floats or arrays (n,). A formula's value
is computed once per block, whatever the number of places that read it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import BODY_SOURCE, EARTH_GM_M3_S2, EARTH_RADIUS_M, MOON_GM_M3_S2, MOON_RADIUS_M, Source
from leadline.physics import boil_off, cryogens, lunar_transfer, moon, orbits, tanks
from leadline.physics.even_table import EvenTable

__all__ = ["FORMULAS", "FormulaKind", "Value"]

Array = npt.NDArray[np.float64]
Value = Array | float


@dataclass(frozen=True, slots=True)
class FormulaKind:
    """A function of numbers and the sources it rests on."""

    compute: Callable[..., Value]
    sources: tuple[Source, ...]


def _total(*terms: Value) -> Value:
    total: Value = 0.0
    for term in terms:
        total = total + term
    return total


def _product(*factors: Value) -> Value:
    product: Value = 1.0
    for factor in factors:
        product = product * factor
    return product


@lru_cache(maxsize=32)
def _distance_table(first_s: float, last_s: float) -> EvenTable:
    return EvenTable(0.0, 1.0, moon.distance_between(first_s, last_s)[1])


def _moon_distance(part: Value, first_s: float, last_s: float) -> Value:
    """Moon's distance when a part (0 to 1) of a window, seconds since J2000.0, has gone by, m."""
    return _distance_table(first_s, last_s).at(part)


def _to_moon(altitude_m: Value, distance_m: Value, flight_time_s: Value) -> Value:
    """Cost of departure for the Moon with a chosen flight time, m/s."""
    surcharge = lunar_transfer.departure_surcharge(flight_time_s, distance_m)
    return lunar_transfer.departure_cost(altitude_m, distance_m) + surcharge


def _lunar_burn(flight_time_s: Value, distance_m: Value, periapsis_m: Value, apoapsis_m: Value) -> Value:
    """Cost of a burn between a flight of chosen time and an orbit about the Moon, m/s."""
    excess = lunar_transfer.arrival_excess(flight_time_s, distance_m)
    return lunar_transfer.lunar_burn_cost(excess, periapsis_m, apoapsis_m)


def _lunar_burn_cheapest(distance_m: Value, periapsis_m: Value, apoapsis_m: Value) -> Value:
    """Cost of a burn between the cheapest flight and an orbit about the Moon, m/s."""
    excess = lunar_transfer.arrival_excess(None, distance_m)
    return lunar_transfer.lunar_burn_cost(excess, periapsis_m, apoapsis_m)


def _orbit_change(mu: float, body_radius_m: float) -> Callable[..., Value]:
    def compute(from_low_m: Value, from_high_m: Value, to_low_m: Value, to_high_m: Value) -> Value:
        """Cost of going from one orbit to another of the same plane and apsides, altitudes in m."""
        radii = [body_radius_m + np.asarray(a) for a in (from_low_m, from_high_m, to_low_m, to_high_m)]
        return orbits.apsides_change_cost(mu, (radii[0], radii[1]), (radii[2], radii[3]))

    return compute


def _plane_change(mu: float, body_radius_m: float) -> Callable[..., Value]:
    def compute(low_m: Value, high_m: Value, angle_rad: Value) -> Value:
        """Cost of turning an orbit's plane at its highest point, m/s."""
        low, high = body_radius_m + np.asarray(low_m), body_radius_m + np.asarray(high_m)
        return orbits.plane_change_cost(orbits.speed(mu, high, 0.5 * (low + high)), angle_rad)

    return compute


def _hyperbolic(mu: float, body_radius_m: float) -> Callable[..., Value]:
    def compute(low_m: Value, high_m: Value, excess_m_s: Value) -> Value:
        """Cost of escape from, or capture into, an orbit at a given excess speed, m/s."""
        low, high = body_radius_m + np.asarray(low_m), body_radius_m + np.asarray(high_m)
        return orbits.hyperbolic_cost(mu, low, high, excess_m_s)

    return compute


def _entry_speed(distance_m: Value, perigee_m: Value) -> Value:
    return lunar_transfer.entry_state(distance_m, perigee_m)[0]


def _entry_angle(distance_m: Value, perigee_m: Value) -> Value:
    return lunar_transfer.entry_state(distance_m, perigee_m)[1]


def _liquid_density(liquid: str) -> Callable[..., Value]:
    return lambda pressure_pa: cryogens.CRYOGENS[liquid].at_pressure(pressure_pa).density_kg_m3


def _vent_heat(liquid: str) -> Callable[..., Value]:
    return lambda pressure_pa: cryogens.CRYOGENS[liquid].at_pressure(pressure_pa).vent_heat_j_kg


def _density_at_temperature(liquid: str) -> Callable[..., Value]:
    return lambda temperature_k: cryogens.CRYOGENS[liquid].at_temperature(temperature_k).density_kg_m3


def _vent_heat_at_temperature(liquid: str) -> Callable[..., Value]:
    return lambda temperature_k: cryogens.CRYOGENS[liquid].at_temperature(temperature_k).vent_heat_j_kg


def _net_heat(leak_w: Value, lift_w: Value) -> Value:
    """Heat left over when a refrigerator lifts what it can, W."""
    return np.maximum(np.subtract(leak_w, lift_w), 0.0)


def _tank_mass(*, hydrogen: bool, insulated: bool) -> Callable[..., Value]:
    def compute(volume_m3: Value, area_m2: Value, scatter: Value) -> Value:
        """Tank mass from the regression times a scatter factor, kg."""
        return tanks.tank_mass(volume_m3, area_m2, hydrogen=hydrogen, insulated=insulated) * scatter

    return compute


_BODIES: Final = {"earth": (EARTH_GM_M3_S2, EARTH_RADIUS_M), "moon": (MOON_GM_M3_S2, MOON_RADIUS_M)}
_ORBITAL: Final = (orbits.SOURCE, BODY_SOURCE)
_LUNAR: Final = (*_ORBITAL, lunar_transfer.SOURCE)


def _registry() -> dict[str, FormulaKind]:
    kinds = {
        "total": FormulaKind(_total, ()),
        "product": FormulaKind(_product, ()),
        "moon_distance": FormulaKind(_moon_distance, (moon.SOURCE,)),
        "to_moon": FormulaKind(_to_moon, _LUNAR),
        "to_moon_cheapest": FormulaKind(lunar_transfer.departure_cost, _ORBITAL),
        "moon_flight_time": FormulaKind(lunar_transfer.minimum_energy_time, _ORBITAL),
        "lunar_burn": FormulaKind(_lunar_burn, _LUNAR),
        "lunar_burn_cheapest": FormulaKind(_lunar_burn_cheapest, _LUNAR),
        "entry_speed": FormulaKind(_entry_speed, _ORBITAL),
        "entry_angle": FormulaKind(_entry_angle, _ORBITAL),
        "tank_volume": FormulaKind(tanks.volume, ()),
        "tank_area": FormulaKind(tanks.area, ()),
        "net_heat": FormulaKind(_net_heat, (boil_off.SOURCE,)),
    }
    for body, (mu, radius) in _BODIES.items():
        kinds[f"orbit_change.{body}"] = FormulaKind(_orbit_change(mu, radius), _ORBITAL)
        kinds[f"plane_change.{body}"] = FormulaKind(_plane_change(mu, radius), _ORBITAL)
        kinds[f"hyperbolic.{body}"] = FormulaKind(_hyperbolic(mu, radius), _ORBITAL)
    for liquid in cryogens.CRYOGENS:
        saturation = (cryogens.SOURCE,)
        kinds[f"density_at_pressure.{liquid}"] = FormulaKind(_liquid_density(liquid), saturation)
        kinds[f"vent_heat_at_pressure.{liquid}"] = FormulaKind(_vent_heat(liquid), saturation)
        kinds[f"density_at_temperature.{liquid}"] = FormulaKind(_density_at_temperature(liquid), saturation)
        kinds[f"vent_heat_at_temperature.{liquid}"] = FormulaKind(_vent_heat_at_temperature(liquid), saturation)
    for name, hydrogen, insulated in (("hydrogen", True, True), ("cryogen", False, True), ("storable", False, False)):
        mass = _tank_mass(hydrogen=hydrogen, insulated=insulated)
        kinds[f"tank_mass.{name}"] = FormulaKind(mass, (tanks.REGRESSION_SOURCE,))
    return kinds


FORMULAS: Final[Mapping[str, FormulaKind]] = MappingProxyType(_registry())
"""Every formula a number may follow."""
