"""Options side by side: the base and every option flown on the same blocks of common draws.

A requirement that only one side has is met in every valid case of the other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from leadline.budget import Outcome
from leadline.run.endings import succeeded_cases, valid_cases
from leadline.run.executors import Stopped
from leadline.run.summary import BlockSummary
from leadline.run.work import Prepared, Work, fly_block, prepared, sum_up

__all__ = ["Flown", "Joint", "PairTask", "Sides"]

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
    """What a range of cases came to.

    Parameters
    ----------
    summaries
        Of the base and of each option.
    joints
        How cases ended under each option and the base.
    by_requirement
        The same of each requirement that either side has, by its name.
    """

    summaries: tuple[BlockSummary, ...]
    joints: tuple[Joint, ...]
    by_requirement: tuple[Mapping[str, Joint], ...]

    def merge(self, other: Sides) -> Sides:
        """Add two ranges up, exactly and in any order."""
        summaries = zip(self.summaries, other.summaries, strict=True)
        joints = zip(self.joints, other.joints, strict=True)
        named = zip(self.by_requirement, other.by_requirement, strict=True)
        return Sides(
            tuple(a.merge(b) for a, b in summaries),
            tuple(a.merge(b) for a, b in joints),
            tuple({name: joint.merge(b[name]) for name, joint in a.items()} for a, b in named),
        )


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


@dataclass(frozen=True, slots=True)
class Flown:
    """How the cases of a block ended on one side; `met` is by requirement."""

    summary: BlockSummary
    succeeded: Flags
    valid: Flags
    met: Mapping[str, Flags]

    @classmethod
    def of(cls, ready: Prepared, outcome: Outcome) -> Flown:
        """Sum up a block just flown."""
        valid = valid_cases(outcome.margins)
        names = (label.name for label in ready.plan.requirements)
        met = {name: valid & (margins >= 0.0) for name, margins in zip(names, outcome.margins, strict=True)}
        return cls(sum_up(ready, outcome), succeeded_cases(outcome.margins), valid, met)

    def beside(self, base: Flown) -> tuple[Joint, dict[str, Joint]]:
        """Count how the same cases ended here and under the base, as a whole and by requirement."""
        by_requirement = {
            name: Joint.of(self.met.get(name, self.valid), base.met.get(name, base.valid))
            for name in dict.fromkeys((*base.met, *self.met))
        }
        return Joint.of(self.succeeded, base.succeeded), by_requirement


def _block(works: Sequence[Work], block: int, cases: int) -> Sides:
    base, *options = (_flown(work, block, cases) for work in works)
    pairs = [option.beside(base) for option in options]
    return Sides(
        (base.summary, *(option.summary for option in options)),
        tuple(joint for joint, _ in pairs),
        tuple(by_requirement for _, by_requirement in pairs),
    )


def _flown(work: Work, block: int, cases: int) -> Flown:
    ready = prepared(work)
    _, outcome = fly_block(ready, block, cases)
    return Flown.of(ready, outcome)
