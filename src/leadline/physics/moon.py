"""How far the Moon is on a date.

The distance is U-shaped over a month, nothing like a normal law, so it is read from an
ephemeris at the date of each case.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import Source, Standing

__all__ = ["EARLIEST", "J2000_S", "LATEST", "SOURCE", "distance_between", "distance_on"]

Array = npt.NDArray[np.float64]

SOURCE: Final = Source(
    "ERFA routine moon98, after Meeus, Astronomical Algorithms, 2nd edition",
    "abridged ELP-2000/82; within 10 km of DE421 and of published extremes",
    Standing.PUBLISHED,
    1998,
)

EARLIEST: Final = 1950
LATEST: Final = 2100
"""Years for which the ephemeris is offered; within them it was compared with another."""

J2000_S: Final = 946_728_000.0
"""Seconds of Unix time at the epoch J2000.0, 2000-01-01 12:00."""

_DAY_S: Final = 86_400.0
_J2000_JD: Final = 2_451_545.0
_AU_M: Final = 149_597_870_700.0


def distance_on(seconds: Array | float) -> Array:
    """Distance between the centres of Earth and Moon.

    The difference between the time scales of clocks and of ephemerides, about a minute,
    moves the distance by less than 5 km and is left out.

    Parameters
    ----------
    seconds : float or (n,)
        Seconds since J2000.0.

    Returns
    -------
    (n,)
        Distance, m.

    Raises
    ------
    ValueError
        When a date lies outside `EARLIEST` to `LATEST`.
    """
    import erfa  # noqa: PLC0415  only studies with dates need the ephemeris

    days = np.asarray(seconds, dtype=np.float64) / _DAY_S
    years = 2000.0 + days / 365.25
    if not bool(np.all((years >= EARLIEST) & (years < LATEST + 1))):
        given = f"{np.min(years):.1f} to {np.max(years):.1f}"
        message = f"the Moon's distance is offered for the years {EARLIEST} to {LATEST}; {given} was asked"
        raise ValueError(message)
    position = erfa.moon98(_J2000_JD, days)["p"]
    return np.asarray(np.sqrt(np.sum(np.square(position), axis=-1)) * _AU_M)


def distance_between(first_s: float, last_s: float) -> tuple[Array, Array]:
    """Tabulate the distance over a window, finely enough to interpolate linearly to 1 km.

    Parameters
    ----------
    first_s, last_s
        Window, seconds since J2000.0.

    Returns
    -------
    times : (k,)
        Seconds since J2000.0.
    distances : (k,)
        Distance, m.
    """
    steps = max(2, int(np.ceil((last_s - first_s) / 3_600.0)) + 1)
    times = np.linspace(first_s, last_s, steps)
    return times, distance_on(times)
