"""What is kept of a block of cases: counts, histograms and sums that merge exactly.

A summary's size depends on the study, not on the number of cases. Merging is associative and
commutative to the last bit, so the same blocks give the same bytes in any order and grouping.
"""

from __future__ import annotations

import hashlib
import json
import math
import struct
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from leadline.errors import OutputError
from leadline.risk.proportion import Replicates
from leadline.risk.quantiles import Binned
from leadline.run.count import Counted, Edges, Shape, SummaryWorkspace, count_block
from leadline.run.tally import BINS, ExactSum, Grid, Histogram

if TYPE_CHECKING:
    from leadline.budget import Outcome

__all__ = ["BlockSummary", "Edges", "Shape", "SummaryWorkspace", "summarise_block"]

Array = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class BlockSummary:
    """What is kept of some blocks of cases.

    Parameters
    ----------
    shape, edges
        What the margins are, and how they are counted.
    blocks, block_cases
        Blocks summed up, and the cases in each; 0 once blocks of several sizes are in it.
    cases, succeeded, invalid
        All cases, those whose margins are all at least 0, and those with a margin that is not a
        number of sensible size (`leadline.run.tally.LARGEST`). The rest failed.
    failures : (r,)
        Valid cases that fail each requirement.
    first_failures : (c,)
        Failed cases by the first check that is below 0.
    combinations
        Failed cases by the requirements that fail, one bit each, for up to `TOLD_APART` of them.
    more
        Failed cases with more failing requirements than that.
    slots : (r, BINS + 2)
        Histogram of each margin over the valid cases.
    sums, squares
        Sums over the valid cases of each margin's deviation from its centre, and of its square;
        rounded within a block, exact between blocks.
    minimum, maximum : (r,)
        Ends of each margin; infinities without a valid case.
    met, met_squared : (r + 1,)
        Sums over the blocks of the cases that succeeded, then of those that meet each requirement,
        and of the squares of these numbers: what the scatter between replicates follows from.
    """

    shape: Shape
    edges: Edges
    blocks: int
    block_cases: int
    cases: int
    succeeded: int
    invalid: int
    failures: Counts
    first_failures: Counts
    combinations: Mapping[int, int]
    more: int
    slots: Counts
    sums: tuple[ExactSum, ...]
    squares: tuple[ExactSum, ...]
    minimum: Array
    maximum: Array
    met: Counts
    met_squared: Counts

    @classmethod
    def of(
        cls,
        outcome: Outcome,
        shape: Shape,
        edges: Edges,
        workspace: SummaryWorkspace | None = None,
    ) -> BlockSummary:
        """Sum up what became of a block of cases; see `summarise_block`."""
        return summarise_block(outcome.margins, outcome.check_rows, shape, edges, workspace)

    @property
    def failed(self) -> int:
        """Valid cases that fail a requirement."""
        return self.cases - self.succeeded - self.invalid

    @property
    def valid(self) -> int:
        """Cases whose margins are all numbers."""
        return self.cases - self.invalid

    def histogram(self, requirement: int) -> Histogram:
        """Give the histogram of a requirement's margin."""
        return Histogram(self.edges.grids[requirement], self.slots[requirement])

    def binned(self, requirement: int) -> Binned:
        """Give a requirement's margins as `leadline.risk.quantiles` takes them."""
        grid = self.edges.grids[requirement]
        ends = float(self.minimum[requirement]), float(self.maximum[requirement])
        return Binned(self.slots[requirement], grid.low, grid.width, *ends)

    def moments(self, requirement: int) -> tuple[float, float]:
        """Give mean and standard deviation of a requirement's margin; the latter 0 for one case.

        Raises
        ------
        ValueError
            If no case was valid.
        """
        if not self.valid > 0:
            raise ValueError("no valid case, so a margin has no mean")
        total, squares = self.sums[requirement].fraction, self.squares[requirement].fraction
        mean = Fraction(self.edges.centres[requirement]) + total / self.valid
        scatter = max(squares - total * total / self.valid, Fraction(0))
        return float(mean), math.sqrt(scatter / max(self.valid - 1, 1))

    def replicates(self, requirement: int | None = None) -> Replicates:
        """Give the blocks as replicates of one requirement's chance, or of the chance of all.

        Raises
        ------
        ValueError
            If the blocks are not all of one size.
        """
        if not self.block_cases > 0:
            raise ValueError("blocks of several sizes are no replicates of one another")
        row = 0 if requirement is None else requirement + 1
        met, squared = int(self.met[row]), int(self.met_squared[row])
        return Replicates.of_counts(self.blocks, met, squared, self.block_cases)

    def merge(self, other: BlockSummary) -> BlockSummary:
        """Give the summary of both; associative and commutative to the last bit.

        Raises
        ------
        ValueError
            If they are of different studies or edges.
        """
        if (self.shape, self.edges) != (other.shape, other.edges):
            raise ValueError("summaries of different studies or edges cannot be merged")
        return BlockSummary(
            self.shape,
            self.edges,
            self.blocks + other.blocks,
            self.block_cases if self.block_cases == other.block_cases else 0,
            self.cases + other.cases,
            self.succeeded + other.succeeded,
            self.invalid + other.invalid,
            self.failures + other.failures,
            self.first_failures + other.first_failures,
            _add_up(self.combinations, other.combinations),
            self.more + other.more,
            self.slots + other.slots,
            tuple(map(ExactSum.merge, self.sums, other.sums)),
            tuple(map(ExactSum.merge, self.squares, other.squares)),
            np.minimum(self.minimum, other.minimum),
            np.maximum(self.maximum, other.maximum),
            self.met + other.met,
            self.met_squared + other.met_squared,
        )

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, BlockSummary):
            return NotImplemented
        return self.to_bytes() == other.to_bytes()

    __hash__ = None  # type: ignore[assignment]  # holds arrays

    def to_bytes(self) -> bytes:
        """Write the summary; each summary has one text, whatever it was merged from."""
        head = json.dumps(_head_of(self), sort_keys=True, separators=(",", ":")).encode()
        arrays = b"".join(
            np.ascontiguousarray(getattr(self, name), dtype=kind).tobytes()
            for name, (kind, _) in _sizes(self.shape).items()
        )
        body = _MAGIC + struct.pack("<Q", len(head)) + head + arrays
        return body + hashlib.sha256(body).digest()

    @classmethod
    def from_bytes(cls, data: bytes) -> BlockSummary:
        """Read what `to_bytes` wrote.

        Raises
        ------
        OutputError
            If it did not write that, or the bytes are damaged.
        """
        body, digest = data[:-_DIGEST], data[-_DIGEST:]
        if not body.startswith(_MAGIC):
            raise OutputError("this is no block summary of the version this program reads")
        if hashlib.sha256(body).digest() != digest:
            raise OutputError("the block summary is damaged: its checksum does not match")
        try:
            read = _read(body[len(_MAGIC) :])
        except (KeyError, TypeError, ValueError, struct.error) as error:
            raise OutputError(f"the block summary cannot be read: {error}") from error
        if read.to_bytes() != data:
            raise OutputError("the block summary is not written the one way it can be")
        return read


