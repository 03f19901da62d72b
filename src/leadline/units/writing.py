"""SI values as a page shows them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

__all__ = ["humanise"]

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
        "W/m2": ((1e6, "MW/m2", 1e6), (1000.0, "kW/m2", 1000.0)),
        "J/m2": ((1e6, "MJ/m2", 1e6), (1000.0, "kJ/m2", 1000.0)),
        "J/kg": ((1e6, "MJ/kg", 1e6), (1000.0, "kJ/kg", 1000.0)),
        "rad": ((0.0, "deg", math.pi / 180.0),),
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
