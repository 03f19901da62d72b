"""One margin function for each kind of requirement, in one registry.

A margin is the signed distance to the bound, in the unit of the thing bounded, zero or
more when the requirement holds, and continuous through zero. A requirement is checked at
one leg or at several; its margin is the least of its checks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from leadline.budget.state import Mixture, State
from leadline.physics import rocket
from leadline.units import humanise
from leadline.vehicle import (
    Burn,
    BurnTime,
    DeltaVLeft,
    ElapsedTime,
    LiftedMass,
    Load,
    Measure,
    Mission,
    Number,
    PropellantLeft,
    Role,
    StackMass,
    Supply,
    TankFill,
    Transfer,
)

__all__ = ["KINDS", "START", "RequirementKind", "bound_text"]

Array = npt.NDArray[np.float64]
Margin = Callable[[Any, State, Array], None]
START: Final = -1
"""The position of a check made before the first leg."""


@dataclass(frozen=True, slots=True)
class RequirementKind:
    """What the core knows of a kind of requirement.

    Parameters
    ----------
    kind
        The kind's name.
    unit
        SI unit of the margin.
    margin
        ``margin(requirement, state, out)`` writes the margin as the block now stands.
    legs
        ``legs(requirement, mission)`` gives the legs after which it is checked.
    sentence
        ``sentence(requirement)`` says what must hold, with the bound where it is fixed.
    """

    kind: str
    unit: str
    margin: Margin
    legs: Callable[[Any, Mission], tuple[int, ...]]
    sentence: Callable[[Any], str]


def bound_text(bound: Number, unit: str) -> str:
    """Say a bound for people; a dispersed bound is said to be so."""
    return humanise(bound, unit) if isinstance(bound, float | int) else "a dispersed bound"


def _all_of(names: tuple[str, ...], verb: str) -> str:
    """Give a sentence's subject and verb: one ends in s, several are joined."""
    return f"{names[0]} {verb}s" if len(names) == 1 else f"{' and '.join(names)} together {verb}"


def _after(requirement: Any, mission: Mission) -> tuple[int, ...]:
    """Give the position of the leg a requirement names, or of the last leg."""
    names = [leg.name for leg in mission.legs]
    after = requirement.after
    return (len(names) - 1 if after is None else names.index(after),)


def _when(requirement: Any) -> str:
    return "at the end" if requirement.after is None else f"after {requirement.after}"


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
    return f"{counted} in {requirement.tank} {_when(requirement)} is at least {bound}"


def _delta_v_left(requirement: DeltaVLeft, state: State, out: Array) -> None:
    held = state.tanks[requirement.tank]
    burnable = state.burnable(held, state.engine_mixture(requirement.engine, held))
    rocket.delta_v(state.exhaust_velocity(requirement.engine), state.stack_mass, burnable, out=out)
    np.subtract(out, state.read(requirement.at_least_m_s), out=out)


def _tank_fill(requirement: TankFill, state: State, out: Array) -> None:
    held = state.tanks[requirement.tank]
    volume = 0.0 if held.tank.volume_m3 is None else state.read(held.tank.volume_m3)
    out[:] = volume * (1.0 - state.read(held.tank.ullage))
    for liquid, contents in zip(held.tank.liquids, held.contents, strict=True):
        taken = state.workspace.temporary()
        np.divide(contents, state.read(liquid.density_kg_m3), out=taken)
        np.subtract(out, taken, out=out)


def _fill_legs(requirement: TankFill, mission: Mission) -> tuple[int, ...]:
    filling = tuple(
        position
        for position, leg in enumerate(mission.legs)
        if (isinstance(leg, Load) and leg.tank == requirement.tank)
        or (isinstance(leg, Transfer) and leg.target == requirement.tank)
    )
    loaded_later = any(isinstance(leg, Load) and leg.tank == requirement.tank for leg in mission.legs)
    return filling if loaded_later else (START, *filling)


def _lifted(requirement: LiftedMass, state: State, out: Array) -> None:
    out.fill(0.0)
    for name in requirement.elements:
        np.subtract(out, state.read(state.elements[name].dry_mass_kg), out=out)
    for held in state.tanks.values():
        if held.element in requirement.elements:
            for contents in held.contents:
                np.subtract(out, contents, out=out)
    np.add(out, state.read(requirement.at_most_kg), out=out)


def _burn_time(requirement: BurnTime, state: State, out: Array) -> None:
    out.fill(0.0)
    for burn in requirement.burns:
        np.subtract(out, state.burn_times[burn], out=out)
    np.add(out, state.read(requirement.at_most_s), out=out)


def _burn_legs(requirement: BurnTime, mission: Mission) -> tuple[int, ...]:
    return (max(i for i, leg in enumerate(mission.legs) if leg.name in requirement.burns),)


def _stack_mass(requirement: StackMass, state: State, out: Array) -> None:
    np.subtract(state.read(requirement.at_most_kg), state.stack_mass, out=out)


def _elapsed(requirement: ElapsedTime, state: State, out: Array) -> None:
    np.subtract(state.read(requirement.at_most_s), state.elapsed, out=out)


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


_ALL: Final = {
    PropellantLeft: RequirementKind("propellant", "kg", _propellant_left, _after, _propellant_sentence),
    DeltaVLeft: RequirementKind(
        "delta_v",
        "m/s",
        _delta_v_left,
        _after,
        lambda r: (
            f"velocity change that {r.tank} could still give {_when(r)} is at least {bound_text(r.at_least_m_s, 'm/s')}"
        ),
    ),
    TankFill: RequirementKind(
        "fill",
        "m3",
        _tank_fill,
        _fill_legs,
        lambda r: f"what is put into {r.tank} fits its volume less the ullage",
    ),
    LiftedMass: RequirementKind(
        "lifted",
        "kg",
        _lifted,
        lambda _r, _m: (START,),
        lambda r: f"{_all_of(r.elements, 'weigh')}, as launched, at most {bound_text(r.at_most_kg, 'kg')}",
    ),
    BurnTime: RequirementKind(
        "burn_time",
        "s",
        _burn_time,
        _burn_legs,
        lambda r: f"{_all_of(r.burns, 'last')} at most {bound_text(r.at_most_s, 's')}",
    ),
    StackMass: RequirementKind(
        "stack_mass",
        "kg",
        _stack_mass,
        _after,
        lambda r: f"the stack {_when(r)} weighs at most {bound_text(r.at_most_kg, 'kg')}",
    ),
    ElapsedTime: RequirementKind(
        "elapsed",
        "s",
        _elapsed,
        _after,
        lambda r: f"the time gone by {_when(r)} is at most {bound_text(r.at_most_s, 's')}",
    ),
    Supply: RequirementKind(
        "supply",
        "kg",
        _supply,
        _supply_legs,
        lambda r: f"every leg that draws on {r.tank} finds the propellant it asks for",
    ),
}

KINDS: Final[Mapping[type, RequirementKind]] = MappingProxyType(_ALL)
"""Every kind of requirement the core can check."""
