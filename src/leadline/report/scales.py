"""The unit an axis is read in: the one the largest value on it is written in elsewhere."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from leadline.report.wording import with_powers
from leadline.units import DIMENSIONS, humanise

__all__ = ["Scale", "scale_for"]


@dataclass(frozen=True, slots=True)
class Scale:
    """A unit to read in, and how many SI units make one of it."""

    unit: str
    size: float

    def __call__(self, value: float) -> float:
        """Return an SI value in this unit, to the seven digits a drawing can use."""
        return float(f"{value / self.size:.7g}")

    def titled(self, what: str) -> str:
        """Return an axis title such as ``margin, t``."""
        return f"{what}, {with_powers(self.unit)}" if self.unit else what


def scale_for(values: Iterable[float], unit: str) -> Scale:
    """Return the unit in which an axis reaching over these SI values reads best."""
    largest = max((abs(value) for value in values), default=0.0)
    symbol = humanise(largest, unit).partition(" ")[2]
    for dimension in DIMENSIONS:
        if dimension.si == unit and symbol in dimension.units:
            return Scale(symbol, float(dimension.units[symbol].factor))
    return Scale(unit, 1.0)
