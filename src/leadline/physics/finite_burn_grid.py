"""The tables of finite burns: where their nodes lie and how they are read.

`leadline.physics.finite_burn_table` makes them. A table holds a loss over its leading behaviour, so that straight lines
between the nodes are enough: eight neighbours, three axes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = [
    "ARC_LIMIT_RAD",
    "ARRIVAL_AXES",
    "COST_LIMIT",
    "DEPARTURE_AXES",
    "FIXED_AXES",
    "MASS_LIMIT",
    "PASS_ARC_LIMIT_RAD",
    "SHIPPED_PASSES",
    "Axes",
    "Axis",
    "Cells",
    "Table",
    "fixed_arc_limit",
    "fixed_shape",
    "pass_axes",
    "pass_cost_limit",
    "pass_shape",
    "shipped",
    "stretch",
    "tangential_shape",
    "unstretch",
]

Array = npt.NDArray[np.float64]
Axes = tuple["Axis", "Axis", "Axis"]

ARC_LIMIT_RAD: Final = 80.0
"""Longest burn in the tables: impulsive burn time times angular rate of the circular orbit, rad."""

PASS_ARC_LIMIT_RAD: Final = np.pi
"""Longest share of the burn in one perigee pass, rad."""

COST_LIMIT: Final = 1.0
"""Largest dv/vc in the tables."""

MASS_LIMIT: Final = 2.5
"""Largest dv/ve in the tables: 92 % of the mass burnt."""

RETURN_LIMIT: Final = 0.41
"""Largest k before the last pass: at sqrt(2) - 1 the orbit no longer returns."""

SHIPPED_PASSES: Final = range(1, 9)
"""Numbers of passes whose tables ship with the package; others are integrated on first use."""


@dataclass(frozen=True, slots=True)
class Axis:
    """Even nodes from 0 to `high` along one coordinate of a table."""

    high: float
    nodes: int

    def points(self) -> Array:
        """Return the nodes' positions, shape (nodes,)."""
        return np.linspace(0.0, self.high, self.nodes)

    def locate(self, coordinate: Array) -> tuple[npt.NDArray[np.intp], Array]:
        """Return the node below and the share of the way to the next, held inside; NaN goes to the first node."""
        place = coordinate * ((self.nodes - 1) / self.high)
        np.fmax(place, 0.0, out=place)
        np.fmin(place, self.nodes - 1 - 1e-9, out=place)
        below = np.floor(place)
        place -= below
        return below.astype(np.intp), place


DEPARTURE_AXES: Final = (Axis(ARC_LIMIT_RAD / (5.0 + ARC_LIMIT_RAD), 161), Axis(COST_LIMIT, 65), Axis(MASS_LIMIT, 9))
"""First coordinate arc/(5 rad + arc): even while the arc is short, wider as the ripple of each further turn fades."""

ARRIVAL_AXES: Final = (Axis(DEPARTURE_AXES[0].high, 121), Axis(COST_LIMIT, 81), Axis(1.5, 13))
"""The same. The mass burnt before the spiral tightens is felt more: the mass number stops sooner, with closer nodes."""

FIXED_AXES: Final = (Axis(1.0, 65), Axis(COST_LIMIT, 33), Axis(MASS_LIMIT, 11))
"""First coordinate arc/`fixed_arc_limit`."""


def pass_axes(passes: int) -> Axes:
    """Return the axes for a number of passes: arc of one pass, cost and mass number of all."""
    return Axis(PASS_ARC_LIMIT_RAD, 13), Axis(pass_cost_limit(passes), 17), Axis(MASS_LIMIT, 13)


def pass_cost_limit(passes: int) -> float:
    """Return the largest dv/vc that so many equal passes can share and still return for the last."""
    return COST_LIMIT if passes == 1 else min(COST_LIMIT, RETURN_LIMIT * passes / (passes - 1))


@dataclass(frozen=True, slots=True)
class Cells:
    """Where n cases lie in a grid: the low corner of the cell, and the share of the way along each axis."""

    corner: npt.NDArray[np.intp]
    shares: tuple[Array, Array, Array]


@dataclass(frozen=True, slots=True)
class Table:
    """Values on a grid, read by straight lines between the nodes of three axes.

    Parameters
    ----------
    axes
        Coordinates made from arc, cost and mass number.
    values : (outputs * nodes,)
        Flat, C order, one grid after another.
    """

    axes: Axes
    values: Array

    def locate(self, first: Array, second: Array, third: Array) -> Cells:
        """Find the cells of n cases once, for any number of outputs."""
        (i, u), (j, v), (k, w) = (x.locate(c) for x, c in zip(self.axes, (first, second, third), strict=True))
        i *= self.axes[1].nodes
        i += j
        i *= self.axes[2].nodes
        i += k
        return Cells(i, (u, v, w))

    def at(self, cells: Cells, output: int = 0) -> Array:
        """Return one output in the cells that `locate` found, shape (n,)."""
        corner = cells.corner + output * self.axes[0].nodes * self.axes[1].nodes * self.axes[2].nodes
        near = self._face(corner, cells)
        corner += self.axes[1].nodes * self.axes[2].nodes
        return _between(near, self._face(corner, cells), cells.shares[0])

    def _face(self, corner: npt.NDArray[np.intp], cells: Cells) -> Array:
        _, v, w = cells.shares
        near = _between(self.values.take(corner), self.values.take(corner + 1), w)
        corner = corner + self.axes[2].nodes
        return _between(near, _between(self.values.take(corner), self.values.take(corner + 1), w), v)


def _between(low: Array, high: Array, share: Array) -> Array:
    """Straight line from low to high, in the memory of high."""
    high -= low
    high *= share
    high += low
    return high


@lru_cache(maxsize=1)
def shipped() -> dict[str, Array]:
    """Return the arrays of the table file in the package, flat, by name."""
    with (files("leadline.physics") / "data" / "finite_burn.npz").open("rb") as stream, np.load(stream) as stored:
        return {name: stored[name].astype(np.float64).ravel() for name in stored.files}


def stretch(arc: Array) -> Array:
    """Return arc/(5 rad + arc), the first coordinate of the tangential tables."""
    return arc / (5.0 + arc)


def unstretch(stretched: Array) -> Array:
    """Return the arc from arc/(5 rad + arc)."""
    return 5.0 * stretched / (1.0 - stretched)


def tangential_shape(arc: Array, cost: Array) -> Array:
    """Return what the tangential loss over the circular speed is divided by in the tables.

    It grows with the square of a short arc and levels off at the loss of a spiral; for small costs both are exact.
    """
    square = arc * arc
    return cost * cost * square / ((1.0 + cost) * (12.0 + square))


def fixed_shape(arc: Array, cost: Array) -> Array:
    """Return what the loss at fixed attitude over the circular speed is divided by in the tables."""
    return cost * arc * arc / 24.0


def pass_shape(arc: Array, cost: Array) -> Array:
    """Return what losses over the circular speed are divided by in the tables of perigee passes."""
    return np.square(cost * arc) / (1.0 + cost)


def fixed_arc_limit(cost: Array, mass: Array) -> Array:
    """Longest arc over which one inertial direction will do: the loss there is about 30 % of the cost.

    Some 10 % further on, no direction reaches the energy at all when the cost is small. A fit to integrated burns.

    Parameters
    ----------
    cost, mass : (n,)
        Impulsive cost over the circular speed and over the exhaust velocity.

    Returns
    -------
    (n,)
        Arc, rad.
    """
    return 1.87 + 0.29 * mass + cost * (0.55 - 0.08 * mass + cost * (1.03 - 0.412 * mass))
