"""What the tables say of a burn of finite length: loss, arc, periods between passes, time in the belts.

Where the thrust is too low for the table, the loss is that of the lowest thrust it holds, so that every other margin
stays a number; the spare arc is below zero there and names the failure. Where the cost or the exhaust velocity lies
outside, the loss is no number.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import EARTH_GM_M3_S2, EARTH_RADIUS_M, MOON_GM_M3_S2, MOON_RADIUS_M
from leadline.physics import belts
from leadline.physics import finite_burn as tables
from leadline.physics.finite_burn_grid import PASS_ARC_LIMIT_RAD
from leadline.physics.perigee_passes import pass_orbits, perigee_passes
from leadline.vehicle import BeltShell, FiniteBurn

__all__ = ["BODIES", "Course", "Impulse", "belt_stays", "chart"]

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Value = Array | float

BODIES: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {"earth": (EARTH_GM_M3_S2, EARTH_RADIUS_M), "moon": (MOON_GM_M3_S2, MOON_RADIUS_M)}
)
"""Gravitational parameter, m3/s2, and radius that altitudes count from, m."""

_JUST_ENOUGH: Final = 1.0 + 1e-12
"""Keeps a clamped thrust on the inner side of the table's edge in spite of rounding."""


@dataclass(frozen=True, slots=True)
class Impulse:
    """The burn as an impulse, and the thrust it is drawn out by.

    Parameters
    ----------
    cost_m_s, exhaust_m_s : float or (n,)
        Impulsive cost and exhaust velocity, m/s.
    acceleration_m_s2 : (n,)
        Thrust over mass at the first ignition, m/s2.
    radius_m : float or (n,)
        Radius of the circular orbit from the body's centre, m.
    """

    cost_m_s: Value
    exhaust_m_s: Value
    acceleration_m_s2: Array
    radius_m: Value

    def where(self, flags: Flags) -> Impulse:
        """Give the cases that are flagged."""
        parts = (self.cost_m_s, self.exhaust_m_s, self.acceleration_m_s2, self.radius_m)
        n = flags.size
        cost, exhaust, acceleration, radius = (np.broadcast_to(part, n)[flags] for part in parts)
        return Impulse(cost, exhaust, acceleration, radius)

    def within(self, arc_rad: Array, limit_rad: Array) -> Impulse:
        """Give the same burn with at least the thrust that keeps its arc (rad) within a limit."""
        enough = self.acceleration_m_s2 * np.maximum(arc_rad / limit_rad * _JUST_ENOUGH, 1.0)
        return replace(self, acceleration_m_s2=enough)


@dataclass(frozen=True, slots=True)
class Course:
    """How a burn goes.

    Parameters
    ----------
    loss_m_s, arc_rad, arc_limit_rad : (n,)
        Loss, m/s, of all passes; impulsive burn time of one pass times angular rate of the orbit, and how much of it
        steering, table and belts allow.
    periods_s : (p - 1, n)
        Periods of the orbits between the passes, s.
    impulse
        What it was read for.
    """

    loss_m_s: Array
    arc_rad: Array
    arc_limit_rad: Array
    periods_s: Array
    impulse: Impulse


def chart(finite: FiniteBurn, impulse: Impulse) -> Course:
    """Read the tables for a block of cases.

    Parameters
    ----------
    finite
        Orbit, steering and passes.
    impulse
        Cost and thrust of each case.

    Returns
    -------
    Course
    """
    loss, arc, limit, periods = _read(finite, impulse)
    low = arc > limit
    if low.any():
        loss[low] = _read(finite, impulse.where(low).within(arc[low], limit[low]))[0]
    if finite.belts:  # a burn longer than half a turn leaves no orbit about one perigee, whose belts could be told
        limit = np.minimum(limit, PASS_ARC_LIMIT_RAD)
    return Course(loss, arc, limit, periods, impulse)


def _read(finite: FiniteBurn, impulse: Impulse) -> tuple[Array, Array, Array, Array]:
    """Return loss (m/s), arc and its limit (rad), and the periods between passes (s)."""
    gravity, _ = BODIES[finite.body]
    numbers = (impulse.cost_m_s, impulse.exhaust_m_s, impulse.acceleration_m_s2)
    radius = impulse.radius_m
    if finite.passes > 1:
        shared = perigee_passes(*numbers, passes=finite.passes, radius_m=radius, gravity_m3_s2=gravity)
        return shared.loss_m_s, shared.arc_rad, shared.arc_limit_rad, shared.period_s
    if finite.arrives:
        one = tables.arrival_loss(*numbers, radius_m=radius, gravity_m3_s2=gravity)
    else:
        steering = tables.Steering(finite.steering.value)
        one = tables.departure_loss(*numbers, radius_m=radius, gravity_m3_s2=gravity, steering=steering)
    return one.loss_m_s, one.arc_rad, one.arc_limit_rad, np.empty((0, one.loss_m_s.size))


def belt_stays(finite: FiniteBurn, course: Course) -> dict[str, belts.BeltStay]:
    """Give the stay in each belt over all passes and on the way out, by the belt's name."""
    gravity, body_radius = BODIES[finite.body]
    workable = course.impulse.within(course.arc_rad, course.arc_limit_rad)
    orbits = pass_orbits(
        workable.cost_m_s,
        workable.exhaust_m_s,
        workable.acceleration_m_s2,
        passes=finite.passes,
        radius_m=workable.radius_m,
        gravity_m3_s2=gravity,
    )
    place = {"gravity_m3_s2": gravity, "body_radius_m": body_radius}
    return {
        shell.name: belts.stay(_belt(shell), orbits.perigee_radius_m, orbits.energy_j_kg, **place)
        for shell in finite.belts
    }


def _belt(shell: BeltShell) -> belts.Belt:
    return belts.Belt(shell.name, shell.low_m, shell.high_m, belts.INNER_BELT.source)
