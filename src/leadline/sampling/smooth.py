"""Laws with closed forms: normal, lognormal, uniform, triangular."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Self

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

from leadline.sampling.law import Array, Description, both_tails, chances, normal_chance, pieces
from leadline.sampling.parameters import number, ordered
from leadline.sampling.refusals import LawError

__all__ = ["Lognormal", "Normal", "Triangular", "Uniform"]

_NO_SPREAD = "For a number without uncertainty write the number itself."
_MAY_BE_ZERO = "Use a normal law for a number that may be zero or negative."


@dataclass(frozen=True, slots=True)
class Normal:
    """Normal law.

    Parameters
    ----------
    mean
        Mean, finite.
    sd
        Standard deviation, above zero.

    Raises
    ------
    LawError
        If a parameter is out of its bounds.
    """

    mean: float
    sd: float
    kind: ClassVar[str] = "normal"

    def __post_init__(self) -> None:
        object.__setattr__(self, "mean", number(self.kind, "mean", self.mean))
        object.__setattr__(self, "sd", number(self.kind, "sd", self.sd))
        if not self.sd > 0.0:
            raise LawError(self.kind, "sd", "be above 0", self.sd, _NO_SPREAD)

    @property
    def median(self) -> float:
        """Median, which is the mean."""
        return self.mean

    @property
    def support(self) -> tuple[float, float]:
        """The whole line."""
        return -math.inf, math.inf

    def from_scores(self, z: Array, out: Array) -> None:
        """Write mean + sd z to `out`, without temporaries."""
        np.multiply(z, self.sd, out=out)
        np.add(out, self.mean, out=out)

    def cdf(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value of at most `x`."""
        return np.asarray(ndtr(self._score(x)))

    def above(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value above `x`."""
        return np.asarray(ndtr(-self._score(x)))

    def quantile(self, p: npt.ArrayLike) -> Array:
        """Return the value below which the chance is `p`."""
        return np.asarray(self.mean + self.sd * ndtri(chances(p)))

    def describe(self) -> Description:
        """Return kind, mean and sd."""
        return {"law": self.kind, "mean": self.mean, "sd": self.sd}

    def _score(self, x: npt.ArrayLike) -> Array:
        return (np.asarray(x, dtype=np.float64) - self.mean) / self.sd


@dataclass(frozen=True, slots=True)
class Lognormal:
    """Lognormal law by its median and the factor of one standard deviation.

    Parameters
    ----------
    median
        Median, above zero.
    spread
        exp(sigma), above one: about 68 % of values lie between median / spread and
        median x spread.

    Raises
    ------
    LawError
        If a parameter is out of its bounds, or the standard deviation overflows.
    """

    median: float
    spread: float
    kind: ClassVar[str] = "lognormal"

    def __post_init__(self) -> None:
        object.__setattr__(self, "median", number(self.kind, "median", self.median))
        object.__setattr__(self, "spread", number(self.kind, "spread", self.spread))
        if not self.median > 0.0:
            raise LawError(self.kind, "median", "be above 0", self.median, _MAY_BE_ZERO)
        if not 1.0 < self.spread <= 1e6:
            remedy = "The spread is a factor: 1.35 means about a third up or down."
            raise LawError(self.kind, "spread", "be above 1 and at most 1e6", self.spread, remedy)
        if not math.log(self.median) + 2.0 * self.sigma**2 < 700.0:
            remedy = "Use a larger unit."
            raise LawError(self.kind, "median", "leave the variance finite", self.median, remedy)

    @classmethod
    def from_mean_sd(cls, mean: float, sd: float) -> Self:
        """Return the law that has this mean and standard deviation, both above zero.

        sigma^2 = ln(1 + (sd/mean)^2), median = mean exp(-sigma^2/2).

        Raises
        ------
        LawError
            If mean or sd is not above zero.
        """
        mean, sd = number(cls.kind, "mean", mean), number(cls.kind, "sd", sd)
        if not mean > 0.0:
            raise LawError(cls.kind, "mean", "be above 0", mean, _MAY_BE_ZERO)
        if not 0.0 < sd <= 1e6 * mean:
            raise LawError(cls.kind, "sd", "be above 0 and at most 1e6 means", sd, _NO_SPREAD)
        variance = math.log1p((sd / mean) ** 2)
        return cls(mean * math.exp(-0.5 * variance), math.exp(math.sqrt(variance)))

    @property
    def sigma(self) -> float:
        """Standard deviation of the logarithm."""
        return math.log(self.spread)

    @property
    def mean(self) -> float:
        """Mean, median exp(sigma^2/2)."""
        return self.median * math.exp(0.5 * self.sigma**2)

    @property
    def sd(self) -> float:
        """Standard deviation, mean sqrt(exp(sigma^2) - 1)."""
        return self.mean * math.sqrt(math.expm1(self.sigma**2))

    @property
    def support(self) -> tuple[float, float]:
        """From zero upwards."""
        return 0.0, math.inf

    def from_scores(self, z: Array, out: Array) -> None:
        """Write median exp(sigma z) to `out`, without temporaries."""
        np.multiply(z, self.sigma, out=out)
        np.exp(out, out=out)
        np.multiply(out, self.median, out=out)

    def cdf(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value of at most `x`."""
        return np.asarray(ndtr(self._score(x)))

    def above(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value above `x`."""
        return np.asarray(ndtr(-self._score(x)))

    def quantile(self, p: npt.ArrayLike) -> Array:
        """Return the value below which the chance is `p`."""
        return np.asarray(self.median * np.exp(self.sigma * ndtri(chances(p))))

    def describe(self) -> Description:
        """Return kind, median and spread."""
        return {"law": self.kind, "median": self.median, "spread": self.spread}

    def _score(self, x: npt.ArrayLike) -> Array:
        positive = np.maximum(np.asarray(x, dtype=np.float64), 0.0)
        with np.errstate(divide="ignore"):  # the logarithm of 0 is meant to be -inf
            return np.asarray(np.log(positive / self.median) / self.sigma)


@dataclass(frozen=True, slots=True)
class Uniform:
    """Uniform law between two ends.

    Parameters
    ----------
    low, high
        Ends, finite, low < high.

    Raises
    ------
    LawError
        If a parameter is out of its bounds.
    """

    low: float
    high: float
    kind: ClassVar[str] = "uniform"

    def __post_init__(self) -> None:
        object.__setattr__(self, "low", number(self.kind, "low", self.low))
        object.__setattr__(self, "high", number(self.kind, "high", self.high))
        ordered(self.kind, self.low, self.low, self.high)

    @property
    def mean(self) -> float:
        """Mean, the middle."""
        return 0.5 * self.low + 0.5 * self.high

    @property
    def sd(self) -> float:
        """Standard deviation, width / sqrt(12)."""
        return (self.high - self.low) / math.sqrt(12.0)

    @property
    def median(self) -> float:
        """Median, the middle."""
        return self.mean

    @property
    def support(self) -> tuple[float, float]:
        """Both ends."""
        return self.low, self.high

    def from_scores(self, z: Array, out: Array) -> None:
        """Write low + (high - low) Phi(z) to `out`, which may be `z`."""
        normal_chance(z, out)
        if (self.low, self.high) == (0.0, 1.0):
            return
        np.multiply(out, self.high - self.low, out=out)
        np.add(out, self.low, out=out)
        np.minimum(out, self.high, out=out)  # rounding may pass the end by one unit

    def cdf(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value of at most `x`."""
        x = np.asarray(x, dtype=np.float64)
        return np.clip((x - self.low) / (self.high - self.low), 0.0, 1.0)

    def above(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value above `x`."""
        x = np.asarray(x, dtype=np.float64)
        return np.clip((self.high - x) / (self.high - self.low), 0.0, 1.0)

    def quantile(self, p: npt.ArrayLike) -> Array:
        """Return the value below which the chance is `p`."""
        return np.minimum(self.low + (self.high - self.low) * chances(p), self.high)

    def describe(self) -> Description:
        """Return kind, low and high."""
        return {"law": self.kind, "low": self.low, "high": self.high}


@dataclass(frozen=True, slots=True)
class Triangular:
    """Triangular law.

    Parameters
    ----------
    low, likely, high
        Ends and mode, finite, low <= likely <= high, low < high.

    Raises
    ------
    LawError
        If a parameter is out of its bounds.
    """

    low: float
    likely: float
    high: float
    kind: ClassVar[str] = "triangular"

    def __post_init__(self) -> None:
        for field in ("low", "likely", "high"):
            object.__setattr__(self, field, number(self.kind, field, getattr(self, field)))
        ordered(self.kind, self.low, self.likely, self.high)

    @property
    def mean(self) -> float:
        """Mean, (low + likely + high) / 3."""
        return self.low / 3.0 + self.likely / 3.0 + self.high / 3.0

    @property
    def sd(self) -> float:
        """Standard deviation, width sqrt((1 - m + m^2) / 18) with the mode at share m."""
        mode = self._mode
        return (self.high - self.low) * math.sqrt((1.0 - mode + mode**2) / 18.0)

    @property
    def median(self) -> float:
        """Median."""
        return float(self.quantile(0.5))

    @property
    def support(self) -> tuple[float, float]:
        """Both ends."""
        return self.low, self.high

    def from_scores(self, z: Array, out: Array) -> None:
        """Write the values that belong to scores `z` to `out`, which may be `z`."""
        for piece in pieces(z.size):
            out[piece] = self._place(*both_tails(z[piece]))

    def cdf(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value of at most `x`."""
        x = np.asarray(x, dtype=np.float64)
        return np.where(x < self.likely, self._left(x), 1.0 - self._right(x))

    def above(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value above `x`."""
        x = np.asarray(x, dtype=np.float64)
        return np.where(x < self.likely, 1.0 - self._left(x), self._right(x))

    def quantile(self, p: npt.ArrayLike) -> Array:
        """Return the value below which the chance is `p`."""
        lower = chances(p)
        return self._place(lower, 1.0 - lower)

    def describe(self) -> Description:
        """Return kind, low, likely and high."""
        return {"law": self.kind, "low": self.low, "likely": self.likely, "high": self.high}

    @property
    def _mode(self) -> float:
        return (self.likely - self.low) / (self.high - self.low)

    def _place(self, lower: Array, upper: Array) -> Array:
        mode, width = self._mode, self.high - self.low
        rising = np.minimum(self.low + width * np.sqrt(lower * mode), self.likely)
        falling = np.maximum(self.high - width * np.sqrt(upper * (1.0 - mode)), self.likely)
        return np.where(lower < mode, rising, falling)

    def _left(self, x: Array) -> Array:
        if self.likely == self.low:
            return np.zeros_like(x)
        return (np.maximum(x - self.low, 0.0) / (self.high - self.low)) ** 2 / self._mode

    def _right(self, x: Array) -> Array:
        if self.likely == self.high:
            return np.zeros_like(x)
        return (np.maximum(self.high - x, 0.0) / (self.high - self.low)) ** 2 / (1.0 - self._mode)
