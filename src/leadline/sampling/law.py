"""What every probability law can do, and the array idioms the laws share.

All laws stand on one base variable: an input is a non-decreasing map of its own standard
normal score z, so that dependence, designs and rare-event methods work on scores alone
and never need to know which law sits on top.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, ClassVar, Protocol

import numpy as np
import numpy.typing as npt
from scipy.special import erf, erfc, ndtr

__all__ = [
    "PIECE",
    "WIDE_PIECE",
    "Array",
    "Description",
    "Law",
    "both_tails",
    "chances",
    "normal_chance",
    "pieces",
]

Array = npt.NDArray[np.float64]

Description = dict[str, Any]
"""A law as plain data: its kind under ``law``, and its parameters by name."""

PIECE = 2**12
"""Elements handled at once by laws that need temporaries: 32 KiB, within a core's cache
and below the size from which the allocator asks the kernel for fresh pages."""

WIDE_PIECE = 2**13
"""The same for laws of many cheap steps and few temporaries, where calling is what costs."""

_ROOT_HALF = 0.5**0.5
_JUST_BELOW_1 = 1.0 - 2.0**-53


class Law(Protocol):
    """A probability law of one number, as a non-decreasing map of a standard normal score."""

    kind: ClassVar[str]

    @property
    def mean(self) -> float:
        """Mean of the law."""

    @property
    def sd(self) -> float:
        """Standard deviation of the law."""

    @property
    def median(self) -> float:
        """Median of the law; the lower one where a step leaves a choice."""

    @property
    def support(self) -> tuple[float, float]:
        """Smallest and largest value, infinite where there is no end."""

    def from_scores(self, z: Array, out: Array) -> None:
        """Write the values that belong to scores `z`, shape (n,), to `out`, which may be `z`."""

    def cdf(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value of at most `x`."""

    def above(self, x: npt.ArrayLike) -> Array:
        """Return the chance of a value above `x`, accurate where it is small."""

    def quantile(self, p: npt.ArrayLike) -> Array:
        """Return the smallest value whose `cdf` is at least `p`; NaN outside 0 to 1."""

    def describe(self) -> Description:
        """Return the law as plain data that JSON can carry."""


def pieces(size: int, longest: int = PIECE) -> Iterator[slice]:
    """Cut a row of `size` elements into slices of at most `longest`."""
    for start in range(0, size, longest):
        yield slice(start, min(start + longest, size))


def normal_chance(z: Array, out: Array) -> None:
    """Write the chance of a standard normal below `z` to `out`, which may be `z`; shape (n,).

    The value is SciPy's `ndtr` to the last bit, in two thirds of its time: the middle and the
    tails are told apart before the loops, which then hold no branch that is hard to foretell.
    """
    for piece in pieces(z.size, WIDE_PIECE):
        x, chance = z[piece] * _ROOT_HALF, out[piece]
        size = np.abs(x)
        far = (size >= 1.0).nonzero()[0]
        tail = 0.5 * erfc(size.take(far))
        np.subtract(1.0, tail, out=tail, where=x.take(far) > 0.0)
        erf(np.minimum(size, _JUST_BELOW_1, out=size), out=size)
        np.copysign(size, x, out=size)
        size *= 0.5
        np.add(size, 0.5, out=chance)
        chance[far] = tail


def both_tails(z: Array) -> tuple[Array, Array]:
    """Return the chances of a standard normal below and above `z`, both relatively accurate."""
    tail = ndtr(-np.abs(z))
    rest = 1.0 - tail
    left = z < 0.0
    return np.where(left, tail, rest), np.where(left, rest, tail)


def chances(p: npt.ArrayLike) -> Array:
    """Return chances as an array, with NaN for what lies outside 0 to 1."""
    given = np.asarray(p, dtype=np.float64)
    return np.where((given >= 0.0) & (given <= 1.0), given, np.nan)
