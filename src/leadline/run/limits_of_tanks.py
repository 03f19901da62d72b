"""What the model leaves out of tanks, for studies that use those parts of it."""

from __future__ import annotations

from collections.abc import Iterator

from leadline.physics.cryogens import CRYOGENS
from leadline.vehicle import Formula, Liquid, Mission

__all__ = ["limits_of_tanks"]

TABLES = (
    "A cryogenic liquid is as dense as when saturated at its own temperature, and boils off as if saturated from the"
    " start: the heat that first warms a colder liquid is left out."
)
ENVIRONMENTS = (
    "Heat leaks change with the environment that coasts name; waiting between them is taken to be in that of the last"
    " coast, before the first in low Earth orbit, and attitude, eclipse and season are left out."
)
REFRIGERATION = (
    "A refrigerator lifts its heat all the time and needs no start; its mass, power and failures are left out."
)
LOCK_UP = (
    "A closed tank is taken to vent from the start: the heat that warms it up to its vent pressure is left out, and so"
    " is the vapour that condenses on the way."
)
TANK_MASS = "A tank's mass by regression knows its volume and area only, not its pressure, material and supports."


def limits_of_tanks(mission: Mission) -> Iterator[str]:
    """Give the limits that matter to a mission's tanks."""
    tanks = [tank for element in mission.elements for tank in element.tanks]
    liquids = [liquid for tank in tanks for liquid in tank.liquids]
    if any(_tabled(liquid) for liquid in liquids):
        yield TABLES
    if any(liquid.heat_leaks_w for liquid in liquids):
        yield ENVIRONMENTS
    if any(_refrigerated(liquid) for liquid in liquids):
        yield REFRIGERATION
    if any(liquid.vent_density_kg_m3 is not None for liquid in liquids):
        yield LOCK_UP
    if any(tank.mass_kg is not None for tank in tanks):
        yield TANK_MASS


def _tabled(liquid: Liquid) -> bool:
    return liquid.name in CRYOGENS and isinstance(liquid.density_kg_m3, Formula)


def _refrigerated(liquid: Liquid) -> bool:
    leaks = [liquid.heat_leak_w, *(leak for _, leak in liquid.heat_leaks_w)]
    return any(isinstance(leak, Formula) and leak.kind == "net_heat" for leak in leaks)
