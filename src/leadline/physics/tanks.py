"""Tank geometry, and what a tank of that size weighs.

A tank is a cylinder of radius R and length L closed by two spheroidal domes of height h
(a sphere has L = 0 and h = R).
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import Source, Standing

__all__ = [
    "INSULATION_KG_M2",
    "REGRESSION_SOURCE",
    "TANK_KG_M3",
    "area",
    "tank_mass",
    "volume",
]

Array = npt.NDArray[np.float64]

REGRESSION_SOURCE: Final = Source(
    "D.L. Akin, Mass Estimating Relations, ENAE 791 lecture",
    "tank and insulation regressions; the scatter is an input, 10 to 20 % is trade practice",
    Standing.PUBLISHED,
    2016,
)

TANK_KG_M3: Final = {"hydrogen": 9.0911, "other": 12.158}
"""Mass of a tank per cubic metre held, kg/m3 (R2 .9896 and .9328 in the source's charts)."""

INSULATION_KG_M2: Final = {"hydrogen": 2.88, "other": 1.123}
"""Mass of cryogenic insulation per square metre of tank, kg/m2."""


def volume(radius_m: Array | float, length_m: Array | float, dome_height_m: Array | float) -> Array:
    """Volume of a cylinder closed by two spheroidal domes.

    Parameters
    ----------
    radius_m, length_m, dome_height_m : float or (n,)
        Radius of the cylinder, its length between the domes, height of each dome, m.

    Returns
    -------
    (n,)
        Volume, m3: pi R^2 L + 4/3 pi R^2 h.
    """
    return np.asarray(np.pi * np.square(radius_m) * (length_m + 4.0 / 3.0 * dome_height_m))


def area(radius_m: Array | float, length_m: Array | float, dome_height_m: Array | float) -> Array:
    """Outside area of a cylinder closed by two spheroidal domes no higher than the radius.

    Parameters
    ----------
    radius_m, length_m, dome_height_m : float or (n,)
        As for `volume`; 0 < h <= R.

    Returns
    -------
    (n,)
        Area, m2: 2 pi R L + pi R^2 2 (1 + (1 - e^2)/e atanh e) / 2 for each dome, e^2 = 1 - (h/R)^2.
    """
    eccentricity = np.sqrt(np.maximum(1.0 - np.square(np.divide(dome_height_m, radius_m)), 1e-12))
    dome = 1.0 + (1.0 - eccentricity**2) / eccentricity * np.arctanh(eccentricity)
    return np.asarray(2.0 * np.pi * np.multiply(radius_m, length_m) + 2.0 * np.pi * np.square(radius_m) * dome)


def tank_mass(volume_m3: Array | float, area_m2: Array | float, *, hydrogen: bool, insulated: bool) -> Array:
    """Mass of a tank, with its insulation where it has any, from a regression.

    Parameters
    ----------
    volume_m3, area_m2 : float or (n,)
        Volume held, m3, and outside area, m2.
    hydrogen
        True for a liquid-hydrogen tank.
    insulated
        True for a cryogenic tank.

    Returns
    -------
    (n,)
        Mass, kg; the regression's scatter is for the study to state.
    """
    kind = "hydrogen" if hydrogen else "other"
    shell = np.multiply(TANK_KG_M3[kind], volume_m3)
    return np.asarray(shell + INSULATION_KG_M2[kind] * np.asarray(area_m2) if insulated else shell)
