"""Time gone by, and what boils away in it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from leadline.budget.state import Place, State, TankState, Value
from leadline.physics import boil_off
from leadline.vehicle import Coast

Array = npt.NDArray[np.float64]

__all__ = ["boil", "boil_all", "coast"]


def _any(_: TankState) -> bool:
    return True


def coast(leg: Coast, state: State) -> None:
    """Let time pass in every tank that still belongs to the mission."""
    if leg.environment is not None:
        state.environment = leg.environment
    duration = state.read(leg.duration_s)
    boil_all(state, duration)
    state.elapsed = state.elapsed + duration if state.keeps_time else 0.0
    state.note("duration_s", duration)


def boil_all(state: State, duration_s: Value, may_boil: Callable[[TankState], bool] = _any) -> None:
    """Boil, for a time, every tank that still belongs to the mission and may have something to boil."""
    for held in state.tanks.values():
        if state.places[held.element] is not Place.GONE and may_boil(held):
            boil(state, held, duration_s)
            state.workspace.end_step()


def boil(state: State, held: TankState, duration_s: Value) -> None:
    """Boil a tank for a time, each liquid on its own.

    Heat that depends on the environment is that of the last coast that named one; before
    the first, of low Earth orbit.
    """
    for position, liquid in enumerate(held.tank.liquids):
        contents, out = held.contents[position], state.workspace.temporary()
        vented = state.vent_rate(held, position)
        if liquid.boil_off_per_s is not None:
            rate = state.read(liquid.boil_off_per_s)
            boil_off.boiled_by_rate(contents, rate, duration_s, out=out)
        elif vented is not None:
            boil_off.boiled_by_heat(contents, vented, duration_s, out=out)
        else:
            continue
        np.subtract(contents, out, out=contents)
        if state.in_stack(held):
            np.subtract(state.stack_mass, out, out=state.stack_mass)
        _note(state, f"boiled_off_kg.{held.tank.name}.{liquid.role.value}", out)


def _note(state: State, name: str, lost_kg: Array) -> None:
    """Note what boiled away, on top of what did in the same leg before."""
    if state.records:
        state.note(name, state.quantities.get(name, 0.0) + lost_kg)
