"""Margins of closed tanks that warm up."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget.margins_of_tanks import fill_legs
from leadline.budget.requirement_kind import RequirementKind
from leadline.budget.state import State
from leadline.vehicle import VentRoom

Array = npt.NDArray[np.float64]

__all__ = ["BOIL_OFF_KINDS"]


def _vent_room(requirement: VentRoom, state: State, out: Array) -> None:
    """Write the least room left when a liquid is as warm as it gets before its tank vents.

    The liquid swells as it warms; what little vapour then condenses is left out.
    """
    tank, contents = state.tanks[requirement.tank].tank, state.tanks[requirement.tank].contents
    out.fill(np.inf)
    for liquid, mass in zip(tank.liquids, contents, strict=True):
        volume = tank.volume_m3 if liquid.volume_m3 is None else liquid.volume_m3
        if liquid.vent_density_kg_m3 is None or volume is None:
            continue
        room = state.workspace.temporary()
        np.divide(mass, state.read(liquid.vent_density_kg_m3), out=room)
        np.subtract(state.read(volume), room, out=room)
        np.minimum(out, room, out=out)


BOIL_OFF_KINDS: Final[Mapping[type, RequirementKind]] = MappingProxyType(
    {
        VentRoom: RequirementKind(
            "vent_room",
            "m3",
            _vent_room,
            fill_legs,
            lambda r: f"what is put into {r.tank} still leaves room for vapour when it is warm enough to vent",
        ),
    }
)
"""What can be asked of closed tanks."""
