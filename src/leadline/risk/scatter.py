"""What the scatter of estimates of many chances is made of: the chances' own, and counting noise.

For streams *independent* from one estimate to the next the counting noise of an estimate is
``p (1 - p) / n``, estimated without bias by the mean of ``p (1 - p) / (n - 1)`` over the estimates.

For *common* streams, the same n cases behind every estimate, success is a two-way layout,

    success(k, i) = mean + A(row k) + B(case i) + C(k, i).

The mean of B over the cases moves all K estimates alike: it adds nothing to the scatter between
them, but neither does it average out over K. Only C makes them scatter, by ``var C / n``, which the
mean square of the interaction estimates; groups of cases serve for single ones. As C is smooth in
what tells the rows apart, more rows do not average it out of the variance either; how far the cases
drawn move the variance is found by leaving out one group at a time.

References
----------
S. R. Searle, G. Casella, C. E. McCulloch, "Variance Components", Wiley 1992, chapter 4 (two-way
layout, mean squares; cited from memory).
D. G. Bonett, "Approximate confidence interval for standard deviation of nonnormal distributions",
Comput. Stat. Data Anal. 50 (2006) 775 (kurtosis about a trimmed mean; cited from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri

__all__ = ["Components"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Components:
    """The scatter of K estimates, split.

    Parameters
    ----------
    between, noise
        Their variance V, and what counting adds to it, N.
    of_mean, freedom
        The variance of their mean, and its degrees of freedom.
    of_cases
        Variance of ``V - N`` due to which cases were drawn; 0 for independent streams, where the
        scatter of the estimates has it in it already.
    """

    between: float
    noise: float
    of_mean: float
    freedom: int
    of_cases: float

    @classmethod
    def independent(cls, estimates: Array, cases: int) -> Components:
        """Take binomial noise out of the scatter of estimates ``(K,)``, each from its own `cases`."""
        between = float(estimates.var(ddof=1))
        noise = float((estimates * (1.0 - estimates)).mean()) / (cases - 1)
        return cls(between, noise, between / estimates.size, estimates.size - 1, 0.0)

    @classmethod
    def common(cls, shares: Array) -> Components:
        """Split the scatter of shares ``(K, G)`` into that of rows, of columns, and the rest."""
        rows, columns, rest = _mean_squares(shares)
        draws, groups = shares.shape
        # Its expectation is no less than that of either mean square.
        of_mean = max(rows + columns - rest, rows, columns) / shares.size
        of_cases = _jackknife([_between_chances(np.delete(shares, g, axis=1)) for g in range(groups)])
        return cls(rows / groups, rest / groups, of_mean, min(draws, groups) - 1, of_cases)

    def bounds(self, estimates: Array, confidence: float) -> tuple[float, float]:
        """Bound V: chi-square, its freedom cut for heavy tails and for the cases drawn.

        The variance of a sample variance is ``V^2 (2 / (K - 1) + excess kurtosis / K)``.
        """
        if not self.between > 0.0:
            return 0.0, 0.0
        draws = estimates.size
        excess = max(_kurtosis(estimates) - 3.0, 0.0)
        relative = 2.0 / (draws - 1) + excess / draws + self.of_cases / self.between**2
        freedom, tail = max(2.0 / relative, 1.0), 0.5 - 0.5 * confidence
        low, high = (freedom / float(chdtri(freedom, chance)) for chance in (tail, 1.0 - tail))
        return self.between * low, self.between * high


def _mean_squares(shares: Array) -> tuple[float, float, float]:
    """Give the mean squares of rows, columns and their interaction in a two-way layout."""
    by_row, by_column, mean = shares.mean(axis=1), shares.mean(axis=0), shares.mean()
    rest = shares - by_row[:, None] - by_column[None] + mean
    draws, groups = shares.shape
    return (
        groups * float(by_row.var(ddof=1)),
        draws * float(by_column.var(ddof=1)),
        float((rest * rest).sum()) / ((draws - 1) * (groups - 1)),
    )


def _between_chances(shares: Array) -> float:
    rows, _, rest = _mean_squares(shares)
    return (rows - rest) / float(shares.shape[1])


def _jackknife(without: Sequence[float]) -> float:
    """Estimate a variance from the estimates that leave out one group each."""
    return (len(without) - 1) * float(np.var(without))


def _kurtosis(values: Array) -> float:
    """Estimate a kurtosis about a trimmed mean, so that one long tail counts in full (Bonett 2006)."""
    cut = min(int(0.5 * values.size / math.sqrt(max(values.size - 4, 1))), (values.size - 1) // 2)
    trimmed = np.sort(values)[cut : values.size - cut].mean()
    return float(values.size * ((values - trimmed) ** 4).sum() / ((values - values.mean()) ** 2).sum() ** 2)
