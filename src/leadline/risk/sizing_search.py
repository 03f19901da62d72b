"""Where the successes of common cases cross a count, found by trying few values of one number.

References
----------
I. F. D. Oliveira, R. H. C. Takahashi, "An enhancement of the bisection method average performance
preserving minmax optimality", ACM Trans. Math. Softw. 47 (2020) 5 (cited from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from leadline.risk.acceptance import allowed_failures
from leadline.risk.proportion import require_confidence, require_counts

__all__ = ["Counts", "Levels", "Prefer", "Question", "Search", "probit"]

GOLDEN: Final = 0.5 * (3.0 - math.sqrt(5.0))
"""The smaller part of the golden section."""


class Prefer(StrEnum):
    """Which of the values that meet what was asked is the answer."""

    SMALLEST = "smallest"
    LARGEST = "largest"


@dataclass(frozen=True, slots=True, eq=False)
class Counts:
    """How the cases ended for one value of the number.

    Parameters
    ----------
    cases, succeeded, invalid
        All cases, those that met every requirement, those with a margin that is no number (which
        never count as succeeding).
    failures_by_requirement : (r,)
        Cases that fail each requirement.
    alone_failures : (r,)
        Cases that fail this requirement and no other.
    """

    cases: int
    succeeded: int
    invalid: int
    failures_by_requirement: npt.NDArray[np.int64]
    alone_failures: npt.NDArray[np.int64]

    @property
    def worst(self) -> int | None:
        """The requirement that most cases fail, the first of equals; None if none fails any."""
        failures = self.failures_by_requirement
        return int(failures.argmax()) if failures.size and failures.max() > 0 else None


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of the number.

    Parameters
    ----------
    low, high
        The values looked at, both included.
    chance, confidence
        The wanted chance, and how surely (on one side) it is to be shown.
    whole
        Whether only whole numbers make sense.
    prefer
        Which of the values that meet it is wanted.
    tolerance
        How closely an edge is found, as a share of the range; whole numbers are found exactly.
    grid
        Values tried first, evenly spread.
    budget
        Most values tried in all.

    Raises
    ------
    ValueError
        If range, chance, confidence, tolerance or budget are impossible.
    """

    low: float
    high: float
    chance: float
    confidence: float
    whole: bool = False
    prefer: Prefer = Prefer.SMALLEST
    tolerance: float = 1e-4
    grid: int = 13
    budget: int = 40

    def __post_init__(self) -> None:
        require_confidence(self.confidence)
        if not 0.0 < self.chance < 1.0:
            raise ValueError(f"the wanted chance must lie between 0 and 1, not {self.chance!r}")
        if not (math.isfinite(self.high - self.low) and self.ends[0] < self.ends[1]):
            raise ValueError(f"the range must hold two values or more, not {self.low!r} to {self.high!r}")
        if not (0.0 < self.tolerance < 1.0 and 3 <= self.grid <= self.budget):
            raise ValueError(
                f"tolerance, grid and budget do not fit: {self.tolerance!r}, {self.grid!r}, {self.budget!r}"
            )

    @property
    def ends(self) -> tuple[float, float]:
        """The least and the largest value that can be tried."""
        return (float(math.ceil(self.low)), float(math.floor(self.high))) if self.whole else (self.low, self.high)

    @property
    def resolution(self) -> float:
        """How near a value that does not meet it must lie to one that does, for an edge to be found."""
        return 1.0 if self.whole else self.tolerance * (self.high - self.low)

    @property
    def outward(self) -> int:
        """The direction, down or up, in which the preferred values lie."""
        return -1 if self.prefer is Prefer.SMALLEST else 1

    def first_values(self) -> list[float]:
        """Spread the grid over the range."""
        spread = np.linspace(*self.ends, self.grid)
        return sorted({float(x) for x in (np.rint(spread) if self.whole else spread)})

    def snap(self, x: float, first: float, second: float) -> float:
        """Move a value to one that can be tried, strictly between two others further apart than the resolution."""
        if not self.whole:
            return x
        return min(max(float(round(x)), min(first, second) + 1.0), max(first, second) - 1.0)


@dataclass(frozen=True, slots=True)
class Levels:
    """How many cases must succeed for the chance to be shown, to be likely, and to be possible.

    `shown` is ``cases + 1`` when even no failure would show it.
    """

    shown: int
    likely: int
    at_best: int

    @classmethod
    def of(cls, cases: int, chance: float, confidence: float) -> Levels:
        """Find the counts at which lower bound, plain estimate and upper bound reach a chance."""
        allowed = allowed_failures(cases, chance, confidence)
        # Too few successes for the chance are just what would show the chance of failure to be larger.
        refuting = allowed_failures(cases, 1.0 - chance, confidence)
        likely = round(chance * cases)
        likely += likely / cases < chance  # rounded down, or by a bit of the last place
        return cls(cases + 1 if allowed is None else cases - allowed, likely, 0 if refuting is None else refuting + 1)


def probit(succeeded: npt.ArrayLike, cases: int) -> npt.NDArray[np.float64]:
    """Turn counts into normal scores, none and all taken as half a case; linear in many a margin."""
    scores: npt.NDArray[np.float64] = ndtri((np.asarray(succeeded, dtype=np.float64) + 0.5) / (cases + 1.0))
    return scores


