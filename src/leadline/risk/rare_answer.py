"""What is said about a rare failure: estimates, their judgement, and the sentence."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from scipy.special import bdtr, bdtrc, ndtr, stdtrit

from leadline.risk import words
from leadline.risk.proportion import Interval, clopper_pearson
from leadline.risk.rare_model import Array
from leadline.risk.words import Rounding

__all__ = [
    "DISAGREE",
    "IMPRECISE",
    "Pilot",
    "RareAnswer",
    "RareEstimate",
    "RareMethod",
    "RareState",
    "briefly",
    "chance_text",
    "contradicted",
    "counted",
    "disagree",
    "from_replicates",
    "needed_cases",
    "said",
    "variation_of_count",
]

DISAGREE: Final = 3.0
"""How many combined standard deviations two estimates may lie apart, on the log scale, and still agree."""

IMPRECISE: Final = 0.5
"""No estimate by replicates is quoted, or taken as a check, above this coefficient of variation.

Its own scatter is then not to be relied on, since few replicates seldom meet the large values that such a skewed law
owes its mean to.
"""

CONTRADICTED: Final = 1e-3
"""The pilot's count contradicts the estimates if it is less likely than this even at `DISAGREE` deviations."""


class RareMethod(StrEnum):
    """How a chance was estimated."""

    BRUTE_FORCE = "brute force"
    SUBSET = "subset simulation"
    IMPORTANCE = "importance sampling"


class RareState(StrEnum):
    """What became of the search for one failure."""

    COUNTED = "counted by brute force"
    AGREED = "two estimates agree"
    UNCHECKED = "one estimate only"
    IMPRECISE = "no estimate precise enough"
    DISAGREE = "estimates disagree"
    NOT_REACHED = "no failure reached"
    NO_VALID_CASE = "no valid case"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class RareEstimate:
    """A chance of failure by one method.

    Parameters
    ----------
    method
        The method.
    probability
        Chance of failure of one case.
    interval
        Its confidence interval.
    coefficient_of_variation
        Stated standard deviation of the estimate over its value.
    calls
        Model calls (cases) it took, what it learned beforehand included.
    replicates
        Independent estimates it is the mean of; for brute force these are the cases.
    """

    method: RareMethod
    probability: float
    interval: Interval
    coefficient_of_variation: float
    calls: int
    replicates: int


@dataclass(frozen=True, slots=True)
class RareAnswer:
    """What is known about one failure.

    Parameters
    ----------
    label
        The requirement, or the system.
    quoted
        The estimate to quote; None where there is none to rely on.
    estimates
        All estimates made.
    state
        What became of it.
    sentence
        The same, to be read.
    calls
        Model calls made for it alone, the common pilot left out.
    invalid
        How many of these, and of the pilot, had a margin that was not finite. They count as failures of nothing.
    """

    label: str
    quoted: RareEstimate | None
    estimates: tuple[RareEstimate, ...]
    state: RareState
    sentence: str
    calls: int
    invalid: int


@dataclass(frozen=True, slots=True)
class Pilot:
    """What the common pilot counted for one failure."""

    failures: int
    cases: int
    invalid: int

    @property
    def share(self) -> float:
        """Share of the cases that failed."""
        return self.failures / self.cases


def variation_of_count(chance: float, cases: float) -> float:
    """Return the coefficient of variation of a share counted over independent cases."""
    return math.sqrt((1.0 - chance) / (chance * cases)) if chance > 0.0 else math.inf


def needed_cases(chance: float, variation: float) -> float:
    """Return the independent cases that reach a coefficient of variation."""
    return (1.0 - chance) / (chance * variation**2) if chance > 0.0 else math.inf


def counted(failures: int, cases: int, confidence: float) -> RareEstimate:
    """Return the estimate by brute force, with its exact interval."""
    share = failures / cases
    interval = clopper_pearson(failures, cases, confidence)
    return RareEstimate(RareMethod.BRUTE_FORCE, share, interval, variation_of_count(share, cases), cases, cases)


