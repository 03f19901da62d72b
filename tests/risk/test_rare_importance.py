"""Importance sampling: covers regions it was shown, and the cases kept back tell when it was not."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ndtr

from leadline.risk.rare_importance import Proposal, fit, weigh
from leadline.risk.rare_model import stream
from leadline.risk.rare_subset import Indices
from risk.reliability_problems import Array


def beyond(beta: float, side: float, dimensions: int, cases: int, seed: int) -> Array:
    """Draw cases (d, n) that lie about where ``side * z[0] > beta`` is most likely."""
    scores = stream(seed, 99).standard_normal((dimensions, cases))
    scores[0] = side * (beta + np.abs(scores[0]) / beta)
    return scores


def halves(cases: int) -> Indices:
    """Say which half each case belongs to, in turn."""
    return np.arange(cases) % 2


@pytest.mark.parametrize(("beta", "dimensions"), [(3.0, 1), (5.0, 2), (5.0, 13), (6.0, 40)])
def test_two_regions_are_both_covered(beta: float, dimensions: int) -> None:
    # exact: 2 Phi(-beta); four standard errors of a mean of 16 replicates: false alarm 0.1 % (t law)
    failing = np.concatenate([beyond(beta, side, dimensions, 1500, 1) for side in (1.0, -1.0)], axis=1)
    fitted = fit(failing, halves(3000), stream(0, 0))
    assert fitted is not None
    proposal, examined = fitted
    found = weigh(lambda z: beta - np.abs(z[0]), proposal, stream(0, 1))
    truth, mean = 2.0 * float(ndtr(-beta)), float(found.chances.mean())
    error = float(found.chances.std(ddof=1)) / 4.0
    assert mean == pytest.approx(truth, abs=4.0 * error)
    assert error < 0.05 * truth
    assert found.effective_cases > 1000
    # the second moment as the cases kept back have it is that of the draws, within the scatter of 15 degrees of freedom
    assert 0.5 * error < mean * math.sqrt((examined / mean - 1.0) / found.calls) < 2.0 * error


def test_a_region_the_proposal_never_saw_shows_in_the_cases_kept_back() -> None:
    # exact: Phi(-5) is half the chance; a proposal that knows one side of two finds half, and believes itself precise
    beta, dimensions = 5.0, 100
    near, far = (beyond(beta, side, dimensions, 1000, 2) for side in (1.0, -1.0))
    failing = np.empty((dimensions, 2000))
    failing[:, 0::2], failing[:, 1::2] = near, far
    fitted = fit(failing, halves(2000), stream(0, 0))
    assert fitted is not None
    proposal, examined = fitted
    found = weigh(lambda z: beta - np.abs(z[0]), proposal, stream(0, 1))
    mean = float(found.chances.mean())
    assert mean == pytest.approx(float(ndtr(-beta)), rel=0.1)
    assert float(found.chances.std(ddof=1)) / 4.0 < 0.03 * mean
    assert math.sqrt((examined / mean - 1.0) / found.calls) > 1.0


def test_weights_are_the_ratio_of_the_densities() -> None:
    # exact: the mean of the weights over all draws is 1, and the defensive part bounds each by 1 / 0.1
    proposal = Proposal(np.array([[3.0, 0.0], [0.0, -2.0]]), np.array([0.1, 0.1, 0.5, 0.3]), 2.5)
    draws = proposal.draw(200_000, stream(3, 0))
    weights = proposal.weights(draws)
    assert weights.mean() == pytest.approx(1.0, abs=4.0 * weights.std() / math.sqrt(weights.size))
    assert weights.max() <= 10.0
    # exact: and the weighted mean of z0^2 is 1
    second = weights * draws[0] ** 2
    assert second.mean() == pytest.approx(1.0, abs=4.0 * second.std() / math.sqrt(weights.size))


def test_a_proposal_needs_failing_cases_of_both_halves() -> None:
    assert fit(np.ones((2, 3)), np.zeros(3, dtype=np.intp), stream(0, 0)) is None


def test_cases_that_are_all_the_same_can_be_fitted() -> None:
    fitted = fit(np.full((2, 40), 3.0), halves(40), stream(0, 0))
    assert fitted is not None
    assert np.allclose(fitted[0].centres, 3.0)
