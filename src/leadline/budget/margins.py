"""One margin function for each kind of requirement, in one registry.

A margin is the signed distance to the bound, in the unit of the thing bounded, zero or
more when the requirement holds, and continuous through zero. A requirement is checked at
one leg or at several; its margin is the least of its checks.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from leadline.budget.margins_of_flight import FLIGHT_KINDS
from leadline.budget.margins_of_tanks import TANK_KINDS
from leadline.budget.requirement_kind import RequirementKind

__all__ = ["KINDS"]

KINDS: Final[Mapping[type, RequirementKind]] = MappingProxyType({**TANK_KINDS, **FLIGHT_KINDS})
"""Every kind of requirement the core can check."""
