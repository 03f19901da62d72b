"""Quantiles of a sample, with bounds from order statistics.

The number of cases below the quantile of fraction p is binomial whatever the law of the quantity
is, so the values of two well chosen ranks hold the quantile between them with a confidence that
is exact for a continuous law and only larger for one with steps. From a histogram the ranks are
known to a bin; the outer edges of the bins are then bounds that are wider, never narrower.

References
----------
H. A. David, H. N. Nagaraja, "Order Statistics", 3rd edition, Wiley 2003, section 7.1 (cited from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, betaincc

from leadline.risk import words
from leadline.risk.proportion import Interval, require_confidence

__all__ = [
    "Binned",
    "Side",
    "binned_quantile",
    "one_sided_rank",
    "order_statistic_ranks",
    "sample_quantile",
]

Array = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]


class Side(StrEnum):
    """Which side of a quantile a bound lies on."""

    LOWER = "lower"
    UPPER = "upper"


def one_sided_rank(n: int, p: float, confidence: float, side: Side) -> int:
    """Find the rank, counted from 1, whose value bounds a quantile from one side.

    Parameters
    ----------
    n
        Independent cases.
    p
        Fraction of the quantile, 0 to 1.
    confidence
        Of the bound, on its side.
    side
        Whether to bound from below or above.

    Returns
    -------
    int
        For a lower bound the largest such rank, or 0 if even the smallest value is no bound; for
        an upper bound the smallest such rank, or ``n + 1`` if even the largest is none.

    Raises
    ------
    ValueError
        If there is no case, or p or the confidence is not between 0 and 1.
    """
    require_confidence(confidence)
    if not n > 0:
        raise ValueError(f"a quantile needs at least one case, not {n!r}")
    if not 0.0 < p < 1.0:
        raise ValueError(f"the fraction of a quantile must lie between 0 and 1, not {p!r}")
    if side is Side.UPPER:
        # Turned upside down, the upper bound of fraction p is the lower bound of 1 - p.
        return n + 1 - _lower_rank(n, lambda rank: _at_most(n - rank, n, p), confidence)
    return _lower_rank(n, lambda rank: _at_least(rank, n, p), confidence)


def _at_least(k: int, n: int, p: float) -> float:
    """P(B >= k) for B binomial (n, p), k from 1."""
    return float(betainc(k, n - k + 1, p))


def _at_most(k: int, n: int, p: float) -> float:
    """P(B <= k) for B binomial (n, p), k below n."""
    return float(betaincc(k + 1, n - k, p))


def _lower_rank(n: int, chance_of: Callable[[int], float], confidence: float) -> int:
    """Find the largest rank whose chance of bounding is at least `confidence`, by bisection."""
    holds, fails = 0, n + 1
    while fails - holds > 1:
        rank = (holds + fails) // 2
        if chance_of(rank) >= confidence:
            holds = rank
        else:
            fails = rank
    return holds


@lru_cache(maxsize=256)  # asked for again with every margin of the same cases
def order_statistic_ranks(n: int, p: float, confidence: float) -> tuple[int, int]:
    """Find the ranks, counted from 1, whose values hold a quantile between them.

    The tails get half of ``1 - confidence`` each. Rank 0 says that n cases give no lower bound,
    rank ``n + 1`` that they give no upper one. Arguments and errors as `one_sided_rank`.

    Returns
    -------
    (lower_rank, upper_rank)
    """
    require_confidence(confidence)
    one_side = 0.5 + 0.5 * confidence
    lower = one_sided_rank(n, p, one_side, Side.LOWER)
    return lower, one_sided_rank(n, p, one_side, Side.UPPER)


def sample_quantile(values: Array, p: float, confidence: float) -> Interval:
    """Estimate a quantile from the values of independent cases ``(n,)``, all finite.

    The estimate interpolates between neighbours (Hyndman and Fan's definition 7); the bounds are
    values of the sample, or infinite where it is too small to give one.
    """
    ordered = np.sort(np.asarray(values, dtype=np.float64))
    lower, upper = order_statistic_ranks(ordered.size, p, confidence)
    return Interval(
        float(np.quantile(ordered, p)),
        float(ordered[lower - 1]) if lower > 0 else -math.inf,
        float(ordered[upper - 1]) if upper <= ordered.size else math.inf,
        confidence,
        _method(ordered.size, (lower, upper), confidence),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Binned:
    """A sample known by the number of values in equal bins, its least and its largest value.

    Parameters
    ----------
    counts : (m + 2,)
        Values below the first edge, in each of m bins closed on the left, at or above the last
        edge.
    low, width
        First edge, and the width of a bin.
    minimum, maximum
        Exact ends of the sample.
    """

    counts: Counts
    low: float
    width: float
    minimum: float
    maximum: float

    def floor_of(self, slot: int) -> float:
        """Give a value no larger than any value counted in a slot."""
        if slot == 0:
            return self.minimum
        return min(max(self.low + (slot - 1) * self.width, self.minimum), self.maximum)

    def ceiling_of(self, slot: int) -> float:
        """Give a value no smaller than any value counted in a slot."""
        if slot == self.counts.size - 1:
            return self.maximum
        return max(min(self.low + slot * self.width, self.maximum), self.minimum)


def binned_quantile(sample: Binned, p: float, confidence: float, *, independent: bool = True) -> Interval:
    """Estimate a quantile from a histogram, with bounds no narrower than the sample's own.

    Parameters
    ----------
    sample
        The histogram, holding at least one value.
    p, confidence
        Fraction of the quantile, and the two-sided confidence of its bounds.
    independent
        False for cases drawn in stratified replicates. The ranks are then those of as many
        independent cases: a stratified design counts the cases below a value with no more scatter
        than independent draws do, so the bounds are expected to be wide, but this is no theorem
        for every margin, and the method says so.

    Returns
    -------
    Interval
        The estimate is interpolated inside its bin; a bound the sample cannot give is infinite.
    """
    reached = np.cumsum(sample.counts)
    n = int(reached[-1])
    lower, upper = order_statistic_ranks(n, p, confidence)
    low = sample.floor_of(_slot_of(lower, reached)) if lower > 0 else -math.inf
    high = sample.ceiling_of(_slot_of(upper, reached)) if upper <= n else math.inf
    value = _interpolate(sample, p, reached)
    method = _method(n, (lower, upper), confidence, independent=independent)
    return Interval(min(max(value, low), high), low, high, confidence, f"{method}; bounds widened to bin edges")


def _slot_of(rank: int, reached: Counts) -> int:
    """Find the slot that holds the value of a rank counted from 1."""
    return int(np.searchsorted(reached, rank, side="left"))


def _interpolate(sample: Binned, p: float, reached: Counts) -> float:
    """Spread a bin's values evenly over it and read off the fraction p of the sample."""
    wanted = p * float(reached[-1])
    slot = int(np.searchsorted(reached, wanted, side="left"))
    held = float(sample.counts[slot])
    share = (wanted - (float(reached[slot]) - held)) / held
    floor, ceiling = sample.floor_of(slot), sample.ceiling_of(slot)
    return min(floor + share * (ceiling - floor), ceiling)


def _method(n: int, ranks: tuple[int, int], confidence: float, *, independent: bool = True) -> str:
    lower, upper = ranks
    bounds = " and ".join(
        [
            f"rank {words.count(lower)}" if lower > 0 else "no lower bound",
            f"rank {words.count(upper)}" if upper <= n else "no upper bound",
        ]
    )
    rule = f"order statistics, {bounds} of {words.count(n)} cases, "
    if independent:
        return f"{rule}at least {words.level(confidence)} confidence (exact binomial)"
    return (
        f"{rule}{words.level(confidence)} confidence for independent cases, "
        f"taken as a cautious bound for stratified replicates"
    )
