"""Margins of what tanks hold."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget.requirement_kind import START, RequirementKind, after, bound_text, when
from leadline.budget.state import Mixture, State, TankState
from leadline.physics import rocket
from leadline.vehicle import (
    Burn,
    DeltaVLeft,
    Load,
    Measure,
    Mission,
    PropellantLeft,
    Refuel,
    Role,
    Supply,
    TankFill,
    Transfer,
    VentRoom,
)

Array = npt.NDArray[np.float64]

__all__ = ["TANK_KINDS", "fill_legs"]


def _mixture(state: State, tank: str) -> Mixture:
    """Give the mixture at which a tank's propellant is counted as burnable."""
    held = state.tanks[tank]
    if isinstance(state.leg, Transfer) and state.leg.source == tank:
        return state.load_mixture(state.tanks[state.leg.target])
    engine = state.feeding.get(tank)
    return state.load_mixture(held) if engine is None else state.engine_mixture(engine, held)


def _propellant_left(requirement: PropellantLeft, state: State, out: Array) -> None:
    held = state.tanks[requirement.tank]
    roles = [liquid.role for liquid in held.tank.liquids]
    if requirement.measure is Measure.BURNABLE:
        left = state.burnable(held, _mixture(state, requirement.tank))
    elif requirement.measure is Measure.TOTAL:
        left = state.usable(held, 0, out)
        for position in range(1, len(roles)):
            left += state.usable(held, position, state.workspace.temporary())
    else:
        left = state.usable(held, roles.index(Role(requirement.measure.value)), out)
    np.subtract(left, state.read(requirement.at_least_kg), out=out)


def _propellant_sentence(requirement: PropellantLeft) -> str:
    counted = {
        Measure.BURNABLE: "burnable propellant",
        Measure.TOTAL: "propellant, both liquids",
        Measure.OXIDISER: "oxidiser",
        Measure.FUEL: "fuel",
    }[requirement.measure]
    bound = bound_text(requirement.at_least_kg, "kg")
    return f"{counted} in {requirement.tank} {when(requirement)} is at least {bound}"


def _delta_v_left(requirement: DeltaVLeft, state: State, out: Array) -> None:
    held = state.tanks[requirement.tank]
    burnable = state.burnable(held, state.engine_mixture(requirement.engine, held))
    rocket.delta_v(state.exhaust_velocity(requirement.engine), state.stack_mass, burnable, out=out)
    np.subtract(out, state.read(requirement.at_least_m_s), out=out)


def _tank_fill(requirement: TankFill, state: State, out: Array) -> None:
    held = state.tanks[requirement.tank]
    if held.tank.volume_m3 is None:
        _fill_apart(held, state, out)
        return
    volume = state.read(held.tank.volume_m3)
    out[:] = volume * (1.0 - state.read(held.tank.ullage))
    for liquid, contents in zip(held.tank.liquids, held.contents, strict=True):
        taken = state.workspace.temporary()
        np.divide(contents, state.read(liquid.density_kg_m3), out=taken)
        np.subtract(out, taken, out=out)


def _fill_apart(held: TankState, state: State, out: Array) -> None:
    """Write the lesser room left where each liquid has a volume of its own."""
    kept = 1.0 - state.read(held.tank.ullage)
    out.fill(np.inf)
    for liquid, contents in zip(held.tank.liquids, held.contents, strict=True):
        room = state.workspace.temporary()
        np.divide(contents, state.read(liquid.density_kg_m3), out=room)
        volume = 0.0 if liquid.volume_m3 is None else state.read(liquid.volume_m3)
        np.subtract(volume * kept, room, out=room)
        np.minimum(out, room, out=out)


def fill_legs(requirement: TankFill | VentRoom, mission: Mission) -> tuple[int, ...]:
    """Give the positions of the legs that fill a tank, and the start where it is full from there."""
    filling = tuple(
        position
        for position, leg in enumerate(mission.legs)
        if (isinstance(leg, Load | Refuel) and leg.tank == requirement.tank)
        or (isinstance(leg, Transfer) and leg.target == requirement.tank)
    )
    loaded_later = any(isinstance(leg, Load | Refuel) and leg.tank == requirement.tank for leg in mission.legs)
    return filling if loaded_later else (START, *filling)


def _supply(requirement: Supply, state: State, out: Array) -> None:
    mixture = _mixture(state, requirement.tank)
    np.copyto(out, state.burnable(state.tanks[requirement.tank], mixture))


def _supply_legs(requirement: Supply, mission: Mission) -> tuple[int, ...]:
    return tuple(
        position
        for position, leg in enumerate(mission.legs)
        if (isinstance(leg, Burn) and leg.tank == requirement.tank)
        or (isinstance(leg, Transfer) and leg.source == requirement.tank)
    )


TANK_KINDS: Final[Mapping[type, RequirementKind]] = MappingProxyType(
    {
        PropellantLeft: RequirementKind("propellant", "kg", _propellant_left, after, _propellant_sentence),
        DeltaVLeft: RequirementKind(
            "delta_v",
            "m/s",
            _delta_v_left,
            after,
            lambda r: (
                f"velocity change that {r.tank} could still give {when(r)} "
                f"is at least {bound_text(r.at_least_m_s, 'm/s')}"
            ),
        ),
        TankFill: RequirementKind(
            "fill",
            "m3",
            _tank_fill,
            fill_legs,
            lambda r: f"what is put into {r.tank} fits its volume less the ullage",
        ),
        Supply: RequirementKind(
            "supply",
            "kg",
            _supply,
            _supply_legs,
            lambda r: f"every leg that draws on {r.tank} finds the propellant it asks for",
        ),
    }
)
"""What can be asked of tanks."""
