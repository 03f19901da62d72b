"""Functions whose variance-based indices are known exactly, as margins of standard normal scores.

Uniform inputs are made from scores by the normal distribution function. The exact indices are computed here from their
closed forms; `test_drivers_benchmarks.py` compares these with digits published elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.integrate import quad
from scipy.special import ndtr

Array = npt.NDArray[np.float64]

__all__ = [
    "Benchmark",
    "g_function",
    "ishigami",
    "limit_state",
    "linear",
    "morris_2006",
    "normal_product",
    "product_and_term",
]


@dataclass(frozen=True)
class Benchmark:
    """A function of scores (d, n) with one margin (1, n), and its exact indices, one for each input."""

    name: str
    margins: Callable[[Array], Array]
    variance: float
    first: Array
    total: Array

    @property
    def inputs(self) -> tuple[str, ...]:
        return tuple(f"x{place}" for place in range(1, len(self.first) + 1))


def one_margin(values: Array) -> Array:
    """Return values (n,) as the one margin of a function, (1, n)."""
    return values.reshape(1, -1)


def ishigami(a: float = 7.0, b: float = 0.1) -> Benchmark:
    """Return sin x1 + a sin² x2 + b x3⁴ sin x1 of three inputs uniform in -π to π.

    Exact: V1 = (1 + b π⁴/5)² / 2, V2 = a²/8, V13 = 8 b² π⁸ / 225. The last is misprinted in the book of Saltelli et al.
    (2008), as SciPy's own test of Sobol' indices notes.
    """

    def margins(scores: Array) -> Array:
        x = math.pi * (2.0 * ndtr(scores) - 1.0)
        return one_margin(np.sin(x[0]) * (1.0 + b * x[2] ** 4) + a * np.sin(x[1]) ** 2)

    first = np.array([0.5 * (1.0 + b * math.pi**4 / 5.0) ** 2, a * a / 8.0, 0.0])
    both = 8.0 * b * b * math.pi**8 / 225.0
    variance = float(first.sum()) + both
    total = first + np.array([both, 0.0, both])
    return Benchmark(f"Ishigami {a:g} {b:g}", margins, variance, first / variance, total / variance)


def g_function(weights: Sequence[float] = (0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0)) -> Benchmark:
    """Return Sobol's G function, the product of (|4 x - 2| + a) / (1 + a), of inputs uniform in 0 to 1.

    Exact: V_i = 1 / (3 (1 + a_i)²), V = ∏(1 + V_i) - 1. The digits in a comment of SALib's function (0.7165, 0.1791)
    are off in the fourth place.
    """
    a = np.array(weights)

    def margins(scores: Array) -> Array:
        each = (np.abs(4.0 * ndtr(scores) - 2.0) + a[:, np.newaxis]) / (1.0 + a[:, np.newaxis])
        return one_margin(each.prod(axis=0))

    part = 1.0 / (3.0 * (1.0 + a) ** 2)
    whole = float(np.prod(1.0 + part))
    variance = whole - 1.0
    return Benchmark(f"G function {len(a)}", margins, variance, part / variance, part * whole / (1.0 + part) / variance)


def product_and_term() -> Benchmark:
    """Return x1 x2 + x3 of inputs uniform in 0 to 1. Exact: V = 19/144, parts 3, 3, 12 and 1 (together) of 19."""

    def margins(scores: Array) -> Array:
        x = ndtr(scores)
        return one_margin(x[0] * x[1] + x[2])

    first, total = np.array([3.0, 3.0, 12.0]) / 19.0, np.array([4.0, 4.0, 12.0]) / 19.0
    return Benchmark("x1 x2 + x3", margins, 19.0 / 144.0, first, total)


def normal_product(means: tuple[float, float] = (1.0, 2.0), sds: tuple[float, float] = (0.5, 1.0)) -> Benchmark:
    """Return x1 x2 of two normal inputs. Exact: V1 = μ2² σ1², V2 = μ1² σ2², V12 = σ1² σ2²."""

    def margins(scores: Array) -> Array:
        return one_margin((means[0] + sds[0] * scores[0]) * (means[1] + sds[1] * scores[1]))

    first = np.array([means[1] * sds[0], means[0] * sds[1]]) ** 2
    both = (sds[0] * sds[1]) ** 2
    variance = float(first.sum()) + both
    return Benchmark("x1 x2", margins, variance, first / variance, (first + both) / variance)


def morris_2006(important: int = 10, inputs: int = 30) -> Benchmark:
    """Return α Σ x_i + β Σ x_i x_j over the first inputs, uniform in 0 to 1; the rest do nothing.

    M. D. Morris, L. M. Moore, M. D. McKay, "Sampling plans based on balanced incomplete block designs for evaluating
    the importance of computer model inputs" (2006): V S_i = 1 and V ST_i = 1.1 for inputs that matter. α and β from
    memory, checked by these two properties: β² / 144 = 0.1 / (p - 1) for each pair, and (α + β (p - 1) / 2)² / 12 = 1.
    """
    p = important
    alpha = math.sqrt(12.0) - 6.0 * math.sqrt(0.1 * (p - 1))
    beta = 12.0 * math.sqrt(0.1 / (p - 1))

    def margins(scores: Array) -> Array:
        x = ndtr(scores[:p])
        total = x.sum(axis=0)
        return one_margin(alpha * total + 0.5 * beta * (total * total - (x * x).sum(axis=0)))

    matters = np.where(np.arange(inputs) < p, 1.0, 0.0)
    variance = p + 0.5 * p * 0.1
    return Benchmark("Morris 2006", margins, variance, matters / variance, 1.1 * matters / variance)


def linear(weights: Sequence[float], constant: float = 0.0) -> Benchmark:
    """Return a constant less the weighted sum of the scores. Exact: both indices are w² / Σ w²."""
    w = np.array(weights)

    def margins(scores: Array) -> Array:
        # One product after the other: the order of the inputs is that of the weights, so is the rounding.
        return constant - sum(
            (weight * row for weight, row in zip(w, scores, strict=True)), np.zeros((1, scores.shape[1]))
        )

    share = w * w / float((w * w).sum())
    return Benchmark("linear", margins, float((w * w).sum()), share, share)


def limit_state(beta: float, squares: Sequence[float] = (0.5, 0.3, 0.2)) -> Benchmark:
    """Return β - Σ a_i z_i with Σ a_i² = 1, with the indices of its failure (not of the margin).

    Exact, derived: P(F) = p = Φ(-β); S_i = [Φ2(-β, -β; a_i²) - p²] / (p (1 - p)) and
    ST_i = 1 - [Φ2(-β, -β; 1 - a_i²) - p²] / (p (1 - p)), for two failures that share some inputs are two normal
    variables whose correlation is the sum of these inputs' a².
    """
    p = float(ndtr(-beta))
    first = np.array([_shared_share(beta, square) for square in squares])
    total = 1.0 - np.array([_shared_share(beta, 1.0 - square) for square in squares])
    return Benchmark(
        "limit state", linear([math.sqrt(square) for square in squares], beta).margins, p * (1.0 - p), first, total
    )


def _shared_share(beta: float, rho: float) -> float:
    """Return the correlation of the failures of two limit states whose margins correlate by rho.

    Φ2(-β, -β; ρ) - Φ(-β)² is the integral over r from 0 to ρ of exp(-β² / (1 + r)) / (2π sqrt(1 - r²)), Plackett's
    identity (from memory; agrees with SciPy's bivariate normal).
    """
    p = float(ndtr(-beta))
    # r = sin t takes away the root
    covariance, _ = quad(lambda t: math.exp(-beta * beta / (1.0 + math.sin(t))) / (2.0 * math.pi), 0.0, math.asin(rho))
    return float(covariance) / (p * (1.0 - p))
