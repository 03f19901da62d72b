"""One step function for each kind of leg, in one registry.

A step takes the block of cases from before its leg to after it, in place. A new kind of
leg is a noun in `leadline.vehicle`, a step in a module beside this one and a line in `STEPS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, Final

from leadline.budget.burning import burn
from leadline.budget.coasting import coast
from leadline.budget.entering import enter
from leadline.budget.loading import load, transfer
from leadline.budget.moving import dock, drop, undock
from leadline.budget.refuelling import refuel
from leadline.budget.state import State
from leadline.vehicle import Burn, Coast, Dock, Drop, Entry, Load, Refuel, Transfer, Undock

__all__ = ["STEPS", "Step"]

Step = Callable[[Any, State], None]

STEPS: Final[Mapping[type, Step]] = MappingProxyType(
    {
        Load: load,
        Burn: burn,
        Coast: coast,
        Drop: drop,
        Undock: undock,
        Dock: dock,
        Transfer: transfer,
        Refuel: refuel,
        Entry: enter,
    }
)
"""The step of every kind of leg."""
