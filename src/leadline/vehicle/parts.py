"""The parts of a vehicle: elements with their engines, tanks and liquids."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from leadline.vehicle.numbers import Number

__all__ = ["Element", "Engine", "Environment", "Liquid", "Role", "Tank"]


class Role(StrEnum):
    """Which of the two liquids of a propellant combination; a monopropellant is all fuel."""

    OXIDISER = "oxidiser"
    FUEL = "fuel"


class Environment(StrEnum):
    """Where a tank's heat comes from; a label under which a study gives heat leaks."""

    LOW_EARTH_ORBIT = "low Earth orbit"
    DEEP_SPACE = "deep space"
    LOW_LUNAR_ORBIT = "low lunar orbit"


@dataclass(frozen=True, slots=True)
class Liquid:
    """One liquid of a tank and how it is lost while coasting.

    At most one of `boil_off_per_s` (fraction of the contents per second), `heat_leak_w`
    and `heat_leaks_w` (one for each environment) is given; `vent_heat_j_kg` is the heat that
    boils one kilogram away, the vapour that stays behind in the emptied volume allowed for.
    `volume_m3` is the liquid's own room, where the two of a tank do not share one;
    `vent_density_kg_m3` is how dense it is when its tank begins to vent.
    """

    role: Role
    name: str
    density_kg_m3: Number
    vent_heat_j_kg: Number | None = None
    boil_off_per_s: Number | None = None
    heat_leak_w: Number | None = None
    heat_leaks_w: tuple[tuple[Environment, Number], ...] = ()
    volume_m3: Number | None = None
    vent_density_kg_m3: Number | None = None

    @property
    def boils(self) -> bool:
        """Whether any of it is lost while time passes."""
        return self.boil_off_per_s is not None or self.heat_leak_w is not None or bool(self.heat_leaks_w)

    def heat_leak_in(self, environment: Environment) -> Number | None:
        """Give the heat that reaches it in an environment, W; None where it is not told by heat.

        Raises
        ------
        KeyError
            Where heat is told by environment, and not for this one.
        """
        return dict(self.heat_leaks_w)[environment] if self.heat_leaks_w else self.heat_leak_w


@dataclass(frozen=True, slots=True)
class Tank:
    """A tank with its propellant combination, named ``element.tank``.

    `load_kg` is what it carries when full for the mission; it starts empty if a later leg
    loads it. `load_ratio` is the mixture ratio it is loaded at (None for a monopropellant).
    `unusable` is the fraction of each liquid loaded that cannot be burned.
    `liquids` are ordered oxidiser, fuel; a monopropellant has its fuel only.
    `volume_m3` is for both liquids together; None where each has its own or none is given.
    `mass_kg` is what a sized tank weighs, which its element's dry mass includes.
    """

    name: str
    propellant: str
    liquids: tuple[Liquid, ...]
    load_kg: Number = 0.0
    load_ratio: Number | None = None
    volume_m3: Number | None = None
    ullage: Number = 0.0
    unusable: Number = 0.0
    mass_kg: Number | None = None


@dataclass(frozen=True, slots=True)
class Engine:
    """An engine, named ``element.engine``; `mixture_ratio` is oxidiser over fuel by mass.

    `start_loss_kg` leaves the stack before each burn, `stop_loss_kg` after it, neither
    giving velocity. `count` of them burn side by side, and thrust and losses are each one's;
    `needed` must run. `ignites` is the chance that one lights at a start, None for sure.
    """

    name: str
    isp_s: Number
    thrust_n: Number | None = None
    mixture_ratio: Number | None = None
    start_loss_kg: Number = 0.0
    stop_loss_kg: Number = 0.0
    count: int = 1
    needed: int = 1
    ignites: Number | None = None


@dataclass(frozen=True, slots=True)
class Element:
    """A piece of the vehicle with its own dry mass."""

    name: str
    dry_mass_kg: Number
    engines: tuple[Engine, ...] = ()
    tanks: tuple[Tank, ...] = ()
