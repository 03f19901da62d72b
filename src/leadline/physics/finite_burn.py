"""What a burn of finite length loses against an impulse, from integrated tables.

The loss of a burn is ve ln(m0/mf) - dv: the ideal velocity spent beyond the impulsive cost dv of the same change of
orbital energy. The tables hold planar motion about a point mass with constant thrust and constant mass flow, between a
circular orbit and the energy that the impulse would have given. Three pure numbers fix it, so one table serves any body
and any altitude: the *arc* n t, which is the time the impulsive cost takes to burn times the angular rate of the
circular orbit (rad); the *cost* dv/vc over the circular speed; and the *mass* number dv/ve.

Largest error of the loss against direct integration (SciPy's DOP853, tolerance 1e-11), measured at 2000 random points
over each range (arc even in its logarithm from 0.01 rad, the others even):

======================  ======  =====================================================================
steering                error   range
======================  ======  =====================================================================
tangential, departing   0.25 %  arc up to 80 rad (12.7 turns), cost up to 1, mass number up to 2.5
tangential, arriving    0.32 %  the same, mass number up to 1.5
fixed, departing        0.15 %  as departing, and arc up to `finite_burn_grid.fixed_arc_limit`, where
                                the loss is about 30 % of the cost
======================  ======  =====================================================================

99 of 100 points are within 0.12, 0.18 and 0.07 %. The loss falls with thrust as long as the burn is shorter than a
turn; beyond, it ripples by up to 0.7 % from turn to turn, as the motion does.

About the Earth from 150 km up that holds every burn of 50 to 4500 m/s at 200 to 480 s of specific impulse that starts
at 0.005 weights or more. High thrust has no limit. Outside, the loss is NaN and the status says why: nothing is
extrapolated.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum, StrEnum
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import Source, Standing
from leadline.physics import finite_burn_grid as grid

__all__ = [
    "NEAR_IMPULSIVE_SOURCE",
    "SOURCE",
    "BurnLoss",
    "BurnStatus",
    "Steering",
    "arrival_loss",
    "burn_time",
    "departure_loss",
    "near_impulsive_fixed",
    "near_impulsive_tangential",
]

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Codes = npt.NDArray[np.int8]
Numbers = Array | float

BLOCK: Final = 8192
"""Cases worked on at once, so that what is in between stays in the processor's cache."""

SOURCE: Final = Source(
    "Leadline's own integration of constant-thrust burns",
    "python -m leadline.physics.finite_burn_table; checked against SciPy's DOP853",
    Standing.COMPUTED,
)

NEAR_IMPULSIVE_SOURCE: Final = Source(
    "H.M. Robbins, An analytical study of the impulsive approximation",
    "AIAA Journal 4(8), 1417-1423; leading term recalled, not read, and confirmed by integration",
    Standing.SECOND_HAND,
    1966,
)


class Steering(StrEnum):
    """Where the thrust points."""

    TANGENTIAL = "tangential"
    """Along the velocity, all the time."""
    FIXED = "fixed"
    """In one inertial direction, the best one for the burn."""


class BurnStatus(IntEnum):
    """Whether a burn can be carried out as asked, and if not, what stands in the way."""

    COMPLETES = 0
    THRUST_TOO_LOW = 1
    COST_TOO_HIGH = 2
    EXHAUST_TOO_SLOW = 3
    TURNS_FROM_FIXED_THRUST = 4
    PASS_TOO_LONG = 5
    LEAVES_TOO_EARLY = 6
    PROPELLANT_RUNS_OUT = 7
    NOT_A_BURN = 8

    @property
    def sentence(self) -> str:
        """What a reader is told."""
        return _SENTENCES[self]


_SENTENCES: Final = {
    BurnStatus.COMPLETES: "The burn completes.",
    BurnStatus.THRUST_TOO_LOW: "The thrust is too low: the burn spirals for more turns than the 12.7 of the table.",
    BurnStatus.COST_TOO_HIGH: "The cost is more than the circular speed, beyond the table.",
    BurnStatus.EXHAUST_TOO_SLOW: "The cost is more than 2.5 exhaust velocities, beyond the table.",
    BurnStatus.TURNS_FROM_FIXED_THRUST: "With fixed steering, the orbit turns away from the thrust during the burn.",
    BurnStatus.PASS_TOO_LONG: "One perigee pass burns through half a turn: it takes more passes or more thrust.",
    BurnStatus.LEAVES_TOO_EARLY: "The orbit does not return to perigee for the last pass: it takes fewer passes.",
    BurnStatus.PROPELLANT_RUNS_OUT: "The propellant runs out before the energy is reached.",
    BurnStatus.NOT_A_BURN: "A cost is below zero, or a mass, thrust, radius or exhaust velocity is not above zero.",
}


