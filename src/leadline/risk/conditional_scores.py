"""Correlated scores, and scores redrawn while some of them are held.

For normal scores (X_u, X_v) with correlation blocks C, the law of X_v given X_u = x is normal with
mean C_vu C_uu^-1 x and covariance C_vv - C_vu C_uu^-1 C_uv, in closed form for every choice of u.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.risk.validity import Array

__all__ = ["ConditionalScores"]

Rows = npt.NDArray[np.intp]

_SINGULAR: Final = 1e-10
"""An eigenvalue of a correlation matrix nearer to zero than this counts as zero."""


@dataclass(frozen=True, slots=True)
class _Mixed:
    """Rows of which some are held: the free ones are `slope` times the held plus `root` times fresh noise."""

    held: Rows
    free: Rows
    slope: Array
    root: Array


class ConditionalScores:
    """Standard normal scores with a given correlation, group by group.

    Correlated inputs are handled in the smallest sets that hang together, so inputs correlated
    with nothing cost a copy each.

    Parameters
    ----------
    correlation
        Correlation of the scores, shape (d, d); inputs that follow wholly from others are allowed.
    groups
        Rows of each group; a group is held or redrawn as one.

    Raises
    ------
    ValueError
        If the matrix is no correlation matrix, or the groups do not hold each row once.
    """

    def __init__(self, correlation: Array, groups: Sequence[Sequence[int]]) -> None:
        self.correlation = _require_correlation(correlation)
        self.groups = tuple(tuple(int(row) for row in group) for group in groups)
        _require_partition(self.groups, len(self.correlation))
        self._sets = [rows for rows in _connected(self.correlation) if len(rows) > 1]
        self._roots = [_root(self.correlation[np.ix_(rows, rows)]) for rows in self._sets]
        self._held: dict[int, tuple[Rows, tuple[_Mixed, ...]]] = {}

    def correlate(self, draws: Array) -> Array:
        """Give correlated scores for independent ones, shape (d, n)."""
        scores = draws.copy()
        for rows, root in zip(self._sets, self._roots, strict=True):
            scores[rows] = np.einsum("ij,jn->in", root, draws[rows])
        return scores

    def redraw(self, held: int, scores: Array, draws: Array, fresh: Array, out: Array) -> None:
        """Redraw all groups but those held, conditional on those.

        Parameters
        ----------
        held
            Groups held, as bits: group i where bit i is set.
        scores
            Where the held groups' scores come from, shape (d, n).
        draws, fresh
            Independent scores to redraw with, and `correlate` of them.
        out
            Where to write the scores, shape (d, n).
        """
        rows, mixed = self._plan(held)
        np.copyto(out, fresh)
        out[rows] = scores[rows]
        for each in mixed:
            out[each.free] = np.einsum("ij,jn->in", each.slope, scores[each.held])
            out[each.free] += np.einsum("ij,jn->in", each.root, draws[each.free])

    def _plan(self, held: int) -> tuple[Rows, tuple[_Mixed, ...]]:
        if held not in self._held:
            chosen = [row for at, group in enumerate(self.groups) if held >> at & 1 for row in group]
            mixed = (self._mixed(rows, np.isin(rows, chosen)) for rows in self._sets)
            self._held[held] = np.array(sorted(chosen), dtype=np.intp), tuple(each for each in mixed if each)
        return self._held[held]

    def _mixed(self, rows: Rows, chosen: npt.NDArray[np.bool_]) -> _Mixed | None:
        if chosen.all() or not chosen.any():
            return None
        held, free = rows[chosen], rows[~chosen]
        inner, cross = self.correlation[np.ix_(held, held)], self.correlation[np.ix_(free, held)]
        slope: Array = cross @ np.linalg.pinv(inner, rtol=_SINGULAR, hermitian=True)
        return _Mixed(held, free, slope, _root(self.correlation[np.ix_(free, free)] - slope @ cross.T))


def _root(covariance: Array) -> Array:
    """Give the symmetric square root; eigenvalues below zero by rounding count as zero."""
    values, vectors = np.linalg.eigh(covariance)
    root: Array = (vectors * np.sqrt(np.where(values > _SINGULAR, values, 0.0))) @ vectors.T
    return root


def _connected(correlation: Array) -> list[Rows]:
    """Give the sets of rows joined by correlations other than zero, each sorted."""
    sets: list[set[int]] = []
    for row, line in enumerate(correlation):
        joined = {int(at) for at in np.flatnonzero(line)} | {row}
        joined = joined.union(*(old for old in sets if old & joined))
        sets = [old for old in sets if not old & joined] + [joined]
    return [np.array(sorted(rows), dtype=np.intp) for rows in sets]


def _require_correlation(correlation: Array) -> Array:
    matrix = np.asarray(correlation, dtype=np.float64)
    square = matrix.ndim == 2 and matrix.shape[0] == matrix.shape[1] > 0
    if not (square and np.allclose(matrix, matrix.T, rtol=0.0, atol=1e-12)):
        raise ValueError(f"a correlation matrix must be square and symmetric; its shape is {matrix.shape}")
    if not np.allclose(np.diagonal(matrix), 1.0, rtol=0.0, atol=1e-12):
        raise ValueError("a correlation matrix must have ones on its diagonal")
    least = float(np.linalg.eigvalsh(matrix)[0])
    if not least > -1e-8:
        raise ValueError(f"these correlations cannot hold together: the matrix has the eigenvalue {least:.3g}")
    return matrix


def _require_partition(groups: Sequence[Sequence[int]], inputs: int) -> None:
    members = sorted(row for group in groups for row in group)
    if members != list(range(inputs)) or not all(groups):
        raise ValueError(f"each of the {inputs} inputs must be in exactly one group, and no group be empty: {groups}")
