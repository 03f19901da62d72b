"""Blocks handed out and what comes back merged: the loop under every run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import chain
from typing import Generic, Protocol, Self, TypeVar

from leadline.run.blocks import Layout, Spans, add_span, blocks_per_task, count_blocks, gaps, task_ranges
from leadline.run.executors import Executor, Stopped, Task

__all__ = ["Gathering", "Mergeable"]


class Mergeable(Protocol):
    """What merges exactly, so that the order does not matter."""

    def merge(self, other: Self) -> Self:
        """Return both together."""
        ...


M = TypeVar("M", bound=Mergeable)


@dataclass(slots=True)
class Gathering(Generic[M]):
    """A task being computed over a layout; whole blocks and a cut last block are kept apart.

    Parameters
    ----------
    task
        What is computed.
    layout
        Over which cases.
    executor
        Who does it.
    block_s
        About how long one block takes, s.
    spans, whole
        The whole blocks finished, and what they came to.
    tail
        What the cut last block came to.
    """

    task: Task[M]
    layout: Layout
    executor: Executor
    block_s: float
    spans: Spans = ()
    whole: M | None = None
    tail: M | None = None

    @property
    def total(self) -> M | None:
        """All that is finished, or None."""
        if self.whole is None or self.tail is None:
            return self.tail if self.whole is None else self.whole
        return self.whole.merge(self.tail)

    @property
    def all_spans(self) -> Spans:
        """The blocks finished, the cut one counted as a block."""
        last = self.layout.whole_blocks
        return self.spans if self.tail is None else add_span(self.spans, last, last + 1)

    def up_to_end(self, stopped: Stopped, added: Callable[[], None]) -> bool:
        """Compute all that is left; tell whether everything is done."""
        return self.up_to(self.layout.whole_blocks, stopped, added, tail=self.layout.tail)

    def up_to(self, stop: int, stopped: Stopped, added: Callable[[], None], tail: range | None = None) -> bool:
        """Compute the blocks before one that are not finished; tell whether all are.

        Parameters
        ----------
        stop
            The first block not wanted.
        stopped
            Asked between blocks.
        added
            Called whenever something was finished.
        tail
            Cases of the cut block, when it is wanted.
        """
        missing = gaps(self.spans, stop)
        ranges = task_ranges(missing, self._blocks_per_task(missing), self.layout.block_size)
        cut = [tail] if tail and self.tail is None else []
        for cases, part in self.executor.map(self.task, chain(ranges, cut), stopped):
            self._add(cases, part)
            added()
        return not gaps(self.spans, stop) and not (tail and self.tail is None)

    def _blocks_per_task(self, missing: Spans) -> int:
        workers, task_s = self.executor.workers, self.executor.task_s
        return blocks_per_task(count_blocks(missing), self.block_s, task_s, workers)

    def _add(self, cases: range, part: M) -> None:
        size = self.layout.block_size
        if len(cases) % size:
            self.tail = part
            return
        self.spans = add_span(self.spans, cases.start // size, cases.stop // size)
        self.whole = part if self.whole is None else self.whole.merge(part)
