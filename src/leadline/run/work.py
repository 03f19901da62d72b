"""What a worker is told, what it makes of it once, and what it hands back.

Only strings and whole numbers travel to a worker: the resolved study, the seed, the design.
From them it makes its plan, its sampler and the histograms' edges, once per process.
"""

from __future__ import annotations

import json
import threading
import time
import weakref
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import numpy.typing as npt

from leadline.budget import Outcome, Plan, Workspace, compile_plan
from leadline.run.executors import Stopped
from leadline.run.parts import CaseTable, write_part
from leadline.run.summary import BlockSummary, Edges, Shape
from leadline.run.units_of_inputs import units_of_inputs
from leadline.sampling import Design, Sampler
from leadline.study import Study, from_mapping

__all__ = [
    "PILOT_CASES",
    "Prepared",
    "Work",
    "draw_block",
    "fly",
    "fly_block",
    "prepared",
    "sum_up",
    "summarise",
]

Array = npt.NDArray[np.float64]

PILOT_CASES = 4096
"""Cases of the pilot, drawn from streams of their own, that set the histograms' edges."""


@dataclass(frozen=True, slots=True)
class Work:
    """A study to be computed from a seed; itself the task of summing up a range of cases.

    Parameters
    ----------
    document_json
        The resolved study as canonical JSON.
    seed, design
        Which draws.
    keep
        Folder for one Parquet part per block, or empty to keep no cases.
    """

    document_json: str
    seed: int
    design: str
    keep: str = ""

    @classmethod
    def of(cls, study: Study, seed: int, design: Design, keep: str = "") -> Work:
        """Return the work of computing a study."""
        text = json.dumps(study.resolved(), separators=(",", ":"), allow_nan=False)
        return cls(text, seed, design.value, keep)

    def __call__(self, cases: range, stopped: Stopped) -> tuple[range, BlockSummary]:
        """Sum up a range of cases; see `summarise`."""
        return summarise(self, cases, stopped)


@dataclass(frozen=True, eq=False)
class Prepared:
    """What a worker needs to compute blocks; `case_s` is about how long one case takes, s."""

    study: Study
    plan: Plan
    sampler: Sampler
    shape: Shape
    edges: Edges
    case_s: float

    @cached_property
    def case_table(self) -> CaseTable:
        """What the columns of kept cases are."""
        return CaseTable(self.study.digest, units_of_inputs(self.study), self.plan)


_PREPARING = threading.Lock()


def prepared(work: Work) -> Prepared:
    """Return what is needed to compute the work's blocks, made once per process."""
    with _PREPARING:
        return _prepared(work)


@lru_cache(maxsize=64)  # a base and all its options side by side
def _prepared(work: Work) -> Prepared:
    study = from_mapping(json.loads(work.document_json))
    plan = compile_plan(study.mission)
    edges, case_s = _pilot(study, plan, work.seed)
    sampler = Sampler(study.inputs, study.correlations, seed=work.seed, design=Design(work.design))
    return Prepared(study, plan, sampler, Shape.of(plan), edges, case_s)


def _pilot(study: Study, plan: Plan, seed: int) -> tuple[Edges, float]:
    """Fly the pilot, always of independent draws; time it the second time, when caches are warm."""
    sampler = Sampler(study.inputs, study.correlations, seed=seed, purpose="pilot")
    workspace = Workspace(PILOT_CASES)
    columns = sampler.draw(0)[:, :PILOT_CASES].copy()
    plan.evaluate(columns, workspace)
    began = time.perf_counter()
    sampler.draw(0)
    drawn = (time.perf_counter() - began) / sampler.block_size
    began = time.perf_counter()
    outcome = plan.evaluate(columns, workspace)
    flown = (time.perf_counter() - began) / PILOT_CASES
    return Edges.of(outcome.margins), drawn + flown


class _Memory:
    """Memory for one block of a work: draws, and what flying and summing up reuse."""

    def __init__(self, ready: Prepared) -> None:
        size = ready.sampler.block_size
        self.draws = np.empty((len(ready.study.inputs), size))
        self.flying: dict[int, Workspace] = {}

    def workspace(self, cases: int) -> Workspace:
        if cases not in self.flying:
            self.flying[cases] = Workspace(cases)
        return self.flying[cases]


class _Memories(threading.local):
    """Memory of one thread for each work under way, freed with what it was made for."""

    def __init__(self) -> None:
        self.held: weakref.WeakKeyDictionary[Prepared, _Memory] = weakref.WeakKeyDictionary()

    def of(self, ready: Prepared) -> _Memory:
        if ready not in self.held:
            self.held[ready] = _Memory(ready)
        return self.held[ready]


_MEMORIES = _Memories()


def draw_block(ready: Prepared, block: int, cases: int) -> Array:
    """Draw the first `cases` cases of a block (d, cases), valid until this thread's next call."""
    return ready.sampler.draw(block, out=_MEMORIES.of(ready).draws)[:, :cases]


def fly_block(ready: Prepared, block: int, cases: int) -> tuple[Array, Outcome]:
    """Draw the first `cases` cases of a block and fly them, in this thread's memory.

    Returns
    -------
    columns : (d, cases)
        The inputs' values.
    outcome
        The margins; both are valid until the next call in this thread.
    """
    columns = draw_block(ready, block, cases)
    return columns, fly(ready, columns)


def fly(ready: Prepared, columns: Array) -> Outcome:
    """Fly cases given by their inputs' values (d, n), in this thread's memory."""
    return ready.plan.evaluate(columns, _MEMORIES.of(ready).workspace(columns.shape[1]))


def summarise(work: Work, cases: range, stopped: Stopped) -> tuple[range, BlockSummary]:
    """Sum up a range of cases block by block.

    Parameters
    ----------
    work
        What to compute.
    cases
        Case numbers; the first stands at the start of a block.
    stopped
        Asked before each block but the first.

    Returns
    -------
    done : range
        The cases summed up: all, unless stopped.
    summary
        Their summary.
    """
    ready = prepared(work)
    size = ready.sampler.block_size
    total: BlockSummary | None = None
    for start in range(cases.start, cases.stop, size):
        if total is not None and stopped():
            return range(cases.start, start), total
        summary = _block_summary(work, ready, start // size, min(size, cases.stop - start))
        total = summary if total is None else total.merge(summary)
    if total is None:
        message = f"no cases to compute in {cases}"
        raise ValueError(message)
    return cases, total


def _block_summary(work: Work, ready: Prepared, block: int, cases: int) -> BlockSummary:
    columns, outcome = fly_block(ready, block, cases)
    if work.keep:
        first = block * ready.sampler.block_size
        write_part(work.keep, ready.case_table, block, first, columns, outcome)
    return sum_up(ready, outcome)


def sum_up(ready: Prepared, outcome: Outcome) -> BlockSummary:
    """Sum up a block just flown."""
    return BlockSummary.of(outcome, ready.shape, ready.edges)
