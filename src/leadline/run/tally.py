"""Counts and sums that merge exactly: any order, any grouping, the same bits.

`ExactSum` adds float64 numbers without rounding. `Histogram` counts values in equal bins whose
edges are whole multiples of a power of two, so finding a value's bin takes no rounding either, and
zero, where success ends, is always an edge.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final, Self

import numpy as np
import numpy.typing as npt

__all__ = [
    "BINS",
    "LARGEST",
    "CoarseHistogram",
    "ExactSum",
    "Grid",
    "Histogram",
    "Scratch",
    "count_slots",
]

from leadline.risk.validity import LARGEST

Array = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]

BINS: Final = 2048
"""Bins of a histogram, besides the slot below them and the slot above."""

_SCALE_BITS: Final = 1074
"""Every finite float64 is a whole multiple of 2**-1074."""

_FINEST: Final = -300
"""Smallest exponent of a bin's width: no number up to `LARGEST` overflows when divided by it."""

_RESOLVED: Final = 40
"""A bin is no narrower than 2**-40 of the values it stands among."""


@dataclass(frozen=True, slots=True)
class ExactSum:
    """A sum of float64 numbers, kept exactly.

    Parameters
    ----------
    scaled
        The sum times 2**1074, a whole number.
    """

    scaled: int = 0

    @classmethod
    def of(cls, values: Iterable[float]) -> Self:
        """Sum up numbers."""
        return cls(sum(map(_scaled, values)))

    def add(self, number: float) -> ExactSum:
        """Give the sum with one more number in it.

        Raises
        ------
        ValueError
            If the number is not finite.
        """
        return ExactSum(self.scaled + _scaled(number))

    def merge(self, other: ExactSum) -> ExactSum:
        """Give the sum of both; associative and commutative."""
        return ExactSum(self.scaled + other.scaled)

    @property
    def value(self) -> float:
        """The sum rounded once, to the nearest float64.

        Raises
        ------
        OverflowError
            If it is too large for one.
        """
        return self.scaled / (1 << _SCALE_BITS)

    @property
    def fraction(self) -> Fraction:
        """The sum as a fraction, without rounding."""
        return Fraction(self.scaled, 1 << _SCALE_BITS)

    def to_hex(self) -> str:
        """Write the sum; each sum has one text."""
        return format(self.scaled, "x")

    @classmethod
    def from_hex(cls, text: str) -> Self:
        """Read what `to_hex` wrote.

        Raises
        ------
        ValueError
            If it did not write that.
        """
        read = cls(int(text, 16))
        if read.to_hex() != text:
            raise ValueError(f"not a sum as it is written: {text!r}")
        return read


def _scaled(number: float) -> int:
    """Multiply by 2**1074; a float's denominator is a power of two no larger than that."""
    if not math.isfinite(number):
        raise ValueError(f"only finite numbers have a sum, not {number!r}")
    over, under = float(number).as_integer_ratio()
    return over << (_SCALE_BITS + 1 - under.bit_length())


