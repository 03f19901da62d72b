"""Speed and memory against what is promised; nothing here fails because a machine is slow.

Each figure is a ratio of two things measured in turn in one run, the median of several
rounds, so that a busy machine shifts both.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.random import SFC64, Generator

from bench.reference_budget import INPUTS, reference_mission
from bench.timing import ratio, seconds
from leadline.budget import Workspace, compile_plan
from leadline.run.summary import BlockSummary, Edges, Shape, SummaryWorkspace
from leadline.sampling import Sampler

Figure = Callable[[str, str, str], None]
CASES = 2**20
DEMO = Path(__file__).parents[2] / "studies" / "tern-first-look.yaml"


class Reference:
    """The reference budget: drawn, flown and summed up block by block on one thread."""

    def __init__(self) -> None:
        self.plan = compile_plan(reference_mission())
        self.sampler = Sampler(INPUTS, (), seed=0)
        size = self.sampler.block_size
        pilot = self.plan.evaluate(Sampler(INPUTS, (), seed=0, purpose="pilot").draw(0))
        self.edges, self.shape = Edges.of(pilot.margins), Shape.of(self.plan)
        self.draws = np.empty((len(INPUTS), size))
        self.flying, self.summing = Workspace(size), SummaryWorkspace(size, len(self.plan.requirements))

    def block(self, block: int) -> BlockSummary:
        columns = self.sampler.draw(block, out=self.draws)
        return BlockSummary.of(self.plan.evaluate(columns, self.flying), self.shape, self.edges, self.summing)

    def run(self, cases: int = CASES) -> BlockSummary:
        total = self.block(0)
        for block in range(1, cases // self.sampler.block_size):
            total = total.merge(self.block(block))
        return total


def test_reference_budget_against_drawing_alone(figure: Figure) -> None:
    reference, size = Reference(), 2**14
    generator, block = Generator(SFC64(1)), np.empty((13, size))

    def draw() -> None:
        for _ in range(CASES // size):
            for row in block:
                generator.standard_normal(out=row)

    drawing, running, over = ratio(draw, reference.run)
    measured = f"{1 / over:.3f} ({drawing / CASES * 1e9:.0f} and {running / CASES * 1e9:.0f} ns a case)"
    figure("rate over that of drawing the 13 normals alone", ">= 0.6", measured)
    assert reference.run(size * 2).cases == size * 2


def test_reference_budget_against_a_formula_compiled_from_text(figure: Figure, need: Callable[[str], Any]) -> None:
    openturns = need("openturns")
    from bench.compiled_text import reference_formula

    reference = Reference()
    model, law = reference_formula(openturns)
    openturns.TBB.Disable()
    cases = 2**17

    def theirs() -> Any:
        return model(law.getSample(cases)).computeMean()

    ours, other, over = ratio(lambda: reference.run(cases), theirs, rounds=5)
    measured = f"{over:.1f} x ({ours / cases * 1e9:.0f} and {other / cases * 1e9:.0f} ns a case)"
    figure("rate over the same formula compiled from text", ">= 6 x", measured)
    columns = reference.sampler.draw(0)
    margins = reference.plan.evaluate(columns).margins
    np.testing.assert_allclose(np.array(model(columns.T[:50]))[:, 0], margins[0, :50], rtol=1e-9)


RUN = """
import resource, sys, time
from leadline.run.engine import run_study
from leadline.study import load
from leadline.run.executors import InProcess
study = load(sys.argv[1])
began = time.perf_counter()
run_study(study, cases=int(float(sys.argv[2])), seed=0, executor=InProcess())
print(time.perf_counter() - began, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def fresh(cases: float) -> tuple[float, float]:
    done = subprocess.run(
        [sys.executable, "-c", RUN, str(DEMO), str(cases)], check=True, capture_output=True, text=True
    )
    took, peak = done.stdout.split()
    return float(took), float(peak)


def test_memory_does_not_grow_with_the_cases(figure: Figure) -> None:
    _, small = fresh(1e6)
    took, large = fresh(1e8)
    measured = f"{100 * (large / small - 1):+.1f} % ({small:.0f} and {large:.0f} MiB, 1e8 in {took:.0f} s)"
    figure("peak memory at 1e8 cases over that at 1e6, the demo", "within 10 %", measured)


def test_two_workers_against_one(figure: Figure) -> None:
    from leadline.run.dask_executor import on_processes
    from leadline.run.engine import run_study
    from leadline.study import load

    study, cases = load(DEMO), 30_000_000
    executors = {n: on_processes(n) for n in (1, 2)}
    try:

        def on(workers: int) -> Callable[[], object]:
            return lambda: run_study(study, cases=cases, seed=0, executor=executors[workers])

        _, _, over = ratio(on(2), on(1), rounds=3)
    finally:
        for executor in executors.values():
            executor.close()
    figure("two workers against one, the demo", ">= 1.8 x", f"{over:.2f} x")


def test_the_command_line(figure: Figure, tmp_path: Path) -> None:
    program = [sys.executable, "-m", "leadline"]
    show = [seconds(lambda: subprocess.run([*program, "--help"], check=True, capture_output=True)) for _ in range(7)]
    figure("leadline --help", "<= 0.3 s", f"{statistics.median(show):.2f} s")

    def cold(number: int) -> float:
        command = [*program, "run", str(DEMO), "--cases", "100000", "--out", str(tmp_path / str(number))]
        return seconds(lambda: subprocess.run(command, check=True, capture_output=True))

    runs = [cold(number) for number in range(3)]
    size = (tmp_path / "0" / "report.html").stat().st_size / 1e6
    figure("100 000 cases from cold, report written", "<= 3 s", f"{statistics.median(runs):.2f} s")
    figure("report file", "<= 6 MB", f"{size:.2f} MB")
