"""Importance sampling: draw where failures are, and weigh each by how seldom it would have been drawn.

The proposal is a mixture of normal laws of unit covariance, moved to where failing cases were found; how many are
needed is settled by fitting (EM, Bayes information criterion), so that a union of failure regions is covered region by
region. Two defensive parts belong to it: the standard normal law itself, which bounds every weight, and a wide normal
law as far out as the failures are, which may find a region that no failing case came from (T. Hesterberg, "Weighted
average importance sampling and defensive mixture distributions", Technometrics 37 (1995) 185, cited from memory).

The failing cases of half of the replicates fit the proposal, those of the other half examine it: over failing cases the
mean of the weight is the second moment of the estimator over the chance, so a region that the proposal hardly ever
draws from shows there, while the weights drawn cannot show it.

Unit covariance is kept on purpose: a law that is narrower than the failure region in any direction gives weights
without bound, and in many dimensions a fitted covariance is noise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.random import Generator

from leadline.risk.rare_model import Array, Watch
from leadline.risk.rare_subset import REPLICATES, Indices

__all__ = ["Proposal", "Weighed", "calls_of_weighing", "fit", "weigh"]

DEFENSIVE: Final = 0.1  # share of the standard normal law, and as much of the wide one
CASES: Final = 2**12  # of one replicate
FITTED: Final = 2000  # failing cases at most that a proposal is fitted to, or examined with
COUNTS: Final = (1, 2, 3, 4, 6, 8, 12, 16)  # how many normal laws are tried
ROUNDS: Final = 60  # of fitting at most


@dataclass(frozen=True, slots=True)
class Proposal:
    """A mixture of normal laws to draw from.

    Parameters
    ----------
    centres
        Where the laws of unit covariance lie, shape (k, d).
    shares
        Shares of the standard normal law, of the wide one, and of these, shape (2 + k,).
    width
        Standard deviation of the wide law in each direction.
    """

    centres: Array
    shares: Array
    width: float

    def draw(self, cases: int, generator: Generator) -> Array:
        """Draw cases, shape (d, n), those of one law side by side."""
        counts = generator.multinomial(cases, self.shares)
        scores = generator.standard_normal((self.centres.shape[1], cases))
        plain, wide = int(counts[0]), int(counts[0] + counts[1])
        scores[:, plain:wide] *= self.width
        scores[:, wide:] += np.repeat(self.centres, counts[2:], axis=0).T
        return scores

    def weights(self, scores: Array) -> Array:
        """Return the standard normal density over that of the proposal, shape (n,), for scores (d, n)."""
        logs = np.concatenate((self._defensive_logs(scores), _log_ratios(self.centres, scores)))
        logs += np.log(self.shares)[:, np.newaxis]
        weights: Array = np.exp(-_log_sum(logs))
        return weights

    def _defensive_logs(self, scores: Array) -> Array:
        squares = np.einsum("ij,ij->j", scores, scores)
        wide = 0.5 * (1.0 - self.width**-2) * squares - scores.shape[0] * math.log(self.width)
        return np.stack((np.zeros_like(wide), wide))


@dataclass(frozen=True, slots=True)
class Weighed:
    """One batch of replicates.

    Parameters
    ----------
    chances
        Independent, unbiased estimates of the chance, shape (replicates,).
    total, squares
        Sum of the weights of all failing cases, and of their squares.
    largest
        The largest of these weights.
    calls
        Model calls taken.
    """

    chances: Array
    total: float
    squares: float
    largest: float
    calls: int

    def joined(self, other: Weighed) -> Weighed:
        """Put two batches together."""
        return Weighed(
            np.concatenate((self.chances, other.chances)),
            self.total + other.total,
            self.squares + other.squares,
            max(self.largest, other.largest),
            self.calls + other.calls,
        )

    @property
    def effective_cases(self) -> float:
        """How many equally weighted failing cases would say as much (L. Kish's effective sample size)."""
        return self.total**2 / self.squares if self.squares > 0.0 else 0.0

    @property
    def largest_share(self) -> float:
        """Share of the estimate that hangs on one case."""
        return self.largest / self.total if self.total > 0.0 else 1.0


def calls_of_weighing() -> int:
    """Return the model calls one batch of replicates takes."""
    return REPLICATES * CASES


def weigh(watch: Watch, proposal: Proposal, generator: Generator) -> Weighed:
    """Draw a batch of replicates from a proposal and weigh their failures."""
    sums, squares, largest = np.zeros(REPLICATES), 0.0, 0.0
    for replicate in range(REPLICATES):
        scores = proposal.draw(CASES, generator)
        failing = np.flatnonzero(watch(scores) < 0.0)
        weights = proposal.weights(np.take(scores, failing, axis=1))
        sums[replicate] = weights.sum()
        squares += float(np.square(weights).sum())
        largest = max(largest, float(weights.max(initial=0.0)))
    return Weighed(sums / CASES, float(sums.sum()), squares, largest, REPLICATES * CASES)


def fit(failing: Array, replicate: Indices, generator: Generator) -> tuple[Proposal, float] | None:
    """Fit a proposal to failing cases of half of the replicates, and examine it with the other half.

    Parameters
    ----------
    failing
        Scores of failing cases, shape (d, m).
    replicate
        Which independent replicate each came from, shape (m,).
    generator
        For the choice of cases and starting places.

    Returns
    -------
    The proposal, and the mean of its weights over the failing cases kept back: with the chance p, n cases drawn have a
    coefficient of variation of ``sqrt((mean / p - 1) / n)``. None if either half has no failing case.
    """
    halves = [np.flatnonzero(replicate % 2 == half) for half in (0, 1)]
    if min(half.size for half in halves) == 0:
        return None
    fitted, kept_back = (np.take(failing, _some(half, generator), axis=1) for half in halves)
    centres, shares = _mixture(fitted, generator)
    width = max(1.0, math.sqrt(float(np.square(fitted).mean())))
    every = np.concatenate(([DEFENSIVE, DEFENSIVE], (1.0 - 2.0 * DEFENSIVE) * shares))
    proposal = Proposal(centres, every, width)
    return proposal, float(proposal.weights(kept_back).mean())


def _some(places: Indices, generator: Generator) -> Indices:
    """Take some of them at random, if there are many."""
    return places if places.size <= FITTED else generator.choice(places, FITTED, replace=False)


def _log_ratios(centres: Array, scores: Array) -> Array:
    """Log of each moved normal density over the standard one, shape (k, n), for scores (d, n).

    Not by a matrix product: its last bits may depend on the number of threads.
    """
    lengths = 0.5 * np.square(centres).sum(axis=1)
    ratios: Array = np.einsum("kd,dn->kn", centres, scores)
    ratios -= lengths[:, np.newaxis]
    return ratios


def _log_sum(logs: Array) -> Array:
    """Log of the sum of exponentials over the first axis (that of SciPy, ten times as slow here, checks more)."""
    top = logs.max(axis=0)
    total: Array = top + np.log(np.exp(logs - top).sum(axis=0))
    return total


# ------------------------------------------------------------------------------------------------ the mixture


def _mixture(cases: Array, generator: Generator) -> tuple[Array, Array]:
    """Fit normal laws of unit covariance to cases (d, n), as many as the Bayes information criterion likes best."""
    best = _fitted(cases, 1, generator)
    for count in COUNTS[1:]:
        if count > cases.shape[1]:
            break
        other = _fitted(cases, count, generator)
        if other[2] > best[2]:
            best = other
        elif count > 4:  # two regions of two parts each need four laws before any number pays
            break
    return best[0], best[1]


def _fitted(cases: Array, count: int, generator: Generator) -> tuple[Array, Array, float]:
    """Fit so many laws by expectation and maximisation: centres, shares, and minus half the criterion."""
    centres, shares = _scattered(cases, count, generator), np.full(count, 1.0 / count)
    before = -math.inf
    for _ in range(ROUNDS):
        logs = _log_ratios(centres, cases)
        logs += np.log(shares)[:, np.newaxis]
        total = _log_sum(logs)
        likelihood = float(total.sum())
        if likelihood - before < 1e-3 * count:
            break
        before = likelihood
        belongs = np.exp(logs - total)
        weight = np.maximum(belongs.sum(axis=1), 1e-9)
        centres = np.einsum("kn,dn->kd", belongs, cases) / weight[:, np.newaxis]
        shares = weight / weight.sum()
    return centres, shares, before - 0.5 * count * (cases.shape[0] + 1) * math.log(cases.shape[1])


def _scattered(cases: Array, count: int, generator: Generator) -> Array:
    """Choose starting places among the cases, far from one another (the rule of k-means++)."""
    chosen = [int(generator.integers(cases.shape[1]))]
    nearest = np.full(cases.shape[1], math.inf)
    while len(chosen) < count:
        nearest = np.minimum(nearest, np.square(cases - cases[:, chosen[-1:]]).sum(axis=0))
        if not nearest.sum() > 0.0:
            break
        chosen.append(int(generator.choice(cases.shape[1], p=nearest / nearest.sum())))
    return np.resize(cases[:, chosen].T, (count, cases.shape[0]))
