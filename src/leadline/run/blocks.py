"""How a number of cases is laid out in blocks of fixed size, and which blocks are finished.

Case i is draw ``i % block_size`` of block ``i // block_size``, so a block is the same whatever
was asked for before or after it. Finished blocks are kept as spans: sorted ``(start, stop)``
pairs of block numbers that neither touch nor overlap.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

__all__ = [
    "Layout",
    "Spans",
    "add_span",
    "blocks_per_task",
    "checkpoints",
    "count_blocks",
    "gaps",
    "lay_out",
    "task_ranges",
]

Spans = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """A number of cases in blocks of `block_size`; only the last block may be cut short."""

    cases: int
    block_size: int

    @property
    def whole_blocks(self) -> int:
        """How many blocks are used to the last case."""
        return self.cases // self.block_size

    @property
    def tail_cases(self) -> int:
        """How many cases of a last, cut block are used; 0 when there is none."""
        return self.cases % self.block_size

    @property
    def tail(self) -> range:
        """The case numbers in the cut block; empty when there is none."""
        return range(self.whole_blocks * self.block_size, self.cases)


def lay_out(cases: int, block_size: int, *, cut: bool) -> Layout:
    """Lay out at least `cases` cases; without `cut`, the last block is filled up.

    Replicate designs are only balanced over whole blocks, so their blocks are never cut.
    """
    whole = cases if cut else math.ceil(cases / block_size) * block_size
    return Layout(whole, block_size)


def add_span(spans: Spans, start: int, stop: int) -> Spans:
    """Return the spans with blocks ``[start, stop)``, not among them yet, added."""
    merged: list[tuple[int, int]] = []
    for low, high in sorted((*spans, (start, stop))):
        if merged and merged[-1][1] == low:
            merged[-1] = (merged[-1][0], high)
        elif low < high:
            merged.append((low, high))
    return tuple(merged)


def gaps(spans: Spans, stop: int) -> Spans:
    """Return the spans of ``[0, stop)`` that are not covered."""
    edges = [0, *(edge for span in spans for edge in span), stop]
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return tuple((low, min(high, stop)) for low, high in pairs if low < min(high, stop))


def count_blocks(spans: Spans) -> int:
    """Return how many blocks the spans hold."""
    return sum(high - low for low, high in spans)


def task_ranges(spans: Iterable[tuple[int, int]], per_task: int, block_size: int) -> Iterator[range]:
    """Cut spans of blocks into ranges of case numbers, `per_task` blocks in each."""
    for low, high in spans:
        for start in range(low, high, per_task):
            yield range(start * block_size, min(start + per_task, high) * block_size)


def blocks_per_task(blocks: int, block_s: float, task_s: float, workers: int) -> int:
    """Return how many blocks make a task of about `task_s`, with some tasks for every worker.

    Parameters
    ----------
    blocks
        How many blocks there are to do.
    block_s
        How long one block takes, s.
    task_s
        How long a task should take, s.
    workers
        How many tasks run at once; each gets at least four where there are enough blocks.
    """
    by_time = round(task_s / max(block_s, 1e-6))
    by_share = math.ceil(blocks / (4 * workers))
    return max(1, min(by_time, by_share))


def checkpoints(first: int, stop: int) -> Iterator[int]:
    """Yield the block counts from `first` on at which a run may stop by precision, ending with `stop`.

    They are 4, 5, 6, 7, 8, 10, 12, 14, 16, 20 and so on (4 to 7 times each power of two),
    fixed beforehand, so that where a run stops depends on neither speed nor executor, and at
    most a quarter more is computed than needed.
    """
    power = 1
    while True:
        for quarters in (4, 5, 6, 7):
            if quarters * power >= stop:
                yield stop
                return
            if quarters * power >= first:
                yield quarters * power
        power *= 2
