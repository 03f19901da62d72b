"""The requirements of a mission, one noun for each kind."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from leadline.vehicle.burn_requirements import BeltTime, BurnLoss, Completion, Ignition
from leadline.vehicle.numbers import Number

__all__ = [
    "BallisticRange",
    "BeltTime",
    "BurnLoss",
    "BurnTime",
    "Capture",
    "Completion",
    "Deceleration",
    "DeltaVLeft",
    "ElapsedTime",
    "Filled",
    "FlightsUsed",
    "HeatLoad",
    "HeatRejected",
    "Heating",
    "Ignition",
    "LiftedMass",
    "Measure",
    "PeakHeating",
    "PropellantLeft",
    "Requirement",
    "StackMass",
    "Supply",
    "TankFill",
    "VentRoom",
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
class VentRoom:
    """A closed tank still has room for vapour when its pressure reaches that of its vent.

    Present for each tank whose study says at what pressure it vents.
    """

    name: str
    tank: str


@dataclass(frozen=True, slots=True)
class LiftedMass:
    """Elements with what their tanks hold, at the start or after a leg, weigh at most so much together."""

    name: str
    elements: tuple[str, ...]
    at_most_kg: Number
    after: str | None = None


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


@dataclass(frozen=True, slots=True)
class Filled:
    """The tanker flights of a refuelling leg fill its tank.

    Present for each refuelling leg after which the mission does not go on with less.
    """

    name: str
    leg: str
    tank: str


@dataclass(frozen=True, slots=True)
class FlightsUsed:
    """A refuelling leg takes at most so many tanker flights."""

    name: str
    leg: str
    at_most: Number


@dataclass(frozen=True, slots=True)
class Capture:
    """An entry is steep enough not to skip out again. Present for each entry."""

    name: str
    entry: str


@dataclass(frozen=True, slots=True)
class BallisticRange:
    """An entry's ballistic coefficient is one that the table of entries covers.

    Present for each entry whose ballistic coefficient follows from the stack's mass.
    """

    name: str
    entry: str


class Heating(StrEnum):
    """Which part of the heating counts."""

    TOTAL = "total"
    CONVECTIVE = "convective"
    RADIATIVE = "radiative"


@dataclass(frozen=True, slots=True)
class PeakHeating:
    """The largest heat flux at the stagnation point during an entry is at most so much."""

    name: str
    entry: str
    at_most_w_m2: Number
    part: Heating = Heating.TOTAL


@dataclass(frozen=True, slots=True)
class HeatLoad:
    """The heat taken up at the stagnation point during an entry is at most so much."""

    name: str
    entry: str
    at_most_j_m2: Number
    part: Heating = Heating.TOTAL


@dataclass(frozen=True, slots=True)
class Deceleration:
    """The largest deceleration felt during an entry is at most so much.

    Present for each entry with the deceleration above which it is called too steep.
    """

    name: str
    entry: str
    at_most_m_s2: Number


@dataclass(frozen=True, slots=True)
class HeatRejected:
    """A radiator gets rid of at least so much heat; looked at before the first leg unless after another.

    `environment` is one of `leadline.physics.radiator.ENVIRONMENTS`, `open_share` the share of the
    area that sees space.
    """

    name: str
    area_m2: Number
    temperature_k: Number
    absorptance: Number
    emittance: Number
    environment: str
    at_least_w: Number
    open_share: Number = 1.0
    after: str | None = None


Requirement = (
    PropellantLeft
    | DeltaVLeft
    | TankFill
    | LiftedMass
    | BurnTime
    | StackMass
    | ElapsedTime
    | VentRoom
    | Supply
    | BurnLoss
    | BeltTime
    | Completion
    | Ignition
    | Filled
    | FlightsUsed
    | Capture
    | BallisticRange
    | PeakHeating
    | HeatLoad
    | Deceleration
    | HeatRejected
)
