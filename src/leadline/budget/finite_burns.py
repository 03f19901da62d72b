"""A burn of finite length, pass by pass.

The cost and the loss together are shared evenly between the passes. Each pass is a start, a burn and a stop; between
two passes the stack flies round, and tanks boil off.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from leadline.budget.coasting import boil_all
from leadline.budget.flown import FlownBurn
from leadline.budget.loading import spend
from leadline.budget.pass_courses import BODIES, Course, Impulse, belt_stays, chart
from leadline.budget.starts import Firing
from leadline.budget.state import State, Value
from leadline.physics import rocket
from leadline.vehicle import BeltTime, Burn, FiniteBurn

__all__ = ["burn_at_length"]

Array = npt.NDArray[np.float64]


def burn_at_length(leg: Burn, finite: FiniteBurn, state: State, firing: Firing) -> None:
    """Burn with the loss that the time taken brings.

    Parameters
    ----------
    leg, finite
        The burn and its orbit, steering and passes.
    state
        The block.
    firing
        The engines, lit; they have a thrust.
    """
    thrust = 1.0 if firing.thrust_n is None else firing.thrust_n  # a study without one is refused
    firing.start(state)
    acceleration = np.divide(thrust, state.stack_mass, out=state.workspace.keep())
    cost = state.read(leg.delta_v_m_s)
    radius = BODIES[finite.body][1] + state.read(finite.altitude_m)
    belts_asked = _belts_asked(finite, state)
    course = chart(finite, Impulse(cost, firing.exhaust_m_s, acceleration, radius), paths=belts_asked)
    state.note("acceleration_m_s2", acceleration)
    state.note("delta_v_m_s", cost)
    state.note("loss_m_s", course.loss_m_s)
    state.note("arc_rad", course.arc_rad)
    _Passes(finite.passes, state, firing, thrust).fly(leg.name, cost, course)
    spare = course.arc_limit_rad - course.arc_rad
    times = _belt_times(finite, state, course) if belts_asked else {}
    state.flown[leg.name] = FlownBurn(course.loss_m_s, spare, times)


class _Passes:
    """The passes of one burn, flown one after another, with what they add up to."""

    def __init__(self, passes: int, state: State, firing: Firing, thrust_n: Value) -> None:
        self.passes, self.state, self.firing, self.thrust_n = passes, state, firing, thrust_n
        keep = state.workspace.keep
        self.share, self.used, self.seconds = keep(), keep(), keep()
        self.all_used, self.all_seconds, self.waited = keep(), keep(), keep()
        for total in (self.all_used, self.all_seconds, self.waited):
            total.fill(0.0)

    def fly(self, name: str, cost: Value, course: Course) -> None:
        """Fly all passes and note what they came to."""
        one = np.add(cost, course.loss_m_s, out=self.share)
        one /= self.passes
        rocket.propellant_used(one, self.firing.exhaust_m_s, 1.0, out=self.share)
        for position in range(self.passes):
            if position > 0:
                self._wait(course.periods_s[position - 1])
                self.firing.start(self.state)
            self._burn()
        self._clock(name)

    def _burn(self) -> None:
        state, firing = self.state, self.firing
        np.multiply(state.stack_mass, self.share, out=self.used)
        spend(state, firing.held, firing.mixture, self.used)
        rocket.burn_time(self.used, firing.exhaust_m_s, self.thrust_n, out=self.seconds)
        self.all_used += self.used
        self.all_seconds += self.seconds
        firing.stop(state)
        state.workspace.end_step()

    def _wait(self, period_s: Array) -> None:
        """Fly round: the period less half of the burn behind and half of the one ahead, shorter by its share."""
        gap = np.multiply(self.share, 0.5, out=self.used)
        gap -= 1.0
        gap *= self.seconds
        gap += period_s
        np.maximum(gap, 0.0, out=gap)
        self.waited += gap
        boil_all(self.state, gap)

    def _clock(self, name: str) -> None:
        """Keep the time under thrust and the time gone by."""
        state = self.state
        state.burn_times[name] = self.all_seconds
        if state.keeps_time:
            state.elapsed = state.elapsed + self.all_seconds + self.waited
        state.note("propellant_burned_kg", self.all_used)
        state.note("burn_time_s", self.all_seconds)
        if self.passes > 1:
            state.note("passes", float(self.passes))
            state.note("between_passes_s", self.waited)


def _belts_asked(finite: FiniteBurn, state: State) -> bool:
    """Tell whether a requirement or the ledger asks for the time in the belts."""
    asked = state.records or any(isinstance(r, BeltTime) for r in state.mission.requirements)
    return asked and bool(finite.belts)


def _belt_times(finite: FiniteBurn, state: State, course: Course) -> dict[str, Array]:
    """Give the time in each belt."""
    stays = belt_stays(finite, course)
    for name, stay in stays.items():
        state.note(f"belt_time_s.{name}", stay.time_s)
        state.note(f"belt_legs.{name}", stay.legs)
    return {name: stay.time_s for name, stay in stays.items()}
