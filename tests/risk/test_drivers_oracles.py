"""Indices against two other libraries, on the same function and as many cases.

Their samples are their own, so the two answers differ by the scatter of both. Ours is taken from the interval, theirs
is less (they use scrambled nets); 6 standard errors of ours: false alarm 1e-7 for each comparison.
"""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from scipy.special import stdtrit
from scipy.stats import norm, sobol_indices

from leadline.risk.drivers import OutputDrivers, find_drivers
from risk.benchmark_functions import Array, Benchmark, g_function, ishigami, limit_state

FUNCTIONS = [ishigami(), g_function((0.0, 1.0, 4.5, 9.0)), limit_state(1.0)]
CASES = 2**14


def outputs_of(function: Benchmark) -> tuple[OutputDrivers, ...]:
    rng = np.random.Generator(np.random.SFC64(29))
    samples = rng.standard_normal((len(function.first), CASES)), rng.standard_normal((len(function.first), CASES))
    return find_drivers(function.margins, [samples], inputs=function.inputs, requirements=["reserve"]).outputs


def assert_agree(output: OutputDrivers, inputs: tuple[str, ...], first: Array, total: Array) -> None:
    assert output.reason is None
    allowed = 6 / float(stdtrit(63, 0.975)) / 2  # of an interval's width
    for driver in output.drivers:
        row = inputs.index(driver.name)
        for ours, theirs in ((driver.first, first[row]), (driver.total, total[row])):
            assert abs(ours.value - max(theirs, 0.0)) <= allowed * (ours.high - ours.low) + 1e-3, driver


@pytest.mark.parametrize(
    ("function", "place"), [*((function, 0) for function in FUNCTIONS), (ishigami(), 1), (limit_state(1.0), 1)]
)
def test_indices_agree_with_scipy(function: Benchmark, place: int) -> None:
    # cross-checked: scipy.stats.sobol_indices (1.17), 2^14 cases of a scrambled net; margins and then failures
    laws: list[Any] = [norm() for _ in function.inputs]
    net = np.random.default_rng(3)
    found = sobol_indices(func=lambda z: evaluated(function, z, place), n=CASES, dists=laws, rng=net)
    output = outputs_of(function)[place]
    assert_agree(output, function.inputs, np.ravel(found.first_order), np.ravel(found.total_order))


def evaluated(function: Benchmark, scores: Array, place: int) -> Array:
    margins = function.margins(scores)
    return margins if place == 0 else np.where(margins < 0.0, 1.0, 0.0)


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda each: each.name)
def test_indices_agree_with_salib(function: Benchmark, need: Callable[[str], ModuleType]) -> None:
    # cross-checked: SALib 1.6, sampling and analysis of Sobol' indices, 2^14 cases
    sampling, analysis = need("SALib.sample.sobol"), need("SALib.analyze.sobol")
    count = len(function.inputs)
    problem = {"num_vars": count, "names": list(function.inputs), "bounds": [[0.0, 1.0]] * count}
    problem["dists"] = ["norm"] * count
    cases = sampling.sample(problem, CASES, calc_second_order=False, seed=5)
    margins = function.margins(np.ascontiguousarray(cases.T))[0]
    found = analysis.analyze(problem, margins, calc_second_order=False, num_resamples=2, seed=5)
    assert_agree(outputs_of(function)[0], function.inputs, found["S1"], found["ST"])
