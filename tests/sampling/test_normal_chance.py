"""The chance of a normal score, against SciPy, to the last bit."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from leadline.sampling.law import WIDE_PIECE, normal_chance

EDGES = np.array([0.0, -0.0, 1.0, -1.0, 2.0**0.5, -(2.0**0.5), 5e-324, 8.3, -8.3, -38.0, np.inf, -np.inf, np.nan])


@pytest.mark.parametrize(
    "scores",
    [
        np.random.default_rng(1).standard_normal(3 * WIDE_PIECE + 7),
        np.random.default_rng(2).uniform(-40.0, 40.0, 10_000),
        np.concatenate([EDGES, np.nextafter(EDGES, 9.0), np.nextafter(EDGES, -9.0)]),
        np.empty(0),
    ],
    ids=["normal", "far out", "edges", "none"],
)
def test_it_is_scipys_to_the_last_bit(scores: np.ndarray) -> None:
    # cross-checked: scipy.special.ndtr; a draw must not depend on which of the two made it
    expected = ndtr(scores)
    out = np.empty_like(scores)
    normal_chance(scores, out)
    np.testing.assert_array_equal(out, expected)
    normal_chance(scores, scores)
    np.testing.assert_array_equal(scores, expected)
