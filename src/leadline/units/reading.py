"""Quantities read from a text into SI."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Final

from leadline.errors import LeadlineError
from leadline.units.dimensions import DIMENSIONS, Dimension, Unit

__all__ = ["QuantityError", "parse_quantity"]


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
