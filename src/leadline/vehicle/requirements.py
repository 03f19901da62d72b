"""The requirements of a mission, one noun for each kind."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from leadline.vehicle.numbers import Number

__all__ = [
    "BurnTime",
    "DeltaVLeft",
    "ElapsedTime",
    "LiftedMass",
    "Measure",
    "PropellantLeft",
    "Requirement",
    "StackMass",
    "Supply",
    "TankFill",
]


class Measure(StrEnum):
    """What is counted as propellant left.

    ``burnable`` is what can still be burned at the engine's mixture ratio, so that the liquid
    that runs out first decides; the others are sums above the unusable part.
    """

    BURNABLE = "burnable"
    TOTAL = "total"
    OXIDISER = "oxidiser"
    FUEL = "fuel"


@dataclass(frozen=True, slots=True)
class PropellantLeft:
    """Propellant in a tank, above the unusable part, is at least so much after a leg."""

    name: str
    tank: str
    at_least_kg: Number
    measure: Measure = Measure.BURNABLE
    after: str | None = None


@dataclass(frozen=True, slots=True)
class DeltaVLeft:
    """The velocity change the rest of a tank could still give is at least so much."""

    name: str
    engine: str
    tank: str
    at_least_m_s: Number
    after: str | None = None


@dataclass(frozen=True, slots=True)
class TankFill:
    """What is in a tank fits its volume less the ullage, whenever it is filled."""

    name: str
    tank: str


@dataclass(frozen=True, slots=True)
class LiftedMass:
    """Elements with what their tanks hold at the start weigh at most so much together."""

    name: str
    elements: tuple[str, ...]
    at_most_kg: Number


@dataclass(frozen=True, slots=True)
class BurnTime:
    """The named burns together last at most so long."""

    name: str
    burns: tuple[str, ...]
    at_most_s: Number


@dataclass(frozen=True, slots=True)
class StackMass:
    """The stack weighs at most so much after a leg."""

    name: str
    at_most_kg: Number
    after: str | None = None


@dataclass(frozen=True, slots=True)
class ElapsedTime:
    """The mission has taken at most so long when a leg ends."""

    name: str
    at_most_s: Number
    after: str | None = None


@dataclass(frozen=True, slots=True)
class Supply:
    """Every leg that draws on a tank finds there what it asks for.

    Present for each tank that is drawn on, whether the study asks for it or not.
    """

    name: str
    tank: str


Requirement = PropellantLeft | DeltaVLeft | TankFill | LiftedMass | BurnTime | StackMass | ElapsedTime | Supply
