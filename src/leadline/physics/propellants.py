"""Propellant combinations as data: what the liquids weigh and what boils them.

Cryogenic liquids are saturated at 1 atm; storable ones at 293 K. Each value carries its
source; where sources spread, the spread is said in the source's text.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from leadline.constants import Source, Standing
from leadline.physics.boil_off import vent_heat

__all__ = ["LIQUIDS", "PROPELLANTS", "Combination", "LiquidProperties", "bulk_density"]


@dataclass(frozen=True, slots=True)
class LiquidProperties:
    """One liquid: density, and the heat that vents a kilogram (None where it is storable)."""

    name: str
    density_kg_m3: float
    vent_heat_j_kg: float | None
    source: Source


@dataclass(frozen=True, slots=True)
class Combination:
    """What one tank holds: an oxidiser and a fuel, or a fuel alone.

    `mixture_ratio` is a usual oxidiser-to-fuel mass ratio, for information; a study gives
    its engine's own.
    """

    key: str
    title: str
    oxidiser: LiquidProperties | None
    fuel: LiquidProperties
    mixture_ratio: float | None


_SATURATED: Final = Source(
    "Reference equations of state as evaluated by CoolProp 8.0.0 (Bell et al., Ind. Eng. Chem. Res. 53, 2014)",
    "saturated liquid and vapour at 101 325 Pa",
    Standing.PUBLISHED,
    2014,
)
_STORABLE: Final = Source(
    "RocketProps documentation, n2o4_prop and mmh_prop",
    "density at 293.15 K and 1 atm; handbooks from memory lie within 0.7 %",
    Standing.SECOND_HAND,
)
_KEROSENE: Final = Source(
    "MIL-DTL-25576, rocket propellant kerosene",
    "0.799 to 0.815 at 15 C, from memory; the middle is used",
    Standing.SECOND_HAND,
)
_AEROZINE: Final = Source(
    "Equal parts by mass of hydrazine and unsymmetrical dimethylhydrazine",
    "899 kg/m3 near 298 K, from memory",
    Standing.SECOND_HAND,
)
_HYDRAZINE: Final = Source("Hydrazine, anhydrous", "1008 kg/m3 at 293 K, from memory", Standing.SECOND_HAND)


def _cryogen(name: str, liquid_kg_m3: float, vapour_kg_m3: float, latent_heat_j_kg: float) -> LiquidProperties:
    heat = vent_heat(latent_heat_j_kg, liquid_kg_m3, vapour_kg_m3)
    return LiquidProperties(name, liquid_kg_m3, heat, _SATURATED)


_OXYGEN: Final = _cryogen("oxygen", 1141.17, 4.4671, 213.06e3)
_HYDROGEN: Final = _cryogen("hydrogen", 70.828, 1.3386, 446.07e3)
_METHANE: Final = _cryogen("methane", 422.36, 1.8164, 510.83e3)
_RP1: Final = LiquidProperties("kerosene", 807.0, None, _KEROSENE)
_N2O4: Final = LiquidProperties("nitrogen tetroxide", 1441.44, None, _STORABLE)
_MMH: Final = LiquidProperties("monomethylhydrazine", 879.84, None, _STORABLE)
_A50: Final = LiquidProperties("hydrazine mixture", 899.0, None, _AEROZINE)
_N2H4: Final = LiquidProperties("hydrazine", 1008.0, None, _HYDRAZINE)

_ALL: Final = (
    Combination("lox-lh2", "oxygen and hydrogen", _OXYGEN, _HYDROGEN, 6.0),
    Combination("lox-lch4", "oxygen and methane", _OXYGEN, _METHANE, 3.6),
    Combination("lox-rp1", "oxygen and kerosene", _OXYGEN, _RP1, 2.6),
    Combination("n2o4-mmh", "nitrogen tetroxide and monomethylhydrazine", _N2O4, _MMH, 1.65),
    Combination("n2o4-a50", "nitrogen tetroxide and hydrazine mixture", _N2O4, _A50, 1.6),
    Combination("hydrazine", "hydrazine, monopropellant", None, _N2H4, None),
)

PROPELLANTS: Final[Mapping[str, Combination]] = MappingProxyType({c.key: c for c in _ALL})
"""Every combination a tank may hold, by the key a study writes."""


LIQUIDS: Final[Mapping[str, LiquidProperties]] = MappingProxyType(
    {liquid.name: liquid for each in _ALL for liquid in (each.oxidiser, each.fuel) if liquid is not None}
)
"""Every liquid of these combinations by its own name."""


def bulk_density(combination: Combination, mixture_ratio: float) -> float:
    """Density of both liquids of a combination together.

    Parameters
    ----------
    combination
        A combination with an oxidiser.
    mixture_ratio
        Oxidiser over fuel by mass.

    Returns
    -------
    float
        Mass over the two liquids' own volumes, kg/m3: (1 + r) / (r/rho_o + 1/rho_f).
    """
    if combination.oxidiser is None:
        return combination.fuel.density_kg_m3
    oxidiser_m3 = mixture_ratio / combination.oxidiser.density_kg_m3
    return (1.0 + mixture_ratio) / (oxidiser_m3 + 1.0 / combination.fuel.density_kg_m3)
