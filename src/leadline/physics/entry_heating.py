"""Stagnation-point heating at Earth entry, and the closed forms of a steep ballistic entry.

Convective heating is Sutton-Graves, radiative heating Tauber-Sutton; both are correlations for
a cold, fully catalytic wall in air, and both carry model errors of tens of per cent
(`MODEL_ERRORS`).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import Source, Standing

__all__ = [
    "HEATING_SOURCES",
    "MODEL_ERRORS",
    "RADIATION_RANGE",
    "ModelError",
    "Radiation",
    "RadiationRange",
    "SteepEntry",
    "convective_heating",
    "radiation_applies",
    "radiative_heating",
    "steep_entry",
]

Array = npt.NDArray[np.float64]

SUTTON_GRAVES: Final = Source(
    "Sutton and Graves, A general stagnation-point convective-heating equation for arbitrary gas mixtures",
    "NASA TR R-376; constant 1.7415e-4 for air read in public codes, the report itself from memory",
    Standing.SECOND_HAND,
    1971,
)
TAUBER_SUTTON: Final = Source(
    "Tauber and Sutton, Stagnation-point radiative heating relations for Earth and Mars entries, J. Spacecraft 28(1)",
    "pp. 40-42, coefficients, exponent and table f(V) read in a public Fortran routine; its range from memory",
    Standing.SECOND_HAND,
    1991,
)
ALLEN_EGGERS: Final = Source(
    "Allen and Eggers, A study of the motion and aerodynamic heating of ballistic missiles, NACA Report 1381",
    "closed forms for a steep ballistic entry into an exponential atmosphere, from memory, checked by integration",
    Standing.COMPUTED,
    1958,
)
HEATING_SOURCES: Final = (SUTTON_GRAVES, TAUBER_SUTTON)

_CONVECTIVE_AIR: Final = 1.7415e-4  # kg^0.5/m, for W/m2
_RADIATIVE_AIR: Final = 4.736e8  # 4.736e4 for W/cm2, times 1e4
_F_SPEED_M_S: Final = np.concatenate(([8750.0], np.arange(9000.0, 11000.0, 250.0), np.arange(11000.0, 16001.0, 500.0)))
_F: Final = np.array(
    # f(8750) = 0 is ours: the printed table starts at 9000 with 1.5, and a step there would
    # make a step in the margin. At 9 km/s radiation is a hundredth of the convective heating.
    [
        0.0,
        1.5,
        4.3,
        9.7,
        19.5,
        35.0,
        55.0,
        81.0,
        115.0,
        151.0,
        238.0,
        359.0,
        495.0,
        660.0,
        850.0,
        1065.0,
        1313.0,
        1550.0,
        1780.0,
        2040.0,
    ]
)


@dataclass(frozen=True, slots=True)
class ModelError:
    """Default law of a correlation's error: a lognormal factor on what it gives.

    Parameters
    ----------
    name
        Which result the factor multiplies.
    median
        Median of the factor.
    spread
        Geometric standard deviation: 1.2 means that two cases in three lie within a factor 1.2.
    source
        What the spread rests on.
    """

    name: str
    median: float
    spread: float
    source: Source


MODEL_ERRORS: Final = (
    ModelError(
        "convective heating",
        1.0,
        1.2,
        Source(
            "Constants in use for the same form run from 1.63e-4 to 1.83e-4; one flown capsule's simple estimate is "
            "quoted 29 % below detailed computation",
            "spread chosen by us to cover both; common practice is tens of per cent, from memory",
            Standing.PRACTICE,
        ),
    ),
    ModelError(
        "radiative heating",
        1.0,
        1.5,
        Source(
            "Radiative correlations against detailed computation",
            "spread chosen by us; common practice is a factor of about 1.5 near lunar-return speed, from memory",
            Standing.PRACTICE,
        ),
    ),
)


class Radiation(StrEnum):
    """Which radiative correlation applies to a case, by its entry speed and nose radius."""

    NEGLECTED = "no radiation: below 8.75 km/s it is taken as zero"
    LOW_SPEED = "Tauber-Sutton below its 10 km/s range: its table reaches down to 9 km/s"
    IN_RANGE = "Tauber-Sutton inside its speed and nose radius range"
    NOSE_EXTRAPOLATED = "Tauber-Sutton outside its nose radius range of 0.3 to 3 m: extrapolated"
    TOO_FAST = "above Tauber-Sutton's 16 km/s: no correlation here applies"


@dataclass(frozen=True, slots=True)
class RadiationRange:
    """Where the radiative correlation was fitted."""

    speed_m_s: tuple[float, float]
    density_kg_m3: tuple[float, float]
    nose_radius_m: tuple[float, float]
    source: Source


RADIATION_RANGE: Final = RadiationRange((10e3, 16e3), (6.66e-5, 6.31e-4), (0.3, 3.0), TAUBER_SUTTON)


def convective_heating(density_kg_m3: Array, speed_m_s: Array, nose_radius_m: Array | float) -> Array:
    """Stagnation-point convective heating of a cold wall, by Sutton and Graves.

    Parameters
    ----------
    density_kg_m3, speed_m_s, nose_radius_m
        Free-stream density, speed relative to the air, nose radius; shapes that broadcast.

    Returns
    -------
    Array
        Heat flux in W/m2.

    Notes
    -----
    Source: `SUTTON_GRAVES`.
    """
    return np.asarray(_CONVECTIVE_AIR * np.sqrt(density_kg_m3 / nose_radius_m) * speed_m_s**3)  # Eq. (1)


def radiative_heating(density_kg_m3: Array, speed_m_s: Array, nose_radius_m: Array | float) -> Array:
    """Stagnation-point radiative heating from the shock layer, by Tauber and Sutton.

    Parameters
    ----------
    density_kg_m3, speed_m_s, nose_radius_m
        Free-stream density, speed relative to the air, nose radius; shapes that broadcast.

    Returns
    -------
    Array
        Heat flux in W/m2; zero below 8.75 km/s, the last table value above 16 km/s.

    Notes
    -----
    The exponent's cap steps from 0.6 to 0.5 at a nose radius of 2 m, as published; there
    the result may drop by up to 7 %. Source: `TAUBER_SUTTON`.
    """
    strength = np.interp(speed_m_s, _F_SPEED_M_S, _F)
    exponent = np.minimum(1.072e6 * speed_m_s**-1.88 * density_kg_m3**-0.325, _exponent_cap(nose_radius_m))  # Eq. (3)
    return np.asarray(_RADIATIVE_AIR * nose_radius_m**exponent * density_kg_m3**1.22 * strength)  # Eq. (2)


def _exponent_cap(nose_radius_m: Array | float) -> Array:
    """Largest exponent of the nose radius in the radiative correlation."""
    radius = np.asarray(nose_radius_m, dtype=np.float64)
    return np.where(radius < 1.0, 1.0, np.where(radius <= 2.0, 0.6, 0.5))


def radiation_applies(speed_m_s: float, nose_radius_m: float) -> Radiation:
    """Which radiative correlation applies, for the notes of a study.

    Parameters
    ----------
    speed_m_s
        Speed at entry.
    nose_radius_m
        Nose radius.

    Returns
    -------
    Radiation
        The first that holds of: neglected, too fast, low speed, nose extrapolated, in range.
    """
    slowest, fastest = RADIATION_RANGE.speed_m_s
    smallest, largest = RADIATION_RANGE.nose_radius_m
    if speed_m_s <= _F_SPEED_M_S[0]:
        return Radiation.NEGLECTED
    if speed_m_s > fastest:
        return Radiation.TOO_FAST
    if speed_m_s < slowest:
        return Radiation.LOW_SPEED
    return Radiation.IN_RANGE if smallest <= nose_radius_m <= largest else Radiation.NOSE_EXTRAPOLATED


@dataclass(frozen=True, slots=True)
class SteepEntry:
    """Allen and Eggers' results, each of the shape its inputs broadcast to."""

    peak_deceleration_m_s2: Array
    peak_deceleration_speed_m_s: Array
    peak_deceleration_density_kg_m3: Array
    peak_heating_w_m2: Array
    peak_heating_speed_m_s: Array
    peak_heating_density_kg_m3: Array
    heat_load_j_m2: Array


