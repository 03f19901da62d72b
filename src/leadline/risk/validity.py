"""Which cases count: those whose margins are all numbers of sensible size."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["LARGEST", "Array", "Mask", "valid_cases", "valid_part"]

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

LARGEST: Final = 2.0**500
"""Largest magnitude of a margin that is used; sums of squares of larger ones overflow."""


def valid_cases(margins: Array) -> Mask:
    """Say which cases have only margins of sensible size, shape (n,), from margins (r, n)."""
    mask: Mask = np.all(np.abs(margins) <= LARGEST, axis=0)  # not a number compares as false
    return mask


def valid_part(scores: Array, margins: Array) -> tuple[Array, Array, int]:
    """Leave out invalid cases.

    Parameters
    ----------
    scores, margins
        Shapes (d, n) and (r, n).

    Returns
    -------
    Scores and margins of the valid cases (views where all are valid), and how many were invalid.
    """
    if scores.ndim != 2 or margins.ndim != 2 or scores.shape[1] != margins.shape[1]:
        raise ValueError(f"scores {scores.shape} and margins {margins.shape} must be (d, n) and (r, n)")
    if margins.size == 0 or np.abs(margins).max() <= LARGEST:
        return scores, margins, 0
    mask = valid_cases(margins)
    return scores[:, mask], margins[:, mask], int(mask.size - np.count_nonzero(mask))
