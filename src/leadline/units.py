"""Units at the border: what a study may write, and what a page shows.

Each quantity has a short list of units; what could be misread (kt, ton, lb) is refused with
the unit that was meant. Factors are exact fractions, so ``1.1 t`` and ``1100 kg`` are the
same float64. Inside leadline every number is SI and has no unit object.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Final

from leadline.errors import LeadlineError

__all__ = [
    "ANGLE",
    "DENSITY",
    "DIMENSIONS",
    "FORCE",
    "FRACTION",
    "LENGTH",
    "MASS",
    "POWER",
    "PRESSURE",
    "RATE",
    "RATIO",
    "SPECIFIC_IMPULSE",
    "SPEED",
    "TEMPERATURE",
    "TIME",
    "VOLUME",
    "Dimension",
    "QuantityError",
    "Unit",
    "humanise",
    "parse_quantity",
]


class QuantityError(LeadlineError):
    """A text is no quantity of the wanted dimension.

    Parameters
    ----------
    message
        What is wrong with it.
    remedy
        What to write instead.
    code
        A short stable word for programs.
    """

    def __init__(self, message: str, remedy: str, code: str) -> None:
        self.message, self.remedy, self.code = message, remedy, code
        super().__init__(f"{message} {remedy}")

    def __reduce__(self) -> tuple[type[QuantityError], tuple[str, str, str]]:
        return type(self), (self.message, self.remedy, self.code)


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

DIMENSIONS: Final = (
    MASS, TIME, SPEED, SPECIFIC_IMPULSE, FORCE, VOLUME, LENGTH, ANGLE, POWER, FRACTION, RATIO, RATE,
    PRESSURE, DENSITY, TEMPERATURE,
)  # fmt: skip

_MISLEADING: Final[Mapping[str, str]] = MappingProxyType(
    {
        "kt": "it may be knots or kilotonnes; write t (1000 kg) for a mass, m/s for a speed",
        "ton": "there are three tons; write t (1000 kg)",
        "lb": "it may be a mass or a force; write lbm (0.45359237 kg) or lbf",
        "Mg": "it is too easily read as mg; write t (1000 kg)",
        "oz": "it may be a mass or a volume; write kg or L",
        "gal": "there are two gallons; write L or m3",
        "l": "it is too easily read as 1; write L",
        "yr": "there are several years; write d (86400 s)",
        "C": "it is also the coulomb; write degC or K",
        "degF": "write K",
    }
)
_SPELLED_OUT: Final[Mapping[str, str]] = MappingProxyType(
    {
        "tonne": "t", "tonnes": "t", "kilogram": "kg", "kilograms": "kg", "kgs": "kg", "gram": "g", "grams": "g",
        "sec": "s", "secs": "s", "second": "s", "seconds": "s", "mins": "min", "minute": "min", "minutes": "min",
        "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "day": "d", "days": "d", "mps": "m/s", "kps": "km/s",
        "newton": "N", "newtons": "N", "watt": "W", "watts": "W",
        "litre": "L", "litres": "L", "liter": "L", "liters": "L",
        "tons": "ton", "lbs": "lb", "percent": "%", "per cent": "%", "pct": "%", "kelvin": "K", "°C": "degC",
        "% per day": "%/d", "%/day": "%/d", "percent/day": "%/d", "1/d": "/d", "metres": "m", "meters": "m",
    }
)  # fmt: skip

_QUANTITY: Final = re.compile(r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,17})?)\s*(\D.*)?", re.DOTALL)
_GROUPED: Final = re.compile(r"[+-]?[0-9]+(?:[\s_'’\u202f\u00a0][0-9]+)+")
_COMMA: Final = re.compile(r"[+-]?[0-9][0-9.]*,[0-9]")
_NOT_FINITE: Final = re.compile(r"[+-]?\.?(?:nan|inf|infinity|infinite)\b", re.IGNORECASE)
_LONGEST: Final = 80
_LARGEST: Final = Fraction(10**30)
_MOST_DIGITS: Final = 60


def parse_quantity(given: str | float, dimension: Dimension, *, difference: bool = False) -> float:
    """Read a quantity into SI.

    Parameters
    ----------
    given
        Such as ``"18.4 t"``; a plain number only where the dimension has no unit.
    dimension
        What is wanted.
    difference
        Whether the quantity is a difference or a spread, so that the zero of a scale such
        as degC does not enter.

    Returns
    -------
    float
        In the SI unit of the dimension, correctly rounded from the exact product.

    Raises
    ------
    QuantityError
        With what to write instead.
    """
    if isinstance(given, str):
        number, symbol = _split(given.strip(), dimension)
    else:
        number, symbol = _plain(given, dimension), ""
    unit = _unit(symbol, str(given), dimension)
    value = unit.factor * (number if difference else number + unit.offset)
    if abs(value) > _LARGEST or 0 < abs(value) < 1 / _LARGEST:
        raise _out_of_range(str(given), dimension, large=value > 1 or value < -1)
    return float(value)


def _plain(given: float, dimension: Dimension) -> Fraction:
    if not -math.inf < given < math.inf:
        raise _not_finite(str(given), dimension)
    if abs(given) > _LARGEST:
        raise _out_of_range(f"{float(_LARGEST):.0e} or more", dimension, large=True)
    return Fraction(str(given))


def _split(text: str, dimension: Dimension) -> tuple[Fraction, str]:
    match = _QUANTITY.fullmatch(text) if len(text) <= _LONGEST else None
    if match is None or _GROUPED.match(text) or _COMMA.match(text):
        raise _unreadable(text, dimension)
    number = Decimal(match[1])
    if number and abs(number.adjusted()) > _MOST_DIGITS:  # before a power of ten fills the memory
        raise _out_of_range(text, dimension, large=number.adjusted() > 0)
    return Fraction(number), (match[2] or "").strip()


def _out_of_range(text: str, dimension: Dimension, *, large: bool) -> QuantityError:
    message = f"{_shown(text)} is too {'large' if large else 'small'} for a {dimension.name}."
    return QuantityError(message, f"Write {dimension.wanted}.", "out-of-range")


def _unreadable(text: str, dimension: Dimension) -> QuantityError:
    shown = _shown(text)
    if _COMMA.match(text):
        remedy = f"Write the decimal sign as a point and no thousands separators: {dimension.wanted}."
        return QuantityError(f"{shown} has a comma in its number.", remedy, "number-format")
    if _GROUPED.match(text):
        remedy = f"Write the digits together: {dimension.wanted}."
        return QuantityError(f"{shown} has a separator in its number.", remedy, "number-format")
    if _NOT_FINITE.match(text):
        return _not_finite(text, dimension)
    if text.startswith("\u2212"):
        return QuantityError(
            f"{shown} begins with a typographic minus sign.", "Write it as a hyphen, -.", "number-format"
        )
    return QuantityError(f"{shown} is not a {dimension.name}.", f"Write {dimension.wanted}.", "not-a-quantity")


def _not_finite(text: str, dimension: Dimension) -> QuantityError:
    remedy = f"Write a finite {dimension.name}: {dimension.wanted}."
    return QuantityError(f"{_shown(text)} is not a finite number.", remedy, "not-finite")


def _missing_unit(text: str, dimension: Dimension) -> QuantityError:
    symbols = [symbol for symbol in dimension.units if symbol]
    number = text.strip()[:_LONGEST]
    meant = " or ".join(f'"{number} {symbol}"' for symbol in symbols[:2])
    remedy = f"Write {meant}, whichever is meant."
    return QuantityError(f"{_shown(number)} has no unit; a {dimension.name} needs one.", remedy, "missing-unit")


def _unit(symbol: str, given: str, dimension: Dimension) -> Unit:
    plain = symbol.replace("³", "3").replace("²", "2").replace("^", "")
    if plain in dimension.units:
        return dimension.units[plain]
    if not plain:
        raise _missing_unit(given, dimension)
    message, code = _wrong_unit(plain, _shown(given), dimension)
    raise QuantityError(message, f"Write {dimension.wanted}.", code)


def _wrong_unit(symbol: str, shown: str, dimension: Dimension) -> tuple[str, str]:
    meant = _SPELLED_OUT.get(symbol, _SPELLED_OUT.get(symbol.lower(), symbol))
    if meant in _MISLEADING:
        return f"{shown}: {symbol} is not accepted: {_MISLEADING[meant]}.", "ambiguous-unit"
    if meant not in dimension.units:
        meant = next((known for known in dimension.units if known.lower() == symbol.lower()), meant)
    if meant in dimension.units:
        return f'{shown}: write "{meant}" for {symbol}.', "unknown-unit"
    other = next((d for d in DIMENSIONS if meant in d.units), None)
    if other is not None:
        return f"{shown}: {meant} is a unit of {other.name}, and a {dimension.name} is wanted.", "wrong-dimension"
    return f"{shown}: {symbol} is no unit known for a {dimension.name}.", "unknown-unit"


def _shown(text: str) -> str:
    return f'"{text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."}"'


_SHOWN_IN: Final[Mapping[str, tuple[tuple[float, str, float], ...]]] = MappingProxyType(
    {
        # from this size up, in this unit, of so many SI units
        "kg": ((1000.0, "t", 1000.0),),
        "m/s": ((1000.0, "km/s", 1000.0),),
        "s": ((172800.0, "d", 86400.0), (7200.0, "h", 3600.0), (120.0, "min", 60.0)),
        "m": ((1000.0, "km", 1000.0),),
        "N": ((1e6, "MN", 1e6), (1000.0, "kN", 1000.0)),
        "W": ((1e6, "MW", 1e6), (1000.0, "kW", 1000.0)),
        "Pa": ((1e6, "MPa", 1e6), (1000.0, "kPa", 1000.0)),
        "/s": ((0.0, "%/d", 0.01 / 86400.0),),
    }
)


def humanise(value_si: float, unit_si: str, digits: int = 3) -> str:
    """Write an SI value as a page shows it.

    Parameters
    ----------
    value_si
        The value; what is not finite is said in words.
    unit_si
        Its SI unit, such as ``kg``; empty for a plain number.
    digits
        Significant digits; whole numbers keep all theirs.

    Returns
    -------
    str
        Such as ``18.4 t`` for 18 400 kg.
    """
    if not math.isfinite(value_si):
        return "not a number" if math.isnan(value_si) else ("-" if value_si < 0 else "") + "unlimited"
    rounded = float(f"{value_si:.{digits - 1}e}")
    for threshold, unit, size in _SHOWN_IN.get(unit_si, ()):
        if abs(rounded) >= threshold:
            return f"{_figures(value_si / size, digits)} {unit}"
    return f"{_figures(value_si, digits)} {unit_si}".rstrip()


def _figures(value: float, digits: int) -> str:
    rounded = float(f"{value:.{digits - 1}e}")
    if rounded == 0 or not 1e-4 <= abs(rounded) < 1e15:
        return f"{rounded:.{digits}g}"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(rounded))))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
