"""One step function for each kind of leg, in one registry.

A step takes the block of cases from before its leg to after it, in place. A new kind of
leg is a noun in `leadline.vehicle`, a step here and a line in `STEPS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from leadline.budget.state import Mixture, Place, State, TankState, Value
from leadline.physics import boil_off, rocket
from leadline.vehicle import Burn, Coast, Dock, Drop, Load, Transfer, Undock

__all__ = ["STEPS", "begin", "fill"]

Array = npt.NDArray[np.float64]
Step = Callable[[Any, State], None]


def begin(state: State, empty: frozenset[str]) -> None:
    """Put the block at the start of the mission: elements weighed, tanks loaded.

    Parameters
    ----------
    state
        A fresh state.
    empty
        Tanks that a later leg loads and that therefore start empty.
    """
    for element in state.mission.elements:
        if state.places[element.name] is Place.STACK:
            np.add(state.stack_mass, state.read(element.dry_mass_kg), out=state.stack_mass)
        for tank in element.tanks:
            contents = [state.workspace.keep() for _ in tank.liquids]
            for liquid in contents:
                liquid.fill(0.0)
            held = TankState(tank, element.name, contents, [0.0] * len(contents))
            state.tanks[tank.name] = held
            if tank.name not in empty:
                fill(state, held, state.read(tank.load_kg))
            state.workspace.end_step()


def fill(state: State, held: TankState, amount_kg: Value) -> None:
    """Put propellant into a tank at the ratio it is loaded at.

    Parameters
    ----------
    state
        The block.
    held
        The tank.
    amount_kg : float or (n,)
        Both liquids together, kg.
    """
    for position, share in enumerate(state.load_mixture(held).shares):
        part = amount_kg * share
        held.contents[position] += part
        held.loaded[position] = held.loaded[position] + part
    if state.in_stack(held):
        state.stack_mass += amount_kg


def _load(leg: Load, state: State) -> None:
    held = state.tanks[leg.tank]
    wanted = held.tank.load_kg if leg.amount_kg is None else leg.amount_kg
    amount = state.read(wanted)
    fill(state, held, amount)
    state.note("loaded_kg", amount)


def _spend(state: State, held: TankState, mixture: Mixture, amount_kg: Value) -> None:
    """Take propellant out of a tank and off the stack."""
    part = state.workspace.temporary()
    for contents, share in zip(held.contents, mixture.shares, strict=True):
        np.multiply(amount_kg, share, out=part)
        np.subtract(contents, part, out=contents)
    np.subtract(state.stack_mass, amount_kg, out=state.stack_mass)


def _burn(leg: Burn, state: State) -> None:
    engine, held = state.engines[leg.engine], state.tanks[leg.tank]
    mixture = state.engine_mixture(leg.engine, held)
    exhaust = state.exhaust_velocity(leg.engine)
    if engine.start_loss_kg != 0.0:
        _spend(state, held, mixture, state.read(engine.start_loss_kg))
    used = rocket.propellant_used(
        state.read(leg.delta_v_m_s), exhaust, state.stack_mass, out=state.workspace.temporary()
    )
    _spend(state, held, mixture, used)
    if engine.stop_loss_kg != 0.0:
        _spend(state, held, mixture, state.read(engine.stop_loss_kg))
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


def _coast(leg: Coast, state: State) -> None:
    duration = state.read(leg.duration_s)
    for held in state.tanks.values():
        if state.places[held.element] is not Place.GONE:
            _boil(state, held, duration)
            state.workspace.end_step()
    state.elapsed = state.elapsed + duration if state.keeps_time else 0.0
    state.note("duration_s", duration)


def _boil(state: State, held: TankState, duration_s: Value) -> None:
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
        state.note(f"boiled_off_kg.{held.tank.name}.{liquid.role.value}", out)


def _part(state: State, element: str, place: Place) -> None:
    """Take an element and what it holds off the stack."""
    if state.places[element] is Place.STACK:
        _weigh(state, element, np.subtract)
    state.places[element] = place


def _weigh(state: State, element: str, change: np.ufunc) -> None:
    """Add an element's mass and contents to the stack's, or subtract them."""
    change(state.stack_mass, state.read(state.elements[element].dry_mass_kg), out=state.stack_mass)
    for held in state.tanks.values():
        if held.element == element:
            for contents in held.contents:
                change(state.stack_mass, contents, out=state.stack_mass)


def _drop(leg: Drop, state: State) -> None:
    _part(state, leg.element, Place.GONE)


def _undock(leg: Undock, state: State) -> None:
    _part(state, leg.element, Place.APART)


def _dock(leg: Dock, state: State) -> None:
    state.places[leg.element] = Place.STACK
    _weigh(state, leg.element, np.add)


def _transfer(leg: Transfer, state: State) -> None:
    source, target = state.tanks[leg.source], state.tanks[leg.target]
    amount = state.read(leg.amount_kg)
    arriving = amount * (1.0 - state.read(leg.loss))
    mixture = state.load_mixture(target)
    for position, share in enumerate(mixture.shares):
        source.contents[position] -= amount * share
    if state.in_stack(source):
        state.stack_mass -= amount
    fill(state, target, arriving)
    state.note("moved_kg", amount)
    state.note("lost_kg", amount - arriving)


STEPS: Final[Mapping[type, Step]] = MappingProxyType(
    {
        Load: _load,
        Burn: _burn,
        Coast: _coast,
        Drop: _drop,
        Undock: _undock,
        Dock: _dock,
        Transfer: _transfer,
    }
)
"""The step of every kind of leg."""
