"""Limit states whose chance of failure is known, as functions of independent standard normal scores.

All chances are *exact*: closed form where that is said, else by quadrature of the definition (relative error below
1e-6; RP8 and RP14 below 1e-4), computed for these tests and not taken from the publications, which are off by up to 7 %
for some. The definitions, RP numbers included, are those of otbenchmark 0.2.1 and of the documentation of uqtestfuns
(four-branch, RS quadratic, hyper-sphere, Gayton hat).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr, ndtr

Array = npt.NDArray[np.float64]

ROOT2 = math.sqrt(2.0)


@dataclass(frozen=True)
class Problem:
    """A limit state: its name, number of scores, margins (r, n) of scores (d, n), and chance of failure."""

    name: str
    dimensions: int
    margins: Callable[[Array], Array]
    chance: float


def one(name: str, dimensions: int, chance: float, margin: Callable[[Array], Array]) -> Problem:
    """Make a problem of a single margin (n,)."""
    return Problem(name, dimensions, lambda scores: margin(scores)[np.newaxis], chance)


def linear(beta: float, dimensions: int) -> Problem:
    """Plane at distance beta from the origin; *exact*: Phi(-beta) in any dimension."""

    def margin(z: Array) -> Array:
        distance: Array = beta - z.sum(axis=0) / math.sqrt(dimensions)
        return distance

    return one(f"linear {beta:g} in {dimensions}", dimensions, float(ndtr(-beta)), margin)


def two_planes(first: float, second: float, dimensions: int) -> Problem:
    """Two requirements on independent scores; *exact*: 1 - Phi(first) Phi(second) for their union."""
    union = float(ndtr(-first) + ndtr(-second) - ndtr(-first) * ndtr(-second))
    return Problem("two planes", dimensions, lambda z: np.stack((first - z[0], 100.0 * (second + z[1]))), union)


def lognormal(z: Array, mean: float, sd: float) -> Array:
    """Give scores the lognormal law of this mean and standard deviation."""
    spread = math.sqrt(math.log1p((sd / mean) ** 2))
    values: Array = mean * math.exp(-0.5 * spread**2) * np.exp(spread * z)
    return values


def largest_value(z: Array, mean: float, sd: float) -> Array:
    """Give scores the Gumbel law of largest values."""
    scale = sd * math.sqrt(6.0) / math.pi
    values: Array = mean - np.euler_gamma * scale - scale * np.log(-log_ndtr(z))
    return values


def branches(z: Array, nearer: float, p: float) -> Array:
    """Return the smallest of four margins, two curved and two straight."""
    curved = nearer + 0.1 * (z[0] - z[1]) ** 2
    across, along = z[0] - z[1], (z[0] + z[1]) / ROOT2
    smallest: Array = np.minimum(np.minimum(curved - along, curved + along), np.minimum(p + across, p - across))
    return smallest


def rp8(z: Array) -> Array:
    strong = [lognormal(row, 120.0, 12.0) for row in z[:4]]
    weak = lognormal(z[4], 50.0, 10.0), lognormal(z[5], 40.0, 8.0)
    margin: Array = strong[0] + 2.0 * (strong[1] + strong[2]) + strong[3] - 5.0 * (weak[0] + weak[1])
    return margin


def rp14(z: Array) -> Array:
    strength, diameter = 70.0 + 10.0 * ndtr(z[0]), 39.0 + 0.1 * z[1]
    load, arm, torque = largest_value(z[2], 1500.0, 350.0), 400.0 + 0.1 * z[3], 250_000.0 + 35_000.0 * z[4]
    margin: Array = strength - 32.0 / (math.pi * diameter**3) * np.sqrt(load**2 * arm**2 / 16.0 + torque**2)
    return margin


def rp28(z: Array) -> Array:
    margin: Array = (78_064.0 + 11_710.0 * z[0]) * (0.0104 + 0.00156 * z[1]) - 146.14
    return margin


def rp57(z: Array) -> Array:
    parallel = np.maximum(-(z[0] ** 2) + z[1] ** 3 + 3.0, 2.0 - z[0] - 8.0 * z[1])
    margin: Array = np.minimum(parallel, (z[0] + 3.0) ** 2 + (z[1] + 3.0) ** 2 - 4.0)
    return margin


def rp77(z: Array) -> Array:
    x1, x3 = 10.0 + 0.5 * z[0], 4.0 + z[2]
    margin: Array = np.where(x3 <= 5.0, x1 - z[1] - x3, x3 - z[1])
    return margin


def rp35(z: Array) -> Array:
    first = 2.0 - z[1] + np.exp(-0.1 * z[0] ** 2) + (0.2 * z[0]) ** 4
    margin: Array = np.minimum(first, 4.5 - z[0] * z[1])
    return margin


def beam(z: Array) -> Array:
    margin: Array = lognormal(z[0], 300.0, 30.0) - (75_000.0 + 5_000.0 * z[1]) / (100.0 * math.pi)
    return margin


FOUR_BRANCH = one("four-branch", 2, 2.22279506619e-3, lambda z: branches(z, 3.0, 7.0 / ROOT2))
FOUR_BRANCH_FARTHER = one("four-branch 6", 2, 4.45733149063e-3, lambda z: branches(z, 3.0, 6.0 / ROOT2))
RP22 = one("RP22", 2, 4.2073055113e-3, lambda z: 2.5 - (z[0] + z[1]) / ROOT2 + 0.1 * (z[0] - z[1]) ** 2)
RP25 = one("RP25", 2, 4.14856629376e-5, lambda z: np.maximum(z[0] ** 2 - 8 * z[1] + 16, -16 * z[0] + z[1] + 32))
RP28 = one("RP28", 2, 1.453294655e-7, rp28)
RP63 = one("RP63", 100, 3.76943611833e-4, lambda z: 0.1 * np.square(z[1:]).sum(axis=0) - z[0] - 4.5)
RP77 = one("RP77", 3, 2.6908439522e-7, rp77)
RP111 = one("RP111", 2, 8.03508596496e-7, lambda z: 12.5 - np.abs(z[0] * z[1]))
PARABOLA = one("parabola", 2, 3.01631190131e-3, lambda z: 5.0 - z[1] - 0.5 * (z[0] - 0.1) ** 2)
GAYTON_HAT = one("Gayton hat", 2, 2.87453760915e-5, lambda z: 0.5 * (z[0] - 2) ** 2 - 1.5 * (z[1] - 5) ** 3 - 3)

PROBLEMS = (
    FOUR_BRANCH,
    FOUR_BRANCH_FARTHER,
    RP22,
    RP25,
    RP28,
    RP63,
    RP77,
    RP111,
    PARABOLA,
    GAYTON_HAT,
    one("RP8", 6, 7.89793726994e-4, rp8),
    one("RP14", 5, 7.7285935674e-4, rp14),
    one("RP24", 2, 2.85994568754e-3, lambda z: 2.5 - 0.7071 * (z[0] - z[1]) + 0.00463 * 81.0 * (z[0] + z[1]) ** 4),
    one("RP31", 2, 3.22668120959e-3, lambda z: 2.0 - z[1] + 256.0 * z[0] ** 4),
    one("RP33", 3, 2.5755977908e-3, lambda z: np.minimum(3.0 * math.sqrt(3.0) - z.sum(axis=0), 3.0 - z[2])),
    one("RP35", 2, 3.47894632093e-3, rp35),
    one("RP54", 20, 9.90603072517e-4, lambda z: -log_ndtr(-z).sum(axis=0) - 8.951),
    one("RP57", 2, 2.82375065843e-2, rp57),
    one("RP75", 2, 9.81929872155e-3, lambda z: 3.0 - z[0] * z[1]),
    one("RP89", 2, 5.47128052902e-3, lambda z: np.minimum(8.0 - z[0] ** 2 - z[1], 6.0 - z[0] / 5.0 - z[1])),
    one("R-S", 2, 7.86496035251e-2, lambda z: (4.0 + z[0]) - (2.0 + z[1])),  # closed form Phi(-sqrt 2)
    one("axial beam", 2, 2.91981946248e-2, beam),
    one("RS quadratic", 2, 2.65898793948e-4, lambda z: 11.0 + z[0] - (1.5 + 0.5 * z[1]) ** 2),
    one("hyper-sphere", 2, 3.35611802923e-2, lambda z: 1.0 - (0.5 + 0.2 * z[0]) ** 3 - (0.5 + 0.2 * z[1]) ** 3),
    linear(5.0, 10),  # RP107
    linear(6.361341, 2),  # K. M. Zuev's example 6.1 (1e-10), its beta to seven figures
)
