"""Cases sorted into bins that a standard normal score is equally likely to fall in."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from leadline.risk.validity import Array

__all__ = ["BINS", "BinSums", "explained_share", "joined"]

Slots = npt.NDArray[np.intp]

BINS: Final = 128
"""Bins of a score; a power of two, so that neighbours can be joined pair by pair."""

_CELLS: Final = 512
"""Cells of the look-up table per standard deviation; edges of bins lie on edges of cells."""

_REACH: Final = 4.0
"""The table's end in standard deviations; the outermost bins begin well inside, near 2.4."""

_PIECE: Final = 2**13
"""Cases handled at a time, so that all scratch memory stays in the nearer caches."""


@cache
def _bin_of_cell() -> Slots:
    centres = (np.arange(-_REACH * _CELLS, _REACH * _CELLS) + 0.5) / _CELLS
    return np.minimum((ndtr(centres) * BINS).astype(np.intp), BINS - 1)


class BinSums:
    """Adds cases to counts and sums by bin; owns the scratch memory to do so.

    A table of cells stands in for a search among edges: it is twenty times as fast, and since
    cases are counted where they fall, edges rounded to a cell do no harm.
    """

    def __init__(self) -> None:
        self._place = np.empty(_PIECE)
        self._cell = np.empty(_PIECE, dtype=np.intp)
        self._bin = np.empty(_PIECE, dtype=np.intp)

    def add(self, scores: Array, deviations: Array, counts: npt.NDArray[np.int64], sums: Array) -> None:
        """Add cases to tables in place.

        Parameters
        ----------
        scores, deviations
            Shapes (d, n), (r, n): the scores, and margins less some constant.
        counts, sums
            Tables (d, BINS) and (r, d, BINS) to add to.
        """
        for piece in _pieces(scores.shape[1]):
            weights = deviations[:, piece]
            for at, row in enumerate(scores[:, piece]):
                slots = self._slots(row)
                counts[at] += np.bincount(slots, minlength=BINS)
                for output, weight in enumerate(weights):
                    sums[output, at] += np.bincount(slots, weight, BINS)

    def _slots(self, row: Array) -> Slots:
        place, cell, slots = self._place[: row.size], self._cell[: row.size], self._bin[: row.size]
        table = _bin_of_cell()
        np.multiply(row, _CELLS, out=place)
        place += _REACH * _CELLS
        np.clip(place, 0.0, table.size - 1.0, out=place)
        np.copyto(cell, place, casting="unsafe")
        np.take(table, cell, out=slots, mode="clip")
        return slots


def _pieces(cases: int) -> Iterator[slice]:
    return (slice(start, min(start + _PIECE, cases)) for start in range(0, cases, _PIECE))


def joined(table: Array, bins: int) -> Array:
    """Join neighbouring bins of a table (..., BINS) until `bins` are left, a power of two."""
    fewer: Array = table.reshape(*table.shape[:-1], bins, -1).sum(axis=-1)
    return fewer


def explained_share(counts: Array, sums: Array, squares: Array) -> Array:
    """Give the share of variance that lies between bins, less what chance puts there.

    Parameters
    ----------
    counts, sums, squares
        Cases and sums of deviations by bin, (..., d, K) and (..., r, d, K), and sums of the
        deviations' squares (..., r).

    Returns
    -------
    Shape (..., r, d); not a number for a margin that does not vary.
    """
    held = np.expand_dims(counts, -3)
    cases = held.sum(axis=-1)
    common = sums.sum(axis=-1) ** 2 / cases
    between = np.sum(sums**2 / np.maximum(held, 1.0), axis=-1) - common
    total = squares[..., np.newaxis] - common
    freedom = np.count_nonzero(held, axis=-1) - 1.0
    within = (total - between) / (cases - 1.0 - freedom)
    excess: Array = between - freedom * within
    share: Array = np.divide(excess, total, out=np.full_like(total, np.nan), where=total > 0.0)
    return share
