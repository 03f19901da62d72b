"""Values at even steps, read by straight lines between them: the node below is found by one look, not by search."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["EvenTable"]

Array = npt.NDArray[np.float64]
Value = Array | float


@dataclass(frozen=True, slots=True)
class EvenTable:
    """A line of straight pieces.

    Parameters
    ----------
    first, last
        Where the first and the last node lie.
    values : (k,)
        At k even nodes, two or more.
    """

    first: float
    last: float
    values: Array

    def at(self, x: Value) -> Array:
        """Read the line.

        Parameters
        ----------
        x : float or (n,)
            Where; beyond the ends it counts as the end, and what is no number stays none.

        Returns
        -------
        (n,)
            As `numpy.interp` gives, but for rounding.
        """
        last_piece = self.values.size - 2
        place = np.asarray(np.subtract(x, self.first) * ((last_piece + 1) / (self.last - self.first)))
        node = np.floor(np.fmin(np.fmax(place, 0.0), last_piece))
        share = np.minimum(np.maximum(place - node, 0.0), 1.0)
        below = node.astype(np.intp)
        low, high = self.values.take(below), self.values.take(below + 1)
        high -= low
        high *= share
        high += low
        return np.asarray(high)