def _add_up(first: Mapping[int, int], second: Mapping[int, int]) -> dict[int, int]:
    total = dict(first)
    for key, number in second.items():
        total[key] = total.get(key, 0) + number
    return total


_MAGIC: Final = b"leadline summary 1\n"
_DIGEST: Final = hashlib.sha256().digest_size


def _sizes(shape: Shape) -> dict[str, tuple[str, tuple[int, ...]]]:
    """Give type and shape of each array, in the order in which they are written."""
    r = shape.requirements
    return {
        "failures": ("<i8", (r,)),
        "first_failures": ("<i8", (len(shape.checks),)),
        "slots": ("<i8", (r, BINS + 2)),
        "minimum": ("<f8", (r,)),
        "maximum": ("<f8", (r,)),
        "met": ("<i8", (r + 1,)),
        "met_squared": ("<i8", (r + 1,)),
    }


_NUMBERS: Final = ("blocks", "block_cases", "cases", "succeeded", "invalid", "more")


def _head_of(summary: BlockSummary) -> dict[str, Any]:
    """Give all but the arrays as plain texts and whole numbers."""
    edges = zip(summary.edges.grids, summary.edges.centres, strict=True)
    return {
        "shape": [summary.shape.requirements, list(summary.shape.checks)],
        "edges": [[grid.first, grid.exponent, centre.hex()] for grid, centre in edges],
        "numbers": [getattr(summary, name) for name in _NUMBERS],
        "combinations": [[f"{key:x}", n] for key, n in sorted(summary.combinations.items())],
        "sums": [total.to_hex() for total in summary.sums],
        "squares": [total.to_hex() for total in summary.squares],
    }


