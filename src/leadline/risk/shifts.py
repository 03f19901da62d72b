"""How the inputs of failing cases differ from those of all cases.

Two numbers for each input and requirement, from cases already run: the mean score of the failing
cases, which is the shift in standard deviations since a score has mean 0 over all cases; and the
chance that the input is higher (or lower) in a failing case than in a case drawn at random. The
latter is the Mann-Whitney probability; against the known standard normal law it is the mean of
Phi(score) over the failing cases. One half, and a shift of zero, say that the input plays no part
in failing by itself. Both miss an input whose two ends fail alike, and an input correlated with a
guilty one is shifted along with it.

References
----------
H. B. Mann, D. R. Whitney, "On a test of whether one of two random variables is stochastically
larger than the other", Annals of Mathematical Statistics 18 (1947) 50.
E. L. Korn, B. I. Graubard, "Confidence intervals for proportions with small expected number of
positive counts estimated from survey data", Survey Methodology 24 (1998) 193: the exact binomial
interval at an effective number of trials. Both cited from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt
from scipy.special import betainccinv, betaincinv, ndtr, ndtri, stdtrit

from leadline.risk import words
from leadline.risk.proportion import Interval, require_confidence
from leadline.risk.validity import Array, valid_part

__all__ = ["FEWEST_FAILURES", "Direction", "FailureSums", "InputShift", "OutputShifts"]

Direction = Literal["higher", "lower"]

FEWEST_FAILURES: Final = 5
"""With fewer failing cases no shift is given."""

_PIECE: Final = 2**13


@dataclass(frozen=True, slots=True)
class InputShift:
    """How one input differs in failing cases.

    Parameters
    ----------
    input
        Its name.
    direction
        Whether it tends to be higher or lower than in a random case.
    shift
        Mean score in failing cases, in standard deviations of the score; negative for lower.
    probability
        Chance that it is higher (or lower, as `direction` says) in a failing case than in a
        random one; 0.5 or more.
    distinguishable
        Whether the probability's interval lies above 0.5. Each input is judged by itself: of many
        inputs without effect, up to one in forty may look shifted at 95 % confidence.
    """

    input: str
    direction: Direction
    shift: Interval
    probability: Interval
    distinguishable: bool


@dataclass(frozen=True, slots=True)
class OutputShifts:
    """The inputs of cases that fail one requirement, most shifted first.

    Parameters
    ----------
    label
        The requirement's name, or what was said to stand for the whole.
    shifts
        One for each input; empty where there are none.
    failures, cases, invalid
        Failing cases, valid cases, and invalid cases left out.
    reason
        Why there are no shifts, as a sentence; None where there are.
    """

    label: str
    shifts: tuple[InputShift, ...]
    failures: int
    cases: int
    invalid: int
    reason: str | None


@dataclass(frozen=True, eq=False, slots=True)
class FailureSums:
    """What is kept of failing cases, in memory that does not grow.

    Row r of r + 1 stands for failing in any way.

    Parameters
    ----------
    cases, invalid
        Valid cases, and cases left out because a margin was no number of sensible size.
    failures : (r + 1,)
        Failing cases.
    scores, score_squares : (r + 1, d)
        Sums over them of the scores z, and of their squares.
    ranks, rank_squares : (r + 1, d)
        Sums over them of Phi(z), and of its square.
    """

    cases: int
    invalid: int
    failures: npt.NDArray[np.int64]
    scores: Array
    score_squares: Array
    ranks: Array
    rank_squares: Array

    @classmethod
    def of(cls, scores: Array, margins: Array) -> FailureSums:
        """Sum up cases; a requirement is failed where its margin is below zero.

        Parameters
        ----------
        scores
            Standard normal scores, shape (d, n); they may be correlated.
        margins
            Shape (r, n).
        """
        scores, margins, invalid = valid_part(scores, margins)
        missed = margins < 0.0
        failing = np.flatnonzero(missed.any(axis=0))
        tables = np.zeros((4, len(margins) + 1, len(scores)))
        failures = np.zeros(len(margins) + 1, dtype=np.int64)
        for start in range(0, failing.size, _PIECE):
            at = failing[start : start + _PIECE]
            outputs = np.vstack([missed[:, at], np.ones((1, at.size), dtype=np.bool_)])
            failures += np.count_nonzero(outputs, axis=1)
            tables += _moments(outputs.astype(np.float64), scores[:, at])
        return cls(scores.shape[1], invalid, failures, *tables)

    def merge(self, other: FailureSums) -> FailureSums:
        """Give the sums of both; counts are exact, the order of merging moves last digits only.

        Raises
        ------
        ValueError
            If they are of different numbers of inputs or requirements.
        """
        if self.scores.shape != other.scores.shape:
            raise ValueError("sums over different inputs or requirements cannot be merged")
        return FailureSums(
            self.cases + other.cases,
            self.invalid + other.invalid,
            self.failures + other.failures,
            self.scores + other.scores,
            self.score_squares + other.score_squares,
            self.ranks + other.ranks,
            self.rank_squares + other.rank_squares,
        )

    def shifts(
        self,
        names: Sequence[str],
        labels: Sequence[str],
        confidence: float = 0.95,
        *,
        whole: str = "At least one requirement",
        independent: bool = True,
    ) -> tuple[OutputShifts, ...]:
        """Give the shifts for every requirement in turn, then for failing in any way.

        Parameters
        ----------
        names, labels
            Names of the d inputs and the r requirements.
        confidence
            Of the two-sided intervals.
        whole
            What failing one or more requirements is called.
        independent
            False for cases drawn in stratified replicates: intervals are then those of as many
            independent cases, which a stratified design is expected to do no worse than, and the
            method says so.

        Raises
        ------
        ValueError
            If the names are not as many as the rows, or the confidence is impossible.
        """
        require_confidence(confidence)
        r, d = len(self.failures) - 1, self.scores.shape[1]
        if (len(names), len(labels)) != (d, r):
            raise ValueError(f"{d} inputs and {r} requirements need as many names, not {len(names)} and {len(labels)}")
        rows = enumerate([*labels, whole])
        return tuple(self._output(at, label, names, confidence, independent=independent) for at, label in rows)

    def _output(
        self, at: int, label: str, names: Sequence[str], confidence: float, *, independent: bool
    ) -> OutputShifts:
        n = int(self.failures[at])
        if n < FEWEST_FAILURES:
            reason = (
                f"Shifts are given from {FEWEST_FAILURES} failing cases on; there are {n} in {words.count(self.cases)}."
            )
            return OutputShifts(label, (), n, self.cases, self.invalid, reason)
        tables = (self.scores, self.score_squares, self.ranks, self.rank_squares)
        moments = np.stack([table[at] for table in tables], axis=1) / n
        rule = _Rule(n, confidence, independent)
        found = [_shift(name, row, rule) for name, row in zip(names, moments.tolist(), strict=True)]
        found.sort(key=lambda shift: -shift.probability.value)
        return OutputShifts(label, tuple(found), n, self.cases, self.invalid, None)


def _moments(outputs: Array, scores: Array) -> Array:
    """Sum over the cases of each output; not as a product of matrices, whose order of summing is not ours."""
    ranks = ndtr(scores)
    return np.stack(
        [[(output * values).sum(axis=1) for output in outputs] for values in (scores, scores**2, ranks, ranks**2)]
    )


@dataclass(frozen=True, slots=True)
class _Rule:
    """How intervals are made from means over n failing cases.

    Few failing cases of a skewed law show too little spread: the one far out has not been seen
    yet. One more case is therefore counted in the variance, as spread as the law allows: by the
    full variance of a score, or of a share. Measured coverage stays above nominal less a
    percentage point from five failing cases on; see the tests.
    """

    n: int
    confidence: float
    independent: bool

    def variance(self, mean: float, square: float, widest: float) -> float:
        """Give the variance of one case from means of values and squares, plus one widest case."""
        return max(square - mean**2, 0.0) + widest / self.n

    @property
    def reach(self) -> float:
        """The t quantile."""
        return float(stdtrit(self.n - 1.0, 0.5 + 0.5 * self.confidence))

    def mean(self, mean: float, square: float) -> Interval:
        """Bound a mean score."""
        half = self.reach * math.sqrt(self.variance(mean, square, 1.0) / self.n)
        name = f"t interval over {words.count(self.n)} failing cases"
        return Interval(mean, mean - half, mean + half, self.confidence, self._method(name))

    def probability(self, mean: float, square: float) -> Interval:
        """Bound a mean of values between 0 and 1 by the exact binomial rule, at the number of trials worth as much."""
        widest = mean * (1.0 - mean)
        variance = self.variance(mean, square, widest)
        worth = widest / variance if variance > 0.0 else 1.0
        trials = self.n * worth * (float(ndtri(0.5 + 0.5 * self.confidence)) / self.reach) ** 2
        low, high = _exact_bounds(mean * trials, trials, 0.5 - 0.5 * self.confidence)
        name = f"Korn-Graubard interval over {words.count(self.n)} failing cases"
        return Interval(mean, low, high, self.confidence, self._method(name))

    def _method(self, name: str) -> str:
        level = f"{words.level(self.confidence)} confidence"
        if self.independent:
            return f"{name}, {level}"
        return f"{name}, {level} for independent cases, taken as a cautious bound for stratified replicates"


def _exact_bounds(successes: float, trials: float, tail: float) -> tuple[float, float]:
    """Give Clopper-Pearson bounds for numbers that need not be whole."""
    failures = max(trials - successes, 0.0)
    low = float(betaincinv(successes, failures + 1.0, tail)) if successes > 0.0 else 0.0
    high = float(betainccinv(successes + 1.0, failures, tail)) if failures > 0.0 else 1.0
    return low, high


def _shift(name: str, moments: Sequence[float], rule: _Rule) -> InputShift:
    """Describe an input from its means of z, z squared, Phi(z) and Phi(z) squared over failing cases."""
    score, score_square, rank, rank_square = moments
    direction: Direction = "higher" if rank >= 0.5 else "lower"
    if direction == "lower":
        # Phi(-z) = 1 - Phi(z)
        rank, rank_square = 1.0 - rank, 1.0 - 2.0 * rank + rank_square
    probability = rule.probability(rank, rank_square)
    return InputShift(name, direction, rule.mean(score, score_square), probability, probability.low > 0.5)
