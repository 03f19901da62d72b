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
from leadline.physics.perigee_passes import pass_course
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
    perigees_m, energies_j_kg : (p, n) or (0, n)
        Perigee radius, m, and specific energy, J/kg, of the orbit after each pass; no rows where nobody asks.
    """

    loss_m_s: Array
    arc_rad: Array
    arc_limit_rad: Array
    periods_s: Array
    perigees_m: Array
    energies_j_kg: Array


def chart(finite: FiniteBurn, impulse: Impulse, *, paths: bool) -> Course:
    """Read the tables for a block of cases.

    Parameters
    ----------
    finite
        Orbit, steering and passes.
    impulse
        Cost and thrust of each case.
    paths
        Whether the orbits between the passes are asked for.

    Returns
    -------
    Course
    """
    course = _read(finite, impulse, paths=paths)
    low = course.arc_rad > course.arc_limit_rad
    if low.any():
        enough = impulse.where(low).within(course.arc_rad[low], course.arc_limit_rad[low])
        slow = _read(finite, enough, paths=paths)
        course.loss_m_s[low] = slow.loss_m_s
        course.perigees_m[:, low], course.energies_j_kg[:, low] = slow.perigees_m, slow.energies_j_kg
    if finite.belts:  # a burn longer than half a turn leaves no orbit about one perigee, whose belts could be told
        return replace(course, arc_limit_rad=np.minimum(course.arc_limit_rad, PASS_ARC_LIMIT_RAD))
    return course


def _read(finite: FiniteBurn, impulse: Impulse, *, paths: bool) -> Course:
    if finite.passes > 1:
        return _shared(finite, impulse, paths=paths)
    gravity, _ = BODIES[finite.body]
    numbers = (impulse.cost_m_s, impulse.exhaust_m_s, impulse.acceleration_m_s2)
    if finite.arrives:
        one = tables.arrival_loss(*numbers, radius_m=impulse.radius_m, gravity_m3_s2=gravity)
    else:
        steering = tables.Steering(finite.steering.value)
        one = tables.departure_loss(*numbers, radius_m=impulse.radius_m, gravity_m3_s2=gravity, steering=steering)
    none = np.empty((0, one.loss_m_s.size))
    ways = (none, none)
    if paths:
        within = impulse.within(one.arc_rad, np.full_like(one.arc_rad, PASS_ARC_LIMIT_RAD))
        out = _shared(finite, within, paths=True)
        ways = (out.perigees_m, out.energies_j_kg)
    return Course(one.loss_m_s, one.arc_rad, one.arc_limit_rad, none, *ways)


def _shared(finite: FiniteBurn, impulse: Impulse, *, paths: bool) -> Course:
    """Read the table of burns shared between passes."""
    read = pass_course(
        impulse.cost_m_s,
        impulse.exhaust_m_s,
        impulse.acceleration_m_s2,
        passes=finite.passes,
        radius_m=impulse.radius_m,
        gravity_m3_s2=BODIES[finite.body][0],
        paths=paths,
    )
    limit = np.full_like(read.arc_rad, PASS_ARC_LIMIT_RAD)
    return Course(read.loss_m_s, read.arc_rad, limit, read.period_s, read.perigee_radius_m, read.energy_j_kg)


def belt_stays(finite: FiniteBurn, course: Course) -> dict[str, belts.BeltStay]:
    """Give the stay in each belt over all passes and on the way out, by the belt's name; the course has its paths."""
    gravity, body_radius = BODIES[finite.body]
    shells = [_belt(shell) for shell in finite.belts]
    place = {"gravity_m3_s2": gravity, "body_radius_m": body_radius}
    stays = belts.stays(shells, course.perigees_m, course.energies_j_kg, **place)
    return {shell.name: stay for shell, stay in zip(finite.belts, stays, strict=True)}


def _belt(shell: BeltShell) -> belts.Belt:
    return belts.Belt(shell.name, shell.low_m, shell.high_m, belts.INNER_BELT.source)
