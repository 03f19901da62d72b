"""Options side by side: the base and every option flown on the same blocks of common draws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from leadline.run.endings import succeeded_cases
from leadline.run.executors import Stopped
from leadline.run.summary import BlockSummary
from leadline.run.work import Work, fly_block, prepared, sum_up

__all__ = ["Joint", "PairTask", "Sides"]

Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Joint:
    """How cases ended under an option and under the base; all are counts and add up.

    `blocks`, `excess` and `excess_squared` count the blocks and sum, over them, what the option
    has more successes in a block, and its square: for designs whose blocks are replicates.
    """

    both: int
    option_only: int
    base_only: int
    neither: int
    blocks: int
    excess: int
    excess_squared: int

    @classmethod
    def of(cls, option: Flags, base: Flags) -> Joint:
        """Count one block."""
        both = int(np.count_nonzero(option & base))
        option_only = int(np.count_nonzero(option)) - both
        base_only = int(np.count_nonzero(base)) - both
        neither = len(base) - both - option_only - base_only
        excess = option_only - base_only
        return cls(both, option_only, base_only, neither, 1, excess, excess * excess)

    def merge(self, other: Joint) -> Joint:
        """Add two counts up."""
        return Joint(
            self.both + other.both,
            self.option_only + other.option_only,
            self.base_only + other.base_only,
            self.neither + other.neither,
            self.blocks + other.blocks,
            self.excess + other.excess,
            self.excess_squared + other.excess_squared,
        )


@dataclass(frozen=True, slots=True)
class Sides:
    """What a range of cases came to: a summary for the base and each option, and joint counts."""

    summaries: tuple[BlockSummary, ...]
    joints: tuple[Joint, ...]

    def merge(self, other: Sides) -> Sides:
        """Add two ranges up, exactly and in any order."""
        summaries = zip(self.summaries, other.summaries, strict=True)
        joints = zip(self.joints, other.joints, strict=True)
        return Sides(tuple(a.merge(b) for a, b in summaries), tuple(a.merge(b) for a, b in joints))


@dataclass(frozen=True, slots=True)
class PairTask:
    """The task of flying base and options over a range of cases; the first work is the base."""

    works: tuple[Work, ...]

    def __call__(self, cases: range, stopped: Stopped) -> tuple[range, Sides]:
        """Fly the range block by block; see `leadline.run.executors.Task`."""
        size = prepared(self.works[0]).sampler.block_size
        total: Sides | None = None
        for start in range(cases.start, cases.stop, size):
            if total is not None and stopped():
                return range(cases.start, start), total
            sides = _block(self.works, start // size, min(size, cases.stop - start))
            total = sides if total is None else total.merge(sides)
        if total is None:
            raise ValueError(f"no cases to compute in {cases}")
        return cases, total


def _block(works: Sequence[Work], block: int, cases: int) -> Sides:
    summaries, successes = [], []
    for work in works:
        ready = prepared(work)
        _, outcome = fly_block(ready, block, cases)
        summaries.append(sum_up(ready, outcome))
        successes.append(succeeded_cases(outcome.margins))
    base, *options = successes
    return Sides(tuple(summaries), tuple(Joint.of(option, base) for option in options))
