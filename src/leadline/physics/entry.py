"""Planar entry into the Earth's air, flown step by step for many cases at once.

The Earth is a sphere that does not turn, with an inverse-square pull; the air is the US Standard
Atmosphere 1976 and does not turn either. So the speed asked for is the speed relative to the
air: for an inertial speed, take the ground's eastward share off first. Entry starts at 122 km.
The flight path angle is measured from the horizontal, negative downwards.

The lift policy is one of two:

``level``    full lift up until the path levels off, then just what keeps it level (up or down),
             and full lift up again when that no longer suffices. What guided capsules aim for.
``full-up``  full lift up all the way, so a fast case skips and a slow one may bounce.

The lift is turned by banking, so its size never changes: the deceleration felt is
D sqrt(1 + (L/D)^2) throughout. The equations stand in `leadline.physics.entry_steps`.

For an answer per case in tenths of a microsecond use `leadline.physics.entry_table`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import STANDARD_GRAVITY_M_S2
from leadline.physics.entry_steps import END_SPEED_M_S, INTERFACE_ALTITUDE_M, LiftPolicy, Vehicle, follow

__all__ = [
    "DECELERATION_CAP_M_S2",
    "END_SPEED_M_S",
    "INTERFACE_ALTITUDE_M",
    "EntryState",
    "Flight",
    "LiftPolicy",
    "fly",
    "shallowest_angle",
]

Array = npt.NDArray[np.float64]

DECELERATION_CAP_M_S2: Final = 50.0 * STANDARD_GRAVITY_M_S2
"""Deceleration above which a case is called too steep unless the caller says otherwise (our choice)."""


class EntryState(IntEnum):
    """How an entry ended; every case is in exactly one of these."""

    FLOWN = 0
    SKIPPED_OUT = 1
    TOO_STEEP = 2
    OUTSIDE = 3

    @property
    def sentence(self) -> str:
        """What the state means, for reports."""
        return _SENTENCES[self]


_SENTENCES: Final = {
    EntryState.FLOWN: "slowed down to 500 m/s",
    EntryState.SKIPPED_OUT: "skipped out: rose above 122 km again",
    EntryState.TOO_STEEP: "too steep: deceleration above the cap",
    EntryState.OUTSIDE: "outside the range of the model, or still aloft after the longest flight followed",
}


@dataclass(frozen=True, slots=True)
class Flight:
    """What n entries go through; all arrays (n,).

    Parameters
    ----------
    state
        `EntryState` as small integers.
    peak_deceleration_m_s2
        Largest deceleration felt, lift included.
    peak_convective_w_m2, peak_radiative_w_m2, peak_total_w_m2
        Largest stagnation-point heat flux of each kind and of their sum.
    convective_load_j_m2, radiative_load_j_m2
        Heat fluxes summed over the entry.
    duration_s
        From 122 km to the end speed; for a case that skips out, to its leaving the air.
    """

    state: npt.NDArray[np.int8]
    peak_deceleration_m_s2: Array
    peak_convective_w_m2: Array
    peak_radiative_w_m2: Array
    peak_total_w_m2: Array
    convective_load_j_m2: Array
    radiative_load_j_m2: Array
    duration_s: Array

    @property
    def total_load_j_m2(self) -> Array:
        """Convective and radiative heat load together."""
        return self.convective_load_j_m2 + self.radiative_load_j_m2


def fly(
    speed_m_s: npt.ArrayLike,
    flight_path_angle_rad: npt.ArrayLike,
    ballistic_coefficient_kg_m2: npt.ArrayLike,
    lift_to_drag: npt.ArrayLike,
    nose_radius_m: npt.ArrayLike,
    *,
    policy: LiftPolicy = LiftPolicy.LEVEL,
    convective_factor: npt.ArrayLike = 1.0,
    radiative_factor: npt.ArrayLike = 1.0,
    deceleration_cap_m_s2: float = DECELERATION_CAP_M_S2,
    step: float = 0.1,
    longest: int = 6000,
) -> Flight:
    """Fly entries from 122 km down by Runge-Kutta steps.

    Parameters
    ----------
    speed_m_s, flight_path_angle_rad
        Speed relative to the air and angle from the horizontal (negative downwards) at 122 km.
    ballistic_coefficient_kg_m2, lift_to_drag, nose_radius_m
        The vehicle; everything so far broadcasts to (n,).
    policy
        How the lift is used.
    convective_factor, radiative_factor
        Model errors of the two correlations, factors on what they give.
    deceleration_cap_m_s2
        Above it a case is too steep.
    step
        Length of a step, in scale heights climbed or speed e-folds lost, whichever is more.
        0.1 keeps peaks within 0.1 % and loads within 0.1 %.
    longest
        Steps after which a case still aloft is given up as outside.

    Returns
    -------
    Flight
        Arrays (n,). A case given up has NaN everywhere.
    """
    inputs = (speed_m_s, flight_path_angle_rad, ballistic_coefficient_kg_m2, lift_to_drag, nose_radius_m)
    factors = (convective_factor, radiative_factor)
    columns = np.broadcast_arrays(*(np.atleast_1d(np.asarray(x, dtype=np.float64)) for x in (*inputs, *factors)))
    V, g, beta, lift, radius, convective, radiative = (column.ravel() for column in columns)
    fall = follow(V, g, Vehicle(beta, lift, radius[None], convective[None], radiative[None]), policy, step, longest)
    felt, conv = np.fmax(*fall.felt), np.fmax(*fall.convective)[0]
    (rad,), (total,) = fall.radiative, fall.total
    time, conv_load, rad_load = fall.loads
    state = np.where(felt > deceleration_cap_m_s2, EntryState.TOO_STEEP, EntryState.FLOWN)
    state = np.where(fall.left, EntryState.SKIPPED_OUT, np.where(np.isnan(felt), EntryState.OUTSIDE, state))
    return Flight(state.astype(np.int8), felt, conv, rad, total, conv_load, rad_load, time)


def shallowest_angle(
    speed_m_s: npt.ArrayLike,
    ballistic_coefficient_kg_m2: npt.ArrayLike,
    lift_to_drag: npt.ArrayLike,
    *,
    policy: LiftPolicy = LiftPolicy.LEVEL,
    halvings: int = 17,
) -> Array:
    """Shallowest flight path angle at 122 km that is captured, by bisection of flown entries.

    Parameters
    ----------
    speed_m_s, ballistic_coefficient_kg_m2, lift_to_drag
        Speed relative to the air at 122 km and the vehicle; shapes that broadcast to (n,).
    policy
        How the lift is used.
    halvings
        Bisections of the interval from -20 degrees to the horizontal; 17 are good to 0.0002 degrees.

    Returns
    -------
    (n,)
        Angle in radians; the last one found captured, or -20 degrees where none is.
    """
    inputs = (speed_m_s, ballistic_coefficient_kg_m2, lift_to_drag)
    columns = np.broadcast_arrays(*(np.atleast_1d(np.asarray(x, dtype=np.float64)) for x in inputs))
    V, beta, lift = (column.ravel() for column in columns)
    steep, shallow = np.full(V.shape, np.radians(-20.0)), np.zeros(V.shape)
    vehicle = Vehicle(beta, lift)
    for _ in range(halvings):
        middle = 0.5 * (steep + shallow)
        fall = follow(V, middle, vehicle, policy, 0.1, 4000)
        escaped = fall.left | np.isnan(fall.loads[0])
        steep, shallow = np.where(escaped, steep, middle), np.where(escaped, middle, shallow)
    return steep
