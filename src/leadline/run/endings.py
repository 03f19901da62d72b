"""How each case of a block ended, case by case; `leadline.run.count` counts by the same rules."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from leadline.budget import Outcome
from leadline.risk.validity import valid_cases

__all__ = ["first_failed_checks", "succeeded_cases", "valid_cases"]

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Indices = npt.NDArray[np.intp]


def succeeded_cases(margins: Array) -> Flags:
    """Tell which cases are valid and meet every requirement, from margins (r, n)."""
    met: Flags = np.all(margins >= 0.0, axis=0, keepdims=True)[0]
    return valid_cases(margins) & met


def first_failed_checks(outcome: Outcome) -> Indices:
    """Give the position of each case's first failed check (n,); -1 where there is none."""
    valid = valid_cases(outcome.margins)
    failed = np.full(valid.shape, -1)
    for position, row in reversed(list(enumerate(outcome.check_rows))):
        failed[valid & (row < 0.0)] = position
    return failed
