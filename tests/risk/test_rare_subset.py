"""Subset simulation: unbiased, and as precise as it says."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from leadline.risk.rare_model import Watch, stream
from leadline.risk.rare_subset import CHAINS, MOVES, REPLICATES, climb, learn_ladder
from risk.reliability_problems import FOUR_BRANCH, GAYTON_HAT, RP25, RP28, RP63, RP77, RP111, Array, Problem, linear


def watch(problem: Problem) -> Watch:
    return lambda scores: np.array(problem.margins(scores)[0])


def chances(problem: Problem, seeds: int) -> Array:
    found = []
    for seed in range(seeds):
        ladder = learn_ladder(watch(problem), problem.dimensions, stream(seed, 0))
        found.append(climb(watch(problem), problem.dimensions, ladder, stream(seed, 1)).chances)
    return np.concatenate(found)


@pytest.mark.parametrize(
    ("problem", "seeds"),
    [(linear(4.75, 2), 30), (linear(5.0, 10), 6), (FOUR_BRANCH, 30), (RP25, 20), (RP28, 20), (RP77, 12), (RP111, 20)],
    ids=lambda value: getattr(value, "name", None),
)
def test_replicates_are_unbiased(problem: Problem, seeds: int) -> None:
    # exact, see the problems. Replicates of one ladder share its levels, but with levels fixed each is unbiased; four
    # standard errors of the mean of 96 or more replicates: false alarm 1e-4 a problem
    found = chances(problem, seeds)
    error = float(found.std(ddof=1)) / math.sqrt(found.size)
    assert found.mean() == pytest.approx(problem.chance, abs=4.0 * error)
    assert error < 0.05 * problem.chance


def test_one_batch_reaches_the_precision_asked_for_in_a_hundred_dimensions() -> None:
    # exact, quadrature; four stated deviations of a mean of 16 replicates: false alarm 0.1 % (t law)
    ladder = learn_ladder(watch(RP63), 100, stream(0, 0))
    found = climb(watch(RP63), 100, ladder, stream(0, 1))
    error = float(found.chances.std(ddof=1)) / 4.0
    assert found.chances.mean() == pytest.approx(RP63.chance, abs=4.0 * error)
    assert error < 0.1 * RP63.chance


def test_even_wretched_chains_leave_the_mean_unbiased() -> None:
    # exact: Phi(-2.5). With steps of 0.01 chains hardly move, so replicates scatter, about the right mean all the same
    problem = linear(2.5, 2)
    ladder = learn_ladder(watch(problem), 2, stream(1, 0))
    still = replace(ladder, steps=(0.01,) * len(ladder.steps))
    found = np.concatenate([climb(watch(problem), 2, still, stream(seed, 1)).chances for seed in range(60)])
    error = float(found.std(ddof=1)) / math.sqrt(found.size)
    assert found.mean() == pytest.approx(problem.chance, abs=4.0 * error)


def test_a_ladder_ends_at_failure_and_counts_its_calls() -> None:
    calls = 0

    def counted(scores: Array) -> Array:
        nonlocal calls
        calls += scores.shape[1]
        return np.array(GAYTON_HAT.margins(scores)[0])

    ladder = learn_ladder(counted, 2, stream(0, 0))
    assert ladder.reached
    assert calls == ladder.calls
    assert list(ladder.levels) == sorted(ladder.levels, reverse=True)
    assert len(ladder.steps) == len(ladder.levels) - 1
    assert all(0.0 < step <= 1.0 for step in ladder.steps)
    batch = climb(counted, 2, ladder, stream(0, 1))
    assert calls == ladder.calls + batch.calls
    assert batch.calls == len(ladder.levels) * REPLICATES * CHAINS * MOVES


def test_failing_cases_follow_the_law_of_failures() -> None:
    # exact: beyond a plane at 3, the mean along its normal is phi(3) / Phi(-3) and across it 0; the states of chains
    # depend on one another, so the scatter is taken from the means of the replicates (false alarm 0.1 % each: t law)
    normal = math.exp(-4.5) / math.sqrt(2 * math.pi) / 1.3498980316e-3
    ladder = learn_ladder(lambda z: 3.0 - z[0], 3, stream(4, 0))
    batch = climb(lambda z: 3.0 - z[0], 3, ladder, stream(4, 1))
    assert np.all(batch.failing[0] > 3.0)
    for row, mean in zip(batch.failing, (normal, 0.0, 0.0), strict=True):
        means = [row[batch.replicate == one].mean() for one in range(REPLICATES)]
        assert np.mean(means) == pytest.approx(mean, abs=4.0 * np.std(means, ddof=1) / 4.0)


def test_a_flat_margin_leads_nowhere() -> None:
    ladder = learn_ladder(lambda z: np.full(z.shape[1], 5.0), 2, stream(0, 0))
    assert not ladder.reached
    assert ladder.flat
    assert ladder.nearest == 5.0


def test_a_margin_that_only_ever_shrinks_is_given_up() -> None:
    ladder = learn_ladder(lambda z: np.exp(-z[0]), 2, stream(0, 0))
    assert not ladder.reached
    assert not ladder.flat
    assert ladder.chance < 1e-15
