"""The step of a burn: at once, or with the time it takes."""

from __future__ import annotations

from leadline.budget.finite_burns import burn_at_length
from leadline.budget.loading import spend
from leadline.budget.starts import Firing, fire
from leadline.budget.state import State
from leadline.physics import rocket
from leadline.vehicle import Burn

__all__ = ["burn"]


def burn(leg: Burn, state: State) -> None:
    """Burn from one tank with one engine, or several of its kind."""
    firing = fire(leg, state)
    if leg.finite is None:
        _burn_at_once(leg, state, firing)
    else:
        burn_at_length(leg, leg.finite, state, firing)
    state.feeding[leg.tank] = leg.engine


def _burn_at_once(leg: Burn, state: State, firing: Firing) -> None:
    firing.start(state)
    cost = state.read(leg.delta_v_m_s)
    used = rocket.propellant_used(cost, firing.exhaust_m_s, state.stack_mass, out=state.workspace.temporary())
    spend(state, firing.held, firing.mixture, used)
    firing.stop(state)
    state.note("delta_v_m_s", cost)
    state.note("propellant_burned_kg", used)
    if state.keeps_time and firing.thrust_n is not None:
        seconds = rocket.burn_time(used, firing.exhaust_m_s, firing.thrust_n, out=state.workspace.keep())
        state.burn_times[leg.name] = seconds
        state.elapsed = state.elapsed + seconds
        state.note("burn_time_s", seconds)
