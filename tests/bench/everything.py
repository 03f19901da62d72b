"""A budget drawn, flown and summed up block by block on one thread: the reference, or a study with everything on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Self

import numpy as np
import numpy.typing as npt

from bench.reference_budget import INPUTS, reference_mission
from leadline.budget import Outcome, Workspace, compile_plan
from leadline.run.summary import BlockSummary, Edges, Shape, SummaryWorkspace
from leadline.sampling import Input, RankCorrelation, Sampler
from leadline.study import load
from leadline.vehicle import Mission

__all__ = ["EVERYTHING", "Budget"]

Array = npt.NDArray[np.float64]

EVERYTHING = Path(__file__).parents[2] / "studies" / "tern.yaml"
"""Tanker campaign, passes with belts, dated legs, boil-off by place, starts of engines, entry: all that there is."""


class Budget:
    """What a worker does to a block, in memory that is used again and again."""

    def __init__(self, mission: Mission, inputs: Sequence[Input], correlations: Sequence[RankCorrelation] = ()) -> None:
        self.plan = compile_plan(mission)
        self.sampler = Sampler(inputs, correlations, seed=0)
        self.size = self.sampler.block_size
        pilot = self.plan.evaluate(Sampler(inputs, correlations, seed=0, purpose="pilot").draw(0))
        self.edges, self.shape = Edges.of(pilot.margins), Shape.of(self.plan)
        self.draws = np.empty((len(inputs), self.size))
        self.flying, self.summing = Workspace(self.size), SummaryWorkspace(self.size, len(self.plan.requirements))

    @classmethod
    def reference(cls) -> Self:
        """Take the reference budget."""
        return cls(reference_mission(), INPUTS)

    @classmethod
    def of(cls, path: Path) -> Self:
        """Take a study."""
        study = load(path)
        return cls(study.mission, study.inputs, study.correlations)

    def draw(self, block: int) -> Array:
        """Draw a block."""
        return self.sampler.draw(block, out=self.draws)

    def fly(self) -> Outcome:
        """Fly the block drawn last."""
        return self.plan.evaluate(self.draws, self.flying)

    def sum_up(self, outcome: Outcome) -> BlockSummary:
        """Sum up a block flown."""
        return BlockSummary.of(outcome, self.shape, self.edges, self.summing)

    def run(self, blocks: int) -> BlockSummary:
        """Do all of it for a number of blocks."""
        total: BlockSummary | None = None
        for block in range(blocks):
            self.draw(block)
            summary = self.sum_up(self.fly())
            total = summary if total is None else total.merge(summary)
        assert total is not None
        return total
