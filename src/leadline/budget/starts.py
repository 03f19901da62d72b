"""Starts of engines: how many light, and what each start and stop takes.

A start of `count` engines draws one number u from 0 to 1. The number lit is the inverse of the binomial law at u: at
least m engines light where u is at most P(lit >= m), so that a small u is a good start. The distance of u from
P(lit >= needed) is then a margin, continuous through zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget.loading import spend
from leadline.budget.state import Mixture, State, TankState, Value
from leadline.constants import Source, Standing
from leadline.vehicle import Burn, Engine

__all__ = ["SOURCE", "Firing", "chance_of_at_least", "fire"]

Array = npt.NDArray[np.float64]

SOURCE: Final = Source(
    "Binomial law: each of several engines lights with the same chance, apart from the others",
    "any textbook of reliability, k out of n",
    Standing.PUBLISHED,
)


@dataclass(frozen=True, slots=True)
class Firing:
    """The engines of a burn, running.

    Parameters
    ----------
    held, mixture
        The tank they burn from and how its propellant splits.
    exhaust_m_s : float or (n,)
        Exhaust velocity, m/s.
    thrust_n : float or (n,)
        Thrust of all that run, N; None where the study gives none.
    start_kg, stop_kg : float or (n,)
        Propellant that each start and each stop takes, kg; None for nothing.
    """

    held: TankState
    mixture: Mixture
    exhaust_m_s: Value
    thrust_n: Value | None
    start_kg: Value | None
    stop_kg: Value | None

    def start(self, state: State) -> None:
        """Take what a start takes."""
        if self.start_kg is not None:
            spend(state, self.held, self.mixture, self.start_kg)

    def stop(self, state: State) -> None:
        """Take what a stop takes."""
        if self.stop_kg is not None:
            spend(state, self.held, self.mixture, self.stop_kg)


def fire(leg: Burn, state: State) -> Firing:
    """Light the engines of a burn, for all of its starts.

    Parameters
    ----------
    leg
        The burn.
    state
        The block; what the requirement on ignition needs is kept there.

    Returns
    -------
    Firing
        What runs, the least over the starts.
    """
    engine, held = state.engines[leg.engine], state.tanks[leg.tank]
    tried = engine.count if leg.running is None else leg.running
    running = _running(leg, engine, tried, state)
    if engine.count > 1:
        state.note("engines_running", running)
    thrust = None if engine.thrust_n is None else _times(state.read(engine.thrust_n), running)
    start = None if engine.start_loss_kg == 0.0 else _times(state.read(engine.start_loss_kg), float(tried))
    stop = None if engine.stop_loss_kg == 0.0 else _times(state.read(engine.stop_loss_kg), running)
    starts = 1.0 if leg.finite is None else float(leg.finite.passes)
    for name, each in (("start_loss_kg", start), ("stop_loss_kg", stop)):
        if each is not None and state.records:
            state.note(name, _times(each, starts))
    exhaust = state.exhaust_velocity(leg.engine)
    return Firing(held, state.engine_mixture(leg.engine, held), exhaust, thrust, start, stop)


def _times(each: Value, number: Value) -> Value:
    return each if isinstance(number, float) and number == 1.0 else each * number


def _running(leg: Burn, engine: Engine, tried: int, state: State) -> Value:
    """Give how many engines run, and keep by how much the worst start went well."""
    if engine.ignites is None:
        return float(tried)
    worst = state.read(leg.ignitions[0])
    for draw in leg.ignitions[1:]:
        worst = np.asarray(np.maximum(worst, state.read(draw)))
    chance = state.read(engine.ignites)
    state.ignitions[leg.name] = chance_of_at_least(engine.needed, tried, chance) - worst
    running: Value = float(engine.needed)
    for number in range(engine.needed + 1, tried + 1):
        running = np.asarray(running + (worst <= chance_of_at_least(number, tried, chance)), dtype=np.float64)
    return running


def chance_of_at_least(needed: int, count: int, chance: Value) -> Value:
    """Chance that at least so many of several engines light.

    Parameters
    ----------
    needed, count
        How many must light, and how many there are.
    chance : float or (n,)
        Chance that one lights.

    Returns
    -------
    float or (n,)
        Sum over k from `needed` to `count` of C(count, k) p^k (1 - p)^(count - k).
    """
    total: Value = 0.0
    for lit in range(needed, count + 1):
        total = total + comb(count, lit) * chance**lit * (1.0 - chance) ** (count - lit)
    return total
