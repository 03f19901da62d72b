"""The dimensions of a study's numbers and the units each may be written in.

Factors are exact fractions of the SI unit, each with what defines it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType
from typing import Final

__all__ = [
    "ACCELERATION",
    "ANGLE",
    "AREA",
    "AREAL_MASS",
    "DENSITY",
    "DIMENSIONS",
    "FORCE",
    "FRACTION",
    "HEAT_FLUX",
    "HEAT_LOAD",
    "LENGTH",
    "MASS",
    "POWER",
    "PRESSURE",
    "RATE",
    "RATIO",
    "SPECIFIC_ENERGY",
    "SPECIFIC_IMPULSE",
    "SPEED",
    "TEMPERATURE",
    "TIME",
    "VOLUME",
    "Dimension",
    "Unit",
]


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: SI value = factor * (number + offset), exactly; `source` defines the factor."""

    symbol: str
    factor: Fraction
    source: str
    offset: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Dimension:
    """A kind of quantity and the units it may be written in.

    Parameters
    ----------
    name
        What it is called in a sentence, such as ``mass``.
    si
        The unit used inside; empty where a number has none.
    units
        Accepted units by symbol.
    example
        A quantity as a study writes it.
    """

    name: str
    si: str
    units: Mapping[str, Unit]
    example: str

    @property
    def bare(self) -> bool:
        """Whether a number may stand without a unit."""
        return not self.si

    @property
    def wanted(self) -> str:
        """Which units to write, as the end of a sentence."""
        symbols = [symbol for symbol in self.units if symbol]
        listed = ", ".join(symbols[:-1]) + f" or {symbols[-1]}" if len(symbols) > 1 else "".join(symbols)
        plain = f"a plain number or one in {listed}" if listed else "a plain number"
        return f'{plain if self.bare else listed}, for example "{self.example}"'


_SI: Final = "SI Brochure, 9th edition (2019)"


_NON_SI: Final = "SI Brochure, 9th edition (2019), table 8"


_YARD_POUND: Final = "International yard and pound agreement (1959): 1 yd = 0.9144 m, 1 lb = 0.453 592 37 kg"


_GRAVITY: Final = "3rd CGPM (1901): g_n = 9.806 65 m/s2"


_ATMOSPHERE: Final = "10th CGPM (1954): 1 atm = 101 325 Pa"


_DEFINITION: Final = "by definition"


_POUND_KG: Final = Fraction("0.45359237")


_FOOT_M: Final = Fraction("0.3048")


_GRAVITY_M_S2: Final = Fraction("9.80665")


_DAY_S: Final = 86400


_PERCENT: Final = Fraction(1, 100)


def _dimension(name: str, si: str, example: str, *units: tuple[str, Fraction | int | str, str]) -> Dimension:
    table = {symbol: Unit(symbol, Fraction(factor), source) for symbol, factor, source in units}
    return Dimension(name, si, MappingProxyType(table), example)


MASS: Final = _dimension(
    "mass", "kg", "18.4 t", ("kg", 1, _SI), ("t", 1000, _NON_SI), ("g", "1/1000", _SI), ("lbm", _POUND_KG, _YARD_POUND)
)


TIME: Final = _dimension(
    "time", "s", "96 h", ("s", 1, _SI), ("min", 60, _NON_SI), ("h", 3600, _NON_SI), ("d", _DAY_S, _NON_SI)
)


SPEED: Final = _dimension(
    "speed", "m/s", "3.1 km/s", ("m/s", 1, _SI), ("km/s", 1000, _SI), ("ft/s", _FOOT_M, _YARD_POUND)
)


SPECIFIC_IMPULSE: Final = _dimension("specific impulse", "s", "447 s", ("s", 1, _SI))


FORCE: Final = _dimension(
    "force",
    "N",
    "66 kN",
    ("N", 1, _SI),
    ("kN", 1000, _SI),
    ("MN", 10**6, _SI),
    ("kgf", _GRAVITY_M_S2, _GRAVITY),
    ("lbf", _POUND_KG * _GRAVITY_M_S2, f"{_YARD_POUND}; {_GRAVITY}"),
)


VOLUME: Final = _dimension(
    "volume", "m3", "170 m3", ("m3", 1, _SI), ("L", "1/1000", _NON_SI), ("ft3", _FOOT_M**3, _YARD_POUND)
)


