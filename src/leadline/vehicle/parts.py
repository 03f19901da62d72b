"""The parts of a vehicle: elements with their engines, tanks and liquids."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from leadline.vehicle.numbers import Number

__all__ = ["Element", "Engine", "Liquid", "Role", "Tank"]


class Role(StrEnum):
    """Which of the two liquids of a propellant combination; a monopropellant is all fuel."""

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
