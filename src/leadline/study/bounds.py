"""Physical bounds of a number, and what becomes of a law that reaches beyond them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from leadline.sampling.laws import Clipped, Law, probability_outside
from leadline.units import humanise

__all__ = ["ABOVE_ZERO", "ANY", "AT_LEAST_ZERO", "PART_OF_ONE", "TOLERATED", "Bounds", "Overreach"]

TOLERATED: Final = 1e-6
"""Chance of an impossible value beyond which a law is refused (trade practice, no source)."""

_UNREACHED: Final = 1e-15
"""Chance that no run of a practical size meets, so that nothing needs to be done about it."""

_FLOOR: Final = 1e-3
"""Where an open bound cuts a law off, as a share of its median: dividing by it stays finite."""


@dataclass(frozen=True, slots=True)
class Overreach:
    """How likely a law gives a value beyond a bound, with the bound in words."""

    chance: float
    beyond: str
    cut: str


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a number may be; an open end may be approached but not reached."""

    low: float = -math.inf
    high: float = math.inf
    open_low: bool = False
    open_high: bool = False

    def admit(self, value: float) -> bool:
        """Whether a fixed value is possible."""
        above = value > self.low if self.open_low else value >= self.low
        below = value < self.high if self.open_high else value <= self.high
        return above and below

    def words(self, unit: str) -> str:
        """Say what a value must be, to follow "must be"."""
        parts = []
        if self.low > -math.inf:
            parts.append(f"{'above' if self.open_low else 'at least'} {humanise(self.low, unit)}")
        if self.high < math.inf:
            parts.append(f"{'below' if self.open_high else 'at most'} {humanise(self.high, unit)}")
        return " and ".join(parts) or "a finite number"

    def overreach(self, law: Law, unit: str) -> Overreach | None:
        """Find the likelier of the two ways in which a law leaves the bounds."""
        low, high = self._chance_below(law), self._chance_above(law)
        if max(low, high) <= _UNREACHED:
            return None
        if low >= high:
            words = f"{humanise(self.low, unit)} or less" if self.open_low else f"less than {humanise(self.low, unit)}"
            return Overreach(low, words, "at_least")
        words = f"{humanise(self.high, unit)} or more" if self.open_high else f"more than {humanise(self.high, unit)}"
        return Overreach(high, words, "at_most")

    def cut(self, law: Law) -> Law:
        """Cut a law off where it leaves the bounds, a little inside an open one."""
        low = self.low
        if self.open_low and low == 0.0:
            low = _FLOOR * law.median
        high = 1.0 - _FLOOR if self.open_high and self.high == 1.0 else self.high
        return Clipped(law, low, high)

    def _chance_below(self, law: Law) -> float:
        """Chance of a value under the lower end; on it too, where it is open."""
        start = law.support[0]
        if start > self.low or (start == self.low and not self.open_low):
            return 0.0
        with np.errstate(all="ignore"):
            return probability_outside(law, self.low, open_low=self.open_low)

    def _chance_above(self, law: Law) -> float:
        end = law.support[1]
        if end < self.high or (end == self.high and not self.open_high):
            return 0.0
        with np.errstate(all="ignore"):
            return probability_outside(law, high=self.high, open_high=self.open_high)


ANY: Final = Bounds()
ABOVE_ZERO: Final = Bounds(low=0.0, open_low=True)
AT_LEAST_ZERO: Final = Bounds(low=0.0)
PART_OF_ONE: Final = Bounds(low=0.0, high=1.0, open_high=True)
