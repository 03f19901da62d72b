"""Checks of how cold, how dense and under what pressure the liquids of a tank are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from leadline.errors import Issue, Path
from leadline.study.liquid_values import CONDITIONS, Said, range_of, rounded_of, said, within
from leadline.study.model_numbers import LiquidValues, median
from leadline.study.model_tank import TankRecord
from leadline.units import humanise
from leadline.vehicle import Role

__all__ = ["check_conditions"]

_EXCLUSIVE: Final = ("density", "pressure", "temperature")


def check_conditions(tank: TankRecord, path: Path) -> Iterator[Issue]:
    """Check densities, pressures and temperatures of a tank's liquids."""
    for key in CONDITIONS:
        yield from _check_known(tank, key, (*path, key))
    for role in tank.combination.roles:
        yield from _check_once(tank, role, path)
        yield from _check_vent(tank, role, path)
        for key in CONDITIONS:
            yield from _check_range(tank, key, role, path)


def _check_known(tank: TankRecord, key: str, path: Path) -> Iterator[Issue]:
    """Check that a condition is given of liquids that have a table."""
    given = getattr(tank, key)
    if given is None:
        return
    if not isinstance(given, LiquidValues):
        if all(tank.combination.liquid(role).table is None for role in tank.combination.roles):
            yield _no_table(tank, key, tank.combination.roles[-1], path)
        return
    if given.oxidiser is not None and not tank.has_oxidiser:
        yield Issue((*path, "oxidiser"), f"{tank.propellant} has no oxidiser.", "Write fuel alone.", "no-oxidiser")
    for role in tank.combination.roles:
        if getattr(given, role.value) is not None and tank.combination.liquid(role).table is None:
            yield _no_table(tank, key, role, (*path, role.value))


def _no_table(tank: TankRecord, key: str, role: Role, path: Path) -> Issue:
    liquid = tank.combination.liquid(role)
    if not liquid.boils:
        message = f"{liquid.name} is storable, and its density is not known by {CONDITIONS[key].name}."
        return Issue(path, message, f'Take it out of {key}, or give the tank "density".', "storable")
    message = f"Of {liquid.name} the study gives numbers of its own, so there is no table by {CONDITIONS[key].name}."
    return Issue(path, message, f"Take it out of {key}, or leave the liquid's density and vent_heat out.", "no-table")


def _check_once(tank: TankRecord, role: Role, path: Path) -> Iterator[Issue]:
    found = [given for key in _EXCLUSIVE if (given := said(tank, key, role)) is not None]
    if len(found) > 1:
        ways = " and ".join(given.step.partition(".")[0] for given in found)
        message = f"The density of the {role.value} is said by {ways}."
        yield Issue((*path, *found[-1].step.split(".")), message, "Keep one of them for each liquid.", "twice")


def _check_range(tank: TankRecord, key: str, role: Role, path: Path) -> Iterator[Issue]:
    given, liquid = said(tank, key, role), tank.combination.liquid(role)
    bounds = range_of(liquid, key)
    if given is None or bounds is None:
        return
    kept = within(given.value, bounds, CONDITIONS[key], liquid.name)
    if isinstance(kept, Issue):
        yield replace(kept, path=(*path, *given.step.split(".")))


def _check_vent(tank: TankRecord, role: Role, path: Path) -> Iterator[Issue]:
    """Check that a liquid that is locked up has room to itself, and is not above its vent's pressure from the start."""
    vent, loaded = said(tank, "vents_at", role), said(tank, "pressure", role)
    if vent is None:
        return
    place = (*path, *vent.step.split("."))
    if not _has_room(tank, role):
        message = f"Nothing says how much room the {role.value} has to itself before it vents."
        remedy = 'Give each liquid its volume or shape, such as "volume: {oxidiser: 31 m3, fuel: 92 m3}".'
        yield Issue(place, message, remedy, "no-volume")
    if loaded is not None and median(loaded.value) >= median(vent.value):
        yield Issue(place, _loaded_at(loaded, role), "Write a vent pressure above it.", "vent-pressure")


def _loaded_at(loaded: Said, role: Role) -> str:
    return f"The {role.value} is loaded at {humanise(median(loaded.value), 'Pa')}, and so would vent from the start."


def _has_room(tank: TankRecord, role: Role) -> bool:
    if rounded_of(tank, role) is not None:
        return True
    if isinstance(tank.volume, LiquidValues):
        return said(tank, "volume", role) is not None
    return tank.volume is not None and not tank.has_oxidiser