@dataclass(frozen=True, slots=True)
class Grid:
    """The edges of a histogram: whole multiples of a power of two.

    Parameters
    ----------
    first
        The first edge in widths; edge i lies at ``(first + i) * width`` for i from 0 to `BINS`.
    exponent
        The width is ``2 ** exponent``.
    """

    first: int
    exponent: int

    @classmethod
    def over(cls, low: float, high: float) -> Self:
        """Lay the finest such grid that holds both ends inside, itself centred on them.

        Parameters
        ----------
        low, high
            Finite, in order, and no larger in magnitude than `LARGEST`.
        """
        largest = max(abs(low), abs(high))
        exponent = max(_exponent((high - low) / BINS), _exponent(largest) - _RESOLVED, _FINEST)
        while _bins_needed(low, high, exponent) > BINS:
            exponent += 1
        spare = BINS - _bins_needed(low, high, exponent)
        return cls(math.floor(math.ldexp(low, -exponent)) - spare // 2, exponent)

    @property
    def width(self) -> float:
        """The width of a bin."""
        return math.ldexp(1.0, self.exponent)

    @property
    def low(self) -> float:
        """The first edge."""
        return self.edge(0)

    @property
    def high(self) -> float:
        """The last edge."""
        return self.edge(BINS)

    def edge(self, index: int) -> float:
        """Give an edge; bin i reaches from edge i up to, but not including, edge i + 1."""
        return math.ldexp(float(self.first + index), self.exponent)


def _exponent(number: float) -> int:
    """Give the smallest power of two above a number that is not negative."""
    return math.frexp(number)[1] if number > 0.0 else _FINEST


def _bins_needed(low: float, high: float, exponent: int) -> int:
    """Count the bins from the one that holds `low` to the one that holds `high`."""
    return math.floor(math.ldexp(high, -exponent)) - math.floor(math.ldexp(low, -exponent)) + 1


class Scratch:
    """Memory that counting reuses, so that no temporary arrays are made for every block.

    Parameters
    ----------
    n
        Most cases counted at a time.
    """

    def __init__(self, n: int) -> None:
        self.n = n
        self.numbers: Array = np.empty(n)
        self.slots: npt.NDArray[np.intp] = np.empty(n, dtype=np.intp)


def count_slots(values: Array, grid: Grid, ends: tuple[float, float], scratch: Scratch) -> Counts:
    """Count values in the slots of a grid.

    Parameters
    ----------
    values : (n,)
        Numbers no larger in magnitude than `LARGEST`, at least one.
    grid
        The edges.
    ends
        The least and the largest of the values.
    scratch
        Memory for n values or more.

    Returns
    -------
    (BINS + 2,)
        Values below the first edge, in each bin, at or above the last edge.
    """
    numbers, slots = scratch.numbers[: values.size], scratch.slots[: values.size]
    np.multiply(values, math.ldexp(1.0, -grid.exponent), out=numbers)
    np.floor(numbers, out=numbers)  # before the shift, which would round -1e-20 up to the zero edge
    np.subtract(numbers, float(grid.first - 1), out=numbers)
    if not (ends[0] >= grid.low and ends[1] < grid.high):
        np.clip(numbers, 0.0, BINS + 1.0, out=numbers)
    np.copyto(slots, numbers, casting="unsafe")
    return np.bincount(slots, minlength=BINS + 2)


@dataclass(frozen=True, slots=True)
class CoarseHistogram:
    """A histogram for print: bin i reaches from ``start + i * width`` to the next."""

    start: float
    width: float
    counts: tuple[int, ...]
    under: int
    over: int


@dataclass(frozen=True, slots=True, eq=False)
class Histogram:
    """How many values fell in each bin of a grid, below it, and above.

    Parameters
    ----------
    grid
        The edges.
    slots : (BINS + 2,)
        Values below the first edge, in each bin, at or above the last edge.
    """

    grid: Grid
    slots: Counts

    @classmethod
    def empty(cls, grid: Grid) -> Self:
        """Begin with no values."""
        return cls(grid, np.zeros(BINS + 2, dtype=np.int64))

    def fill(self, values: Array, scratch: Scratch | None = None) -> Histogram:
        """Give the histogram with values ``(n,)``, up to `LARGEST` in magnitude, counted too."""
        if values.size == 0:
            return self
        ends = float(values.min()), float(values.max())
        counted = count_slots(values, self.grid, ends, scratch or Scratch(values.size))
        return Histogram(self.grid, self.slots + counted)

    def merge(self, other: Histogram) -> Histogram:
        """Give the counts of both; associative and commutative.

        Raises
        ------
        ValueError
            If their edges differ.
        """
        if self.grid != other.grid:
            raise ValueError("histograms with different edges cannot be merged")
        return Histogram(self.grid, self.slots + other.slots)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Histogram):
            return NotImplemented
        return self.grid == other.grid and np.array_equal(self.slots, other.slots)

    __hash__ = None  # type: ignore[assignment]  # counts are arrays

    @property
    def under(self) -> int:
        """Values below the first edge."""
        return int(self.slots[0])

    @property
    def over(self) -> int:
        """Values at or above the last edge."""
        return int(self.slots[-1])

    @property
    def counts(self) -> Counts:
        """Values in each bin ``(BINS,)``."""
        return self.slots[1:-1]

    def coarsen(self, limit: int = 240) -> CoarseHistogram:
        """Join bins until the ones that hold anything are at most `limit`; zero stays an edge.

        Raises
        ------
        ValueError
            If `limit` is less than 2.
        """
        if not limit >= 2:
            raise ValueError(f"a histogram keeps at least 2 bins, not {limit!r}")
        held = np.flatnonzero(self.counts) + self.grid.first
        first, last = (int(held[0]), int(held[-1])) if held.size else (self.grid.first,) * 2
        joined = 1
        while last // joined - first // joined >= limit:  # bins are numbered from zero
            joined += 1
        start, stop = first // joined * joined, (last // joined + 1) * joined
        padded = np.zeros(stop - start, dtype=np.int64)
        offset = self.grid.first
        padded[first - start : last + 1 - start] = self.counts[first - offset : last + 1 - offset]
        return CoarseHistogram(
            math.ldexp(float(start), self.grid.exponent),
            joined * self.grid.width,
            tuple(padded.reshape(-1, joined).sum(axis=1).tolist()),
            self.under,
            self.over,
        )

    def to_json(self) -> dict[str, Any]:
        """Give plain numbers; empty slots at both ends are left out."""
        held = np.flatnonzero(self.slots)
        begin, end = (int(held[0]), int(held[-1]) + 1) if held.size else (0, 0)
        return {
            "first": self.grid.first,
            "exponent": self.grid.exponent,
            "begin": begin,
            "slots": self.slots[begin:end].tolist(),
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Read what `to_json` gave.

        Raises
        ------
        ValueError
            If the counts do not fit a histogram.
        """
        begin, slots = int(data["begin"]), np.asarray(data["slots"], dtype=np.int64)
        if not (begin >= 0 and begin + slots.size <= BINS + 2 and (slots >= 0).all()):
            raise ValueError("these counts do not fit a histogram")
        read = cls.empty(Grid(int(data["first"]), int(data["exponent"])))
        read.slots[begin : begin + slots.size] = slots
        return read
