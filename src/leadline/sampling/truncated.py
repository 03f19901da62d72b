"""Laws kept within bounds: the truncated normal, and any law clipped at its bounds."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri, roots_legendre

from leadline.sampling.law import Array, Description, Law, both_tails, chances, pieces
from leadline.sampling.parameters import bound
from leadline.sampling.refusals import LawError
from leadline.sampling.smooth import Normal

__all__ = ["Clipped", "TruncatedNormal"]

_LEAST_KEPT = 1e-6


@dataclass(frozen=True, slots=True, init=False)
class TruncatedNormal:
    """Normal law given that it falls between two bounds.

    Parameters
    ----------
    mean, sd
        Of the normal law before it is cut; the properties `mean` and `sd` are those of
        the law after.
    low, high
        Bounds, low < high; infinite where there is none.

    Raises
    ------
    LawError
        If a parameter is out of its bounds, or the bounds keep less than a millionth of
        the normal law.
    """

    parent: Normal
    low: float
    high: float
    kind: ClassVar[str] = "truncated-normal"

    def __init__(self, mean: float, sd: float, low: float = -math.inf, high: float = math.inf) -> None:
        object.__setattr__(self, "parent", Normal(mean, sd))
        _set_bounds(self, low, high)
        if not self._kept >= _LEAST_KEPT:
            keep = "keep at least a millionth of the normal law"
            remedy = "Where the bounds say all, use a uniform or triangular law."
            raise LawError(self.kind, "low and high", keep, (self.low, self.high), remedy)

    @property
    def mean(self) -> float:
        """Mean after the cut."""
        return self.parent.mean + self.parent.sd * _moments(*self._window)[0]

    @property
    def sd(self) -> float:
        """Standard deviation after the cut."""
        return self.parent.sd * _moments(*self._window)[1]

    @property
    def median(self) -> float:
        """Median after the cut."""
        return float(self.quantile(0.5))

    @property
    def support(self) -> tuple[float, float]:
        """Both bounds."""
        return self.low, self.high

    def from_scores(self, z: Array, out: Array) -> None:
        """Write the values that belong to scores `z` to `out`, which may be `z`."""
        for piece in pieces(z.size):
            out[piece] = self._place(*both_tails(z[piece]))

    def cdf(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value of at most `x`."""
        return _mass(self._window[0], self._score(x)) / self._kept

    def above(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value above `x`."""
        return _mass(self._score(x), self._window[1]) / self._kept

    def quantile(self, p: npt.ArrayLike) -> Array:
        """Return the value below which the chance is `p`."""
        lower = chances(p)
        return self._place(lower, 1.0 - lower)

    def describe(self) -> Description:
        """Return kind, mean and sd before the cut, and the bounds that are finite."""
        normal = {"law": self.kind, "mean": self.parent.mean, "sd": self.parent.sd}
        return normal | _finite(low=self.low, high=self.high)

    @property
    def _window(self) -> tuple[float, float]:
        mean, sd = self.parent.mean, self.parent.sd
        return (self.low - mean) / sd, (self.high - mean) / sd

    @property
    def _kept(self) -> float:
        return float(_mass(*self._window))

    def _score(self, x: npt.ArrayLike) -> Array:
        inside = np.clip(np.asarray(x, dtype=np.float64), self.low, self.high)
        return (inside - self.parent.mean) / self.parent.sd

    def _place(self, lower: Array, upper: Array) -> Array:
        start, end = self._window
        kept = self._kept
        left, right = ndtr(start) + lower * kept, ndtr(-end) + upper * kept
        # Each half is read from its own tail, where its chance has all its digits.
        score = np.where(left <= right, ndtri(left), -ndtri(right))
        return np.clip(self.parent.mean + self.parent.sd * score, self.low, self.high)


@dataclass(frozen=True, slots=True)
class Clipped:
    """Any law with the values beyond a bound moved onto it.

    For laws that pass a physical bound less often than once in a million draws; then it
    cannot be told from cutting the law, and costs next to nothing.

    Parameters
    ----------
    law
        The law to clip.
    low, high
        Bounds, low < high, that leave part of the law between them; infinite where there
        is none.

    Raises
    ------
    LawError
        If a parameter is out of its bounds.
    """

    law: Law
    low: float = -math.inf
    high: float = math.inf
    kind: ClassVar[str] = "clipped"

    def __post_init__(self) -> None:
        _set_bounds(self, self.low, self.high)
        start, end = self.law.support
        remedy = "Write a plain number where the law never varies."
        if not self.low < end:
            raise LawError(self.kind, "low", f"be below {end:g}", self.low, remedy)
        if not self.high > start:
            raise LawError(self.kind, "high", f"be above {start:g}", self.high, remedy)

    @property
    def mean(self) -> float:
        """Mean after clipping; where the law has steps, the part clipped is approximate."""
        return self._moments[0]

    @property
    def sd(self) -> float:
        """Standard deviation after clipping, as exact as `mean`."""
        return self._moments[1]

    @property
    def median(self) -> float:
        """Median after clipping."""
        return min(max(self.law.median, self.low), self.high)

    @property
    def support(self) -> tuple[float, float]:
        """The part of the law's range between the bounds."""
        start, end = self.law.support
        return max(start, self.low), min(end, self.high)

    def from_scores(self, z: Array, out: Array) -> None:
        """Write the values that belong to scores `z` to `out`, which may be `z`."""
        self.law.from_scores(z, out)
        np.clip(out, self.low, self.high, out=out)

    def cdf(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value of at most `x`."""
        x = np.asarray(x, dtype=np.float64)
        return np.where(x < self.low, 0.0, np.where(x >= self.high, 1.0, self.law.cdf(x)))

    def above(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value above `x`."""
        x = np.asarray(x, dtype=np.float64)
        return np.where(x < self.low, 1.0, np.where(x >= self.high, 0.0, self.law.above(x)))

    def quantile(self, p: npt.ArrayLike) -> Array:
        """Return the smallest value whose `cdf` is at least `p`."""
        return np.clip(self.law.quantile(p), self.low, self.high)

    def describe(self) -> Description:
        """Return kind, the clipped law under ``of``, and the bounds that are finite."""
        inner: Description = {"law": self.kind, "of": self.law.describe()}
        return inner | _finite(low=self.low, high=self.high)

    @property
    def _moments(self) -> tuple[float, float]:
        """Mean and sd: those of the law, corrected by what clipping changes in each tail."""
        before, weight = self._tails()
        after = np.clip(before, self.low, self.high)
        mean = self.law.mean
        shift = float(weight @ (after - before))
        change = float(weight @ ((after - mean) ** 2 - (before - mean) ** 2))
        return mean + shift, math.sqrt(max(self.law.sd**2 + change - shift**2, 0.0))

    def _tails(self) -> tuple[Array, Array]:
        """Return values beyond the bounds and their quadrature weights."""
        low, low_weight = _tail_nodes(float(ndtri(self.law.cdf(self.low))))
        high, high_weight = _tail_nodes(float(ndtri(self.law.above(self.high))))
        z = np.concatenate([low, -high])
        values = np.empty_like(z)
        self.law.from_scores(z, values)
        return values, np.concatenate([low_weight, high_weight])


def _set_bounds(law: TruncatedNormal | Clipped, low: float, high: float) -> None:
    object.__setattr__(law, "low", bound(law.kind, "low", low))
    object.__setattr__(law, "high", bound(law.kind, "high", high))
    if not law.low < law.high:
        above = f"be above low = {law.low:g}"
        raise LawError(law.kind, "high", above, law.high, "Write the larger bound last.")


def _finite(**bounds: float) -> Description:
    return {name: value for name, value in bounds.items() if math.isfinite(value)}


def _mass(start: npt.ArrayLike, end: npt.ArrayLike) -> Array:
    """Return Phi(end) - Phi(start), taken from the upper tail where `start` is positive."""
    a, b = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    return np.where(a > 0.0, ndtr(-a) - ndtr(-b), ndtr(b) - ndtr(a))


@lru_cache(maxsize=1)
def _rule() -> tuple[Array, Array]:
    nodes, weights = roots_legendre(64)
    return np.asarray(nodes), np.asarray(weights)


def _normal_nodes(start: float, end: float) -> tuple[Array, Array]:
    """Return nodes between two scores and weights that hold the normal density."""
    nodes, weights = _rule()
    half = 0.5 * (end - start)
    z = start + half * (nodes + 1.0)
    return z, half * weights * np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi)


def _tail_nodes(end: float) -> tuple[Array, Array]:
    """Return nodes and weights for the scores below `end`."""
    if end == -math.inf:
        return np.empty(0), np.empty(0)
    end = min(end, 10.0)
    return _normal_nodes(min(-10.0, end - 5.0), end)


@lru_cache(maxsize=256)
def _moments(start: float, end: float) -> tuple[float, float]:
    """Return mean and sd of the standard normal between two scores.

    By quadrature, since the closed form loses all digits in a narrow window.
    """
    z, weight = _normal_nodes(max(start, -10.0), min(end, 10.0))
    weight /= weight.sum()
    mean = float(weight @ z)
    return mean, math.sqrt(float(weight @ (z - mean) ** 2))
