"""Margins of entries."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget.entering import ballistic_coefficient
from leadline.budget.requirement_kind import RequirementKind, bound_text
from leadline.budget.state import State
from leadline.physics.entry_table import RANGES, TableFlight
from leadline.vehicle import BallisticRange, Capture, Deceleration, Entry, Heating, HeatLoad, Mission, PeakHeating

Array = npt.NDArray[np.float64]

__all__ = ["ENTRY_KINDS"]


def _capture(requirement: Capture, state: State, out: Array) -> None:
    """Write how much steeper than the shallowest captured entry it is, rad."""
    np.copyto(out, state.entries[requirement.entry].skip_margin_rad)


def _ballistic_range(requirement: BallisticRange, state: State, out: Array) -> None:
    leg = next(leg for leg in state.mission.legs if leg.name == requirement.entry)
    low, high = RANGES.ballistic_coefficient_kg_m2
    beta = ballistic_coefficient(leg, state) if isinstance(leg, Entry) else np.nan
    np.minimum(np.subtract(beta, low), np.subtract(high, beta), out=out)


def _peak(flight: TableFlight, part: Heating) -> Array:
    return {
        Heating.TOTAL: flight.peak_total_w_m2,
        Heating.CONVECTIVE: flight.peak_convective_w_m2,
        Heating.RADIATIVE: flight.peak_radiative_w_m2,
    }[part]


def _peak_heating(requirement: PeakHeating, state: State, out: Array) -> None:
    peak = _peak(state.entries[requirement.entry], requirement.part)
    np.subtract(state.read(requirement.at_most_w_m2), peak, out=out)


def _load(flight: TableFlight, part: Heating) -> Array:
    if part is Heating.TOTAL:
        return flight.total_load_j_m2
    return flight.convective_load_j_m2 if part is Heating.CONVECTIVE else flight.radiative_load_j_m2


def _heat_load(requirement: HeatLoad, state: State, out: Array) -> None:
    load = _load(state.entries[requirement.entry], requirement.part)
    np.subtract(state.read(requirement.at_most_j_m2), load, out=out)


def _deceleration(requirement: Deceleration, state: State, out: Array) -> None:
    felt = state.entries[requirement.entry].peak_deceleration_m_s2
    np.subtract(state.read(requirement.at_most_m_s2), felt, out=out)


def _at_entry(
    requirement: Capture | BallisticRange | PeakHeating | HeatLoad | Deceleration, mission: Mission
) -> tuple[int, ...]:
    return ([leg.name for leg in mission.legs].index(requirement.entry),)


def _part_of(part: Heating) -> str:
    return "" if part is Heating.TOTAL else f"{part.value} "


ENTRY_KINDS: Final[Mapping[type, RequirementKind]] = MappingProxyType(
    {
        Capture: RequirementKind(
            "capture",
            "rad",
            _capture,
            _at_entry,
            lambda r: f"{r.entry} is steep enough not to skip out again",
        ),
        BallisticRange: RequirementKind(
            "ballistic_range",
            "kg/m2",
            _ballistic_range,
            _at_entry,
            lambda r: (
                f"the ballistic coefficient at {r.entry} is within what the table of entries covers, "
                f"{RANGES.ballistic_coefficient_kg_m2[0]:g} to {RANGES.ballistic_coefficient_kg_m2[1]:g} kg/m2"
            ),
        ),
        PeakHeating: RequirementKind(
            "peak_heating",
            "W/m2",
            _peak_heating,
            _at_entry,
            lambda r: f"peak {_part_of(r.part)}heating at {r.entry} is at most {bound_text(r.at_most_w_m2, 'W/m2')}",
        ),
        HeatLoad: RequirementKind(
            "heat_load",
            "J/m2",
            _heat_load,
            _at_entry,
            lambda r: f"{_part_of(r.part)}heat load of {r.entry} is at most {bound_text(r.at_most_j_m2, 'J/m2')}",
        ),
        Deceleration: RequirementKind(
            "deceleration",
            "m/s2",
            _deceleration,
            _at_entry,
            lambda r: f"deceleration felt at {r.entry} is at most {bound_text(r.at_most_m_s2, 'm/s2')}",
        ),
    }
)
"""What can be asked of entries."""