def steep_entry(
    speed_m_s: npt.ArrayLike,
    flight_path_angle_rad: npt.ArrayLike,
    ballistic_coefficient_kg_m2: npt.ArrayLike,
    nose_radius_m: npt.ArrayLike,
    scale_height_m: float = 7200.0,
) -> SteepEntry:
    """Peaks of a ballistic entry steep enough that gravity and the Earth's curvature do not matter.

    Parameters
    ----------
    speed_m_s, flight_path_angle_rad, ballistic_coefficient_kg_m2, nose_radius_m
        Speed and angle at entry (the angle from the horizontal, negative downwards), mass over
        drag coefficient times area, nose radius; shapes that broadcast.
    scale_height_m
        Scale height of the exponential atmosphere.

    Returns
    -------
    SteepEntry
        Peak deceleration, peak convective heating, the speed and density at each, heat load.

    Notes
    -----
    Valid as long as the ground is reached only after the peaks. Gravity and curvature change
    deceleration and heating by 4 to 10 %. Source: `ALLEN_EGGERS`.
    """
    speed, sine = np.asarray(speed_m_s, float), -np.sin(np.asarray(flight_path_angle_rad, float))
    beta, radius = np.asarray(ballistic_coefficient_kg_m2, float), np.asarray(nose_radius_m, float)
    k = beta * sine / scale_height_m  # density at which the deceleration peaks
    return SteepEntry(
        peak_deceleration_m_s2=speed**2 * sine / (2.0 * np.e * scale_height_m),  # Eq. (4)
        peak_deceleration_speed_m_s=speed * np.exp(-0.5),
        peak_deceleration_density_kg_m3=k,
        peak_heating_w_m2=_CONVECTIVE_AIR * speed**3 * np.sqrt(k / (3.0 * np.e * radius)),  # Eq. (5)
        peak_heating_speed_m_s=speed * np.exp(-1.0 / 6.0),
        peak_heating_density_kg_m3=k / 3.0,
        heat_load_j_m2=_CONVECTIVE_AIR * speed**2 * np.sqrt(np.pi * beta * scale_height_m / (radius * sine)),  # Eq. (6)
    )
