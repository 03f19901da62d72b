"""The margins of a block of cases counted: the pass over memory that every run spends its time in.

Each margin is read a handful of times while it is in cache, into memory that is reused; what is
only needed for failing cases is only done for them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Self

import numpy as np
import numpy.typing as npt

from leadline.run.tally import BINS, LARGEST, Grid, Scratch, count_slots

if TYPE_CHECKING:
    from leadline.budget import Plan

__all__ = ["Counted", "Edges", "Shape", "SummaryWorkspace", "count_block"]

Array = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
Bytes = npt.NDArray[np.uint8]
Indices = npt.NDArray[np.intp]

TOLD_APART: Final = 3
"""Failing requirements at once up to which combinations are kept apart."""

DENSE: Final = 8
"""Checks are compared for all cases while more than one case in this many may still fail."""

_SUSPECT: Final = LARGEST**2 / 4.0
"""A sum of squared deviations from this on may hide a value that is not to be counted."""

_PILOT_TAIL, _PILOT_REACH = 0.01, 0.6
"""A grid reaches this many widths of the pilot's central 98 % beyond them: 5.1 sd for a normal."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Which checks look at which requirement.

    Parameters
    ----------
    requirements
        How many requirements there are.
    checks
        For each check in time order, the index of its requirement.
    """

    requirements: int
    checks: tuple[int, ...]

    @classmethod
    def of(cls, plan: Plan) -> Self:
        """Take the shape of a plan."""
        return cls(len(plan.requirements), tuple(check.requirement for check in plan.checks))


@dataclass(frozen=True, slots=True)
class Edges:
    """Where each requirement's margin is counted and about what its moments are taken.

    Parameters
    ----------
    grids
        Edges of each histogram.
    centres
        The number subtracted from each margin before it is summed up.
    """

    grids: tuple[Grid, ...]
    centres: tuple[float, ...]

    @classmethod
    def of(cls, pilot: Array) -> Self:
        """Fit edges to the margins ``(r, n)`` of a pilot; entries that are not finite are ignored."""
        rows = [row[np.abs(row) <= math.sqrt(LARGEST)] for row in np.asarray(pilot)]
        return cls(
            tuple(_grid_of(row) for row in rows),
            tuple(float(np.quantile(row, 0.5)) if row.size else 0.0 for row in rows),
        )


def _grid_of(row: Array) -> Grid:
    """Lay a grid around the bulk of a pilot's margins, whatever they look like."""
    if row.size == 0:
        return Grid.over(-1.0, 1.0)
    low, high = (float(q) for q in np.quantile(row, (_PILOT_TAIL, 1.0 - _PILOT_TAIL)))
    if high > low:
        reach = _PILOT_REACH * (high - low)
        return Grid.over(low - reach, high + reach)
    # All but a few are equal: reach as far again on either side, and hold the few.
    reach = max(abs(low), 1.0)
    return Grid.over(min(low - reach, float(row.min())), max(low + reach, float(row.max())))


