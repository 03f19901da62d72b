"""What a study says of its tanks and their liquids, checked against one another."""

from __future__ import annotations

from collections.abc import Iterator

from leadline.errors import Issue, Path
from leadline.study.liquid_conditions import check_conditions
from leadline.study.liquid_values import environments_of, heat_of, said
from leadline.study.model_liquid_numbers import LiquidHeats
from leadline.study.model_moves import CoastRecord
from leadline.study.model_numbers import LiquidValues
from leadline.study.model_tank import TankRecord
from leadline.study.parts import Parts
from leadline.study.tank_sizes import check_sizes
from leadline.vehicle import Environment, Role

__all__ = ["check_liquids"]

_EXAMPLES = {
    "boil_off": "{oxidiser: 0.1 %/d, fuel: 0.5 %/d}",
    "heat_leak": "{oxidiser: 60 W, fuel: 180 W}",
    "refrigeration": "{oxidiser: 30 W, fuel: 20 W}",
    "density": "{oxidiser: 1440 kg/m3, fuel: 875 kg/m3}",
}
_BOILING = ("boil_off", "heat_leak", "refrigeration")


def check_liquids(parts: Parts) -> list[Issue]:
    """Check that what each tank says of its liquids fits its propellant combination and the legs."""
    leg = parts.legs[0] if parts.legs else None
    starts_waiting = leg is not None and not isinstance(leg, CoastRecord)
    return [
        issue
        for name, element in parts.elements.items()
        if element is not None
        for tank, record in element.tanks.items()
        for issue in _check_tank(record, ("vehicle", name, "tanks", tank), starts_waiting=starts_waiting)
    ]


def _check_tank(tank: TankRecord, path: Path, *, starts_waiting: bool) -> Iterator[Issue]:
    if tank.load_ratio is not None and not tank.has_oxidiser:
        message = f"{tank.propellant} is one liquid and has no mixture ratio."
        yield Issue((*path, "load_ratio"), message, "Take load_ratio out.", "mixture-ratio")
    for key, example in _EXAMPLES.items():
        yield from _check_split(tank, key, example, (*path, key))
    yield from check_sizes(tank, path)
    yield from check_conditions(tank, path)
    for role in tank.combination.roles:
        yield from _check_heat(tank, role, path)
        yield from _check_start(tank, role, path, starts_waiting=starts_waiting)


def _check_split(tank: TankRecord, key: str, example: str, path: Path) -> Iterator[Issue]:
    """Check that a number is given for each liquid there is, and for none that boils where it cannot."""
    given = getattr(tank, key)
    split = isinstance(given, LiquidValues | LiquidHeats)
    if given is not None and not split and tank.has_oxidiser:
        message = f"{tank.propellant} is two liquids, and one number stands here for both."
        yield Issue(path, message, f'Write one for each, such as "{key}: {example}".', "per-liquid")
        return
    if split and given.oxidiser is not None and not tank.has_oxidiser:
        message = f"{tank.propellant} has no oxidiser."
        yield Issue((*path, "oxidiser"), message, "Write fuel alone, or the number by itself.", "no-oxidiser")
    for role in tank.combination.roles:
        liquid, own = tank.combination.liquid(role), getattr(given, role.value) if split else given
        if key in _BOILING and not liquid.boils and own is not None and own != 0.0:
            message = f"{liquid.name} is storable: it does not boil away in a mission."
            yield Issue((*path, *((role.value,) if split else ())), message, f"Take it out of {key}.", "storable")


def _check_heat(tank: TankRecord, role: Role, path: Path) -> Iterator[Issue]:
    """Check that what boils a liquid away is said once, and that there is heat for a refrigerator to lift."""
    ways = [key for key in ("boil_off", "heat_leak") if _mentions(tank, key, role)]
    ways += ["insulation"] if tank.insulation is not None and tank.insulation.about(role) is not None else []
    if len(ways) > 1:
        message = f"The {role.value} has both {_article(ways[0])} and {_article(ways[1])}."
        yield Issue((*path, ways[1]), message, "Keep one of them for each liquid.", "twice")
    lift = said(tank, "refrigeration", role)
    if lift is not None and heat_of(tank, role) is None and tank.combination.liquid(role).boils:
        message = f"Nothing says how much heat reaches the {role.value}, so none can be lifted out of it."
        remedy = "Give its heat_leak or insulation, or take refrigeration out."
        yield Issue((*path, *lift.step.split(".")), message, remedy, "no-heat")


def _article(key: str) -> str:
    return f"an {key}" if key.startswith("i") else f"a {key}"


def _mentions(tank: TankRecord, key: str, role: Role) -> bool:
    """Whether a key says anything of a liquid."""
    given = getattr(tank, key)
    split = isinstance(given, LiquidValues | LiquidHeats)
    return (getattr(given, role.value) if split else given) is not None


def _check_start(tank: TankRecord, role: Role, path: Path, *, starts_waiting: bool) -> Iterator[Issue]:
    """Check that heat by environment is given where the mission starts, unless it starts with a coast."""
    by_environment, heat = environments_of(tank, role), heat_of(tank, role)
    if by_environment is None or heat is None or not starts_waiting:
        return
    start = Environment.LOW_EARTH_ORBIT
    if start not in dict(by_environment.values):
        message = f'Until its first coast the mission is in "{start}", and no heat is given for that.'
        remedy = f'Give it, such as "{start}: 0.5 W/m2", or begin with a coast.'
        yield Issue((*path, *heat.step.split(".")), message, remedy, "no-environment")
