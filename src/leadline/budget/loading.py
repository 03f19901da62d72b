"""Propellant put into tanks, moved between them and taken out."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from leadline.budget.state import Mixture, Place, State, TankState, Value
from leadline.budget.tank_facts import note_facts
from leadline.vehicle import Load, Transfer

Array = npt.NDArray[np.float64]

__all__ = ["begin", "fill", "load", "spend", "transfer"]


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
            note_facts(state, tank)
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


def load(leg: Load, state: State) -> None:
    """Put propellant into a tank."""
    held = state.tanks[leg.tank]
    wanted = held.tank.load_kg if leg.amount_kg is None else leg.amount_kg
    amount = state.read(wanted)
    fill(state, held, amount)
    state.note("loaded_kg", amount)


def spend(state: State, held: TankState, mixture: Mixture, amount_kg: Value) -> None:
    """Take propellant out of a tank and off the stack."""
    part = state.workspace.temporary()
    for contents, share in zip(held.contents, mixture.shares, strict=True):
        np.multiply(amount_kg, share, out=part)
        np.subtract(contents, part, out=contents)
    np.subtract(state.stack_mass, amount_kg, out=state.stack_mass)


def transfer(leg: Transfer, state: State) -> None:
    """Move propellant from one tank to another."""
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