class Search:
    """Tries values once each, and no more of them than the budget allows."""

    def __init__(self, counts: Callable[[float], Counts], question: Question) -> None:
        self.question = question
        self.tried: dict[float, Counts] = {}
        self._counts = counts
        for x in question.first_values():
            self.succeeded(x)
        self.cases = next(iter(self.tried.values())).cases

    @property
    def left(self) -> int:
        """How many more values may be tried."""
        return self.question.budget - len(self.tried)

    @property
    def best(self) -> float:
        """The value with most successes, the preferred one of equals."""
        return max(self.tried, key=lambda x: (self.tried[x].succeeded, self.question.outward * x))

    def succeeded(self, x: float) -> int:
        """Count the cases that succeed for a value, trying it if it is new."""
        if x not in self.tried:
            self.tried[x] = found = self._counts(x)
            require_counts(found.succeeded, found.cases)
            if found.cases != next(iter(self.tried.values())).cases:
                raise ValueError(f"every value must be tried on the same cases, not {found.cases!r} for {x!r}")
        return self.tried[x].succeeded

    def height(self, x: float, level: int) -> float:
        """How far the successes lie above a level, in normal scores; never 0."""
        return float(probit(self.succeeded(x), self.cases) - probit(level - 0.5, self.cases))

    def edge(self, level: int, start: float, way: int) -> tuple[float, float] | None:
        """Go from a value that reaches a level: the first that does not, and the last that does."""
        inside = start
        for x in sorted((x for x in self.tried if way * (x - start) > 0), reverse=way < 0):
            if self.succeeded(x) < level:
                return x, inside
            inside = x
        return None

    def close_in(self, level: int, start: float, way: int) -> None:
        """Find the edge of a level from a value that reaches it, as closely as asked."""
        edge = self.edge(level, start, way)
        if edge is None:
            return
        (outside, inside), resolution = edge, self.question.resolution
        width = abs(inside - outside)
        slack = resolution * 2.0 ** math.ceil(math.log2(max(width / resolution, 1.0)))
        while abs(inside - outside) > resolution * (1.0 + 1e-9) and self.left:
            heights = self.height(outside, level), self.height(inside, level)
            x = self.question.snap(_itp(outside, inside, heights, slack, width), outside, inside)
            outside, inside = (outside, x) if self.succeeded(x) >= level else (x, inside)
            slack /= 2.0

    def runs(self, level: int) -> list[tuple[float, float]]:
        """Collect the ranges whose tried values all reach a level."""
        found: list[tuple[float, float]] = []
        inside = False
        for x in sorted(self.tried):
            reaches = self.succeeded(x) >= level
            if reaches:
                found = [*found[:-1], (found[-1][0], x)] if inside else [*found, (x, x)]
            inside = reaches
        return found


def _itp(a: float, b: float, heights: tuple[float, float], slack: float, width: float) -> float:
    """Choose the next value in a bracket: by interpolation, truncated and projected (Oliveira, Takahashi 2020).

    With their n0 = 1, k1 = 0.2 over the first width and k2 = 2, never more than one step behind bisection.
    """
    half, falsi = 0.5 * (a + b), (heights[1] * a - heights[0] * b) / (heights[1] - heights[0])
    aside = math.copysign(1.0, half - falsi)
    nudged = falsi + aside * min(0.2 * (b - a) ** 2 / width, abs(half - falsi))
    reach = max(slack - 0.5 * abs(b - a), 0.0)
    return nudged if abs(nudged - half) <= reach else half - aside * reach


def loose_end(search: Search, level: int) -> tuple[float, int] | None:
    """Find an end of a range, and the way out of it, whose edge is not known closely yet."""
    for run in search.runs(level):
        for end, way in zip(run, (-1, 1), strict=True):
            edge = search.edge(level, end, way)
            if edge is not None and abs(edge[0] - edge[1]) > search.question.resolution * (1.0 + 1e-9):
                return end, way
    return None


def balance(search: Search) -> None:
    """Where no value lets any case succeed, look for one between two that fail for different reasons."""
    if search.succeeded(search.best) > 0:
        return
    values = sorted(search.tried)
    changes = [(a, b) for a, b in pairwise(values) if search.tried[a].worst != search.tried[b].worst]
    if not changes:
        return
    low, high = changes[0]
    reason = search.tried[low].worst
    while high - low > search.question.resolution * (1.0 + 1e-9) and search.left:
        x = search.question.snap(0.5 * (low + high), low, high)
        if search.succeeded(x) > 0:
            return
        low, high = (x, high) if search.tried[x].worst == reason else (low, x)


def climb(search: Search, enough: int) -> None:
    """Close in on the value with most successes by golden sections, until one shows the chance."""
    middle, coarse = search.best, search.question.resolution * (1.0 if search.question.whole else 4.0)
    low = max((x for x in search.tried if x < middle), default=middle)
    high = min((x for x in search.tried if x > middle), default=middle)
    while search.succeeded(middle) < enough and search.left and max(high - middle, middle - low) > coarse:
        far = high if high - middle > middle - low else low
        x = search.question.snap(middle + GOLDEN * (far - middle), middle, far)
        if search.succeeded(x) > search.succeeded(middle):
            low, middle, high = (middle, x, high) if far == high else (low, x, middle)
        else:
            low, high = (low, x) if far == high else (x, high)
