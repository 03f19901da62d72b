"""Intervals for a chance seen in a sample.

Every interval says by which rule it was made. `clopper_pearson` is the one to quote for
independent cases: it is exact, so it covers at least as often as it says. `replicate_mean` is the
one for designs whose cases depend on one another inside a block.

References
----------
C. J. Clopper, E. S. Pearson, "The use of confidence or fiducial limits illustrated in the case of
the binomial", Biometrika 26 (1934) 404.
E. B. Wilson, "Probable inference, the law of succession, and statistical inference", JASA 22
(1927) 209.
L. D. Brown, T. T. Cai, A. DasGupta, "Interval estimation for a binomial proportion", Statistical
Science 16 (2001) 101 (Jeffreys interval, and its ends at 0 and n).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import betainccinv, betaincinv, ndtri, stdtrit

from leadline.risk import words

__all__ = [
    "FEW",
    "Interval",
    "Replicates",
    "clopper_pearson",
    "exact_lower_bound",
    "exact_upper_bound",
    "jeffreys",
    "replicate_interval",
    "replicate_mean",
    "require_confidence",
    "require_counts",
    "wilson",
]

Array = npt.NDArray[np.float64]

FEW: Final = 50
"""Below this many cases on the rarer side, a t interval over replicates is not trusted alone.

