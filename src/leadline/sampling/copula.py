"""Rank correlation and score correlation under a Gaussian copula."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import Source, Standing
from leadline.sampling.law import Array

__all__ = ["COPULA_SOURCE", "factor", "rank_correlation", "score_correlation"]

COPULA_SOURCE: Final = Source(
    "Rank correlation of the bivariate normal law",
    "rho_s = (6/pi) asin(rho/2), tau = (2/pi) asin(rho); checked by simulation",
    Standing.SECOND_HAND,
)

_SINGULAR: Final = 1e-12
"""A pivot nearer to zero than this counts as zero: the row follows from those before it."""


def score_correlation(rank: npt.ArrayLike) -> Array:
    """Return the correlation of scores that gives a Spearman rank correlation, 2 sin(pi r/6)."""
    given = np.asarray(rank, dtype=np.float64)
    # The sine of pi/6 rounds to just under a half; 1 has to stay 1.
    return np.where(np.abs(given) == 1.0, given, 2.0 * np.sin(given * (np.pi / 6.0)))


def rank_correlation(score: npt.ArrayLike) -> Array:
    """Return the Spearman rank correlation of correlated scores, (6/pi) asin(rho/2)."""
    given = np.asarray(score, dtype=np.float64)
    return np.where(np.abs(given) == 1.0, given, 6.0 / np.pi * np.arcsin(given / 2.0))


def factor(correlation: Array) -> Array | None:
    """Return the lower Cholesky factor of a correlation matrix, or None if there is none.

    Matrices on the edge, where one input follows wholly from others, are factored too.

    Parameters
    ----------
    correlation
        Symmetric, ones on the diagonal, shape (k, k).
    """
    size = len(correlation)
    lower = np.zeros((size, size))
    for row in range(size):
        for column in range(row):
            rest = correlation[row, column] - lower[row, :column] @ lower[column, :column]
            pivot = lower[column, column]
            if pivot > 0.0:
                lower[row, column] = rest / pivot
            elif abs(rest) > _SINGULAR**0.5:
                return None
        left_over = correlation[row, row] - lower[row, :row] @ lower[row, :row]
        if left_over < -_SINGULAR:
            return None
        lower[row, row] = left_over**0.5 if left_over > _SINGULAR else 0.0
    return lower
