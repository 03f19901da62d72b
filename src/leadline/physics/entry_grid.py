"""Axes and scalings of the entry table, shared by what makes it and what reads it.

The angle counts from the top of the corridor, the shallowest captured angle or -1 degree,
whichever is steeper, so no cell reaches across the edge of skipping out; that edge is a table of
its own,

    g_skip = -c sqrt(1 - (V_c / V)^2),  c of speed, ballistic coefficient, lift-to-drag          (1)

with V_c the circular speed at 122 km.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array

from leadline.constants import EARTH_GM_M3_S2, EARTH_RADIUS_M
from leadline.physics.entry_steps import INTERFACE_ALTITUDE_M

__all__ = [
    "DEPTH",
    "FAST",
    "LEAST_OVERLAP",
    "LIFT",
    "LIFT_UNIT",
    "LOG_BETA",
    "RADII_M",
    "RANGES",
    "SPEED",
    "Axis",
    "Cells",
    "Ranges",
    "corner_shares",
    "depth",
    "interpolate",
    "levels",
    "radius_stretch",
    "skip_root",
    "stretch",
    "top_angle",
    "unstretch",
]

Array = npt.NDArray[np.float64]
Single = npt.NDArray[np.float32]
Cells = tuple[npt.NDArray[np.int32], Single]


@dataclass(frozen=True, slots=True)
class Ranges:
    """What the table covers, lowest and highest."""

    speed_m_s: tuple[float, float] = (7200.0, 13000.0)
    flight_path_angle_rad: tuple[float, float] = (float(np.radians(-20.0)), float(np.radians(-1.0)))
    ballistic_coefficient_kg_m2: tuple[float, float] = (50.0, 1000.0)
    lift_to_drag: tuple[float, float] = (0.0, 1.0)
    nose_radius_m: tuple[float, float] = (0.3, 6.0)


RANGES: Final = Ranges()

_CIRCULAR_M_S: Final = float(np.sqrt(EARTH_GM_M3_S2 / (EARTH_RADIUS_M + INTERFACE_ALTITUDE_M)))
_STEEPEST, _SHALLOWEST = RANGES.flight_path_angle_rad
_EDGE_RAD: Final = float(np.radians(0.005))  # the table's top lies this far inside the edge of skipping out
_STRETCH: Final = 0.005  # shares of the corridor below this are spaced evenly, above it by ratio
RADII_M: Final = np.array([0.3, 1.0, 2.0, 6.0])  # where the table flies radiation
LIFT_UNIT: Final = 0.0125
LEAST_OVERLAP: Final = 0.002  # keeps 1/e finite


def stretch(share: Array) -> Array:
    """Share of the corridor below its top, stretched to the table's even axis."""
    return np.asarray(np.log1p(share / _STRETCH) / np.log1p(1.0 / _STRETCH))


def unstretch(even: Array) -> Array:
    """Inverse of `stretch`."""
    return np.asarray(_STRETCH * np.expm1(even * np.log1p(1.0 / _STRETCH)))


class Axis:
    """Nodes that are whole multiples of a quantum apart, so that a node is found by one look."""

    def __init__(self, nodes: npt.ArrayLike, quantum: float) -> None:
        self.nodes = np.asarray(nodes, dtype=np.float64)
        self.quantum = quantum
        starts = np.round((self.nodes - self.nodes[0]) / quantum).astype(np.intp)
        self._cell = (np.searchsorted(starts, np.arange(starts[-1] + 1), side="right") - 1).astype(np.int32)
        self._cell[-1] = self.nodes.size - 2
        self._width = np.diff(self.nodes)

    @property
    def size(self) -> int:
        """How many nodes."""
        return self.nodes.size

    def find(self, x: Array) -> Cells:
        """Cell of each value (n,) and how far across it the value lies, 0 to 1; ends are held."""
        inside = np.fmin(np.fmax(x, self.nodes[0]), self.nodes[-1])
        way = inside - self.nodes[0]
        way *= (1.0 + 1e-12) / self.quantum
        place = way.astype(np.intp)
        cell = self._cell.take(np.minimum(place, self._cell.size - 1, out=place))
        inside -= self.nodes.take(cell)
        inside /= self._width.take(cell)
        return cell, inside.astype(np.float32)


def _even(low: float, high: float, count: int) -> Axis:
    return Axis(np.linspace(low, high, count), (high - low) / (count - 1))