def from_replicates(
    method: RareMethod, values: Array, confidence: float, calls: int, *, least_variation: float = 0.0
) -> RareEstimate | None:
    """Return the mean of independent unbiased estimates, or None where all are 0.

    Parameters
    ----------
    method, calls
        What is said of the estimate.
    values
        At least two estimates, shape (n,).
    confidence
        Of the interval: a t interval for the mean, taken on the log scale because estimates of a small chance are
        skewed. (The mean of the logs would be the wrong centre: it lies below the log of the mean.)
    least_variation
        Another opinion of the coefficient of variation; the larger one is stated.
    """
    mean, count = float(values.mean()), values.size
    if not mean > 0.0:
        return None
    variation = max(float(values.std(ddof=1)) / (mean * math.sqrt(count)), least_variation)
    reach = float(stdtrit(count - 1, 0.5 + 0.5 * confidence)) * variation
    rule = (
        f"t interval on the log scale over {count} independent replicates ({count - 1} degrees of freedom), about "
        f"{words.level(confidence)} confidence"
    )
    low, high = mean * math.exp(-reach), min(1.0, mean * math.exp(min(reach, 700.0)))
    return RareEstimate(method, mean, Interval(mean, low, high, confidence, rule), variation, calls, count)


def disagree(first: RareEstimate, second: RareEstimate) -> bool:
    """Say whether two estimates by replicates lie further apart than their scatter explains, on the log scale.

    The bound is as unlikely as `DISAGREE` standard deviations are for a normal law; it lies further out, at the same
    quantile of a t law, because the scatter itself is known from few replicates (degrees of freedom by F. E.
    Satterthwaite, "An approximate distribution of estimates of variance components", Biometrics Bulletin 2 (1946) 110,
    cited from memory).
    """
    apart = abs(math.log(first.probability / second.probability))
    squares = [made.coefficient_of_variation**2 for made in (first, second)]
    if sum(squares) == 0.0:
        return apart > 0.0
    spread = sum(square**2 / (made.replicates - 1) for square, made in zip(squares, (first, second), strict=True))
    bound = float(stdtrit(sum(squares) ** 2 / spread, float(ndtr(DISAGREE))))
    return apart > bound * math.sqrt(sum(squares))


def contradicted(estimate: RareEstimate, pilot: Pilot) -> bool:
    """Say whether the pilot's count of failures is past belief under an estimate, its scatter allowed for."""
    allowed = math.exp(min(DISAGREE * estimate.coefficient_of_variation, 700.0))
    most, least = min(1.0, estimate.probability * allowed), estimate.probability / allowed
    many = pilot.failures > 0 and float(bdtrc(pilot.failures - 1, pilot.cases, most)) < CONTRADICTED
    return many or float(bdtr(pilot.failures, pilot.cases, least)) < CONTRADICTED


# ------------------------------------------------------------------------------------------------ in words


def chance_text(value: float, rounding: Rounding = Rounding.NEAREST) -> str:
    """Write a small chance with three figures; bounds are rounded so that they never claim more.

    >>> chance_text(2.86651572e-7)
    '2.87e-7'
    >>> chance_text(0.0786496)
    '0.0786'
    """
    if value == 0.0:
        return "0"
    exact = Decimal(value)
    power = exact.adjusted()
    rounded = exact.quantize(Decimal(1).scaleb(power - 2), rounding=rounding.value)
    if power >= -3:
        return f"{rounded:f}"
    return f"{rounded.scaleb(-rounded.adjusted()).quantize(Decimal('0.01'))}e{rounded.adjusted()}"


def said(estimate: RareEstimate) -> str:
    """Say an estimate."""
    low = chance_text(estimate.interval.low, Rounding.DOWN)
    high = chance_text(estimate.interval.high, Rounding.UP)
    level = words.level(estimate.interval.confidence)
    return (
        f"a case fails with a chance of {chance_text(estimate.probability)} ({level} interval {low} to {high}), "
        f"found by {estimate.method.value} in {words.count(estimate.calls)} model calls, "
        f"coefficient of variation {variation_text(estimate)}"
    )


def variation_text(estimate: RareEstimate) -> str:
    """Write a coefficient of variation."""
    return f"{100.0 * estimate.coefficient_of_variation:.2g} %"


def briefly(estimate: RareEstimate) -> str:
    """Write an estimate in a few words."""
    chance = chance_text(estimate.probability)
    return f"{estimate.method.value} gives {chance}, coefficient of variation {variation_text(estimate)}"
