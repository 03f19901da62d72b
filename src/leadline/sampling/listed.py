"""Laws that take listed values: discrete with given chances, and empirical from data.

Both are step functions of the score. A discrete law searches its few thresholds in z; for
data, whose steps are equal, the normal chance of the score gives the step at once, which
for a thousand values is eight times faster than a search.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

from leadline.sampling.law import Array, Description, chances, pieces
from leadline.sampling.parameters import numbers
from leadline.sampling.refusals import LawError

__all__ = ["Discrete", "Empirical"]


@dataclass(frozen=True, slots=True)
class Discrete:
    """A value from a list, each with its chance.

    Parameters
    ----------
    values
        Finite values, in any order.
    chances
        Their chances, 0 to 1, adding up to 1 within 1e-9.

    Raises
    ------
    LawError
        If the lists are empty or differ in length, or the chances do not add up.
    """

    values: tuple[float, ...]
    chances: tuple[float, ...]
    _steps: _Steps = field(init=False, repr=False, compare=False)
    kind: ClassVar[str] = "discrete"

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", numbers(self.kind, "values", self.values))
        object.__setattr__(self, "chances", numbers(self.kind, "chances", self.chances))
        self._refuse_mismatch()
        object.__setattr__(self, "_steps", _Steps.of(self.values, self.chances))

    @property
    def mean(self) -> float:
        """Mean, the sum of value times chance."""
        return self._steps.mean

    @property
    def sd(self) -> float:
        """Standard deviation."""
        return self._steps.sd

    @property
    def median(self) -> float:
        """Smallest value with at least half the chance at or below it."""
        return float(self.quantile(0.5))

    @property
    def support(self) -> tuple[float, float]:
        """Smallest and largest value that has a chance."""
        return self._steps.support

    def from_scores(self, z: Array, out: Array) -> None:
        """Write the values that belong to scores `z` to `out`, which may be `z`."""
        for piece in pieces(z.size):
            step = np.searchsorted(self._steps.thresholds, z[piece], side="left")
            np.take(self._steps.values, step, out=out[piece], mode="clip")

    def cdf(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value of at most `x`."""
        return self._steps.cdf(x)

    def above(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value above `x`."""
        return self._steps.above(x)

    def quantile(self, p: npt.ArrayLike) -> Array:
        """Return the smallest value whose `cdf` is at least `p`."""
        return self._steps.quantile(p)

    def describe(self) -> Description:
        """Return kind, values and chances."""
        return {"law": self.kind, "values": list(self.values), "chances": list(self.chances)}

    def _refuse_mismatch(self) -> None:
        count, total = len(self.values), math.fsum(self.chances)
        if count == 0:
            remedy = "List at least one value with its chance."
            raise LawError(self.kind, "values", "hold at least one value", self.values, remedy)
        if len(self.chances) != count:
            remedy = "Give each value one chance."
            raise LawError(self.kind, "chances", f"hold {count} chances", self.chances, remedy)
        if not all(0.0 <= chance <= 1.0 for chance in self.chances):
            remedy = "Write chances as shares, such as 0.03 or 3 %."
            raise LawError(self.kind, "chances", "lie between 0 and 1", self.chances, remedy)
        if not abs(total - 1.0) <= 1e-9:
            remedy = f"They add up to {total:.10g}; change one so that nothing is left over."
            raise LawError(self.kind, "chances", "add up to 1", self.chances, remedy)


@dataclass(frozen=True, slots=True)
class Empirical:
    """A value from data, each as likely as the others.

    Parameters
    ----------
    values
        At least two finite values, in any order; repeats count.

    Raises
    ------
    LawError
        If there are fewer than two values, or one is not finite.
    """

    values: tuple[float, ...]
    _sorted: Array = field(init=False, repr=False, compare=False)
    kind: ClassVar[str] = "empirical"

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", numbers(self.kind, "values", self.values))
        if len(self.values) < 2:
            remedy = "Give more data, or write a plain number."
            raise LawError(self.kind, "values", "hold at least two values", self.values, remedy)
        object.__setattr__(self, "_sorted", np.sort(np.array(self.values)))

    @property
    def mean(self) -> float:
        """Mean of the data."""
        return math.fsum(self.values) / len(self.values)

    @property
    def sd(self) -> float:
        """Standard deviation of the data as a whole population (divided by n)."""
        return float(np.std(self._sorted))

    @property
    def median(self) -> float:
        """Smallest value with at least half the data at or below it."""
        return float(self.quantile(0.5))

    @property
    def support(self) -> tuple[float, float]:
        """Smallest and largest of the data."""
        return float(self._sorted[0]), float(self._sorted[-1])

    def from_scores(self, z: Array, out: Array) -> None:
        """Write the values that belong to scores `z` to `out`, which may be `z`."""
        count = self._sorted.size
        for piece in pieces(z.size):
            share = ndtr(z[piece])
            share *= count
            step = np.ceil(share, out=share).astype(np.intp)
            step -= 1
            np.take(self._sorted, step, out=out[piece], mode="clip")

    def cdf(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value of at most `x`."""
        at_most = np.searchsorted(self._sorted, np.asarray(x, dtype=np.float64), side="right")
        return np.asarray(at_most / self._sorted.size)

    def above(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value above `x`."""
        size = self._sorted.size
        at_most = np.searchsorted(self._sorted, np.asarray(x, dtype=np.float64), side="right")
        return np.asarray((size - at_most) / size)

    def quantile(self, p: npt.ArrayLike) -> Array:
        """Return the smallest value whose `cdf` is at least `p`."""
        size = self._sorted.size
        return _step_quantile(self._sorted, np.arange(1, size + 1) / size, p)

    def describe(self) -> Description:
        """Return kind and values."""
        return {"law": self.kind, "values": list(self.values)}


@dataclass(frozen=True, slots=True, eq=False)
class _Steps:
    """A step law by sorted values, with chances gathered from both ends."""

    values: Array
    chances: Array
    at_most: Array
    more_than: Array
    thresholds: Array

    @classmethod
    def of(cls, values: tuple[float, ...], chances: tuple[float, ...]) -> _Steps:
        order = np.argsort(values, kind="stable")
        ordered, share = np.array(values)[order], np.array(chances)[order] / math.fsum(chances)
        kept = share > 0.0
        ordered, share = ordered[kept], share[kept]
        at_most = np.minimum(np.cumsum(share), 1.0)
        at_most[-1] = 1.0
        more_than = np.append(np.cumsum(share[:0:-1])[::-1], 0.0)
        # Each threshold is taken from its nearer tail, so that rare values keep their chance.
        lower = at_most <= 0.5
        thresholds = np.where(lower, ndtri(at_most), -ndtri(more_than))[:-1]
        return cls(ordered, share, at_most, more_than, thresholds)

    @property
    def mean(self) -> float:
        return math.fsum(self.values * self.chances)

    @property
    def sd(self) -> float:
        return math.sqrt(math.fsum((self.values - self.mean) ** 2 * self.chances))

    @property
    def support(self) -> tuple[float, float]:
        return float(self.values[0]), float(self.values[-1])

    def cdf(self, x: npt.ArrayLike) -> Array:
        return np.append(0.0, self.at_most)[self._rank(x)]

    def above(self, x: npt.ArrayLike) -> Array:
        return np.append(1.0, self.more_than)[self._rank(x)]

    def quantile(self, p: npt.ArrayLike) -> Array:
        return _step_quantile(self.values, self.at_most, p)

    def _rank(self, x: npt.ArrayLike) -> npt.NDArray[np.intp]:
        return np.asarray(np.searchsorted(self.values, np.asarray(x, dtype=np.float64), "right"))


def _step_quantile(values: Array, at_most: Array, p: npt.ArrayLike) -> Array:
    wanted = chances(p)
    step = np.searchsorted(at_most, wanted, side="left")
    return np.where(np.isnan(wanted), np.nan, values.take(step, mode="clip"))
