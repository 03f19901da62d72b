"""Saturated cryogenic liquids against temperature or vapour pressure.

Fourteen points of the reference equations of state for each liquid, and cubic splines
through them: within 0.02 % of the equation of state in the stated range. A subcooled
liquid is taken at the density it has when saturated at its own temperature; at tank
pressures the compression is below 0.3 %.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import Source, Standing
from leadline.physics.boil_off import vent_heat

__all__ = ["CRYOGENS", "Cryogen", "SaturatedLiquid"]

Array = npt.NDArray[np.float64]

SOURCE: Final = Source(
    "Reference equations of state as evaluated by CoolProp 8.0.0 (Bell et al., Ind. Eng. Chem. Res. 53, 2014)",
    "saturation line at fourteen temperatures",
    Standing.PUBLISHED,
    2014,
)


@dataclass(frozen=True, slots=True)
class SaturatedLiquid:
    """A liquid in equilibrium with its vapour; every member has the shape asked for."""

    temperature_k: Array
    pressure_pa: Array
    density_kg_m3: Array
    vapour_density_kg_m3: Array
    latent_heat_j_kg: Array

    @property
    def vent_heat_j_kg(self) -> Array:
        """Heat that drives one kilogram overboard at constant pressure, J/kg."""
        return vent_heat(self.latent_heat_j_kg, self.density_kg_m3, self.vapour_density_kg_m3)


@dataclass(frozen=True, slots=True)
class Cryogen:
    """One cryogenic liquid's saturation line.

    Rows of `points` are temperature, K; pressure, Pa; densities of liquid and vapour,
    kg/m3; latent heat, J/kg.
    """

    name: str
    points: tuple[tuple[float, float, float, float, float], ...]

    @property
    def temperatures_k(self) -> tuple[float, float]:
        """Lowest and highest temperature of the line, K."""
        return self.points[0][0], self.points[-1][0]

    @property
    def pressures_pa(self) -> tuple[float, float]:
        """Lowest and highest vapour pressure of the line, Pa."""
        return self.points[0][1], self.points[-1][1]

    def at_temperature(self, temperature_k: Array | float) -> SaturatedLiquid:
        """Give the saturated liquid at a temperature.

        Parameters
        ----------
        temperature_k : float or (n,)
            Temperature within `temperatures_k`, K.

        Returns
        -------
        SaturatedLiquid
            Its members are not a number where the temperature lies outside the line.
        """
        asked = _inside(temperature_k, self.temperatures_k)
        log_pressure, density, log_vapour, latent = _splines(self.name)
        return SaturatedLiquid(
            asked, np.exp(log_pressure(asked)), density(asked), np.exp(log_vapour(asked)), latent(asked)
        )

    def at_pressure(self, pressure_pa: Array | float) -> SaturatedLiquid:
        """Give the saturated liquid at a vapour pressure.

        Parameters
        ----------
        pressure_pa : float or (n,)
            Vapour pressure within `pressures_pa`, Pa.

        Returns
        -------
        SaturatedLiquid
            Its members are not a number where the pressure lies outside the line.
        """
        asked = _inside(pressure_pa, self.pressures_pa)
        temperature = _boiling_point(self.name)(np.log(asked))
        return self.at_temperature(np.clip(temperature, *self.temperatures_k))


def _inside(asked: Array | float, ends: tuple[float, float]) -> Array:
    """Give what was asked, not a number where it lies outside both ends."""
    values = np.asarray(asked, dtype=np.float64)
    return np.where((values >= ends[0]) & (values <= ends[1]), values, np.nan)


_OXYGEN: Final = Cryogen(
    "oxygen",
    (
        (60, 725.825, 1282, 0.0465947, 238376),
        (64, 1878.15, 1264.19, 0.113133, 235255),
        (68, 4301.88, 1246.09, 0.244238, 232101),
        (72, 8909.77, 1227.77, 0.478811, 228908),
        (76, 16969.4, 1209.24, 0.866769, 225655),
        (80, 30123.5, 1190.46, 1.46845, 222308),
        (84, 50385.3, 1171.39, 2.35368, 218823),
        (88, 80113.9, 1151.97, 3.60095, 215155),
        (92, 121974, 1132.13, 5.29694, 211260),
        (96, 178892, 1111.79, 7.53673, 207091),
        (100, 254005, 1090.89, 10.4248, 202605),
        (104, 350618, 1069.32, 14.0773, 197756),
        (108, 472170, 1046.97, 18.6252, 192496),
        (112, 622199, 1023.73, 24.2198, 186771),
    ),
)
_HYDROGEN: Final = Cryogen(
    "hydrogen",
    (
        (14, 7883.99, 76.8187, 0.138783, 450500),
        (14.923077, 12924, 76.0604, 0.214922, 452241),
        (15.846154, 20107.3, 75.2684, 0.317625, 453322),
        (16.769231, 29947.3, 74.435, 0.451692, 453643),
        (17.692308, 42990.4, 73.5558, 0.62217, 453098),
        (18.615385, 59808.8, 72.6274, 0.834426, 451580),
        (19.538462, 80994.5, 71.6465, 1.09426, 448977),
        (20.461538, 107155, 70.6095, 1.40804, 445180),
        (21.384615, 138909, 69.5115, 1.78291, 440074),
        (22.307692, 176885, 68.3466, 2.22708, 433534),
        (23.230769, 221718, 67.1072, 2.75014, 425422),
        (24.153846, 274052, 65.7834, 3.36369, 415573),
        (25.076923, 334538, 64.3623, 4.08205, 403786),
        (26, 403838, 62.8267, 4.9236, 389802),
    ),
)
_METHANE: Final = Cryogen(
    "methane",
    (
        (92, 13801.5, 449.735, 0.291971, 542407),
        (95.076923, 19993.1, 445.602, 0.410377, 537942),
        (98.153846, 28246.8, 441.42, 0.563452, 533329),
        (101.230769, 39017, 437.184, 0.757562, 528549),
        (104.307692, 52804.2, 432.89, 0.999529, 523582),
        (107.384615, 70151.6, 428.533, 1.29662, 518409),
        (110.461538, 91641.5, 424.109, 1.65651, 513010),
        (113.538462, 117892, 419.612, 2.08735, 507364),
        (116.615385, 149550, 415.035, 2.59771, 501451),
        (119.692308, 187294, 410.373, 3.19671, 495248),
        (122.769231, 231823, 405.619, 3.89403, 488732),
        (125.846154, 283857, 400.765, 4.70002, 481877),
        (128.923077, 344136, 395.802, 5.62586, 474656),
        (132, 413412, 390.72, 6.6837, 467039),
    ),
)

CRYOGENS: Final[Mapping[str, Cryogen]] = MappingProxyType({c.name: c for c in (_OXYGEN, _HYDROGEN, _METHANE)})
"""Saturation lines by the liquid's name as in `leadline.physics.propellants`."""

Curve = Callable[[Array], Array]


@cache
def _splines(name: str) -> tuple[Curve, Curve, Curve, Curve]:
    """Splines over temperature of log pressure, density, log vapour density, latent heat."""
    from scipy.interpolate import CubicSpline  # noqa: PLC0415  slow to import, and seldom needed

    temperature, pressure, density, vapour, latent = np.array(CRYOGENS[name].points).T
    over = [CubicSpline(temperature, y) for y in (np.log(pressure), density, np.log(vapour), latent)]
    return over[0], over[1], over[2], over[3]


@cache
def _boiling_point(name: str) -> Curve:
    from scipy.interpolate import CubicSpline  # noqa: PLC0415  slow to import, and seldom needed

    temperature, pressure = np.array(CRYOGENS[name].points).T[:2]
    curve: Curve = CubicSpline(np.log(pressure), temperature)
    return curve
