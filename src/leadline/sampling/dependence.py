"""Rank correlations between inputs, laid on their scores through a Gaussian copula.

Spearman's rank correlation r of two continuous inputs asks for the correlation
rho = 2 sin(pi r / 6) of their scores. Each connected group of inputs is mixed by its own
Cholesky factor in input order: the first keeps its scores, a later one takes from those
before it, and nothing outside the group moves. A rank correlation of 1 or -1 makes the
later input follow the earlier one wholly. Pairs left unsaid are uncorrelated.

What mixing keeps: every input keeps its own law. What it costs: in the two replicate
designs only the first input of a group still hits each stratum once; the others are
weighted sums of evenly spread scores, whose means are still steadier than independent
draws. Laws with steps (discrete, or data with repeats) show a rank correlation nearer to
zero than asked, since ties carry none.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from leadline.errors import SamplingError
from leadline.sampling.conflict import explain_conflict
from leadline.sampling.copula import factor, score_correlation
from leadline.sampling.law import PIECE, Array, pieces
from leadline.sampling.refusals import DependenceError

__all__ = ["Group", "RankCorrelation", "groups_of"]

_Pair = tuple[int, int]


@dataclass(frozen=True, slots=True)
class RankCorrelation:
    """Spearman's rank correlation between two inputs.

    Parameters
    ----------
    first, second
        Names of two different inputs.
    rank
        Rank correlation, from -1 to 1.

    Raises
    ------
    DependenceError
        If the inputs are the same or the rank correlation is out of range.
    """

    first: str
    second: str
    rank: float

    def __post_init__(self) -> None:
        pair = (self.first, self.second)
        if self.first == self.second:
            problem = f"An input cannot be correlated with itself: {self.first}."
            raise DependenceError(pair, self.rank, None, problem, "Name two inputs.")
        if not -1.0 <= self.rank <= 1.0:
            problem = f"The rank correlation of {self.first} with {self.second} is {self.rank}."
            raise DependenceError(pair, self.rank, None, problem, "Write a number from -1 to 1.")


@dataclass(frozen=True, slots=True)
class Group:
    """Inputs that hang together.

    Parameters
    ----------
    rows
        Their places among all inputs, rising.
    lower
        Lower Cholesky factor of their score correlations, row by row.
    """

    rows: tuple[int, ...]
    lower: tuple[tuple[float, ...], ...]

    def mix(self, scores: Array) -> None:
        """Correlate independent scores in place, shape (d, n); other rows stay untouched."""
        scratch = np.empty(min(PIECE, scores.shape[1]))
        for piece in pieces(scores.shape[1]):
            part = scratch[: piece.stop - piece.start]
            # From the last row up, so that the rows before are still independent scores.
            for at in range(len(self.rows) - 1, 0, -1):
                self._mix_row(at, scores[:, piece], part)

    def _mix_row(self, at: int, scores: Array, part: Array) -> None:
        row = scores[self.rows[at]]
        row *= self.lower[at][at]
        for before in range(at):
            weight = self.lower[at][before]
            if weight != 0.0:
                np.multiply(scores[self.rows[before]], weight, out=part)
                row += part


def groups_of(names: Sequence[str], correlations: Iterable[RankCorrelation]) -> tuple[Group, ...]:
    """Return the connected groups that rank correlations make among inputs.

    Parameters
    ----------
    names
        All inputs, in order.
    correlations
        Rank correlations between them, each pair at most once.

    Raises
    ------
    SamplingError
        If an input is unknown.
    DependenceError
        If a pair comes twice, or the correlations cannot hold together.
    """
    ranks = _ranks_by_pair(names, correlations)
    return tuple(_group(names, rows, ranks) for rows in _connected(ranks))


def _ranks_by_pair(names: Sequence[str], correlations: Iterable[RankCorrelation]) -> dict[_Pair, float]:
    places = {name: at for at, name in enumerate(names)}
    ranks: dict[_Pair, float] = {}
    for given in correlations:
        first, second = sorted((_place(places, given.first), _place(places, given.second)))
        if (first, second) in ranks:
            problem = f"The rank correlation of {given.first} with {given.second} is given twice."
            pair = (given.first, given.second)
            raise DependenceError(pair, given.rank, None, problem, "Keep one of them.")
        ranks[first, second] = given.rank
    return ranks


def _place(places: Mapping[str, int], name: str) -> int:
    if name in places:
        return places[name]
    close = difflib.get_close_matches(name, places, n=3)
    known = f"Did you mean {' or '.join(close)}?" if close else "Name a number that has a law."
    raise SamplingError(f"rank correlation: there is no input {name!r}. {known}")


def _connected(ranks: Mapping[_Pair, float]) -> list[tuple[int, ...]]:
    """Return the sets of inputs joined by correlations other than zero, each sorted."""
    sets: list[set[int]] = []
    for pair in (pair for pair, rank in ranks.items() if rank != 0.0):
        joined = set(pair).union(*(old for old in sets if old & set(pair)))
        sets = [old for old in sets if not old & joined] + [joined]
    return sorted(tuple(sorted(rows)) for rows in sets)


def _group(names: Sequence[str], rows: tuple[int, ...], ranks: Mapping[_Pair, float]) -> Group:
    matrix = np.eye(len(rows))
    place = {row: at for at, row in enumerate(rows)}
    stated = [(place[a], place[b]) for a, b in ranks if a in place and b in place]
    for first, second in stated:
        matrix[first, second] = matrix[second, first] = ranks[rows[first], rows[second]]
    lower = factor(score_correlation(matrix))
    if lower is None:
        raise explain_conflict([names[row] for row in rows], matrix, stated)
    return Group(rows, tuple(tuple(map(float, line)) for line in lower))
