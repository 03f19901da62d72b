"""Speed of the answers about risk against what is promised; nothing here fails because a machine is slow."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from bench.reference_budget import INPUTS, reference_mission
from bench.timing import ratio, seconds
from leadline.budget import Workspace, compile_plan
from leadline.risk.drivers import find_drivers
from leadline.risk.rare import RareAnswer, rare_failures
from leadline.run.buy_down import BuyDownTask
from leadline.run.sizing import SizingRequest, size_number
from leadline.run.work import Work
from leadline.sampling import Design, Sampler
from leadline.study import load

Figure = Callable[[str, str, str], None]
Array = npt.NDArray[np.float64]
DEMO = Path(__file__).parents[2] / "studies" / "tern-first-look.yaml"
PAIRS = 2**14


def test_drivers_against_a_library(figure: Figure, need: Callable[[str], Any]) -> None:
    need("SALib")
    from SALib.analyze import sobol as analysis  # the oracle, found by the line above
    from SALib.sample import sobol as sampling

    plan, names = compile_plan(reference_mission()), [given.name for given in INPUTS]
    labels = [label.name for label in plan.requirements]
    sides = [Sampler(INPUTS, (), seed=0, purpose=f"drivers {side}") for side in "ab"]
    flying: dict[int, Workspace] = {}

    def margins(columns: Array) -> Array:
        cases = columns.shape[1]
        return plan.evaluate(columns, flying.setdefault(cases, Workspace(cases))).margins

    def ours() -> object:
        return find_drivers(margins, [(sides[0].draw(0), sides[1].draw(0))], inputs=names, requirements=labels)

    problem = {"num_vars": len(names), "names": names, "bounds": [[0.0, 1.0]] * len(names)}

    def theirs() -> object:
        points = sampling.sample(problem, PAIRS, calc_second_order=False, seed=1)
        columns = np.array([given.law.quantile(row) for given, row in zip(INPUTS, points.T, strict=True)])
        first = margins(columns)[0].copy()
        return analysis.analyze(problem, first, calc_second_order=False, seed=1)

    mine, other, over = ratio(ours, theirs, rounds=5)
    said = f"{over:.0f} x ({1e3 * mine:.0f} ms for {2 * len(labels) + 1} outputs, {1e3 * other:.0f} ms for one)"
    figure("drivers of 13 inputs, N = 2^14, against SALib", ">= 15 x", said)


def test_one_in_a_million(figure: Figure) -> None:
    sampler = Sampler(INPUTS, (), seed=0)
    plan = compile_plan(reference_mission())
    flying: dict[int, Workspace] = {}
    beta = -ndtri(1e-6)

    def margins(scores: Array) -> Array:
        """Fly the reference budget for its time, and fail one case in a million by a known margin."""
        cases = scores.shape[1]
        flown = plan.evaluate(sampler.apply_laws(scores), flying.setdefault(cases, Workspace(cases))).margins
        flown[:] = beta - scores.sum(axis=0) / np.sqrt(len(scores))
        return flown

    answers: list[RareAnswer] = []

    def search() -> None:
        answers[:] = rare_failures(margins, len(INPUTS), [r.name for r in plan.requirements], seed=len(answers))[:1]

    took = statistics.median(seconds(search) for _ in range(3))
    found = answers[0].quoted
    assert found is not None
    brute = (1 - 1e-6) / (1e-6 * 0.1**2)
    variation = 100 * found.coefficient_of_variation
    said = f"1/{brute / found.calls:.0f} of the calls, {variation:.1f} %, {took:.2f} s for all six answers"
    figure("failure chance 1e-6 at 10 %, against brute force", "<= 1/20, <= 3 s", said)


def test_buy_down(figure: Figure) -> None:
    study = load(DEMO)
    work = Work.of(study, 0, Design.INDEPENDENT)
    BuyDownTask(work)(range(16_384), lambda: False)
    took = seconds(lambda: BuyDownTask(work)(range(100_000), lambda: False))
    inputs = len(study.inputs)
    scaled = took * 13 * 3 / (inputs * 4)
    said = f"{took:.2f} s for {inputs} inputs x 4, so {scaled:.2f} s"
    figure("buy-down of 13 inputs x 3 changes, 100 000 cases", "<= 3 s", said)


def test_sizing(figure: Figure) -> None:
    study = load(DEMO)
    took = statistics.median(
        seconds(lambda: size_number(study, SizingRequest("saddle.tanks.main.load"))) for _ in range(3)
    )
    figure("sizing of one number, 100 000 cases", "<= 2 s", f"{took:.2f} s")
