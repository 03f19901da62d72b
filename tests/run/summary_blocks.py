"""Blocks of margins for the tests of summaries: written by hand, drawn by Hypothesis, or of normal numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import reduce

import numpy as np
import numpy.typing as npt
from hypothesis import strategies as st

from leadline.run.summary import BlockSummary, Edges, Shape, SummaryWorkspace, summarise_block
from leadline.run.tally import Grid

__all__ = ["Block", "blocks", "edges_for", "random_block"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Block:
    """Margins made of checks: each the least of its own."""

    shape: Shape
    rows: list[Array]

    @property
    def margins(self) -> Array:
        own = [
            [row for row, owner in zip(self.rows, self.shape.checks, strict=True) if owner == j]
            for j in range(self.shape.requirements)
        ]
        return np.stack([reduce(np.minimum, rows) for rows in own])

    def summed(self, edges: Edges, workspace: SummaryWorkspace | None = None) -> BlockSummary:
        return summarise_block(self.margins, self.rows, self.shape, edges, workspace)

    def part(self, start: int, stop: int) -> Block:
        return Block(self.shape, [row[start:stop] for row in self.rows])


def edges_for(requirements: int) -> Edges:
    grids = [Grid.over(-3.0 - j, 2.0 + 3 * j) for j in range(requirements)]
    return Edges(tuple(grids), tuple(0.25 * j for j in range(requirements)))


def random_block(requirements: int, checks: int, n: int, shift: float, seed: int) -> Block:
    """Make checks of normal numbers that share a part, so that failures come in company."""
    rng = np.random.default_rng(seed)
    owners = [*range(requirements), *rng.integers(0, requirements, checks - requirements).tolist()]
    shared = rng.standard_normal(n)
    rows = [np.round(0.6 * shared + rng.standard_normal(n) + shift, 2) for _ in owners]
    return Block(Shape(requirements, tuple(owners)), rows)


plain = st.sampled_from([-2.5, -1.0, -0.25, 0.0, -0.0, 0.25, 1.0, 3.0, 40.0, -40.0])
edgy = st.sampled_from([-5e-324, 5e-324, -1e-300, 1e-17, -1e-17, 1e120, -1e120])
broken = st.sampled_from([math.nan, math.inf, -math.inf, 1e200, -1e160])


@st.composite
def blocks(draw: st.DrawFn, least: int = 1, most: int = 24) -> Block:
    requirements = draw(st.integers(1, 5))
    more = draw(st.lists(st.integers(0, requirements - 1), max_size=5))
    checks = draw(st.permutations([*range(requirements), *more]))
    n = draw(st.integers(least, most))
    kinds = draw(st.sampled_from([plain, st.one_of(plain, edgy), st.one_of(plain, plain, plain, plain, broken)]))
    rows = [np.array(draw(st.lists(kinds, min_size=n, max_size=n))) for _ in checks]
    return Block(Shape(requirements, tuple(checks)), rows)
