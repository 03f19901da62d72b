"""The liquids of a tank: what the study says of each, checked and bound."""

from __future__ import annotations

from collections.abc import Iterator

from leadline.errors import Issue, Path
from leadline.physics.propellants import PROPELLANTS, LiquidProperties
from leadline.study.model_numbers import LiquidValues, Value
from leadline.study.model_vehicle import TankRecord
from leadline.study.numbers import Numbers
from leadline.study.parts import Parts
from leadline.vehicle import Liquid, Number, Role

__all__ = ["bind_liquids", "check_liquids"]

_LOSSES = ("boil_off", "heat_leak")


def check_liquids(parts: Parts) -> list[Issue]:
    """Check that what each tank says of its liquids fits its propellant combination."""
    return [
        issue
        for name, element in parts.elements.items()
        if element is not None
        for tank, record in element.tanks.items()
        for issue in _check_tank(record, ("vehicle", name, "tanks", tank))
    ]


def _check_tank(tank: TankRecord, path: Path) -> Iterator[Issue]:
    if tank.load_ratio is not None and not tank.has_oxidiser:
        message = f"{tank.propellant} is one liquid and has no mixture ratio."
        yield Issue((*path, "load_ratio"), message, "Take load_ratio out.", "mixture-ratio")
    for loss in _LOSSES:
        yield from _check_loss(tank, loss, (*path, loss))
    both = [role for role in _roles(tank) if all(_of_role(tank, loss, role) is not None for loss in _LOSSES)]
    for role in both:
        message = f"The {role.value} has both a boil_off and a heat_leak."
        yield Issue((*path, "heat_leak"), message, "Keep one of them for each liquid.", "twice")


def _check_loss(tank: TankRecord, loss: str, path: Path) -> Iterator[Issue]:
    given: Value | LiquidValues | None = getattr(tank, loss)
    example = {"boil_off": "{oxidiser: 0.1 %/d, fuel: 0.5 %/d}", "heat_leak": "{oxidiser: 60 W, fuel: 180 W}"}[loss]
    if given is not None and not isinstance(given, LiquidValues) and tank.has_oxidiser:
        message = f"{tank.propellant} is two liquids, and one number stands here for both."
        yield Issue(path, message, f'Write one for each, such as "{loss}: {example}".', "per-liquid")
        return
    if isinstance(given, LiquidValues) and given.oxidiser is not None and not tank.has_oxidiser:
        message = f"{tank.propellant} has no oxidiser."
        yield Issue((*path, "oxidiser"), message, "Write fuel alone, or the number by itself.", "no-oxidiser")
    for role in _roles(tank):
        liquid, lost = _properties(tank, role), _of_role(tank, loss, role)
        if liquid.vent_heat_j_kg is None and lost is not None and lost != 0.0:
            step = (role.value,) if isinstance(given, LiquidValues) else ()
            message = f"{liquid.name} is storable: it does not boil away in a mission."
            yield Issue((*path, *step), message, f"Take it out of {loss}.", "storable")


def bind_liquids(tank: TankRecord, numbers: Numbers) -> tuple[Liquid, ...]:
    """Make the liquids of a tank, oxidiser first."""
    made = []
    for role in _roles(tank):
        properties = _properties(tank, role)
        boil_off, heat_leak = (_bound(tank, loss, role, numbers) for loss in _LOSSES)
        vent_heat = None if heat_leak is None else properties.vent_heat_j_kg
        made.append(Liquid(role, properties.name, properties.density_kg_m3, vent_heat, boil_off, heat_leak))
    return tuple(made)


def _bound(tank: TankRecord, loss: str, role: Role, numbers: Numbers) -> Number | None:
    per_liquid = isinstance(getattr(tank, loss), LiquidValues)
    return numbers.optional(_of_role(tank, loss, role), f"{loss}.{role.value}" if per_liquid else loss)


def _roles(tank: TankRecord) -> tuple[Role, ...]:
    return (Role.OXIDISER, Role.FUEL) if tank.has_oxidiser else (Role.FUEL,)


def _properties(tank: TankRecord, role: Role) -> LiquidProperties:
    combination = PROPELLANTS[tank.propellant]
    oxidiser = combination.oxidiser
    return oxidiser if role is Role.OXIDISER and oxidiser is not None else combination.fuel


def _of_role(tank: TankRecord, loss: str, role: Role) -> Value | None:
    given: Value | LiquidValues | None = getattr(tank, loss)
    if not isinstance(given, LiquidValues):
        return given
    return given.oxidiser if role is Role.OXIDISER else given.fuel
