"""Margins of radiators."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget.requirement_kind import START, RequirementKind, after, bound_text
from leadline.budget.state import State, Value
from leadline.constants import Source, Standing
from leadline.physics.radiator import ENVIRONMENTS, Coating, absorbed, rejection_margin
from leadline.vehicle import HeatRejected, Mission

Array = npt.NDArray[np.float64]

__all__ = ["HEAT_KINDS"]

_STATED: Final = Source("The study itself", "absorptance and emittance as stated", Standing.PRACTICE)


def _heat_rejected(requirement: HeatRejected, state: State, out: Array) -> None:
    coating = Coating(state.read(requirement.absorptance), state.read(requirement.emittance), _STATED)
    margin = rejection_margin(
        state.read(requirement.at_least_w),
        state.read(requirement.area_m2),
        state.read(requirement.temperature_k),
        ENVIRONMENTS[requirement.environment],
        coating,
        state.read(requirement.open_share),
    )
    np.copyto(out, margin)


def _sentence(requirement: HeatRejected) -> str:
    bound = bound_text(requirement.at_least_w, "W")
    said = f"the radiator rejects at least {bound} ({requirement.environment})"
    a, e = requirement.absorptance, requirement.emittance
    if not isinstance(a, float | int) or not isinstance(e, float | int):
        return said
    heat: Value = absorbed(ENVIRONMENTS[requirement.environment], Coating(a, e, _STATED))
    return f"{said}, where it takes in {heat:.4g} W/m2 at absorptance {a:g} and emittance {e:g}"


def _when(requirement: HeatRejected, mission: Mission) -> tuple[int, ...]:
    return (START,) if requirement.after is None else after(requirement, mission)


HEAT_KINDS: Final[Mapping[type, RequirementKind]] = MappingProxyType(
    {HeatRejected: RequirementKind("heat_rejected", "W", _heat_rejected, _when, _sentence)}
)
"""What can be asked of radiators."""