def _read(text: bytes) -> BlockSummary:
    (length,) = struct.unpack_from("<Q", text)
    head = json.loads(text[8 : 8 + length])
    shape = Shape(int(head["shape"][0]), tuple(head["shape"][1]))
    grids = tuple(Grid(first, exponent) for first, exponent, _ in head["edges"])
    centres = tuple(float.fromhex(centre) for *_, centre in head["edges"])
    return BlockSummary(
        shape=shape,
        edges=Edges(grids, centres),
        combinations={int(key, 16): n for key, n in head["combinations"]},
        sums=tuple(map(ExactSum.from_hex, head["sums"])),
        squares=tuple(map(ExactSum.from_hex, head["squares"])),
        **dict(zip(_NUMBERS, head["numbers"], strict=True)),
        **_read_arrays(text[8 + length :], shape),
    )


def _read_arrays(text: bytes, shape: Shape) -> dict[str, Any]:
    arrays, position = {}, 0
    for name, (kind, size) in _sizes(shape).items():
        number = math.prod(size)
        array = np.frombuffer(text, dtype=kind, count=number, offset=position)
        arrays[name] = array.reshape(size).astype(kind[1:])
        position += 8 * number
    return arrays


class _Memory(threading.local):
    """The workspace of this thread, kept for the next block of the same study."""

    workspace: SummaryWorkspace | None = None


_MEMORY: Final = _Memory()


def _workspace_for(cases: int, requirements: int) -> SummaryWorkspace:
    held = _MEMORY.workspace
    if held is None or not held.fits(cases, requirements):
        held = _MEMORY.workspace = SummaryWorkspace(cases, requirements)
    return held


def summarise_block(
    margins: Array,
    check_rows: Sequence[Array],
    shape: Shape,
    edges: Edges,
    workspace: SummaryWorkspace | None = None,
) -> BlockSummary:
    """Sum up a block of cases.

    Parameters
    ----------
    margins : (r, n)
        Margin of each requirement, n at least 1. A case with an entry that is not finite, or
        larger than `leadline.run.tally.LARGEST`, is invalid; one whose entries are all at least 0
        succeeds.
    check_rows : c arrays (n,)
        Each check, in time order. The first below 0 is the one a failed case fails first; such a
        check's requirement must have a margin below 0 too.
    shape, edges
        Which check is of which requirement, and where margins are counted.
    workspace
        Memory to reuse; this thread's own when None.
    """
    r, n = margins.shape
    counted = count_block(margins, check_rows, shape, edges, workspace or _workspace_for(n, r))
    return _summary_of(counted, shape, edges)


def _summary_of(block: Counted, shape: Shape, edges: Edges) -> BlockSummary:
    valid = block.cases - block.invalid
    met = np.concatenate(([block.succeeded], valid - block.failures)).astype(np.int64)
    return BlockSummary(
        shape=shape,
        edges=edges,
        blocks=1,
        block_cases=block.cases,
        cases=block.cases,
        succeeded=block.succeeded,
        invalid=block.invalid,
        failures=block.failures,
        first_failures=block.first_failures,
        combinations=block.combinations,
        more=block.more,
        slots=block.slots,
        sums=tuple(ExactSum().add(number) for number in block.sums.tolist()),
        squares=tuple(ExactSum().add(number) for number in block.squares.tolist()),
        minimum=block.minimum,
        maximum=block.maximum,
        met=met,
        met_squared=met * met,
    )
