"""Correlated scores, redrawn while some groups are held: the law of the redrawn ones."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from leadline.risk.conditional_scores import ConditionalScores

Array = npt.NDArray[np.float64]


def correlated(*pairs: tuple[int, int, float], d: int) -> Array:
    matrix = np.eye(d)
    for first, second, value in pairs:
        matrix[first, second] = matrix[second, first] = value
    return matrix


@pytest.mark.parametrize("held", range(8))
@pytest.mark.parametrize(
    "correlation",
    [
        correlated((0, 1, 0.6), (1, 2, 0.5), (0, 3, -0.4), d=5),
        correlated((0, 1, 1.0), (2, 3, -1.0), d=5),
        np.eye(5),
    ],
    ids=["chain", "singular", "independent"],
)
def test_redrawn_scores_keep_their_law(correlation: Array, held: int) -> None:
    # exact: draws enter linearly, so with unit vectors as draws the rows are the coefficients, whose products are the
    # covariances: those of the redrawn scores, and theirs with the scores before
    groups = [[0, 4], [2], [1, 3]]
    scores = ConditionalScores(correlation, groups)
    none = np.zeros((5, 5))
    draws, others = np.hstack([np.eye(5), none]), np.hstack([none, np.eye(5)])
    before, redrawn = scores.correlate(draws), np.full((5, 10), np.nan)
    scores.redraw(held, before, others, scores.correlate(others), redrawn)
    assert before @ before.T == pytest.approx(correlation, abs=1e-9)
    assert redrawn @ redrawn.T == pytest.approx(correlation, abs=1e-9)
    kept = [row for at, group in enumerate(groups) if held >> at & 1 for row in group]
    assert np.array_equal(redrawn[kept], before[kept])
    # given what is held, the rest before and the rest redrawn are independent
    slope = correlation[:, kept] @ np.linalg.pinv(correlation[np.ix_(kept, kept)], hermitian=True)
    assert redrawn @ before.T == pytest.approx(slope @ correlation[kept], abs=1e-9)
