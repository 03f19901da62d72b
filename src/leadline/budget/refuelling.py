"""The step of a tanker campaign: flights one after another until a tank is full.

Every tank that still belongs to the mission boils off while the mission waits for a flight. A flight
brings each liquid in proportion to what the tank lacks of it, and never more than it lacks.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget.coasting import boil_all
from leadline.budget.state import State, TankState, Value
from leadline.vehicle import Refuel, TankerFlight

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

__all__ = ["refuel"]

_ROUNDING: Final = 1e-9
"""Share of a load by which a tank may miss it and still be full: what adding up in floating point costs."""


def refuel(leg: Refuel, state: State) -> None:
    """Fill a tank by tanker flights, until it holds its load, no flight is left or the deadline has passed."""
    campaign = _Campaign(leg, state)
    for number, flight in enumerate(leg.flights, start=1):
        campaign.wait(flight)
        campaign.fly(flight, number)
    campaign.end()


@dataclass(slots=True)
class _Campaign:
    """Where the cases stand in a campaign.

    Attributes
    ----------
    targets
        What the tank holds of each liquid when full, kg.
    lacks, lack : (n,)
        What is missing of each liquid, and of both together, kg.
    due : (n,)
        When the flight at hand comes, needed or not, since the campaign began, s.
    waited, passed : (n,)
        Time the mission waits for that flight, and has waited in all, s.
    spare : (n,)
        What flights bring, or could have brought, by the deadline beyond what was needed, kg; of full cases.
    used : (n,)
        Flights taken.
    full, in_time : (n,)
        Whether the tank holds its load, and whether the flight at hand comes before the deadline.
    """

    leg: Refuel
    state: State
    held: TankState = field(init=False)
    tolerance: Value = field(init=False)
    targets: list[Value] = field(init=False)
    lacks: list[Array] = field(init=False)
    lack: Array = field(init=False)
    due: Array = field(init=False)
    waited: Array = field(init=False)
    passed: Array = field(init=False)
    spare: Array = field(init=False)
    used: Array = field(init=False)
    full: Mask = field(init=False)
    in_time: Mask = field(init=False)

    def __post_init__(self) -> None:
        state, self.held = self.state, self.state.tanks[self.leg.tank]
        load = state.read(self.held.tank.load_kg)
        self.tolerance = _ROUNDING * load
        self.targets = [load * share for share in state.load_mixture(self.held).shares]
        self.lacks = [state.workspace.keep() for _ in self.targets]
        self.lack, self.waited = state.workspace.keep(), state.workspace.keep()
        self.due, self.passed, self.spare, self.used = (state.workspace.keep() for _ in range(4))
        for values in (self.due, self.passed, self.spare, self.used):
            values.fill(0.0)
        self._weigh()
        self.full = self.lack <= self.tolerance
        self.in_time = np.ones(self.full.shape, dtype=bool)

    def wait(self, flight: TankerFlight) -> None:
        """Let time pass until a flight comes, or the deadline; none passes where the tank is full."""
        deadline = np.inf if self.leg.deadline_s is None else self.state.read(self.leg.deadline_s)
        np.minimum(self.due, deadline, out=self.waited)
        self.due += self.state.read(flight.interval_s)
        np.subtract(np.minimum(self.due, deadline), self.waited, out=self.waited)
        self.waited *= ~self.full
        self.in_time = self.due <= deadline
        self.passed += self.waited
        boil_all(self.state, self.waited, self._may_boil)

    def fly(self, flight: TankerFlight, number: int) -> None:
        """Let a flight come; where it arrives in time and is still wanted, it fills what it can."""
        brought = self.state.workspace.temporary()
        np.multiply(self.state.read(flight.delivered_kg), self._arrived(flight), out=brought)
        self._weigh()
        wanted = ~self.full
        fills = wanted & (brought >= self.lack - self.tolerance)
        beyond = self.state.workspace.temporary()
        np.maximum(np.subtract(brought, self.lack, out=beyond), 0.0, out=beyond)
        self.spare += np.where(self.full, brought, beyond)  # zero where the flight does not fill the tank
        self._put(np.minimum(brought, self.lack, out=brought) * wanted)
        self.used += wanted & self.in_time
        self._note(number, brought, wanted)
        self.full |= fills

    def end(self) -> None:
        """Hand over how the campaign went."""
        state = self.state
        self._weigh()
        self.held.loaded = [self._kept(contents) for contents in self.held.contents]
        state.refilled(self.held)
        np.negative(self.lack, out=self.spare, where=~self.full)
        state.filling[self.leg.name], state.flights_used[self.leg.name] = self.spare, self.used
        state.elapsed = state.elapsed + self.passed if state.keeps_time else 0.0
        state.note("duration_s", self.passed)
        state.note("flights_used", self.used)

    def _weigh(self) -> None:
        """Find what is missing of each liquid."""
        self.lack.fill(0.0)
        for target, contents, lacks in zip(self.targets, self.held.contents, self.lacks, strict=True):
            np.maximum(np.subtract(target, contents, out=lacks), 0.0, out=lacks)
            self.lack += lacks

    def _may_boil(self, held: TankState) -> bool:
        """Tell whether there may be something in a tank to boil, or an account that says so of an empty one."""
        return held is self.held or held.ever_loaded or self.state.records

    def _arrived(self, flight: TankerFlight) -> Mask:
        if flight.arrival is None:
            return self.in_time
        return np.asarray(self.in_time & (self.state.read(flight.arrival) <= self.state.read(self.leg.arrives)))

    def _put(self, amount_kg: Array) -> None:
        """Put propellant into the tank, each liquid by its share of what is missing."""
        share = np.divide(amount_kg, self.lack, out=self.waited, where=self.lack > 0.0)
        for contents, lacks in zip(self.held.contents, self.lacks, strict=True):
            np.add(contents, np.multiply(lacks, share, out=lacks), out=contents)
        if self.state.in_stack(self.held):
            self.state.stack_mass += amount_kg

    def _note(self, number: int, brought_kg: Array, wanted: Mask) -> None:
        """Note when a flight came and what it put into the tank; nothing where no case takes it."""
        if self.state.records and np.any(wanted):
            self.state.note(f"campaign_time_s.flight {number}", self.due)
            self.state.note(f"filled_kg.flight {number}", brought_kg * wanted)

    def _kept(self, values: Array) -> Array:
        kept = self.state.workspace.keep()
        np.copyto(kept, values)
        return kept
