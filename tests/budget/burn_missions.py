"""Missions of one burn of finite length; all numbers invented."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt

from budget.missions import ENGINE, TANK, ferry_mission, storable_tank
from leadline.budget import Ledger, compile_plan
from leadline.constants import STANDARD_GRAVITY_M_S2
from leadline.vehicle import (
    BeltShell,
    Burn,
    Completion,
    Engine,
    FiniteBurn,
    Mission,
    Number,
    Requirement,
    Supply,
)

__all__ = ["BELTS", "DRY_KG", "LOAD_KG", "NO_DRAWS", "START_KG", "departing", "flown", "margins_of", "quantity"]

NO_DRAWS: Final = np.empty((0, 1))
LOAD_KG: Final = 60_000.0
DRY_KG: Final = 10_000.0
START_KG: Final = LOAD_KG + DRY_KG
BELTS: Final = (BeltShell("inner", 1e6, 12e6, "encyclopaedia"), BeltShell("outer", 13e6, 60e6, "encyclopaedia"))

Array = npt.NDArray[np.float64]


def departing(
    finite: FiniteBurn,
    weight: float = 0.1,
    *,
    cost: Number = 3100.0,
    isp: Number = 450.0,
    requirements: tuple[Requirement, ...] = (),
    ignitions: tuple[Number, ...] = (),
    running: int | None = None,
    boil_off_per_s: Number | None = None,
    dry_mass_kg: Number = DRY_KG,
    others: Any = (),
    apart: frozenset[str] = frozenset(),
    **engine: Any,
) -> Mission:
    """Build a ferry that burns once, with so many weights of thrust at the first ignition."""
    thrust = engine.pop("thrust_n", weight * STANDARD_GRAVITY_M_S2 * START_KG)
    motor = Engine(ENGINE, isp, thrust_n=thrust, mixture_ratio=1.65, **engine)
    leg = Burn("go", ENGINE, TANK, cost, finite, ignitions, running)
    asked = (Completion("completion of go", "go"), Supply("supply", TANK), *requirements)
    tank = storable_tank(load_kg=LOAD_KG, boil_off_per_s=boil_off_per_s)
    return ferry_mission((leg,), asked, tank=tank, engine=motor, dry_mass_kg=dry_mass_kg, others=others, apart=apart)


def flown(mission: Mission, columns: Array = NO_DRAWS) -> Ledger:
    """Fly it and keep the ledger."""
    return compile_plan(mission).ledger(columns)


def quantity(ledger: Ledger, name: str) -> float:
    """Give what the burn did in the first case."""
    return float(ledger.rows[1].quantities[name][0])


def margins_of(mission: Mission, columns: Array = NO_DRAWS) -> dict[str, Array]:
    """Give the margins by requirement."""
    plan = compile_plan(mission)
    return {r.name: m.copy() for r, m in zip(plan.requirements, plan.evaluate(columns).margins, strict=True)}
