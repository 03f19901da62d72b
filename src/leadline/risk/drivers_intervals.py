"""First-order and total indices from sums over pairs of cases, and how sure they are.

With a = f(A), b = f(B) and c = f(A with input i from B), and r(x, y) the correlation of two such outputs:

- the total index is 1 - r(a, c), for a and c agree in all but input i;
- the first-order index is r(b, c) - r(a, c) r(a, b), for b and c agree in input i alone.

Both samples of a pair follow one law, so their mean and variance are pooled (Janon et al. 2014):
``r(x, y) = 1 - mean((x - y)^2) / (2 v)``; the total index is then Jansen's (1999) mean of squared differences over
twice the variance, never negative. A and B are independent, so r(a, b) is nothing but noise; taking away the share of
it that r(b, c) holds leaves the first-order index of an input without effect at exactly zero, since c is then a, and
lessens the scatter of the others: a control variate. What comes out is the numerator of a partial correlation. Owen
(2013) discusses estimators for small indices on this ground.

Every index is a function of sums over groups of cases, hence its scatter follows from leaving out one group at a time:
the delete-a-group jackknife, with a t interval (as many degrees of freedom as groups, less one). No resampling, so
the bounds are the same whenever the sums are. Where a failure index rests on few cases, groups show too little of the
scatter; the interval is then widened to an exact one for the share of the failing pairs that differ.

References
----------
M. J. W. Jansen, "Analysis of variance designs for model output", Computer Physics Communications 117 (1999) 35 (cited
from memory).
A. Janon, T. Klein, A. Lagnoux, M. Nodet, C. Prieur, "Asymptotic normality and efficiency of two Sobol index
estimators", ESAIM: Probability and Statistics 18 (2014) 342-364, arXiv 1303.6451 (abstract read; formula from memory).
A. B. Owen, "Better estimation of small Sobol' sensitivity indices", ACM Trans. Model. Comput. Simul. 23 (2013) 11
(cited from memory).
M. Klein, T. Wright, J. Wieczorek, "A joint confidence region for an overall ranking of populations", J. R. Stat. Soc. C
69 (2020) 589 (ranks from which pairs differ; cited from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import betainccinv, betaincinv, stdtrit

from leadline.risk.drivers_sums import GROUPS, Array
from leadline.risk.proportion import FEW

__all__ = ["Bounds", "Indices", "estimate", "pooled_variance"]

Flags = npt.NDArray[np.bool_]
Ranks = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Bounds:
    """Estimates with their bounds, each (inputs, outputs); `widened` where counts, not groups, set a bound."""

    value: Array
    low: Array
    high: Array
    widened: Flags


@dataclass(frozen=True, slots=True)
class Indices:
    """What the sums say of every input and output; all arrays (inputs, outputs).

    Parameters
    ----------
    first, total
        The indices, as estimated: they may lie a little outside 0 to 1.
    best_rank, worst_rank
        Bounds on each input's place by total index, 1 for the largest.
    """

    first: Bounds
    total: Bounds
    best_rank: Ranks
    worst_rank: Ranks


def estimate(sums: Array, failures: slice, confidence: float) -> Indices:
    """Estimate the indices of every input and output.

    Parameters
    ----------
    sums
        As `leadline.risk.drivers_sums.PairSums` adds them up, shape (10, inputs, outputs, `GROUPS`).
    failures
        The outputs that are 0 or 1.
    confidence
        Of each interval, and of the bounds on each rank; two-sided.

    Returns
    -------
    The indices; not finite where an output does not vary or a group holds all the valid cases.
    """
    whole = sums.sum(axis=-1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        first, total = _indices(np.concatenate([whole, whole - sums], axis=-1))
        of_first, of_total = _t_bounds(first, confidence), _t_bounds(total, confidence)
        n, a, b, _, _, _, c, _, ac, bc = whole[..., failures, 0]
        few, low, high = _count_bounds(n, b + c, bc, confidence)
        _widen(of_first, failures, few, 1.0 - high, 1.0 - low)
        few, low, high = _count_bounds(n, a + c, ac, confidence)
        _widen(of_total, failures, few, low, high)
        return Indices(of_first, of_total, *_ranks(total, confidence))


def _indices(sums: Array) -> tuple[Array, Array]:
    """Return first-order and total indices from sums (10, ...)."""
    n, a, b, aa, bb, ab, c, cc, ac, bc = sums
    r_ac = _correlation(n, a + c, aa + cc, ac)
    r_bc = _correlation(n, b + c, bb + cc, bc)
    r_ab = _correlation(n, a + b, aa + bb, ab)
    return r_bc - r_ac * r_ab, 1.0 - r_ac


def pooled_variance(sums: Array) -> Array:
    """Return the variance over both independent samples, from sums (10, ...)."""
    n, a, b, aa, bb, *_ = sums
    mean = (a + b) / (2.0 * n)
    variance: Array = (aa + bb) / (2.0 * n) - mean * mean
    return variance


def _correlation(n: Array, total: Array, squares: Array, products: Array) -> Array:
    """Correlate x with y, of one law: from the sums of x + y, of x x + y y and of x y (Janon et al. 2014)."""
    mean = total / (2.0 * n)
    variance = squares / (2.0 * n) - mean * mean
    correlation: Array = 1.0 - (squares - 2.0 * products) / (2.0 * n) / variance
    return correlation


def _error(estimates: Array) -> Array:
    """Return the jackknife's standard error; the first of the last axis is the whole, the rest leave one group out."""
    rest = estimates[..., 1:]
    scatter = rest - rest.mean(axis=-1, keepdims=True)
    error: Array = np.sqrt((GROUPS - 1) / GROUPS * np.vecdot(scatter, scatter))
    return error


