"""One margin function for each kind of requirement, in one registry.

A margin is the signed distance to the bound, in the unit of the thing bounded, zero or
more when the requirement holds, and continuous through zero. A requirement is checked at
one leg or at several; its margin is the least of its checks.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from leadline.budget.margins_of_boil_off import BOIL_OFF_KINDS
from leadline.budget.margins_of_burns import BURN_KINDS
from leadline.budget.margins_of_entry import ENTRY_KINDS
from leadline.budget.margins_of_flight import FLIGHT_KINDS
from leadline.budget.margins_of_heat import HEAT_KINDS
from leadline.budget.margins_of_refuelling import REFUELLING_KINDS
from leadline.budget.margins_of_tanks import TANK_KINDS
from leadline.budget.requirement_kind import RequirementKind

__all__ = ["KINDS"]

KINDS: Final[Mapping[type, RequirementKind]] = MappingProxyType(
    {**TANK_KINDS, **BOIL_OFF_KINDS, **FLIGHT_KINDS, **BURN_KINDS, **REFUELLING_KINDS, **ENTRY_KINDS, **HEAT_KINDS}
)
"""Every kind of requirement the core can check."""
