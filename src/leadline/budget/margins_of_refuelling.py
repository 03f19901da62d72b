"""Margins of tanker campaigns."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget.requirement_kind import RequirementKind, bound_text
from leadline.budget.state import State
from leadline.vehicle import Filled, FlightsUsed, Mission

Array = npt.NDArray[np.float64]

__all__ = ["REFUELLING_KINDS"]


def _filled(requirement: Filled, state: State, out: Array) -> None:
    """Write by how much the flights could have brought more by the deadline, or what is missing, kg."""
    np.copyto(out, state.filling[requirement.leg])


def _flights_used(requirement: FlightsUsed, state: State, out: Array) -> None:
    np.subtract(state.read(requirement.at_most), state.flights_used[requirement.leg], out=out)


def _at_leg(requirement: Filled | FlightsUsed, mission: Mission) -> tuple[int, ...]:
    return ([leg.name for leg in mission.legs].index(requirement.leg),)


REFUELLING_KINDS: Final[Mapping[type, RequirementKind]] = MappingProxyType(
    {
        Filled: RequirementKind(
            "filled", "kg", _filled, _at_leg, lambda r: f"the tanker flights of {r.leg} fill {r.tank} up to its load"
        ),
        FlightsUsed: RequirementKind(
            "flights",
            "",
            _flights_used,
            _at_leg,
            lambda r: f"{r.leg} takes at most {bound_text(r.at_most, '')} tanker flights",
        ),
    }
)
"""What can be asked of tanker campaigns."""
