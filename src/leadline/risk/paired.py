"""The difference of two chances seen on the same cases.

References
----------
T. Tango, "Equivalence test and confidence interval for the difference in proportions for the
paired-sample design", Statistics in Medicine 17 (1998) 891.
"""

from __future__ import annotations

import math

from scipy.optimize import brentq
from scipy.special import ndtri

from leadline.risk import words
from leadline.risk.proportion import FEW, Interval, Replicates, replicate_interval, require_confidence

__all__ = ["paired_difference", "replicate_difference"]


def paired_difference(both: int, first_only: int, second_only: int, neither: int, confidence: float) -> Interval:
    """Bound the difference of two chances seen on the same cases: first minus second.

    Tango's score interval: the differences that the score test would not reject. It agrees with
    McNemar's test, needs only the cases in which the two differ, and stays sensible when there
    are none.

    Parameters
    ----------
    both, first_only, second_only, neither
        Cases in which both succeeded, only the first, only the second, neither.
    confidence
        Two-sided.

    Raises
    ------
    ValueError
        If a count is negative, all are zero, or the confidence is impossible.
    """
    require_confidence(confidence)
    counts = (both, first_only, second_only, neither)
    if not min(counts) >= 0 or not sum(counts) > 0:
        raise ValueError(f"counts must be 0 or more and not all 0, not {counts!r}")
    cases = sum(counts)
    z = float(ndtri(0.5 + 0.5 * confidence))
    return Interval(
        (first_only - second_only) / cases,
        -_upper_difference(second_only, first_only, cases, z),
        _upper_difference(first_only, second_only, cases, z),
        confidence,
        f"Tango score interval for the difference of two chances on common cases, about "
        f"{words.level(confidence)} confidence",
    )


def replicate_difference(
    blocks: Replicates, both: int, first_only: int, second_only: int, neither: int, confidence: float
) -> Interval:
    """Bound the difference of two chances seen on the same stratified replicates.

    The t interval over the blocks' differences, widened to `paired_difference` where fewer than
    `FEW` cases differ or there is one block only: the blocks then show too little of their scatter,
    or none at all.

    Parameters
    ----------
    blocks
        The difference, first minus second, in each block.
    both, first_only, second_only, neither, confidence
        As for `paired_difference`, over all blocks.
    """
    scatter = replicate_interval(blocks, confidence)
    if blocks.count > 1 and first_only + second_only >= FEW:
        return Interval(scatter.value, max(scatter.low, -1.0), min(scatter.high, 1.0), confidence, scatter.method)
    pooled = paired_difference(both, first_only, second_only, neither, confidence)
    if blocks.count < 2:
        return pooled
    return Interval(
        scatter.value,
        max(min(scatter.low, pooled.low), -1.0),
        min(max(scatter.high, pooled.high), 1.0),
        confidence,
        f"{scatter.method}, widened to the Tango score interval of all cases taken as independent, "
        f"since only {first_only + second_only} differ",
    )


def _upper_difference(first_only: int, second_only: int, cases: int, z: float) -> float:
    """Solve for the largest difference the score test allows; its mirror image is the smallest."""
    excess = first_only - second_only
    if excess == cases:
        return 1.0
    # In these two the variance vanishes at the estimate, a root that bounds nothing.
    if second_only == cases:
        return -cases / (cases + z * z)
    if first_only == second_only == 0:
        return z * z / (cases + z * z)

    def shortfall(delta: float) -> float:
        variance = _score_variance(delta, first_only, second_only, cases)
        return cases * delta - excess - z * math.sqrt(variance)

    return float(brentq(shortfall, excess / cases, 1.0, xtol=1e-16, rtol=1e-14))


def _score_variance(delta: float, first_only: int, second_only: int, cases: int) -> float:
    """Variance of the excess if the true difference were `delta` (Tango 1998, section 4)."""
    a = 2.0 * cases
    b = (2.0 * cases - first_only + second_only) * delta - first_only - second_only
    c = -second_only * delta * (1.0 - delta)
    root = math.sqrt(max(b * b - 4.0 * a * c, 0.0))
    # The larger root, in the form that does not cancel.
    chance = (root - b) / (2.0 * a) if b <= 0.0 else -2.0 * c / (root + b)
    return max(cases * (2.0 * chance + delta * (1.0 - delta)), 0.0)