class SummaryWorkspace(Scratch):
    """Memory that counting one block after another reuses; serves one thread at a time.

    Parameters
    ----------
    n
        Most cases in a block.
    requirements
        How many requirements there are.
    """

    def __init__(self, n: int, requirements: int) -> None:
        super().__init__(n)
        self.requirements = requirements
        self.flags: Flags = np.empty(n, dtype=np.bool_)
        self.left: Flags = np.empty(n, dtype=np.bool_)
        self.bits: Bytes = np.empty(n, dtype=np.uint8)
        self.words: Bytes = np.empty((-(-requirements // 8), n), dtype=np.uint8)

    def fits(self, n: int, requirements: int) -> bool:
        """Tell whether a block of this size can be counted in it."""
        return n <= self.n and requirements == self.requirements


@dataclass(frozen=True, slots=True, eq=False)
class Counted:
    """The counts and sums of one block; fields as in `leadline.run.summary.BlockSummary`."""

    cases: int
    succeeded: int
    invalid: int
    failures: Counts
    first_failures: Counts
    combinations: dict[int, int]
    more: int
    slots: Counts
    sums: Array
    squares: Array
    minimum: Array
    maximum: Array


def count_block(
    margins: Array,
    check_rows: Sequence[Array],
    shape: Shape,
    edges: Edges,
    workspace: SummaryWorkspace,
) -> Counted:
    """Count a block of cases.

    Parameters
    ----------
    margins : (r, n)
        Margin of each requirement, n at least 1.
    check_rows : c arrays (n,)
        Each check, in time order. A check below 0 means that its requirement's margin is: the
        margin is the least of its checks.
    shape, edges
        Which check is of which requirement, and where margins are counted.
    workspace
        Memory that fits the block.
    """
    cases = margins.shape[1]
    with np.errstate(over="ignore", invalid="ignore"):
        spread = _spread(margins, edges, workspace)
        if spread is None:
            valid = (np.abs(margins) <= LARGEST).all(axis=0)
            margins, check_rows = margins[:, valid], [row[valid] for row in check_rows]
            spread = _spread(margins, edges, workspace) or _nothing(shape)
        slots, sums, squares, minimum, maximum = spread
    failures = _mark_failures(margins, minimum, workspace)
    failing = _failing(margins.shape[1], workspace)
    combinations, more = _combinations(failing, workspace)
    return Counted(
        cases,
        margins.shape[1] - failing.size,
        cases - margins.shape[1],
        failures,
        _first_failures(check_rows, shape, failures, failing, workspace),
        combinations,
        more,
        slots,
        sums,
        squares,
        minimum,
        maximum,
    )


_Spread = tuple[Counts, Array, Array, Array, Array]


def _nothing(shape: Shape) -> _Spread:
    r = shape.requirements
    slots = np.zeros((r, BINS + 2), dtype=np.int64)
    return slots, np.zeros(r), np.zeros(r), np.full(r, np.inf), np.full(r, -np.inf)


def _spread(margins: Array, edges: Edges, workspace: SummaryWorkspace) -> _Spread | None:
    """Take histogram, sums of deviations and of their squares, and ends of each margin.

    Returns None if there is no case, or an entry that must not be counted among them.
    """
    r, n = margins.shape
    if n == 0:
        return None
    slots = np.empty((r, BINS + 2), dtype=np.int64)
    sums, squares, minimum, maximum = np.empty((4, r))
    deviations = workspace.numbers[:n]
    for j, row in enumerate(margins):
        np.subtract(row, edges.centres[j], out=deviations)
        sums[j] = np.add.reduce(deviations)
        # Not a BLAS dot: that one splits long sums by the number of threads it finds.
        np.multiply(deviations, deviations, out=deviations)
        squares[j] = np.add.reduce(deviations)
        if not squares[j] < _SUSPECT and not (np.abs(row) <= LARGEST).all():
            return None
        minimum[j], maximum[j] = ends = np.minimum.reduce(row), np.maximum.reduce(row)
        slots[j] = count_slots(row, edges.grids[j], ends, workspace)
    # Adding 0 turns -0 into 0: of two equal zeros, which one is kept must not depend on the order.
    return slots, sums, squares, minimum + 0.0, maximum + 0.0


def _mark_failures(margins: Array, minimum: Array, workspace: SummaryWorkspace) -> Counts:
    """Count the failures of each requirement and set its bit in the words of the failing cases."""
    r, n = margins.shape
    failures = np.zeros(r, dtype=np.int64)
    flags, bits = workspace.flags[:n], workspace.bits[:n]
    workspace.words[:, :n] = 0
    for j in np.flatnonzero(minimum < 0.0).tolist():
        np.less(margins[j], 0.0, out=flags)
        failures[j] = np.count_nonzero(flags)
        word = workspace.words[j // 8, :n]
        np.multiply(flags.view(np.uint8), np.uint8(1 << j % 8), out=bits)
        np.bitwise_or(word, bits, out=word)
    return failures


def _failing(n: int, workspace: SummaryWorkspace) -> Indices:
    """Find the cases that fail, and flag them in `workspace.left`."""
    words, left = workspace.words[:, :n], workspace.left[:n]
    np.not_equal(words[0], 0, out=left)
    for word in words[1:]:
        np.logical_or(left, word, out=left)
    return np.flatnonzero(left)


def _combinations(failing: Indices, workspace: SummaryWorkspace) -> tuple[dict[int, int], int]:
    """Count failing cases by the set of requirements they fail; many at once go in one bucket."""
    if failing.size == 0:
        return {}, 0
    told: dict[int, int] = {}
    more = 0
    for code, number in _count_codes(workspace.words[:, failing]):
        if code.bit_count() <= TOLD_APART:
            told[code] = number
        else:
            more += number
    return told, more


def _count_codes(words: Bytes) -> list[tuple[int, int]]:
    """Count equal columns of bytes ``(k, m)``, read as little-endian numbers."""
    k, m = words.shape
    if k == 1:
        numbers = np.bincount(words[0])
        codes = np.flatnonzero(numbers)
        return list(zip(codes.tolist(), numbers[codes].tolist(), strict=True))
    # Bytes compare as text; the zeros that NumPy strips from the end are the high ones.
    width = max(8, k)
    columns = np.zeros((m, width), dtype=np.uint8)
    columns[:, :k] = words.T
    kind = "<u8" if width == 8 else f"S{width}"
    found, counts = np.unique(columns.view(kind)[:, 0], return_counts=True)
    codes_found = [code if isinstance(code, int) else int.from_bytes(code, "little") for code in found.tolist()]
    return list(zip(codes_found, counts.tolist(), strict=True))


def _first_failures(
    check_rows: Sequence[Array],
    shape: Shape,
    failures: Counts,
    failing: Indices,
    workspace: SummaryWorkspace,
) -> Counts:
    """Count the failing cases by their earliest check below 0."""
    counts = np.zeros(len(shape.checks), dtype=np.int64)
    looks = [c for c, requirement in enumerate(shape.checks) if failures[requirement] > 0]
    left = failing.size
    n = check_rows[0].size if check_rows else 0
    while looks and left * DENSE > n:
        c = looks.pop(0)
        counts[c] = _strike_out(check_rows[c], workspace)
        left -= int(counts[c])
    if left < failing.size:
        failing = np.flatnonzero(workspace.left[:n])
    for c in looks:
        if failing.size == 0:
            break
        kept = failing[~(check_rows[c][failing] < 0.0)]
        counts[c] = failing.size - kept.size
        failing = kept
    return counts


def _strike_out(row: Array, workspace: SummaryWorkspace) -> int:
    """Count the flagged cases with a check below 0, and take their flags away."""
    flags, left = workspace.flags[: row.size], workspace.left[: row.size]
    np.less(row, 0.0, out=flags)
    np.logical_and(flags, left, out=flags)
    np.logical_xor(left, flags, out=left)
    return int(np.count_nonzero(flags))