@dataclass(frozen=True, slots=True)
class BurnLoss:
    """Losses of n burns.

    Parameters
    ----------
    loss_m_s : (n,)
        Ideal velocity spent beyond the impulsive cost, m/s; NaN where the tables do not reach.
    arc_rad, arc_limit_rad : (n,)
        Impulsive burn time times angular rate, and how much of it steering and table allow. Their difference is a
        signed margin, smooth where the status flips.
    status : (n,)
        `BurnStatus` codes, int8.
    """

    loss_m_s: Array
    arc_rad: Array
    arc_limit_rad: Array
    status: Codes


def departure_loss(
    delta_v_m_s: Numbers,
    exhaust_velocity_m_s: Numbers,
    acceleration_m_s2: Numbers,
    *,
    radius_m: Numbers,
    gravity_m3_s2: float,
    steering: Steering = Steering.TANGENTIAL,
    available_m_s: Numbers = np.inf,
) -> BurnLoss:
    """Loss of one burn that leaves a circular orbit.

    Parameters
    ----------
    delta_v_m_s, exhaust_velocity_m_s, acceleration_m_s2 : float or (n,)
        Impulsive cost and exhaust velocity, m/s; thrust over mass at ignition, m/s2.
    radius_m : float or (n,)
        Radius of the circular orbit, from the body's centre, m.
    gravity_m3_s2
        Gravitational parameter of the body, m3/s2.
    steering
        Where the thrust points.
    available_m_s : float or (n,)
        Ideal velocity that the propellant at hand gives, m/s. Where cost and loss exceed it the status says so, and
        the loss still stands, so that the shortfall is a signed number.

    Returns
    -------
    BurnLoss
        Losses with a status each; the module's page has range, error and source.
    """
    name = "fixed" if steering is Steering.FIXED else "departure"
    burn = Burn.of(delta_v_m_s, exhaust_velocity_m_s, acceleration_m_s2, (radius_m, gravity_m3_s2), available_m_s)
    return _losses(name, burn)


def arrival_loss(
    delta_v_m_s: Numbers,
    exhaust_velocity_m_s: Numbers,
    acceleration_m_s2: Numbers,
    *,
    radius_m: Numbers,
    gravity_m3_s2: float,
    available_m_s: Numbers = np.inf,
) -> BurnLoss:
    """Loss of one burn that brakes against the velocity until the orbit is circular.

    It is a departure run backwards, with the mass growing. Parameters and result as in `departure_loss`; the radius is
    that of the circular orbit reached, where the impulsive cost is counted too.
    """
    burn = Burn.of(delta_v_m_s, exhaust_velocity_m_s, acceleration_m_s2, (radius_m, gravity_m3_s2), available_m_s)
    return _losses("arrival", burn)


def burn_time(ideal_velocity_m_s: Numbers, exhaust_velocity_m_s: Numbers, acceleration_m_s2: Numbers) -> Array:
    """Time to spend an ideal velocity (impulsive cost and loss together) at constant thrust.

    Parameters
    ----------
    ideal_velocity_m_s, exhaust_velocity_m_s, acceleration_m_s2 : float or (n,)
        Ideal velocity and exhaust velocity, m/s; thrust over mass at ignition, m/s2.

    Returns
    -------
    (n,)
        Seconds: (m0 ve/F) (1 - exp(-dv/ve)).
    """
    burnt = 1.0 - np.exp(-np.divide(ideal_velocity_m_s, exhaust_velocity_m_s))
    return np.asarray(burnt * exhaust_velocity_m_s / acceleration_m_s2)


def near_impulsive_fixed(delta_v_m_s: Numbers, arc_rad: Numbers) -> Array:
    """Leading term of the loss at the best fixed attitude, for arcs well below a radian.

    Parameters
    ----------
    delta_v_m_s, arc_rad : float or (n,)
        Impulsive cost, m/s; impulsive burn time times angular rate of the orbit, rad.

    Returns
    -------
    (n,)
        Loss, m/s: dv (n t)^2 / 24.
    """
    return np.asarray(delta_v_m_s * np.square(arc_rad) / 24.0)


def near_impulsive_tangential(delta_v_m_s: Numbers, arc_rad: Numbers, circular_speed_m_s: Numbers) -> Array:
    """Leading term of the loss along the velocity at constant acceleration, for arcs well below a radian.

    Parameters
    ----------
    delta_v_m_s, arc_rad, circular_speed_m_s : float or (n,)
        Impulsive cost, m/s; impulsive burn time times angular rate of the orbit, rad; speed on it, m/s.

    Returns
    -------
    (n,)
        Loss, m/s: dv (n t)^2 F(tau) / (tau^3 (1 + tau)) with tau = dv/vc, which must be above about 0.001.
    """
    tau = np.divide(delta_v_m_s, circular_speed_m_s)
    V = 1.0 + tau
    # The rise above the circle obeys y'' = V^2 - 1 + a y'/V, and the loss is to first order the integral of y dV / V^2:
    # F = tau^3/6 + tau^4/24 - [V^2/2 ln V - V^2/4 + 1/4 - tau^2/2]
    F = tau**3 / 6.0 + tau**4 / 24.0 - (V * V / 2.0 * np.log1p(tau) - V * V / 4.0 + 0.25 - tau * tau / 2.0)
    return np.asarray(delta_v_m_s * np.square(arc_rad) * F / (tau**3 * V))


