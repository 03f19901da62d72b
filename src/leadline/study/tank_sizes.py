"""Checks of how large a tank is, how it is wrapped, and whether its mass can follow from that."""

from __future__ import annotations

from collections.abc import Iterator

from leadline.errors import Issue, Path
from leadline.sampling.laws import Law
from leadline.study.bounds import TOLERATED
from leadline.study.dispersion import Dispersion
from leadline.study.liquid_values import rounded_of
from leadline.study.model_numbers import LiquidValues, Value
from leadline.study.model_tank import TankRecord
from leadline.study.model_tank_size import BlanketRecord, RoundedRecord
from leadline.vehicle import Role

__all__ = ["check_sizes"]

_OWN_SHAPE = "{radius: 1.5 m, length: 3 m}"


def check_sizes(tank: TankRecord, path: Path) -> Iterator[Issue]:
    """Check a tank's volume, shape, insulation and mass by size."""
    if tank.shape is not None and tank.volume is not None:
        message = "Both a volume and a shape say how large the tank is."
        yield Issue((*path, "shape"), message, "Keep one of them.", "twice")
    for key in ("volume", "shape", "insulation"):
        given = getattr(tank, key)
        if getattr(given, "oxidiser", None) is not None and not tank.has_oxidiser:
            message = f"{tank.propellant} has no oxidiser."
            yield Issue((*path, key, "oxidiser"), message, "Write fuel alone, or without naming it.", "no-oxidiser")
    for shape, steps in _shapes(tank):
        yield from _check_dome(shape, (*path, *steps))
    yield from _check_insulation(tank, (*path, "insulation"))
    if tank.tank_mass is not None:
        yield from _check_mass(tank, (*path, "tank_mass"))


def _shapes(tank: TankRecord) -> Iterator[tuple[RoundedRecord, Path]]:
    if tank.shape is None:
        return
    if tank.shape.whole is not None:
        yield tank.shape.whole, ("shape",)
    for role in Role:
        own = tank.shape.own(role)
        if own is not None:
            yield own, ("shape", role.value)


def _check_dome(shape: RoundedRecord, path: Path) -> Iterator[Issue]:
    if shape.dome is not None and _reach(shape.dome, 1.0 - TOLERATED) > _reach(shape.radius, TOLERATED):
        message = "The domes are higher than the cylinder's radius, or a law makes them so."
        remedy = "Write a dome of at most the radius, or leave it out for half a sphere."
        yield Issue((*path, "dome"), message, remedy, "out-of-bounds")


def _reach(value: Value, chance: float) -> float:
    if not isinstance(value, Dispersion):
        return value
    law: Law = value.law
    return float(law.quantile(chance))


def _check_insulation(tank: TankRecord, path: Path) -> Iterator[Issue]:
    insulation = tank.insulation
    if insulation is None:
        return
    if insulation.flux is not None and tank.has_oxidiser:
        message = f"{tank.propellant} is two liquids, and one insulation stands here for both."
        yield Issue(path, message, f'Write one for each, such as "insulation: {_EACH}".', "per-liquid")
        return
    for role in tank.combination.roles:
        blanket = insulation.about(role)
        if blanket is not None:
            step = () if insulation.flux is not None else (role.value,)
            yield from _check_blanket(tank, role, blanket, (*path, *step))


_EACH = "{oxidiser: {flux: 0.4 W/m2, area: 22 m2}, fuel: {flux: 0.5 W/m2, area: 51 m2}}"


def _check_blanket(tank: TankRecord, role: Role, blanket: BlanketRecord, path: Path) -> Iterator[Issue]:
    liquid = tank.combination.liquid(role)
    if not liquid.boils:
        message = f"{liquid.name} is storable: it does not boil away in a mission."
        yield Issue(path, message, "Take it out of insulation.", "storable")
    elif blanket.area is None and rounded_of(tank, role) is None:
        message = f"Nothing says how large the area about the {role.value} is."
        yield Issue(path, message, f'Write "area: 51 m2", or give it a shape, such as {_OWN_SHAPE}.', "no-area")


def _check_mass(tank: TankRecord, path: Path) -> Iterator[Issue]:
    """Check that the regression has what it needs: each boiling liquid's own volume and area."""
    if not tank.has_volume:
        message = "The tank's mass follows from its size, and nothing says how large it is."
        yield Issue(path, message, f"Give it a shape, such as {_OWN_SHAPE}, or a volume.", "no-volume")
        return
    shared = tank.has_oxidiser and not isinstance(tank.volume, LiquidValues) and rounded_of(tank, Role.FUEL) is None
    for role in tank.combination.roles:
        if not tank.combination.liquid(role).boils:
            continue
        if shared:
            message = f"The {role.value} is cryogenic, and its tank's mass follows from a volume of its own."
            yield Issue(path, message, f"Give each liquid a shape, such as {_OWN_SHAPE}.", "no-volume")
        elif not _has_area(tank, role):
            message = f"The {role.value} is cryogenic, and the mass of its insulation follows from an area."
            yield Issue(path, message, "Give a shape instead of a volume, or an insulation with its area.", "no-area")


def _has_area(tank: TankRecord, role: Role) -> bool:
    blanket = None if tank.insulation is None else tank.insulation.about(role)
    return rounded_of(tank, role) is not None or (blanket is not None and blanket.area is not None)
