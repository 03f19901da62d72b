"""Where the cases of a block stand between two legs.

All cases of a block fly the same legs in the same order, so what is in the stack is one
fact for the block; masses, propellant and time differ from case to case.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum, auto
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget.flown import FlownBurn
from leadline.budget.formulas import FORMULAS
from leadline.budget.workspace import Workspace
from leadline.physics import boil_off, rocket
from leadline.physics.entry_table import TableFlight
from leadline.vehicle import Burn, Column, Element, Engine, Environment, Formula, Leg, Mission, Number, Tank

__all__ = ["Mixture", "Place", "State", "TankState", "Value"]

Array = npt.NDArray[np.float64]
Value = Array | float


class Place(Enum):
    """Where an element is."""

    STACK = auto()
    APART = auto()
    GONE = auto()


@dataclass(frozen=True, slots=True)
class Mixture:
    """How a mass of propellant splits into liquids.

    `shares` gives each liquid's share of the whole, in the order of a tank's liquids, and
    `whole_per_part` its inverse. `basis` names what sets the split, for caching.
    """

    basis: str
    shares: tuple[Value, ...]
    whole_per_part: tuple[Value, ...]

    @classmethod
    def at_ratio(cls, basis: str, ratio: Value) -> Mixture:
        """Split at an oxidiser-to-fuel ratio by mass."""
        whole_per_oxidiser, whole_per_fuel = 1.0 + 1.0 / ratio, 1.0 + ratio
        oxidiser = 1.0 / whole_per_oxidiser
        return cls(basis, (oxidiser, 1.0 - oxidiser), (whole_per_oxidiser, whole_per_fuel))


_ALL_FUEL: Final = Mixture("fuel alone", (1.0,), (1.0,))


@dataclass(slots=True)
class TankState:
    """What a tank holds, liquid by liquid, and what has been put into it.

    `contents` and `loaded` follow the order of `tank.liquids`; contents are (n,) and may
    be negative, which is a shortfall.
    """

    tank: Tank
    element: str
    contents: list[Array]
    loaded: list[Value]

    @property
    def ever_loaded(self) -> bool:
        """Tell whether a leg has put something in, or the mission begun with it."""
        return not all(isinstance(amount, float) and amount == 0.0 for amount in self.loaded)


@dataclass(slots=True)
class State:
    """A block of cases on their way through the mission.

    Parameters
    ----------
    mission
        The mission flown.
    columns : (d, n)
        The draws.
    workspace
        Memory to use.
    records, keeps_time
        True when every leg's quantities are wanted (see `quantities`), when time is to be kept.

    Attributes
    ----------
    leg
        The leg just flown; None at the start.
    feeding
        By tank, the engine that burned from it last, or will be the first to.
    flown, ignitions
        By burn, what is kept of one of finite length, and by how much its worst start went well.
    filling, flights_used
        By refuelling leg, what its flights could have brought beyond what was needed, and their number.
    entries
        By entry, what the vehicle went through.
    """

    mission: Mission
    columns: Array
    workspace: Workspace
    records: bool = False
    keeps_time: bool = False
    leg: Leg | None = None
    stack_mass: Array = field(init=False)
    elapsed: Value = 0.0
    environment: Environment = Environment.LOW_EARTH_ORBIT
    tanks: dict[str, TankState] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    elements: dict[str, Element] = field(default_factory=dict)
    engines: dict[str, Engine] = field(default_factory=dict)
    feeding: dict[str, str] = field(default_factory=dict)
    burn_times: dict[str, Value] = field(default_factory=dict)
    flown: dict[str, FlownBurn] = field(default_factory=dict)
    ignitions: dict[str, Value] = field(default_factory=dict)
    filling: dict[str, Array] = field(default_factory=dict)
    flights_used: dict[str, Array] = field(default_factory=dict)
    entries: dict[str, TableFlight] = field(default_factory=dict)
    quantities: dict[str, Value] = field(default_factory=dict)
    _exhaust: dict[str, Value] = field(default_factory=dict)
    _mixtures: dict[str, Mixture] = field(default_factory=dict)
    _derived: dict[Formula, Value] = field(default_factory=dict)
    _vent_rates: dict[tuple[str, int, Environment], Value] = field(default_factory=dict)
    _unusable: dict[tuple[str, int], Value] = field(default_factory=dict)
    _burnable: dict[tuple[str, str], Array] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for element in self.mission.elements:
            self.elements[element.name] = element
            apart = element.name in self.mission.apart
            self.places[element.name] = Place.APART if apart else Place.STACK
            self.engines.update((engine.name, engine) for engine in element.engines)
        for leg in reversed(self.mission.legs):
            if isinstance(leg, Burn):
                self.feeding[leg.tank] = leg.engine
        self.stack_mass = self.workspace.keep()
        self.stack_mass.fill(0.0)

    def read(self, number: Number) -> Value:
        """Give a number's value: itself where fixed, else one for each case (n,)."""
        if isinstance(number, Column):
            row: Array = self.columns[number.index]
            return row
        if isinstance(number, Formula):
            if number not in self._derived:
                arguments = [self.read(argument) for argument in number.arguments]
                self._derived[number] = FORMULAS[number.kind].compute(*arguments)
            return self._derived[number]
        return number

    def exhaust_velocity(self, engine: str) -> Value:
        """Give an engine's exhaust velocity, computed once per block, m/s."""
        if engine not in self._exhaust:
            self._exhaust[engine] = rocket.exhaust_velocity(self.read(self.engines[engine].isp_s))
        return self._exhaust[engine]

    def engine_mixture(self, engine: str, tank: TankState) -> Mixture:
        """Give the mixture an engine burns, computed once per block."""
        ratio = self.engines[engine].mixture_ratio
        return self._mixture(f"engine {engine}", tank, ratio)

    def load_mixture(self, tank: TankState) -> Mixture:
        """Give the mixture a tank is loaded at, computed once per block."""
        return self._mixture(f"load of {tank.tank.name}", tank, tank.tank.load_ratio)

    def _mixture(self, basis: str, tank: TankState, ratio: Number | None) -> Mixture:
        if len(tank.tank.liquids) == 1 or ratio is None:
            return _ALL_FUEL
        if basis not in self._mixtures:
            self._mixtures[basis] = Mixture.at_ratio(basis, self.read(ratio))
        return self._mixtures[basis]

    def vent_rate(self, tank: TankState, position: int) -> Value | None:
        """Give what a liquid's heat leak vents, kg/s, computed once per block; None without one."""
        liquid = tank.tank.liquids[position]
        leak = liquid.heat_leak_in(self.environment)
        if leak is None or liquid.vent_heat_j_kg is None:
            return None
        key = tank.tank.name, position, self.environment
        if key not in self._vent_rates:
            heat = self.read(liquid.vent_heat_j_kg)
            self._vent_rates[key] = boil_off.vent_rate(self.read(leak), heat)
        return self._vent_rates[key]

    def refilled(self, tank: TankState) -> None:
        """Forget what was unusable in a tank: what has been put into it has changed."""
        for position in range(len(tank.contents)):
            self._unusable.pop((tank.tank.name, position), None)

    def in_stack(self, tank: TankState) -> bool:
        """Tell whether a tank's element is part of the stack."""
        return self.places[tank.element] is Place.STACK

    def usable(self, tank: TankState, position: int, out: Array) -> Array:
        """Give one liquid's contents above its unusable part, kg (n,)."""
        key = tank.tank.name, position
        if key not in self._unusable:
            self._unusable[key] = self.read(tank.tank.unusable) * tank.loaded[position]
        return np.subtract(tank.contents[position], self._unusable[key], out=out)

    def burnable(self, tank: TankState, mixture: Mixture) -> Array:
        """Give the propellant that can still be burned at a mixture, kg (n,).

        The liquid that runs out first decides; a shortfall of either is negative. What is
        given belongs to the state and holds until the next leg.
        """
        key = tank.tank.name, mixture.basis
        if key not in self._burnable:
            out, other = self.workspace.keep(), self.workspace.temporary()
            np.multiply(self.usable(tank, 0, out), mixture.whole_per_part[0], out=out)
            for position in range(1, len(mixture.shares)):
                self.usable(tank, position, other)
                np.multiply(other, mixture.whole_per_part[position], out=other)
                np.minimum(out, other, out=out)
            self._burnable[key] = out
        return self._burnable[key]

    def end_leg(self) -> None:
        """Forget what held only since the last leg."""
        self.workspace.end_step()
        self._burnable.clear()

    def note(self, name: str, value: Value) -> None:
        """Keep a quantity of the current leg for the ledger, when one is kept."""
        if self.records:
            kept = np.array(value, dtype=np.float64, copy=True)
            self.quantities[name] = kept