LENGTH: Final = _dimension("length", "m", "420 km", ("m", 1, _SI), ("km", 1000, _SI), ("ft", _FOOT_M, _YARD_POUND))


ANGLE: Final = _dimension("angle", "rad", "12 deg", ("rad", 1, _SI), ("deg", Fraction(math.pi) / 180, _NON_SI))


POWER: Final = _dimension("power", "W", "240 W", ("W", 1, _SI), ("kW", 1000, _SI), ("MW", 10**6, _SI))


FRACTION: Final = _dimension("fraction", "", "1 %", ("", 1, _DEFINITION), ("%", _PERCENT, _DEFINITION))


RATIO: Final = _dimension("number", "", "5.9", ("", 1, _DEFINITION))


RATE: Final = _dimension(
    "rate",
    "/s",
    "0.1 %/d",
    ("%/d", _PERCENT / _DAY_S, _NON_SI),
    ("%/h", _PERCENT / 3600, _NON_SI),
    ("/d", Fraction(1, _DAY_S), _NON_SI),
    ("/h", Fraction(1, 3600), _NON_SI),
    ("/s", 1, _SI),
)


PRESSURE: Final = _dimension(
    "pressure",
    "Pa",
    "250 kPa",
    ("Pa", 1, _SI),
    ("kPa", 1000, _SI),
    ("MPa", 10**6, _SI),
    ("bar", 10**5, "1 bar = 100 kPa, by definition"),
    ("atm", 101325, _ATMOSPHERE),
    ("psi", _POUND_KG * _GRAVITY_M_S2 / (_FOOT_M / 12) ** 2, f"{_YARD_POUND}; {_GRAVITY}"),
)


DENSITY: Final = _dimension(
    "density",
    "kg/m3",
    "1141 kg/m3",
    ("kg/m3", 1, _SI),
    ("t/m3", 1000, _NON_SI),
    ("g/cm3", 1000, _SI),
    ("kg/L", 1000, _NON_SI),
)


_KELVIN: Final = Unit("K", Fraction(1), _SI)


_CELSIUS: Final = Unit("degC", Fraction(1), _SI, offset=Fraction("273.15"))


TEMPERATURE: Final = Dimension("temperature", "K", MappingProxyType({"K": _KELVIN, "degC": _CELSIUS}), "293 K")


AREA: Final = _dimension(
    "area", "m2", "8 m2", ("m2", 1, _SI), ("cm2", "1/10000", _SI), ("ft2", _FOOT_M**2, _YARD_POUND)
)
HEAT_FLUX: Final = _dimension(
    "heat flux",
    "W/m2",
    "0.5 W/m2",
    ("W/m2", 1, _SI),
    ("kW/m2", 1000, _SI),
    ("MW/m2", 10**6, _SI),
    ("W/cm2", 10**4, _SI),
)
HEAT_LOAD: Final = _dimension(
    "heat load",
    "J/m2",
    "280 MJ/m2",
    ("J/m2", 1, _SI),
    ("kJ/m2", 1000, _SI),
    ("MJ/m2", 10**6, _SI),
    ("J/cm2", 10**4, _SI),
    ("kJ/cm2", 10**7, _SI),
)
ACCELERATION: Final = _dimension("acceleration", "m/s2", "8 g0", ("m/s2", 1, _SI), ("g0", _GRAVITY_M_S2, _GRAVITY))
AREAL_MASS: Final = _dimension("mass per area", "kg/m2", "350 kg/m2", ("kg/m2", 1, _SI), ("t/m2", 1000, _NON_SI))
SPECIFIC_ENERGY: Final = _dimension(
    "heat per mass", "J/kg", "450 kJ/kg", ("J/kg", 1, _SI), ("kJ/kg", 1000, _SI), ("MJ/kg", 10**6, _SI)
)

DIMENSIONS: Final = (
    MASS, TIME, SPEED, SPECIFIC_IMPULSE, FORCE, VOLUME, LENGTH, ANGLE, POWER, FRACTION, RATIO, RATE,
    PRESSURE, DENSITY, TEMPERATURE, AREA, HEAT_FLUX, HEAT_LOAD, ACCELERATION, AREAL_MASS, SPECIFIC_ENERGY,
)  # fmt: skip
