"""The share of variance that every subset of groups explains, and its fair split among them.

References
----------
A. Janon, T. Klein, A. Lagnoux, M. Nodet, C. Prieur, "Asymptotic normality and efficiency of two
Sobol index estimators", ESAIM: Probability and Statistics 18 (2014) 342: the estimator of a
covariance share that pools the moments of both members of a pair.
E. Song, B. L. Nelson, J. Staum, "Shapley effects for global sensitivity analysis: theory and
computation", SIAM/ASA J. Uncertainty Quantification 4 (2016) 1060, with the weights. Both cited
from memory.
"""

from __future__ import annotations

from math import comb

import numpy as np

from leadline.risk.jackknife import GROUPS
from leadline.risk.validity import Array, Mask

__all__ = ["PairSums", "shapley_weights"]


def shapley_weights(groups: int) -> Array:
    """Give the matrix that turns subset costs into Shapley values.

    The value of group i is the mean, over all orders in which groups may be added, of what it
    adds to the cost: sum over subsets u without i of (c(u + i) - c(u)) / (g binom(g - 1, abs(u))).

    Parameters
    ----------
    groups
        Their number g.

    Returns
    -------
    Shape (g, 2**g); column u stands for the subset whose members are the set bits of u.
    """
    weights = np.zeros((groups, 2**groups))
    for subset in range(2**groups):
        weight = 1.0 / (groups * comb(groups - 1, min(subset.bit_count(), groups - 1)))
        for group in (at for at in range(groups) if not subset >> at & 1):
            weights[group, subset] -= weight
            weights[group, subset | 1 << group] += weight
    return weights


class PairSums:
    """Sums over pairs of outputs (Y, Y') that share a subset of groups.

    The cost of subset u is c(u) = Cov(Y, Y') / Var(Y) = Var(E[Y | X_u]) / Var(Y).

    Parameters
    ----------
    groups
        Number of groups that subsets are made of.
    outputs
        Number of outputs o.
    """

    def __init__(self, groups: int, outputs: int) -> None:
        self.groups = groups
        self._pairs = np.zeros((GROUPS, 2**groups))
        # sums of (Y + Y') / 2, of Y Y', and of (Y^2 + Y'^2) / 2
        self._means, self._products, self._squares = np.zeros((3, GROUPS, 2**groups, outputs))

    def add(self, subset: int, first: Array, second: Array, valid: Mask) -> None:
        """Add pairs, dealt in turn to the groups of cases of the jackknife.

        Parameters
        ----------
        subset
            Groups shared, as bits.
        first, second
            Outputs (o, n), with zeros for invalid cases of either.
        valid
            Pairs to count, shape (n,).
        """
        if not valid.all():
            first, second = first * valid, second * valid
        starts = np.arange(GROUPS) * valid.size // GROUPS
        for table, values in (
            (self._pairs, valid.astype(np.float64)),
            (self._means, 0.5 * (first + second)),
            (self._products, first * second),
            (self._squares, 0.5 * (first**2 + second**2)),
        ):
            table[:, subset] += np.add.reduceat(values, starts, axis=-1).T

    @property
    def sizes(self) -> Array:
        """Valid pairs that share all groups, that is valid cases, by group of cases."""
        return self._pairs[:, -1]

    @property
    def variances(self) -> Array:
        """Variances of the outputs, shape (o,)."""
        pairs, means, squares = (t[:, -1].sum(axis=0) for t in (self._pairs, self._means, self._squares))
        variances: Array = squares / pairs - (means / pairs) ** 2
        return variances

    def values(self) -> tuple[Array, Array]:
        """Give Shapley values.

        Returns
        -------
        From all cases, shape (o, g), and with each group of cases left out, shape (GROUPS, o, g).
        """
        tables = (self._pairs[..., np.newaxis], self._means, self._products, self._squares)
        weights = shapley_weights(self.groups).T
        whole = _costs(*(table.sum(axis=0) for table in tables))
        left_out = _costs(*(table.sum(axis=0) - table for table in tables))
        return _split(whole, weights), _split(left_out, weights)


def _costs(pairs: Array, means: Array, products: Array, squares: Array) -> Array:
    """Give the costs of all subsets, shape (..., 2**g, o)."""
    with np.errstate(invalid="ignore", divide="ignore"):
        centre = means / pairs
        costs: Array = (products / pairs - centre**2) / (squares / pairs - centre**2)
    costs[..., 0, :] = 0.0
    return costs


def _split(costs: Array, weights: Array) -> Array:
    values: Array = np.swapaxes(costs, -1, -2) @ weights
    return values
