"""The rocket equation and what follows from it.

Symbols: m0 and mf the mass before and after a burn, ve the exhaust velocity, dv the
velocity change, F the thrust.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import STANDARD_GRAVITY_M_S2, Source, Standing

__all__ = [
    "SOURCE",
    "Closure",
    "burn_time",
    "closure",
    "delta_v",
    "exhaust_velocity",
    "propellant_used",
]

Array = npt.NDArray[np.float64]

SOURCE: Final = Source(
    "Rocket equation, dv = ve ln(m0/mf), constant exhaust velocity",
    "any textbook of rocket propulsion; checked against worked examples and flight records",
    Standing.PUBLISHED,
)


def exhaust_velocity(isp_s: Array | float) -> Array | float:
    """Exhaust velocity of an engine from its specific impulse.

    Parameters
    ----------
    isp_s : float or (n,)
        Specific impulse in vacuum, s.

    Returns
    -------
    float or (n,)
        Effective exhaust velocity, m/s.
    """
    return isp_s * STANDARD_GRAVITY_M_S2


def propellant_used(
    delta_v_m_s: Array | float,
    exhaust_velocity_m_s: Array | float,
    initial_mass_kg: Array | float,
    out: Array | None = None,
) -> Array:
    """Propellant that a velocity change takes from a stack of given mass.

    Parameters
    ----------
    delta_v_m_s, exhaust_velocity_m_s : float or (n,)
        Velocity change and exhaust velocity, m/s.
    initial_mass_kg : float or (n,)
        Mass before the burn, kg.
    out : (n,), optional
        Where to write; no other memory is taken.

    Returns
    -------
    (n,)
        Propellant, kg: m0 (1 - exp(-dv/ve)).
    """
    used = np.divide(delta_v_m_s, exhaust_velocity_m_s, out=out)
    used = np.negative(used, out=out)
    used = np.expm1(used, out=out)
    used = np.multiply(used, initial_mass_kg, out=out)
    negated: Array = np.negative(used, out=out)
    return negated


def delta_v(
    exhaust_velocity_m_s: Array | float,
    initial_mass_kg: Array | float,
    propellant_kg: Array | float,
    out: Array | None = None,
) -> Array:
    """Velocity change that burning so much propellant gives.

    A negative `propellant_kg` gives a negative velocity change, so that a shortfall stays
    a signed number.

    Parameters
    ----------
    exhaust_velocity_m_s : float or (n,)
        Exhaust velocity, m/s.
    initial_mass_kg, propellant_kg : float or (n,)
        Mass before the burn and propellant burned, kg.
    out : (n,), optional
        Where to write; no other memory is taken.

    Returns
    -------
    (n,)
        Velocity change, m/s: -ve ln(1 - m_p/m0).
    """
    gained = np.divide(propellant_kg, initial_mass_kg, out=out)
    gained = np.negative(gained, out=out)
    gained = np.log1p(gained, out=out)
    gained = np.multiply(gained, exhaust_velocity_m_s, out=out)
    negated: Array = np.negative(gained, out=out)
    return negated


def burn_time(
    propellant_kg: Array | float,
    exhaust_velocity_m_s: Array | float,
    thrust_n: Array | float,
    out: Array | None = None,
) -> Array:
    """How long an engine of constant thrust takes to burn so much propellant.

    Parameters
    ----------
    propellant_kg : float or (n,)
        Propellant burned, kg.
    exhaust_velocity_m_s : float or (n,)
        Exhaust velocity, m/s.
    thrust_n : float or (n,)
        Thrust, N.
    out : (n,), optional
        Where to write; no other memory is taken.

    Returns
    -------
    (n,)
        Burn time, s: m_p ve / F.
    """
    seconds = np.multiply(propellant_kg, exhaust_velocity_m_s, out=out)
    result: Array = np.divide(seconds, thrust_n, out=out)
    return result


@dataclass(frozen=True, slots=True)
class Closure:
    """How far the numbers of one recorded burn agree with one another.

    Each difference is relative, computed over recorded less one; None where the record
    lacks a number. `delta_v` compares the rocket equation with the recorded velocity
    change, `duration` the burn time from thrust and propellant with the recorded one.
    """

    delta_v: float | None
    duration: float | None

    def within(self, tolerance: float) -> bool:
        """Tell whether everything that can be compared agrees to a relative tolerance."""
        differences = [d for d in (self.delta_v, self.duration) if d is not None]
        return bool(differences) and all(abs(d) <= tolerance for d in differences)


def closure(
    *,
    initial_mass_kg: float,
    isp_s: float,
    delta_v_m_s: float | None = None,
    propellant_kg: float | None = None,
    thrust_n: float | None = None,
    duration_s: float | None = None,
) -> Closure:
    """Check a recorded burn against itself.

    Parameters
    ----------
    initial_mass_kg, isp_s
        Mass before the burn, kg, and specific impulse, s.
    delta_v_m_s, propellant_kg, thrust_n, duration_s
        What else the record gives; propellant is taken from thrust and duration where it
        is missing.

    Returns
    -------
    Closure
    """
    exhaust = float(exhaust_velocity(isp_s))
    timed = None if thrust_n is None or duration_s is None else thrust_n * duration_s / exhaust
    used = timed if propellant_kg is None else propellant_kg
    if used is None:
        return Closure(None, None)
    computed = float(delta_v(exhaust, initial_mass_kg, used))
    by_speed = None if delta_v_m_s is None else computed / delta_v_m_s - 1.0
    by_time = None if propellant_kg is None or timed is None else used / timed - 1.0
    return Closure(by_speed, by_time)
