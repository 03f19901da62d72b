"""Which correlation to relax when a set of rank correlations cannot hold together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np

from leadline.sampling.copula import factor, rank_correlation, score_correlation
from leadline.sampling.law import Array
from leadline.sampling.refusals import DependenceError

__all__ = ["explain_conflict"]

_MOST_SEARCHED: Final = 40
"""Beyond this many inputs in a group only the weightiest pair is named, to answer at once."""


@dataclass(frozen=True, slots=True)
class _Repair:
    """A rank correlation for one pair that makes the others possible."""

    pair: tuple[int, int]
    nearest: float
    change: float


def explain_conflict(names: Sequence[str], ranks: Array, stated: Sequence[tuple[int, int]]) -> DependenceError:
    """Return the error that says which pair to relax and how far.

    Parameters
    ----------
    names
        Inputs of the group.
    ranks
        Their rank correlations, shape (k, k), which have no Cholesky factor.
    stated
        Pairs that the user gave, as positions; all others are taken as 0.
    """
    repairs = _repairs(ranks)
    usual = min((r for r in repairs if r.pair in stated), key=lambda r: r.change, default=None)
    unsaid = min((r for r in repairs if r.pair not in stated), key=lambda r: r.change, default=None)
    if usual is None:
        pair, remedy = _weightiest(ranks, stated), _scaling(ranks)
        remedy = f"{_named(names, pair)} weighs most, but changing it alone is not enough. {remedy}"
    else:
        pair = usual.pair
        remedy = f"Keeping the others, write {usual.nearest:g} instead of {ranks[pair]:g} for {_named(names, pair)}."
    if unsaid is not None:
        remedy += f" Or state {_named(names, unsaid.pair)}, left out and so taken as 0, as {unsaid.nearest:g}."
    problem = f"The rank correlations among {', '.join(names)} cannot all hold together."
    nearest = None if usual is None else usual.nearest
    return DependenceError((names[pair[0]], names[pair[1]]), float(ranks[pair]), nearest, problem, remedy)


def _named(names: Sequence[str], pair: tuple[int, int]) -> str:
    return f"{names[pair[0]]} with {names[pair[1]]}"


def _repairs(ranks: Array) -> list[_Repair]:
    """Return every single change that works; none where two directions are impossible."""
    below_zero = int(np.sum(np.linalg.eigvalsh(score_correlation(ranks)) < -1e-9))
    # Changing one pair moves one eigenvalue up and one down, so it mends one at most.
    if below_zero > 1 or len(ranks) > _MOST_SEARCHED:
        return []
    found = (_repair(ranks, pair) for pair in combinations(range(len(ranks)), 2))
    return [repair for repair in found if repair is not None]


def _repair(ranks: Array, pair: tuple[int, int]) -> _Repair | None:
    window = _window(score_correlation(ranks), pair)
    if window is None:
        return None
    low, high = (float(rank_correlation(end)) for end in window)
    asked = float(ranks[pair])
    nearest = _inward(low, high, asked)
    changed = ranks.copy()
    changed[pair] = changed[pair[::-1]] = nearest
    if factor(score_correlation(changed)) is None:
        return None
    return _Repair(pair, nearest, abs(nearest - asked))


def _window(correlation: Array, pair: tuple[int, int]) -> tuple[float, float] | None:
    """Return the score correlations of a pair that the other entries leave possible.

    With the rest K of the group known, the pair has conditional covariance
    S = R_pp - R_pK R_KK^-1 R_Kp; it is possible while |S_12| <= sqrt(S_11 S_22).
    """
    rest = [at for at in range(len(correlation)) if at not in pair]
    inner = correlation[np.ix_(rest, rest)]
    across = correlation[np.ix_(pair, rest)]
    explained = across @ np.linalg.pinv(inner, hermitian=True) @ across.T
    first, second = 1.0 - explained[0, 0], 1.0 - explained[1, 1]
    if factor(inner) is None or first < -1e-9 or second < -1e-9:
        return None
    room = math.sqrt(max(first, 0.0) * max(second, 0.0))
    return max(explained[0, 1] - room, -1.0), min(explained[0, 1] + room, 1.0)


def _inward(low: float, high: float, asked: float) -> float:
    """Round the end of a window next to `asked` to three decimals, staying inside."""
    near = math.floor(high * 1000.0) / 1000.0 if asked > high else math.ceil(low * 1000.0) / 1000.0
    return near if low <= near <= high else 0.5 * (low + high)


def _weightiest(ranks: Array, stated: Sequence[tuple[int, int]]) -> tuple[int, int]:
    """Return the stated pair whose relaxing lifts the worst direction most, to first order."""
    correlation = score_correlation(ranks)
    worst = np.linalg.eigh(correlation)[1][:, 0]
    return min(stated, key=lambda pair: correlation[pair] * worst[pair[0]] * worst[pair[1]])


def _scaling(ranks: Array) -> str:
    """Return the sentence with the share of all correlations that can be kept."""
    kept, refused = 0.0, 1.0
    for _ in range(12):
        share = 0.5 * (kept + refused)
        scaled = np.where(np.eye(len(ranks)) == 1.0, 1.0, ranks * share)
        possible = np.linalg.eigvalsh(score_correlation(scaled))[0] > 0.0
        kept, refused = (share, refused) if possible else (kept, share)
    return f"All of them at {math.floor(kept * 100.0)} % of their values would work."
