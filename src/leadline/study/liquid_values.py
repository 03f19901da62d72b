"""What a tank's keys say of one of its liquids, and where they say it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from leadline.errors import Issue
from leadline.study.bounds import TOLERATED, Bounds
from leadline.study.dispersion import Dispersion
from leadline.study.model_liquid_numbers import EnvironmentValues, Heat, LiquidHeats
from leadline.study.model_numbers import LiquidValues, Value
from leadline.study.model_propellant import LiquidRecord
from leadline.study.model_tank import TankRecord
from leadline.study.model_tank_size import RoundedRecord
from leadline.units import PRESSURE, TEMPERATURE, Dimension, humanise
from leadline.vehicle import Role

__all__ = ["CONDITIONS", "Heated", "Said", "environments_of", "heat_of", "range_of", "rounded_of", "said", "within"]

CONDITIONS: Final = {"pressure": PRESSURE, "temperature": TEMPERATURE, "vents_at": PRESSURE}
"""Keys that hold for every liquid with a table where one number stands, by dimension."""


@dataclass(frozen=True, slots=True)
class Said:
    """A number of one liquid, with the key that it stands under in the tank."""

    value: Value
    step: str


@dataclass(frozen=True, slots=True)
class Heated:
    """Heat that reaches one liquid: watts, or watts a square metre where it is `spread` over an area."""

    value: Heat
    step: str
    spread: bool = False


def said(tank: TankRecord, key: str, role: Role) -> Said | None:
    """Find what a key says of a liquid; None where it says nothing of it."""
    given: Value | LiquidValues | None = getattr(tank, key)
    if isinstance(given, LiquidValues):
        own: Value | None = getattr(given, role.value)
        return None if own is None else Said(own, f"{key}.{role.value}")
    if given is None or (key in CONDITIONS and tank.combination.liquid(role).table is None):
        return None
    return Said(given, key)


def heat_of(tank: TankRecord, role: Role) -> Heated | None:
    """Find the heat that reaches a liquid; None where a rate or nothing is given."""
    leak = tank.heat_leak
    if isinstance(leak, LiquidHeats):
        own: Heat | None = getattr(leak, role.value)
        if own is not None:
            return Heated(own, f"heat_leak.{role.value}")
    elif leak is not None:
        return Heated(leak, "heat_leak")
    blanket = None if tank.insulation is None else tank.insulation.about(role)
    if tank.insulation is None or blanket is None:
        return None
    whole = tank.insulation.flux is not None
    return Heated(blanket.flux, "insulation.flux" if whole else f"insulation.{role.value}.flux", spread=True)


def rounded_of(tank: TankRecord, role: Role) -> tuple[RoundedRecord, str] | None:
    """Find the shape that a liquid has to itself, with its key; None where it shares one or has none."""
    if tank.shape is None:
        return None
    own = tank.shape.own(role)
    if own is not None:
        return own, f"shape.{role.value}"
    whole = tank.shape.whole
    return None if whole is None or tank.has_oxidiser else (whole, "shape")


def range_of(liquid: LiquidRecord, key: str) -> Bounds | None:
    """Give the range of a liquid's table for a pressure or a temperature; None without a table."""
    if liquid.table is None:
        return None
    low, high = liquid.table.temperatures_k if CONDITIONS[key] is TEMPERATURE else liquid.table.pressures_pa
    return Bounds(low, high)


def within(value: Value, bounds: Bounds, dimension: Dimension, name: str) -> Value | Issue:
    """Keep a number within a liquid's table: as it is, cut off where it hardly leaves it, or refused."""
    unit = dimension.si
    span = f"from {humanise(bounds.low, unit)} to {humanise(bounds.high, unit)}"
    remedy = f"Write a {dimension.name} {span}, with at most one case in a million outside it."
    if not isinstance(value, Dispersion):
        message = f"The table of {name} reaches {span}, and {humanise(value, unit)} lies outside it."
        return value if bounds.admit(value) else Issue((), message, remedy, "out-of-table")
    beyond = bounds.overreach(value.law, unit)
    if beyond is None:
        return value
    if beyond.chance > TOLERATED:
        message = f"The table of {name} reaches {span}; this law leaves it with a chance of {beyond.chance:.2g}."
        return Issue((), message, remedy, "out-of-table")
    note = f"gives {beyond.beyond} with a chance of {beyond.chance:.1g}; its law is cut off at the end of the table"
    return replace(value, law=bounds.cut(value.law), note=note)


def environments_of(tank: TankRecord, role: Role) -> EnvironmentValues | None:
    """Give the heat of a liquid by environment; None where it is the same everywhere."""
    heat = heat_of(tank, role)
    return heat.value if heat is not None and isinstance(heat.value, EnvironmentValues) else None
