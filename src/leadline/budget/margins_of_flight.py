"""Margins of mass and time."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget.requirement_kind import START, RequirementKind, after, all_of, bound_text, when
from leadline.budget.state import State
from leadline.vehicle import (
    BurnTime,
    ElapsedTime,
    LiftedMass,
    Mission,
    StackMass,
)

Array = npt.NDArray[np.float64]

__all__ = ["FLIGHT_KINDS"]


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


FLIGHT_KINDS: Final[Mapping[type, RequirementKind]] = MappingProxyType(
    {
        LiftedMass: RequirementKind(
            "lifted",
            "kg",
            _lifted,
            lambda r, m: (START,) if r.after is None else after(r, m),
            lambda r: (
                f"{all_of(r.elements, 'weigh')}, {'as launched' if r.after is None else f'as after {r.after}'}, "
                f"at most {bound_text(r.at_most_kg, 'kg')}"
            ),
        ),
        BurnTime: RequirementKind(
            "burn_time",
            "s",
            _burn_time,
            _burn_legs,
            lambda r: f"{all_of(r.burns, 'last')} at most {bound_text(r.at_most_s, 's')}",
        ),
        StackMass: RequirementKind(
            "stack_mass",
            "kg",
            _stack_mass,
            after,
            lambda r: f"the stack {when(r)} weighs at most {bound_text(r.at_most_kg, 'kg')}",
        ),
        ElapsedTime: RequirementKind(
            "elapsed",
            "s",
            _elapsed,
            after,
            lambda r: f"the time gone by {when(r)} is at most {bound_text(r.at_most_s, 's')}",
        ),
    }
)
"""What can be asked of mass and time."""