The mean of few rare counts is skewed and may have no spread at all; the t interval then covers too
seldom. Chosen from the coverage measured in this package's tests, no source.
"""


@dataclass(frozen=True, slots=True)
class Interval:
    """A number with the bounds it is known within.

    Parameters
    ----------
    value
        The estimate.
    low, high
        The bounds; minus or plus infinity where the sample gives none.
    confidence
        How often such an interval holds the true value, 0 to 1.
    method
        The rule, in words, with the confidence.
    """

    value: float
    low: float
    high: float
    confidence: float
    method: str


def require_confidence(confidence: float) -> None:
    """Refuse a confidence outside the open interval (0, 1).

    Raises
    ------
    ValueError
        If it is.
    """
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence must lie between 0 and 1, not {confidence!r}")


def require_counts(successes: int, trials: int) -> None:
    """Refuse counts that cannot be successes in trials.

    Raises
    ------
    ValueError
        If there are no trials, or not ``0 <= successes <= trials``.
    """
    if not trials > 0:
        raise ValueError(f"a chance needs at least one case, not {trials!r}")
    if not 0 <= successes <= trials:
        raise ValueError(f"successes must lie between 0 and {trials}, not {successes!r}")


def exact_lower_bound(successes: int, trials: int, confidence: float) -> float:
    """Bound a chance from below, exactly and on one side (Clopper-Pearson).

    The largest chance that would give this many successes or more with probability at most
    ``1 - confidence``; 0 when there are none.
    """
    require_counts(successes, trials)
    require_confidence(confidence)
    if successes == 0:
        return 0.0
    return float(betaincinv(successes, trials - successes + 1, 1.0 - confidence))


def exact_upper_bound(successes: int, trials: int, confidence: float) -> float:
    """Bound a chance from above, exactly and on one side (Clopper-Pearson).

    The smallest chance that would give this many successes or fewer with probability at most
    ``1 - confidence``; 1 when every case succeeded.
    """
    require_counts(successes, trials)
    require_confidence(confidence)
    if successes == trials:
        return 1.0
    return float(betainccinv(successes + 1, trials - successes, 1.0 - confidence))


def clopper_pearson(successes: int, trials: int, confidence: float) -> Interval:
    """Give the exact interval for the chance behind independent cases.

    Parameters
    ----------
    successes, trials
        Cases that succeeded, and all cases.
    confidence
        Two-sided, split evenly between the tails.

    Raises
    ------
    ValueError
        If the counts or the confidence are impossible.
    """
    require_counts(successes, trials)
    require_confidence(confidence)
    one_side = 0.5 + 0.5 * confidence
    return Interval(
        successes / trials,
        exact_lower_bound(successes, trials, one_side),
        exact_upper_bound(successes, trials, one_side),
        confidence,
        f"Clopper-Pearson exact interval for independent cases, at least {words.level(confidence)} confidence",
    )


def wilson(successes: int, trials: int, confidence: float) -> Interval:
    """Give the score interval for the chance behind independent cases.

    Shorter than the exact one; covers as often as it says on average over chances, not for each.
    Arguments and errors as `clopper_pearson`.
    """
    require_counts(successes, trials)
    require_confidence(confidence)
    z2 = float(ndtri(0.5 + 0.5 * confidence)) ** 2
    centre = (successes + 0.5 * z2) / (trials + z2)
    spread = successes * (trials - successes) / trials + 0.25 * z2
    reach = math.sqrt(z2 * spread) / (trials + z2)
    return Interval(
        successes / trials,
        0.0 if successes == 0 else max(0.0, centre - reach),
        1.0 if successes == trials else min(1.0, centre + reach),
        confidence,
        f"Wilson score interval for independent cases, about {words.level(confidence)} confidence",
    )


def jeffreys(successes: int, trials: int, confidence: float) -> Interval:
    """Give the equal-tailed Bayes interval under Jeffreys' prior, Beta(1/2, 1/2).

    The lower end is 0 without any success and the upper end 1 without any failure (Brown, Cai and
    DasGupta 2001). Arguments and errors as `clopper_pearson`.
    """
    require_counts(successes, trials)
    require_confidence(confidence)
    tail = 0.5 - 0.5 * confidence
    won, lost = successes + 0.5, trials - successes + 0.5
    return Interval(
        successes / trials,
        0.0 if successes == 0 else float(betaincinv(won, lost, tail)),
        1.0 if successes == trials else float(betainccinv(won, lost, tail)),
        confidence,
        f"Jeffreys equal-tailed interval for independent cases, about {words.level(confidence)} confidence",
    )


@dataclass(frozen=True, slots=True)
class Replicates:
    """Independent estimates of one number, kept as their count, mean and variance.

    Parameters
    ----------
    count
        How many estimates.
    mean
        Their mean.
    variance
        Their variance about it, with ``count - 1`` below the line; 0 when there is only one.
    proportion
        Whether each estimate is a share between 0 and 1.
    cases_each
        For shares: the cases behind each estimate, if known.
    """

    count: int
    mean: float
    variance: float
    proportion: bool = False
    cases_each: int | None = None

    @classmethod
    def of(cls, values: Array, *, proportion: bool = False, cases_each: int | None = None) -> Replicates:
        """Take the moments of estimates ``(count,)``."""
        estimates = np.asarray(values, dtype=np.float64)
        variance = float(estimates.var(ddof=1)) if estimates.size > 1 else 0.0
        return cls(estimates.size, float(estimates.mean()), variance, proportion, cases_each)

    @classmethod
    def of_counts(cls, count: int, total: int, squares: int, cases_each: int, *, proportion: bool = True) -> Replicates:
        """Take the moments of counts from their sum and sum of squares, without cancellation.

        Parameters
        ----------
        count
            How many blocks.
        total, squares
            Sum over the blocks of what was counted in each, and of its square.
        cases_each
            Cases in a block; an estimate is the count divided by it.
        proportion
            Whether what is counted lies between 0 and `cases_each`.
        """
        scatter = count * squares - total * total
        below = count * max(count - 1, 1) * cases_each**2
        return cls(count, total / (count * cases_each), scatter / below, proportion, cases_each)

    @property
    def cases(self) -> int | None:
        """All cases behind the mean, if known."""
        return None if self.cases_each is None else self.count * self.cases_each

    @property
    def successes(self) -> int | None:
        """Cases that succeeded, if the estimates are shares of known numbers of cases."""
        if self.cases is None or not self.proportion:
            return None
        return min(self.cases, max(0, round(self.mean * self.cases)))

    @property
    def few(self) -> bool:
        """Whether the rarer outcome was seen too seldom for a t interval alone."""
        if self.successes is None or self.cases is None:
            return False
        return min(self.successes, self.cases - self.successes) < FEW or self.count < 2

    def bounds(self, one_side: float) -> tuple[float, float]:
        """Bound the number from both sides, each with confidence `one_side`."""
        low, high = self._t_bounds(one_side)
        if self.few and self.successes is not None and self.cases is not None:
            low = min(low, exact_lower_bound(self.successes, self.cases, one_side))
            high = max(high, exact_upper_bound(self.successes, self.cases, one_side))
        return (max(low, 0.0), min(high, 1.0)) if self.proportion else (low, high)

    def _t_bounds(self, one_side: float) -> tuple[float, float]:
        if self.count < 2:
            # One estimate shows no spread: shares fall back on their cases, others have no bound.
            known = self.successes is not None
            return (self.mean, self.mean) if known else (-math.inf, math.inf)
        reach = float(stdtrit(self.count - 1, one_side)) * math.sqrt(self.variance / self.count)
        return self.mean - reach, self.mean + reach

    def method(self, confidence: float) -> str:
        """Name the rule that `bounds` follows."""
        rule = (
            f"t interval over {self.count} independent replicates "
            f"({max(self.count - 1, 0)} degrees of freedom), {words.level(confidence)} confidence"
        )
        if not self.few or self.cases is None or self.successes is None:
            return rule
        rarer = words.count(min(self.successes, self.cases - self.successes))
        return (
            f"{rule}, widened to the Clopper-Pearson interval of {words.count(self.cases)} cases "
            f"taken as independent, since only {rarer} fell on the rarer side"
            if self.count > 1
            else f"Clopper-Pearson interval of one replicate's {words.count(self.cases)} cases "
            f"taken as independent, {words.level(confidence)} confidence"
        )


def replicate_interval(replicates: Replicates, confidence: float) -> Interval:
    """Give the t interval for the mean of independent estimates.

    Shares are clipped to 0..1, and where the rarer outcome was seen fewer than `FEW` times the
    interval is widened to the exact one of the pooled cases: a stratified design estimates a share
    no worse than independent cases do (Latin hypercubes of n cases to a factor ``n / (n - 1)``:
    A. B. Owen, "Monte Carlo variance of scrambled net quadrature", SIAM J. Numer. Anal. 34 (1997)
    1884, cited from memory).

    Raises
    ------
    ValueError
        If there is no estimate or the confidence is impossible.
    """
    require_confidence(confidence)
    if not replicates.count > 0:
        raise ValueError("an interval needs at least one replicate")
    low, high = replicates.bounds(0.5 + 0.5 * confidence)
    return Interval(replicates.mean, low, high, confidence, replicates.method(confidence))


def replicate_mean(
    values: Array, confidence: float, *, proportion: bool = False, cases_each: int | None = None
) -> Interval:
    """Give the t interval for the mean of independent estimates ``(count,)``.

    See `replicate_interval`; `proportion` and `cases_each` as in `Replicates`.
    """
    if np.size(values) == 0:
        raise ValueError("an interval needs at least one replicate")
    replicates = Replicates.of(values, proportion=proportion, cases_each=cases_each)
    return replicate_interval(replicates, confidence)
