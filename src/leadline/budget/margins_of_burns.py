"""Margins of burns: what they lose, whether they complete and start, how long the belts are met."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget.requirement_kind import RequirementKind, all_of, bound_text
from leadline.budget.state import State
from leadline.vehicle import BeltTime, Burn, BurnLoss, Completion, Ignition, Mission

__all__ = ["BURN_KINDS"]

Array = npt.NDArray[np.float64]


def _loss(requirement: BurnLoss, state: State, out: Array) -> None:
    out.fill(0.0)
    for burn in requirement.burns:
        np.subtract(out, state.flown[burn].loss_m_s, out=out)
    np.add(out, state.read(requirement.at_most_m_s), out=out)


def _loss_sentence(requirement: BurnLoss) -> str:
    bound = bound_text(requirement.at_most_m_s, "m/s")
    return f"{all_of(requirement.burns, 'lose')} at most {bound} against an impulse"


def _last_of(requirement: BurnLoss, mission: Mission) -> tuple[int, ...]:
    return (max(i for i, leg in enumerate(mission.legs) if leg.name in requirement.burns),)


def _belt_time(requirement: BeltTime, state: State, out: Array) -> None:
    out.fill(0.0)
    for flown in state.flown.values():
        for belt, seconds in flown.belt_times_s.items():
            if requirement.belt in {None, belt}:
                np.subtract(out, seconds, out=out)
    np.add(out, state.read(requirement.at_most_s), out=out)


def _last_with_belts(requirement: BeltTime, mission: Mission) -> tuple[int, ...]:  # noqa: ARG001 - a kind's signature
    met = [
        position
        for position, leg in enumerate(mission.legs)
        if isinstance(leg, Burn) and leg.finite is not None and leg.finite.belts
    ]
    return (met[-1],)


def _belt_sentence(requirement: BeltTime) -> str:
    where = "the radiation belts" if requirement.belt is None else f"the {requirement.belt} radiation belt"
    return f"the time in {where} is at most {bound_text(requirement.at_most_s, 's')}"


def _completion(requirement: Completion, state: State, out: Array) -> None:
    np.copyto(out, state.flown[requirement.burn].spare_arc_rad)


def _ignition(requirement: Ignition, state: State, out: Array) -> None:
    np.copyto(out, state.ignitions[requirement.burn])


def _at_burn(requirement: Completion | Ignition, mission: Mission) -> tuple[int, ...]:
    return (next(i for i, leg in enumerate(mission.legs) if leg.name == requirement.burn),)


BURN_KINDS: Final[Mapping[type, RequirementKind]] = MappingProxyType(
    {
        BurnLoss: RequirementKind(
            "loss",
            "m/s",
            _loss,
            _last_of,
            _loss_sentence,
        ),
        BeltTime: RequirementKind("belt_hours", "s", _belt_time, _last_with_belts, _belt_sentence),
        Completion: RequirementKind(
            "completion",
            "rad",
            _completion,
            _at_burn,
            lambda r: f"the thrust is enough for {r.burn}: the arc of a pass stays within what the steering allows",
        ),
        Ignition: RequirementKind(
            "ignition",
            "",
            _ignition,
            _at_burn,
            lambda r: f"enough engines light at every start of {r.burn}",
        ),
    }
)
"""What can be asked of burns besides their time."""
