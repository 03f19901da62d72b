"""Elements that join the stack and leave it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from leadline.budget.state import Place, State
from leadline.vehicle import Dock, Drop, Undock

Array = npt.NDArray[np.float64]

__all__ = ["dock", "drop", "undock"]


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


def drop(leg: Drop, state: State) -> None:
    """Leave an element behind for good."""
    _part(state, leg.element, Place.GONE)


def undock(leg: Undock, state: State) -> None:
    """Take an element off the stack, to stay near."""
    _part(state, leg.element, Place.APART)


def dock(leg: Dock, state: State) -> None:
    """Join an element to the stack."""
    state.places[leg.element] = Place.STACK
    _weigh(state, leg.element, np.add)
