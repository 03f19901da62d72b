"""Whether the tables of finite burns reach a burn, at the middle of its numbers.

Thrust is no matter here: where it is too low, a case fails by name.
"""

from __future__ import annotations

from math import sqrt
from typing import Final

from leadline.budget.formulas import FORMULAS
from leadline.budget.pass_courses import BODIES
from leadline.constants import STANDARD_GRAVITY_M_S2
from leadline.physics.finite_burn_grid import ARRIVAL_AXES, COST_LIMIT, MASS_LIMIT, pass_cost_limit
from leadline.study.burn_orbit import BurnOrbit
from leadline.study.model_costs import CostRecord
from leadline.study.model_numbers import Value, median
from leadline.study.model_vehicle import EngineRecord
from leadline.study.numbers import Numbers
from leadline.study.walk import Walk
from leadline.units import humanise
from leadline.vehicle import Column, Formula, Number

__all__ = ["check_reach"]

_WITHOUT_TABLE: Final = "Take steering, passes and belts out, and put the loss into the cost."


def check_reach(
    cost: Value | CostRecord, passes: int, engine: EngineRecord | None, orbit: BurnOrbit, walk: Walk
) -> None:
    """Note where the tables do not hold a burn.

    Parameters
    ----------
    cost, passes, engine, orbit
        The burn; nothing is said of the exhaust velocity without an engine.
    walk
        Where issues are noted.
    """
    delta_v = _middle_cost(cost)
    if delta_v is None:
        return
    gravity, body_radius = BODIES[orbit.about]
    speed = sqrt(gravity / (body_radius + median(orbit.altitude)))
    said = f"The cost of {humanise(delta_v, 'm/s')}"
    if delta_v > COST_LIMIT * speed:
        message = f"{said} is more than the circular speed of {humanise(speed, 'm/s')}, where the table of losses ends."
        walk.refuse("cost", "beyond-table", message, _WITHOUT_TABLE)
    elif delta_v > pass_cost_limit(passes) * speed:
        most = max(fewer for fewer in range(1, passes) if delta_v <= pass_cost_limit(fewer) * speed)
        message = f"{said} is so high that the orbit does not return for the last of {passes} passes."
        walk.refuse("passes", "beyond-table", message, f"Write {most} passes at most.")
    if engine is not None:
        most_exhausts = ARRIVAL_AXES[2].high if orbit.arrives else MASS_LIMIT
        if delta_v > most_exhausts * median(engine.isp) * STANDARD_GRAVITY_M_S2:
            message = f"{said} is more than {most_exhausts:g} exhaust velocities, where the table of losses ends."
            walk.refuse("cost", "beyond-table", message, _WITHOUT_TABLE)


def _middle_cost(cost: Value | CostRecord) -> float | None:
    """Give the cost with every number at its median, m/s; None where it takes an ephemeris."""
    if not isinstance(cost, CostRecord):
        return median(cost)
    numbers = Numbers()
    return _evaluated(cost.bind(numbers), numbers)


def _evaluated(number: Number, numbers: Numbers) -> float | None:
    if isinstance(number, Column):
        return float(numbers.inputs[number.index].law.median)
    if not isinstance(number, Formula):
        return number
    values = [_evaluated(argument, numbers) for argument in number.arguments]
    if number.kind == "moon_distance" or None in values:
        return None
    return float(FORMULAS[number.kind].compute(*values))