_SPEED_STEPS: Final = (  # close together where skipping out begins and where radiation sets in
    (7200, 100),
    (7400, 50),
    (7850, 25),
    (8050, 50),
    (8100, 100),
    (8900, 50),
    (9700, 100),
    (11400, 200),
    (12000, 250),
    (13001, 0),
)
_SPEEDS: Final = np.concatenate([np.arange(a, b, step) for (a, step), (b, _) in itertools.pairwise(_SPEED_STEPS)])
SPEED: Final = Axis(_SPEEDS, 25.0)
DEPTH: Final = _even(0.0, 1.0, 36)
LOG_BETA: Final = _even(float(np.log(50.0)), float(np.log(1000.0)), 8)
FAST: Final = Axis(_SPEEDS[_SPEEDS > _CIRCULAR_M_S], 25.0)
LIFT: Final = Axis([0, 1, 2, 4, 6, 8, 10, 12, 16, 20, 24, 28, 32, 40, 48, 56, 68, 80], 1.0)  # in units of 0.0125
_BITS: Final = np.array([14, 14, 14, 14, 15, 14, 16, 15, 12, 12, 12, 12, 12, 12, 12, 12, 11])  # kept of each column


def corner_shares(cells: tuple[Cells, ...], axes: tuple[Axis, ...]) -> csr_array[np.float32]:
    """Weights of the corners of n cells.

    Parameters
    ----------
    cells
        Cell and place in it along each axis (n,), the last axis running fastest through the nodes.
    axes
        The axes, as many as cells.

    Returns
    -------
    csr_array
        (n, nodes); times a table (nodes, k) it interpolates linearly along every axis. A sparse
        product gathers and weighs the 16 corners in one pass, which index arrays cannot.
    """
    low, weight = _lowest_and_weights(cells, axes)
    count, n = weight.shape
    index = low[:, None] + _corners(tuple(axis.size for axis in axes))
    rows = np.arange(0, n * count + 1, count, dtype=np.int32)
    nodes = int(np.prod([axis.size for axis in axes]))
    return csr_array((weight.T.ravel(), index.ravel(), rows), shape=(n, nodes))


def interpolate(cells: tuple[Cells, ...], axes: tuple[Axis, ...], values: Single) -> Single:
    """Read one table (nodes,) at n places; the result (n,) is that of `corner_shares` times it, to the last bit."""
    low, weight = _lowest_and_weights(cells, axes)
    read = np.zeros(low.size, dtype=np.float32)
    for share, step in zip(weight, _corners(tuple(axis.size for axis in axes)), strict=True):
        read += share * values.take(low + step)
    return read


def _lowest_and_weights(cells: tuple[Cells, ...], axes: tuple[Axis, ...]) -> tuple[npt.NDArray[np.int32], Single]:
    """Return the lowest node of each cell (n,) and the weights of its corners (corners, n)."""
    n = cells[0][0].size
    low, weight = np.zeros(n, dtype=np.int32), np.empty((2 ** len(axes), n), dtype=np.float32)
    weight[0] = 1.0
    for k, ((cell, share), axis) in enumerate(zip(cells, axes, strict=True)):
        low *= np.int32(axis.size)
        low += cell
        near, far = weight[: 2**k], weight[2**k : 2 ** (k + 1)]
        np.multiply(near, share, out=far)
        near -= far
    return low, weight


@lru_cache(maxsize=8)
def _corners(sizes: tuple[int, ...]) -> npt.NDArray[np.int32]:
    """Return how far each corner of a cell lies behind its lowest, the first axis changing fastest."""
    steps = [int(np.prod(sizes[k + 1 :])) for k in range(len(sizes))]
    corners = [sum(step for k, step in enumerate(steps) if corner >> k & 1) for corner in range(2 ** len(sizes))]
    return np.array(corners, dtype=np.int32)


def top_angle(edge_rad: Array) -> Array:
    """Return the table's shallowest angle, given the shallowest captured one."""
    return np.asarray(np.minimum(edge_rad - _EDGE_RAD, _SHALLOWEST))


def depth(angle_rad: Array, edge_rad: Array) -> Array:
    """Return the place of an angle on the table's axis `DEPTH`; above the table's top 0."""
    top = top_angle(edge_rad)
    return stretch(np.maximum(top - angle_rad, 0.0) / (top - _STEEPEST))


def skip_root(speed_m_s: Array) -> Array:
    """Return the root in equation (1), 0 below circular speed."""
    return np.sqrt(np.maximum(1.0 - (_CIRCULAR_M_S / speed_m_s) ** 2, 0.0))


def radius_stretch(radius_m: npt.NDArray[np.floating]) -> npt.NDArray[np.int8]:
    """Return which of the radiative correlation's stretches of nose radius: below 1 m, to 2 m, beyond."""
    return np.asarray((radius_m >= 1.0).astype(np.int8) + (radius_m > 2.0), dtype=np.int8)


def levels() -> Single:
    """Return the largest whole number of each column (17, 1, 1, 1, 1)."""
    return (2.0**_BITS - 1.0).astype(np.float32).reshape(-1, 1, 1, 1, 1)
