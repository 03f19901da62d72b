"""The step of a burn."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from leadline.budget.loading import spend
from leadline.budget.state import State, Value
from leadline.physics import rocket
from leadline.vehicle import Burn

Array = npt.NDArray[np.float64]

__all__ = ["burn"]


def burn(leg: Burn, state: State) -> None:
    """Burn from one tank with one engine."""
    engine, held = state.engines[leg.engine], state.tanks[leg.tank]
    mixture = state.engine_mixture(leg.engine, held)
    exhaust = state.exhaust_velocity(leg.engine)
    if engine.start_loss_kg != 0.0:
        spend(state, held, mixture, state.read(engine.start_loss_kg))
    used = rocket.propellant_used(
        state.read(leg.delta_v_m_s), exhaust, state.stack_mass, out=state.workspace.temporary()
    )
    spend(state, held, mixture, used)
    if engine.stop_loss_kg != 0.0:
        spend(state, held, mixture, state.read(engine.stop_loss_kg))
    state.feeding[leg.tank] = leg.engine
    state.note("delta_v_m_s", state.read(leg.delta_v_m_s))
    state.note("propellant_burned_kg", used)
    if state.keeps_time and engine.thrust_n is not None:
        _clock(leg, state, used, exhaust, state.read(engine.thrust_n))


def _clock(leg: Burn, state: State, used_kg: Array, exhaust: Value, thrust_n: Value) -> None:
    seconds = rocket.burn_time(used_kg, exhaust, thrust_n, out=state.workspace.keep())
    state.burn_times[leg.name] = seconds
    state.elapsed = state.elapsed + seconds
    state.note("burn_time_s", seconds)
