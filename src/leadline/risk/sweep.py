"""The chance over one or two numbers, every combination tried on the same draws.

Between the values tried, the chance is interpolated linearly in its normal score, in which a margin
that is a normal sum makes it exactly linear. None and all of the cases count there as half a case.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import betainccinv, betaincinv

from leadline.risk import words
from leadline.risk.proportion import require_confidence
from leadline.risk.sizing_search import Levels, probit

__all__ = ["Axis", "Sweep", "contour_lines", "crossings", "sweep"]

Array = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]
Edge = tuple[int, int, int]
"""Column, row, and 0 for the edge of the grid to the right of that corner, 1 for the one above it."""


@dataclass(frozen=True, slots=True, eq=False)
class Axis:
    """A number that is varied.

    Parameters
    ----------
    name
        What it is called in the sentence.
    values : (m,)
        The values tried, rising, two or more.
    words
        How a value is written, with its unit.
    """

    name: str
    values: Array
    words: Callable[[float], str]

    def __post_init__(self) -> None:
        if self.values.size < 2 or not np.all(np.diff(self.values) > 0):
            raise ValueError(f"the values of {self.name!r} must rise, two or more: {self.values.tolist()!r}")


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """The chance at every combination of values.

    Parameters
    ----------
    axes
        One or two.
    cases
        Cases behind every combination, the same draws.
    succeeded : (m,) or (m1, m2)
        Cases that met every requirement.
    value, low, high : like `succeeded`
        The chance, with bounds that each hold with `confidence` at any one combination.
    asked, confidence
        The wanted chance, and how surely (on one side) it is to be shown.
    likely, shown
        Where the estimate reaches the wanted chance, and where it is shown: lines of points
        ``(k, number of axes)``, a single point each for one axis; closed lines repeat the first.
    sentence
        The answer in words.
    """

    axes: tuple[Axis, ...]
    cases: int
    succeeded: Integers
    value: Array
    low: Array
    high: Array
    asked: float
    confidence: float
    likely: tuple[Array, ...]
    shown: tuple[Array, ...]
    sentence: str

    @classmethod
    def of(cls, axes: Sequence[Axis], succeeded: Integers, cases: int, asked: float, confidence: float) -> Sweep:
        """Judge the counts of a grid.

        Parameters
        ----------
        axes
            One or two.
        succeeded : (m,) or (m1, m2)
            Successes in `cases` common cases at every combination of their values.
        cases, asked, confidence
            As above.

        Raises
        ------
        ValueError
            If the counts do not fit the axes or the cases, or chance or confidence are impossible.
        """
        require_confidence(confidence)
        if len(axes) not in {1, 2} or succeeded.shape != tuple(axis.values.size for axis in axes):
            raise ValueError(f"one count is needed for every combination of one or two axes, not {succeeded.shape!r}")
        if not (cases > 0 and succeeded.min() >= 0 and succeeded.max() <= cases and 0.0 < asked < 1.0):
            raise ValueError(
                f"counts must lie between 0 and {cases!r}, and the wanted chance between 0 and 1: {asked!r}"
            )
        levels = Levels.of(cases, asked, confidence)
        low, high = _bounds(succeeded, cases, confidence)
        return cls(
            tuple(axes),
            cases,
            succeeded,
            succeeded / cases,
            low,
            high,
            asked,
            confidence,
            _lines(axes, succeeded, cases, levels.likely),
            _lines(axes, succeeded, cases, levels.shown),
            _sentence(axes, succeeded, cases, levels, (asked, confidence)),
        )


def sweep(succeeded: Callable[..., int], axes: Sequence[Axis], cases: int, asked: float, confidence: float) -> Sweep:
    """Try every combination of the values of one or two numbers.

    Parameters
    ----------
    succeeded
        Cases that succeed for a value of each number, in the order of the axes, on the same
        `cases` draws every time.
    axes, cases, asked, confidence
        As for `Sweep.of`, whose errors it raises.
    """
    shape = tuple(axis.values.size for axis in axes)
    combinations = itertools.product(*(axis.values.tolist() for axis in axes))
    counts = np.array([succeeded(*values) for values in combinations], dtype=np.int64).reshape(shape)
    return Sweep.of(axes, counts, cases, asked, confidence)


def _bounds(succeeded: Integers, cases: int, confidence: float) -> tuple[Array, Array]:
    """Give the exact one-sided bounds of many chances at once (Clopper-Pearson)."""
    won, lost = succeeded.astype(np.float64), cases - succeeded.astype(np.float64)
    low = np.where(won > 0, betaincinv(np.maximum(won, 1.0), lost + 1.0, 1.0 - confidence), 0.0)
    high = np.where(lost > 0, betainccinv(won + 1.0, np.maximum(lost, 1.0), 1.0 - confidence), 1.0)
    return low, high


def _lines(axes: Sequence[Axis], succeeded: Integers, cases: int, level: int) -> tuple[Array, ...]:
    """Draw where the successes reach a level; none where even all cases would not."""
    if level > cases:
        return ()
    # Half a case below the level: a combination that just reaches it lies inside the line.
    heights = probit(succeeded, cases) - probit(level - 0.5, cases)
    if len(axes) == 1:
        return tuple(np.array([[x]]) for x in crossings(axes[0].values, heights))
    return contour_lines(axes[0].values, axes[1].values, heights)


def crossings(x: Array, heights: Array) -> list[float]:
    """Find where heights ``(m,)`` over rising x ``(m,)`` cross 0, by linear interpolation."""
    pairs = itertools.pairwise(zip(x.tolist(), heights.tolist(), strict=True))
    return [a + (b - a) * f / (f - g) for (a, f), (b, g) in pairs if (f >= 0) != (g >= 0)]


def contour_lines(x: Array, y: Array, heights: Array) -> tuple[Array, ...]:
    """Draw the lines on which heights over a grid are 0 (marching squares).

    In every cell the edges on which the height changes its sign are joined; where all four do, the
    mean of the corners tells which two belong together.

    Parameters
    ----------
    x : (m1,)
    y : (m2,)
        Rising.
    heights : (m1, m2)

    Returns
    -------
    tuple of (k, 2)
        Lines; one that closes ends with its first point.
    """
    above = heights >= 0.0
    joined: defaultdict[Edge, list[Edge]] = defaultdict(list)
    for i, j in itertools.product(range(x.size - 1), range(y.size - 1)):
        for first, second in _segments(above, heights, i, j):
            joined[first].append(second)
            joined[second].append(first)
    starts = sorted(joined, key=lambda edge: (len(joined[edge]), edge))  # open lines from their ends first
    traced = (_trace(joined, start) for start in starts if joined[start])
    return tuple(np.array([_point(x, y, heights, edge) for edge in line]) for line in traced)


def _segments(above: npt.NDArray[np.bool_], heights: Array, i: int, j: int) -> list[tuple[Edge, Edge]]:
    """Give the one or two segments of a cell, as pairs of edges."""
    ring = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
    edges: list[Edge] = [(i, j, 0), (i + 1, j, 1), (i, j + 1, 0), (i, j, 1)]  # each from its corner in the ring on
    crossed = [edge for k, edge in enumerate(edges) if above[ring[k]] != above[ring[(k + 1) % 4]]]
    if len(crossed) == 4:
        # A saddle: corners of the centre's sign hang together, so the lines cut off the other two.
        if (heights[i : i + 2, j : j + 2].mean() >= 0.0) == above[i, j]:
            return [(edges[0], edges[1]), (edges[2], edges[3])]
        return [(edges[3], edges[0]), (edges[1], edges[2])]
    return [(crossed[0], crossed[1])] if crossed else []


def _trace(joined: dict[Edge, list[Edge]], start: Edge) -> list[Edge]:
    """Follow segments from an edge to the end of the line, or back to the start, using them up."""
    line = [start]
    while joined[line[-1]]:
        following = joined[line[-1]].pop()
        joined[following].remove(line[-1])
        line.append(following)
    return line


def _point(x: Array, y: Array, heights: Array, edge: Edge) -> tuple[float, float]:
    i, j, up = edge
    k, m = (i, j + 1) if up else (i + 1, j)
    share = float(heights[i, j] / (heights[i, j] - heights[k, m]))
    return float(x[i] + share * (x[k] - x[i])), float(y[j] + share * (y[m] - y[j]))


def _sentence(axes: Sequence[Axis], succeeded: Integers, cases: int, levels: Levels, asked: tuple[float, float]) -> str:
    least, most = (_place(axes, succeeded, int(at)) for at in (succeeded.argmin(), succeeded.argmax()))
    chances = [words.share(int(end) / cases) for end in (succeeded.min(), succeeded.max())]
    said = (
        f"{_extent(axes)}, {words.count(cases)} cases, the same for every value, give a chance "
        f"from {chances[0]} ({least}) to {chances[1]} ({most}); "
        f"{words.level(asked[0])} is shown with {words.level(asked[1])} confidence"
    )
    where = _shown_range(axes[0], succeeded, levels) if len(axes) == 1 else ""
    met = int(np.count_nonzero(succeeded >= levels.shown))
    return f"{said} {where or _share_of_grid(met, succeeded.size)}{_crossing_words(axes, succeeded, cases, levels)}."


def _extent(axes: Sequence[Axis]) -> str:
    ends = [(axis.name, axis.words(axis.values[0]), axis.words(axis.values[-1])) for axis in axes]
    return " and ".join(f"{name} from {low} to {high}" for name, low, high in ends)


def _place(axes: Sequence[Axis], succeeded: Integers, at: int) -> str:
    index = np.unravel_index(at, succeeded.shape)
    return ", ".join(axis.words(axis.values[k]) for axis, k in zip(axes, index, strict=True))


def _share_of_grid(met: int, tried: int) -> str:
    return f"at {met} of the {tried} tried" if met else f"at none of the {tried} tried"


def _shown_range(axis: Axis, succeeded: Integers, levels: Levels) -> str:
    """Name the values that show it, if there are any and they follow on one another."""
    met = np.flatnonzero(succeeded >= levels.shown)
    if not met.size or met[-1] - met[0] >= met.size:
        return ""
    return f"from {axis.words(axis.values[met[0]])} to {axis.words(axis.values[met[-1]])}"


def _crossing_words(axes: Sequence[Axis], succeeded: Integers, cases: int, levels: Levels) -> str:
    points = _lines(axes, succeeded, cases, levels.likely) if len(axes) == 1 else ()
    if not points:
        return ""
    return "; the plain estimate crosses it at " + " and ".join(axes[0].words(float(x[0, 0])) for x in points)