def _t_bounds(estimates: Array, confidence: float) -> Bounds:
    value = estimates[..., 0]
    reach = float(stdtrit(GROUPS - 1, 0.5 + 0.5 * confidence)) * _error(estimates)
    return Bounds(value, value - reach, value + reach, np.zeros(value.shape, dtype=np.bool_))


def _ranks(total: Array, confidence: float) -> tuple[Ranks, Ranks]:
    """Bound each input's place: ahead of it at least those, behind it at least those, whose index surely differs.

    Two indices differ for sure where the t interval of their difference leaves out zero; the confidence is shared out
    among the comparisons of one input (Bonferroni), so it holds for each input's rank by itself.
    """
    inputs = len(total)
    tail = (0.5 - 0.5 * confidence) / max(inputs - 1, 1)
    t = -float(stdtrit(GROUPS - 1, tail))
    best, worst = np.ones(total.shape[:2], dtype=np.int64), np.full(total.shape[:2], inputs, dtype=np.int64)
    for place, own in enumerate(total):
        ahead = total - own
        reach = t * _error(ahead)
        best[place] += np.count_nonzero(ahead[..., 0] > reach, axis=0)
        worst[place] -= np.count_nonzero(-ahead[..., 0] > reach, axis=0)
    return best, worst


def _widen(bounds: Bounds, failures: slice, few: Flags, low: Array, high: Array) -> None:
    """Widen, in place, the bounds of failure indices where they rest on few cases."""
    for ends, ours, wider in ((bounds.low, low, np.fmin), (bounds.high, high, np.fmax)):
        ends[:, failures] = np.where(few, wider(ends[:, failures], ours), ends[:, failures])
    bounds.widened[:, failures] = few


def _count_bounds(n: Array, failed: Array, both: Array, confidence: float) -> tuple[Flags, Array, Array]:
    """Bound 1 - r of two outputs that are 0 or 1 from counts of pairs; and say where few counts bear on it.

    Of the pairs in which either fails (or, where successes are rarer, either succeeds), the number that differ is
    binomial. 1 - r rises with that share, the chance of failure being taken as known: it is rare, or well known.

    Parameters
    ----------
    n, failed, both
        Pairs, failures in both members of the pairs together, and pairs whose members both fail.
    confidence
        Two-sided.
    """
    chance = failed / (2.0 * n)
    differ = failed - 2.0 * both
    agree = np.where(chance <= 0.5, both, n - differ - both)
    low, high = _share_bounds(differ, agree, confidence)
    commoner = np.maximum(chance, 1.0 - chance)
    return np.minimum(differ, agree) < FEW, low / (2.0 - low) / commoner, high / (2.0 - high) / commoner


def _share_bounds(hits: Array, misses: Array, confidence: float) -> tuple[Array, Array]:
    """Bound a share exactly (Clopper-Pearson), array by array."""
    tail = 0.5 - 0.5 * confidence
    low = np.where(hits > 0, betaincinv(np.maximum(hits, 1.0), misses + 1.0, tail), 0.0)
    high = np.where(misses > 0, betainccinv(hits + 1.0, np.maximum(misses, 1.0), tail), 1.0)
    return low, high