@dataclass(frozen=True, slots=True)
class Burn:
    """What fixes the losses of n burns.

    Parameters
    ----------
    delta_v, exhaust, acceleration, rate, speed, available : (n,)
        Impulsive cost and exhaust velocity, m/s; acceleration at ignition, m/s2; angular rate of the circular orbit,
        rad/s, and speed on it, m/s; ideal velocity at hand, m/s.
    """

    delta_v: Array
    exhaust: Array
    acceleration: Array
    rate: Array
    speed: Array
    available: Array

    @classmethod
    def of(
        cls, delta_v: Numbers, exhaust: Numbers, acceleration: Numbers, orbit: tuple[Numbers, float], available: Numbers
    ) -> Burn:
        """Bring everything to one shape; `orbit` is radius and gravitational parameter."""
        radius, gravity = orbit
        with np.errstate(all="ignore"):
            rate = np.sqrt(gravity / np.power(radius, 3))
            columns = (delta_v, exhaust, acceleration, rate, rate * radius, available)
        return cls(*np.broadcast_arrays(*(np.atleast_1d(np.asarray(x, dtype=np.float64)) for x in columns)))

    def blocks(self) -> Iterator[tuple[slice, Burn]]:
        """Yield parts small enough for the cache."""
        columns = (self.delta_v, self.exhaust, self.acceleration, self.rate, self.speed, self.available)
        for start in range(0, self.delta_v.size, BLOCK):
            part = slice(start, start + BLOCK)
            yield part, Burn(*(column[part] for column in columns))

    def numbers(self) -> tuple[Array, Array, Array]:
        """Return arc (rad), cost and mass number."""
        mass = self.delta_v / self.exhaust
        arc = (1.0 - np.exp(-mass)) * self.exhaust * self.rate / self.acceleration
        return arc, self.delta_v / self.speed, mass

    def settle(self, loss: Array, obstacles: list[tuple[BurnStatus, Flags]]) -> Codes:
        """Return the status of each burn, and put NaN into the losses (m/s) of those that something stands against.

        `obstacles` come weightiest first, after what is no burn at all: flags written so that NaN is no burn.
        """
        sound = (self.delta_v >= 0.0) & (self.exhaust > 0.0) & (self.acceleration > 0.0) & (self.speed > 0.0)
        status = np.zeros(loss.shape, dtype=np.int8)
        status[loss + self.delta_v > self.available] = BurnStatus.PROPELLANT_RUNS_OUT
        for reason, flags in reversed([(BurnStatus.NOT_A_BURN, ~sound), *obstacles]):
            if flags.any():
                status[flags] = reason
                loss[flags] = np.nan
        return status


@lru_cache(maxsize=3)
def _table(name: str) -> grid.Table:
    axes = {"departure": grid.DEPARTURE_AXES, "arrival": grid.ARRIVAL_AXES, "fixed": grid.FIXED_AXES}
    return grid.Table(axes[name], grid.shipped()[name])


def _losses(name: str, burn: Burn) -> BurnLoss:
    n = burn.delta_v.size
    loss, arc, limit, status = np.empty(n), np.empty(n), np.empty(n), np.empty(n, dtype=np.int8)
    with np.errstate(all="ignore"):  # what is no burn may divide by zero; its status says so
        for part, block in burn.blocks():
            loss[part], arc[part], limit[part], status[part] = block_losses(name, block)
    return BurnLoss(loss, arc, limit, status)


def block_losses(name: str, burn: Burn) -> tuple[Array, Array, Array, Codes]:
    """Return loss (m/s), arc and its limit (rad) and status from one of the tables, for one block of cases."""
    arc, cost, mass = burn.numbers()
    if name == "fixed":
        limit, too_long = grid.fixed_arc_limit(cost, mass), BurnStatus.TURNS_FROM_FIXED_THRUST
        stretched, shape = arc / limit, grid.fixed_shape(arc, cost)
    else:
        limit, too_long = np.full_like(arc, grid.ARC_LIMIT_RAD), BurnStatus.THRUST_TOO_LOW
        stretched, shape = grid.stretch(arc), grid.tangential_shape(arc, cost)
    table = _table(name)
    loss = table.at(table.locate(stretched, cost, mass)) * shape * burn.speed
    beyond = [
        (BurnStatus.COST_TOO_HIGH, cost > table.axes[1].high),
        (BurnStatus.EXHAUST_TOO_SLOW, mass > table.axes[2].high),
        (too_long, arc > limit),
    ]
    return loss, arc, limit, burn.settle(loss, beyond)
