"""The nouns of a mission: elements, tanks, engines, legs, requirements.

Every number is SI and is a plain float, or a `Column`, the place in a block of draws where
the number is read for each case, or a `Formula` of such numbers. Nothing here computes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeAlias

__all__ = [
    "Burn",
    "BurnTime",
    "Coast",
    "Column",
    "DeltaVLeft",
    "Dock",
    "Drop",
    "ElapsedTime",
    "Element",
    "Engine",
    "Formula",
    "Leg",
    "LiftedMass",
    "Liquid",
    "Load",
    "Measure",
    "Mission",
    "Number",
    "PropellantLeft",
    "Requirement",
    "Role",
    "StackMass",
    "Supply",
    "Tank",
    "TankFill",
    "Transfer",
    "Undock",
]


@dataclass(frozen=True, slots=True)
class Column:
    """A dispersed number: row `index` of a block of draws, named by its place in the study."""

    index: int
    name: str


@dataclass(frozen=True, slots=True)
class Formula:
    """A number that follows from others: `kind` names a function of the budget core's registry.

    Formulas come from the models of a study, never from its text.
    """

    kind: str
    arguments: tuple[Number, ...]


Number: TypeAlias = float | Column | Formula


class Role(StrEnum):
    """Which of the two liquids of a propellant combination; a monopropellant is all fuel."""

    OXIDISER = "oxidiser"
    FUEL = "fuel"


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
class Liquid:
    """One liquid of a tank and how it is lost while coasting.

    At most one of `boil_off_per_s` (fraction of the contents per second) and `heat_leak_w`
    is given; `vent_heat_j_kg` is the heat that boils one kilogram away, the vapour that
    stays behind in the emptied volume allowed for.
    """

    role: Role
    name: str
    density_kg_m3: Number
    vent_heat_j_kg: Number | None = None
    boil_off_per_s: Number | None = None
    heat_leak_w: Number | None = None


@dataclass(frozen=True, slots=True)
class Tank:
    """A tank with its propellant combination, named ``element.tank``.

    `load_kg` is what it carries when full for the mission; it starts empty if a later leg
    loads it. `load_ratio` is the mixture ratio it is loaded at (None for a monopropellant).
    `unusable` is the fraction of each liquid loaded that cannot be burned.
    `liquids` are ordered oxidiser, fuel; a monopropellant has its fuel only.
    """

    name: str
    propellant: str
    liquids: tuple[Liquid, ...]
    load_kg: Number = 0.0
    load_ratio: Number | None = None
    volume_m3: Number | None = None
    ullage: Number = 0.0
    unusable: Number = 0.0


@dataclass(frozen=True, slots=True)
class Engine:
    """An engine, named ``element.engine``; `mixture_ratio` is oxidiser over fuel by mass.

    `start_loss_kg` leaves the stack before each burn, `stop_loss_kg` after it, neither
    giving velocity.
    """

    name: str
    isp_s: Number
    thrust_n: Number | None = None
    mixture_ratio: Number | None = None
    start_loss_kg: Number = 0.0
    stop_loss_kg: Number = 0.0


@dataclass(frozen=True, slots=True)
class Element:
    """A piece of the vehicle with its own dry mass."""

    name: str
    dry_mass_kg: Number
    engines: tuple[Engine, ...] = ()
    tanks: tuple[Tank, ...] = ()


@dataclass(frozen=True, slots=True)
class Load:
    """Put propellant into a tank; `amount_kg` None means the tank's own load."""

    name: str
    tank: str
    amount_kg: Number | None = None


@dataclass(frozen=True, slots=True)
class Burn:
    """Give the stack a velocity change with one engine from one tank."""

    name: str
    engine: str
    tank: str
    delta_v_m_s: Number


@dataclass(frozen=True, slots=True)
class Coast:
    """Let time pass; every tank that still belongs to the mission boils off."""

    name: str
    duration_s: Number


@dataclass(frozen=True, slots=True)
class Drop:
    """Leave an element behind for good, with whatever it holds."""

    name: str
    element: str


@dataclass(frozen=True, slots=True)
class Dock:
    """Join an element that is apart to the stack."""

    name: str
    element: str


@dataclass(frozen=True, slots=True)
class Undock:
    """Part an element from the stack; it stays in the mission and may dock again."""

    name: str
    element: str


@dataclass(frozen=True, slots=True)
class Transfer:
    """Move propellant from one tank to another; `loss` is the fraction that does not arrive."""

    name: str
    source: str
    target: str
    amount_kg: Number
    loss: Number = 0.0


Leg = Load | Burn | Coast | Drop | Dock | Undock | Transfer


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


@dataclass(frozen=True, slots=True)
class Mission:
    """A vehicle, the legs it flies and the requirements it must meet.

    References between parts (a burn's tank, a requirement's leg) have been checked by
    whoever built it; `apart` names the elements that are not in the stack at the start.
    """

    title: str
    elements: tuple[Element, ...]
    legs: tuple[Leg, ...]
    requirements: tuple[Requirement, ...]
    apart: frozenset[str] = field(default_factory=frozenset)
