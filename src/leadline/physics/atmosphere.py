"""Air density of the US Standard Atmosphere 1976.

Below 86 km the standard's own layers, exactly; from there to 200 km a smooth curve through
its printed table, because above 86 km the standard solves for each gas by itself. Solving
that anew (package ussa1976) gives 1 % more at 125 km, 2 % at 160 km, 3 % at 200 km: the printed
table is followed. Real air differs from the standard day by tens of per cent at these
heights; that belongs in a dispersion.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from leadline.constants import STANDARD_GRAVITY_M_S2, Source, Standing

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

__all__ = ["DENSITY_SOURCES", "TOP_ALTITUDE_M", "density"]

Array = npt.NDArray[np.float64]

TOP_ALTITUDE_M: Final = 200e3
"""Highest geometric altitude `density` answers for."""

DENSITY_SOURCES: Final = (
    Source(
        "U.S. Standard Atmosphere, 1976 (NASA-TM-X-74335, NOAA-S/T 76-1562)",
        "layers of molecular-scale temperature and hydrostatic equations below 86 km; constants from memory, "
        "cross-checked against the package ussa1976",
        year=1976,
    ),
    Source(
        "U.S. Standard Atmosphere, 1976 (NASA-TM-X-74335, NOAA-S/T 76-1562)",
        "Table I, density 90 to 200 km, read in public codes that copy it; 105 km from memory",
        Standing.SECOND_HAND,
        1976,
    ),
)

_LOWEST_M: Final = -5e3
_LAYERS_TOP_M: Final = 86e3
_EARTH_RADIUS_M: Final = 6_356_766.0  # the standard's own, for geopotential altitude
_GAS_CONSTANT: Final = 8314.32 / 28.9644  # J/(kg K), the standard's R* and M0
_BASE_M: Final = np.array([0.0, 11e3, 20e3, 32e3, 47e3, 51e3, 71e3])  # geopotential
_LAPSE_K_M: Final = np.array([-6.5e-3, 0.0, 1.0e-3, 2.8e-3, 0.0, -2.8e-3, -2.0e-3])
_UPPER: Final = np.array(  # geometric altitude in km, density in kg/m3
    [
        (90.0, 3.416e-6),
        (91.0, 2.860e-6),
        (95.0, 1.393e-6),
        (100.0, 5.604e-7),
        (105.0, 2.325e-7),
        (110.0, 9.708e-8),
        (115.0, 4.289e-8),
        (120.0, 2.222e-8),
        (125.0, 1.291e-8),
        (130.0, 8.152e-9),
        (140.0, 3.831e-9),
        (150.0, 2.076e-9),
        (160.0, 1.233e-9),
        (180.0, 5.194e-10),
        (200.0, 2.541e-10),
    ]
)


def density(altitude_m: npt.ArrayLike) -> Array:
    """Air density at a geometric altitude.

    Parameters
    ----------
    altitude_m
        Geometric altitude above mean sea level, any shape; -5 km to 200 km.

    Returns
    -------
    Array
        Density in kg/m3, same shape; NaN outside the range.

    Notes
    -----
    Sources in `DENSITY_SOURCES`.
    """
    altitude = np.asarray(altitude_m, dtype=np.float64)
    low = _layers(np.clip(altitude, _LOWEST_M, _LAYERS_TOP_M))
    high = np.exp(_upper_curve()(np.clip(altitude, _LAYERS_TOP_M, TOP_ALTITUDE_M)))
    inside = (altitude >= _LOWEST_M) & (altitude <= TOP_ALTITUDE_M)
    return np.where(inside, np.where(altitude <= _LAYERS_TOP_M, low, high), np.nan)


def _layers(altitude_m: Array) -> Array:
    """Density below 86 km from hydrostatic equilibrium in layers of constant lapse rate."""
    base_k, base_pa = _bases()
    height = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)  # geopotential
    layer = np.clip(np.searchsorted(_BASE_M, height, side="right") - 1, 0, None)
    temperature = base_k[layer] + _LAPSE_K_M[layer] * (height - _BASE_M[layer])
    pressure = base_pa[layer] * _pressure_ratio(_LAPSE_K_M[layer], base_k[layer], height - _BASE_M[layer])
    return np.asarray(pressure / (_GAS_CONSTANT * temperature), dtype=np.float64)


def _pressure_ratio(lapse_k_m: Array, base_k: Array, rise_m: Array) -> Array:
    """Pressure over the pressure at the layer's base."""
    slope = np.where(lapse_k_m == 0.0, 1.0, lapse_k_m)
    power = -STANDARD_GRAVITY_M_S2 / (_GAS_CONSTANT * slope)
    sloping = (1.0 + lapse_k_m * rise_m / base_k) ** power
    level = np.exp(-STANDARD_GRAVITY_M_S2 * rise_m / (_GAS_CONSTANT * base_k))
    return np.where(lapse_k_m == 0.0, level, sloping)


@lru_cache(maxsize=1)
def _bases() -> tuple[Array, Array]:
    """Temperature and pressure at the base of each layer, from sea level up."""
    rise = np.diff(_BASE_M)
    temperature = 288.15 + np.concatenate(([0.0], np.cumsum(_LAPSE_K_M[:-1] * rise)))
    ratio = _pressure_ratio(_LAPSE_K_M[:-1], temperature[:-1], rise)
    return temperature, 101_325.0 * np.concatenate(([1.0], np.cumprod(ratio)))


@lru_cache(maxsize=1)
def _upper_curve() -> CubicSpline:
    """Log density from 86 to 200 km; it starts from the layers' own value at 86 km."""
    from scipy.interpolate import CubicSpline  # noqa: PLC0415  slow to import, and seldom needed

    altitude = np.concatenate(([_LAYERS_TOP_M], 1e3 * _UPPER[:, 0]))
    value = np.concatenate((_layers(np.array([_LAYERS_TOP_M])), _UPPER[:, 1]))
    return CubicSpline(altitude, np.log(value))
