"""PERT law: a beta law on a range, given by its ends and its most likely value.

The beta quantile costs 700 ns a value, so scores are mapped through a table in z: cubic
Hermite pieces with the exact derivative at the nodes, built once per shape when first
needed. Its error is below 1e-9 of the range, which the tests prove against scipy.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar, Final

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, betaincinv, betaln, ndtr

from leadline.constants import Source, Standing
from leadline.sampling.law import WIDE_PIECE, Array, Description, chances, pieces
from leadline.sampling.parameters import number, ordered
from leadline.sampling.refusals import LawError

__all__ = ["PERT_SOURCE", "Pert"]

PERT_SOURCE: Final = Source(
    "mc2d and u-numflow reference pages, PERT distribution",
    "shape parameters and mean; the variance is that of the beta law, and weight 4 the usual choice",
    Standing.SECOND_HAND,
)

_REACH: Final = 10.0
"""Scores beyond this (chance 1.5e-23) take the value at this score."""

_INTERVALS: Final = 1024
"""Table intervals over both sides; the interpolation error falls with the fourth power."""


@dataclass(frozen=True, slots=True)
class Pert:
    """PERT law.

    Parameters
    ----------
    low, likely, high
        Ends and mode, finite, low <= likely <= high, low < high.
    weight
        Pull of the mode, above zero and at most 1000; 4 by default, the usual choice.

    Raises
    ------
    LawError
        If a parameter is out of its bounds.
    """

    low: float
    likely: float
    high: float
    weight: float = 4.0
    kind: ClassVar[str] = "pert"

    def __post_init__(self) -> None:
        for field in ("low", "likely", "high", "weight"):
            object.__setattr__(self, field, number(self.kind, field, getattr(self, field)))
        ordered(self.kind, self.low, self.likely, self.high)
        if not 0.0 < self.weight <= 1000.0:
            remedy = "Leave it out to get the usual 4."
            raise LawError(self.kind, "weight", "be above 0 and at most 1000", self.weight, remedy)

    @property
    def shape(self) -> tuple[float, float]:
        """Parameters of the beta law, 1 + weight m and 1 + weight (1 - m), mode at share m."""
        mode = (self.likely - self.low) / (self.high - self.low)
        return 1.0 + self.weight * mode, 1.0 + self.weight * (1.0 - mode)

    @property
    def mean(self) -> float:
        """Mean, (low + weight likely + high) / (weight + 2)."""
        return self.low + (self.high - self.low) * self._mean_share

    @property
    def sd(self) -> float:
        """Standard deviation, exact: var = (mean - low)(high - mean) / (weight + 3)."""
        share = self._mean_share
        return (self.high - self.low) * math.sqrt(share * (1.0 - share) / (self.weight + 3.0))

    @property
    def median(self) -> float:
        """Median."""
        return float(self.quantile(0.5))

    @property
    def support(self) -> tuple[float, float]:
        """Both ends."""
        return self.low, self.high

    def from_scores(self, z: Array, out: Array) -> None:
        """Write the values that belong to scores `z` to `out`, within 1e-9 of the range."""
        table = _table(*self.shape)
        for piece in pieces(z.size, WIDE_PIECE):
            _interpolate(table, z[piece], out[piece])
        np.multiply(out, self.high - self.low, out=out)
        np.add(out, self.low, out=out)
        np.minimum(out, self.high, out=out)  # rounding may pass the end by one unit

    def cdf(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value of at most `x`."""
        a, b = self.shape
        return np.asarray(betainc(a, b, self._share(np.asarray(x, dtype=np.float64) - self.low)))

    def above(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value above `x`."""
        a, b = self.shape
        return np.asarray(betainc(b, a, self._share(self.high - np.asarray(x, dtype=np.float64))))

    def quantile(self, p: npt.ArrayLike) -> Array:
        """Return the value below which the chance is `p`, without the table; below 1e-100 held."""
        a, b = self.shape
        given = chances(p)
        # scipy's inverse fails below about 1e-107 for some shapes.
        share = np.where(given == 0.0, 0.0, betaincinv(a, b, np.maximum(given, 1e-100)))
        return np.minimum(self.low + (self.high - self.low) * share, self.high)

    def describe(self) -> Description:
        """Return kind, low, likely, high and weight."""
        fields = ("low", "likely", "high", "weight")
        return {"law": self.kind, **{field: getattr(self, field) for field in fields}}

    @property
    def _mean_share(self) -> float:
        a, b = self.shape
        return a / (a + b)

    def _share(self, distance: Array) -> Array:
        return np.clip(distance / (self.high - self.low), 0.0, 1.0)


def _interpolate(table: Array, z: Array, out: Array) -> None:
    cell, share = _locate(z)
    value = table[3].take(cell)
    for coefficients in table[2::-1]:
        value *= share
        value += coefficients.take(cell)
    np.maximum(value, 0.0, out=value)
    np.minimum(value, 1.0, out=out)


def _locate(z: Array) -> tuple[npt.NDArray[np.intp], Array]:
    """Return the interval of each score and how far across it the score lies."""
    place = np.maximum(z, -_REACH)
    np.minimum(place, _REACH, out=place)
    place += _REACH
    place *= _INTERVALS / (2.0 * _REACH)
    below = np.floor(place)
    np.minimum(below, _INTERVALS - 1, out=below)
    place -= below
    return below.astype(np.intp), place


@lru_cache(maxsize=256)
def _table(a: float, b: float) -> Array:
    """Return cubic coefficients by rising power, shape (4, intervals), of beta quantile at z."""
    z = np.linspace(-_REACH, _REACH, _INTERVALS + 1)
    value, slope = _quantile_and_slope(a, b, z)
    slope *= 2.0 * _REACH / _INTERVALS
    rise = np.diff(value)
    start, end = slope[:-1], slope[1:]
    table = np.stack([value[:-1], start, 3.0 * rise - 2.0 * start - end, start + end - 2.0 * rise])
    table.flags.writeable = False
    return table


def _quantile_and_slope(a: float, b: float, z: Array) -> tuple[Array, Array]:
    """Return the beta quantile x at Phi(z), and dx/dz = phi(z) / pdf(x).

    The nearer end is always measured from itself, so that neither tail loses digits.
    """
    tail = ndtr(-np.abs(z))
    from_low, from_high = betaincinv(a, b, tail), betaincinv(b, a, tail)
    left = z < 0.0
    x = np.where(left, from_low, 1.0 - from_high)
    y = np.where(left, 1.0 - from_low, from_high)
    log_normal = -0.5 * z**2 - 0.5 * math.log(2.0 * math.pi)
    log_beta = (a - 1.0) * np.log(x) + (b - 1.0) * np.log(y) - betaln(a, b)
    return x, np.exp(log_normal - log_beta)
