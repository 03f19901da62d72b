"""Sampling designs: how one row of a block of scores is filled from its stream.

Every design fills each row from that input's own stream, so adding an input leaves the
others as they were. The two replicate designs spread a block evenly; each of their blocks
is a whole sample of its own, randomised anew, so that the mean over blocks is unbiased and
the scatter between blocks gives its error.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
from numpy.random import Generator
from scipy.special import ndtri

from leadline.constants import Source, Standing
from leadline.errors import SamplingError
from leadline.sampling.law import Array

__all__ = ["LAYOUTS", "SOBOL_SOURCE", "Design", "Layout"]

SOBOL_SOURCE: Final = Source(
    "Joe and Kuo, Constructing Sobol sequences with better two-dimensional projections",
    "direction numbers as SciPy ships them; scrambled by random lower triangular matrices and a "
    "digital shift, after Matousek",
    Standing.SECOND_HAND,
    year=2008,
)

_DIGITS: Final = 12
"""Binary digits that a replicate block resolves: it holds 2**12 points."""

_LATTICE_DIGITS: Final = 52
"""Points stand in the middle of cells of width 2**-52, so that 0 and 1 are never hit and
each is exact in a float64."""

_MOST_DIMENSIONS: Final = 21_201

_Words = npt.NDArray[np.uint64]


class Design(StrEnum):
    """How the draws of a block are spread."""

    INDEPENDENT = "independent"
    LATIN = "latin-hypercube"
    SOBOL = "sobol"


@dataclass(frozen=True, slots=True)
class Layout:
    """The shape of a design's blocks.

    Parameters
    ----------
    block_size
        Cases in a block.
    replicates
        Whether each block is a randomised sample of its own whose mean counts as one
        observation; otherwise every case does.
    fill
        Writes one row of independent standard normal scores: `fill(dimension, stream,
        row)`, with the input's place in the list, its stream for the block, and the row
        to write, shape (block_size,).
    """

    block_size: int
    replicates: bool
    fill: Callable[[int, Generator, Array], None]


def _fill_independent(_dimension: int, stream: Generator, row: Array) -> None:
    stream.standard_normal(out=row)


def _fill_latin(_dimension: int, stream: Generator, row: Array) -> None:
    """Hit each of 2**12 equal strata once, in random order, at a random place inside it."""
    lower = np.uint64(_LATTICE_DIGITS - _DIGITS)
    lattice = stream.permutation(row.size).astype(np.uint64) << lower
    lattice |= stream.integers(0, 1 << int(lower), size=row.size, dtype=np.uint64)
    _lattice_to_scores(lattice, row)


def _fill_sobol(dimension: int, stream: Generator, row: Array) -> None:
    """Fill with one dimension of a Sobol' net, scrambled from this input's stream alone.

    Scrambling is linear, so it is done on the 12 direction numbers; the points follow by
    doubling, in natural rather than Gray order.
    """
    columns, shift = _random_scramble(stream)
    chosen = np.where(_direction_digits(dimension), columns, np.uint64(0))
    scrambled = np.bitwise_xor.reduce(chosen, axis=1)
    lattice = np.empty(row.size, dtype=np.uint64)
    lattice[0] = shift
    for digit, direction in enumerate(scrambled):
        half = 1 << digit
        np.bitwise_xor(lattice[:half], direction, out=lattice[half : 2 * half])
    _lattice_to_scores(lattice, row)


def _random_scramble(stream: Generator) -> tuple[_Words, np.uint64]:
    """Return 12 columns of a random unit lower triangular matrix over bits, and a shift."""
    words = stream.integers(0, 1 << _LATTICE_DIGITS, size=_DIGITS + 1, dtype=np.uint64)
    place = np.arange(_LATTICE_DIGITS - 1, _LATTICE_DIGITS - 1 - _DIGITS, -1).astype(np.uint64)
    diagonal = np.uint64(1) << place
    return (words[:_DIGITS] & (diagonal - np.uint64(1))) | diagonal, words[_DIGITS]


def _lattice_to_scores(lattice: _Words, row: Array) -> None:
    row[:] = lattice
    row += 0.5
    row *= 2.0**-_LATTICE_DIGITS
    ndtri(row, out=row)


def _direction_digits(dimension: int) -> npt.NDArray[np.bool_]:
    """Return the first 12 direction numbers of a dimension as digits, shape (12, 12)."""
    if dimension >= _MOST_DIMENSIONS:
        raise SamplingError(
            f"the Sobol' design carries at most {_MOST_DIMENSIONS} inputs. Use {Design.LATIN} or {Design.INDEPENDENT}."
        )
    table = _direction_table(max(64, 1 << dimension.bit_length()))
    return np.asarray(table[dimension])


@lru_cache(maxsize=4)
def _direction_table(dimensions: int) -> npt.NDArray[np.bool_]:
    """Return direction digits by dimension, number and digit (first: most significant).

    Point 2**(k+1) - 1 of a Sobol' sequence in Gray order is direction number k itself.
    """
    from scipy.stats import qmc  # noqa: PLC0415 - half a second to load, and no other design needs it

    engine = qmc.Sobol(min(dimensions, _MOST_DIMENSIONS), scramble=False)
    points = engine.random(1 << _DIGITS)[(1 << np.arange(1, _DIGITS + 1)) - 1]
    numbers = (points.T * (1 << _DIGITS)).astype(np.int64)
    digits = (numbers[:, :, None] >> np.arange(_DIGITS - 1, -1, -1)) & 1
    table: npt.NDArray[np.bool_] = digits.astype(np.bool_)
    table.flags.writeable = False
    return table


LAYOUTS: Final[Mapping[Design, Layout]] = {
    Design.INDEPENDENT: Layout(2**14, replicates=False, fill=_fill_independent),
    Design.LATIN: Layout(1 << _DIGITS, replicates=True, fill=_fill_latin),
    Design.SOBOL: Layout(1 << _DIGITS, replicates=True, fill=_fill_sobol),
}
"""Every design by name."""
