"""Indices from cases already run: exact indices, coverage of the intervals, sums that merge.

Where an interval of confidence 0.9999 must hold an exact index, it fails to for 1 in 10 000 choices of the seed; the
seeds are fixed. Its length is bounded beside it, so that the check can fail.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from types import ModuleType

import numpy as np
import numpy.typing as npt
import pytest
from scipy.special import ndtri

import risk.benchmark_functions as functions
from leadline.risk.given_data import FEWEST_CASES, GivenData, OutputFirstOrder
from leadline.risk.jackknife import GROUPS, jackknife_reach
from leadline.risk.proportion import Interval, replicate_mean
from risk.benchmark_functions import Benchmark

Array = npt.NDArray[np.float64]

SEEDS = 500
ALLOWED = 3.3  # standard errors: a right interval is refused for 1 in 2 000 choices of the seeds


def names_of(rows: int) -> list[str]:
    return [f"x{place}" for place in range(1, rows + 1)]


def only(data: GivenData, confidence: float = 0.95) -> OutputFirstOrder:
    (output,) = data.ranking(names_of(data.counts.shape[1]), ["margin"], confidence)
    return output


def by_input(output: OutputFirstOrder) -> list[Interval]:
    return [each.index for each in sorted(output.indices, key=lambda each: int(each.input[1:]))]


def scores_of(seed: int, d: int, n: int) -> Array:
    return np.random.Generator(np.random.SFC64(seed)).standard_normal((d, n))


# ------------------------------------------------------------------------------------------------ exact indices

EXACT = [
    functions.ishigami(),
    functions.g_function(),
    functions.product_and_term(),
    functions.normal_product(),
    functions.morris_2006(),
    functions.linear([3.0, -2.0, 1.0, 0.0], constant=5.0),
]


@pytest.mark.parametrize("problem", EXACT, ids=lambda each: each.name)
def test_exact_indices_are_found(problem: Benchmark) -> None:
    # exact: closed forms in benchmark_functions; 2^16 cases, half lengths of 4.9 standard errors
    scores = scores_of(3, len(problem.first), 2**16)
    output = only(GivenData.of(scores, problem.margins(scores)), 0.9999)
    assert (output.cases, output.invalid, output.bins, output.reason) == (2**16, 0, 128, None)
    for index, exact in zip(by_input(output), problem.first, strict=True):
        assert index.low <= exact <= index.high
        assert index.high - index.low < 0.05
        assert index.value == pytest.approx(exact, abs=0.015)


def test_the_largest_comes_first_and_the_idle_input_is_told_apart() -> None:
    problem = functions.linear([1.0, 3.0, 0.0, -2.0])
    scores = scores_of(5, 4, 2**14)
    output = only(GivenData.of(scores, problem.margins(scores)))
    assert [each.input for each in output.indices] == ["x2", "x4", "x1", "x3"]
    assert [each.distinguishable for each in output.indices] == [True, True, True, False]


def test_correlated_inputs_are_credited_with_what_they_share() -> None:
    # exact: of a linear margin w z, E[w z | z_i] = (C w)_i z_i, so S_i = (C w)_i^2 / w C w
    correlation = np.array([[1.0, 0.7, 0.0], [0.7, 1.0, 0.0], [0.0, 0.0, 1.0]])
    weights = np.array([1.0, 0.0, 1.0])
    scores = np.linalg.cholesky(correlation) @ scores_of(7, 3, 2**16)
    output = only(GivenData.of(scores, (weights @ scores)[np.newaxis]), 0.9999)
    exact = (correlation @ weights) ** 2 / (weights @ correlation @ weights)
    for index, share in zip(by_input(output), exact, strict=True):
        assert index.low <= share <= index.high
        assert index.value == pytest.approx(share, abs=0.02)


@pytest.mark.parametrize("n", [600, 2**12, 2**17])
def test_a_straight_line_and_a_parabola_are_explained_wholly(n: int) -> None:
    # exact: a margin that is a function of one input has the index 1, however many bins its score is sorted into; what
    # bins alone hide of a parabola is up to 10 %, of which the step to infinitely many leaves a tenth or so
    scores = scores_of(11, 2, n)
    line, parabola = GivenData.of(scores, np.stack([scores[0], scores[0] ** 2])).ranking(names_of(2), ["a", "b"])
    assert line.indices[0].index.value == pytest.approx(1.0, abs=0.004)
    assert parabola.indices[0].index.value == pytest.approx(1.0, abs=0.04 if n < 2**12 else 0.015)
    for output in (line, parabola):
        assert output.indices[0].index.high == 1.0
        assert not output.indices[1].distinguishable


def test_as_another_library_finds(need: Callable[[str], ModuleType]) -> None:
    # cross-checked: SALib 1.6, RBD-FAST (ten harmonics, bias-corrected), from the same cases. Both are consistent; at
    # 2^14 cases either scatters by about 0.006.
    analyze = need("SALib.analyze.rbd_fast").analyze
    problem = functions.ishigami()
    scores = scores_of(13, 3, 2**14)
    margins = problem.margins(scores)
    described = {"num_vars": 3, "names": names_of(3), "bounds": [[-5.0, 5.0]] * 3}
    theirs = analyze(described, scores.T, margins[0], num_resamples=2, seed=1)["S1"]
    ours = by_input(only(GivenData.of(scores, margins)))
    assert [index.value for index in ours] == pytest.approx(theirs, abs=0.02)


# ------------------------------------------------------------------------------------------------ coverage


def uneven_scatter() -> Benchmark:
    """Return z1^3 z2 + z3, whose scatter depends on inputs without a first-order effect; exact: 1/16 for z3 alone."""
    return Benchmark(
        "uneven scatter",
        lambda z: (z[0] ** 3 * z[1] + z[2])[np.newaxis],
        16.0,
        np.array([0.0, 0.0, 0.0625]),
        np.array([0.9375, 0.9375, 0.0625]),
    )


@pytest.mark.parametrize("n", [FEWEST_CASES, 2048])
@pytest.mark.parametrize(
    "problem",
    [functions.ishigami(), functions.g_function((0.0, 1.0, 9.0)), functions.linear([3, 2, 0]), uneven_scatter()],
    ids=lambda each: each.name,
)
def test_intervals_cover_exact_indices(problem: Benchmark, n: int) -> None:
    # exact indices; 500 seeds, so an observed coverage of 95 % has a standard error of 0.97 percentage points. An index
    # of zero is always covered (the interval is cut off there); there it must not be told from zero in more than 2.5 %.
    held, found = np.zeros(3), np.zeros(3)
    for seed in range(SEEDS):
        scores = scores_of(seed, 3, n)
        for each in only(GivenData.of(scores, problem.margins(scores))).indices:
            at = int(each.input[1:]) - 1
            held[at] += each.index.low <= problem.first[at] <= each.index.high
            found[at] += each.distinguishable
    assert (held / SEEDS >= 0.95 - ALLOWED * math.sqrt(0.95 * 0.05 / SEEDS)).all()
    idle = problem.first == 0.0
    assert (found[idle] / SEEDS <= 0.025 + ALLOWED * math.sqrt(0.025 * 0.975 / SEEDS)).all()


def test_intervals_cover_over_latin_hypercubes() -> None:
    # exact indices of a linear margin; cases of one hypercube depend on one another and stay in one group. 300 seeds:
    # standard error 1.26 percentage points.
    problem = functions.linear([3.0, 2.0, 1.0])
    held = np.zeros(3)
    for seed in range(300):
        rng = np.random.Generator(np.random.SFC64(seed))
        strata = rng.permuted(np.broadcast_to(np.arange(128.0), (2 * GROUPS, 3, 128)), axis=2)
        blocks = ndtri((strata + rng.random(strata.shape)) / 128)
        output = only(GivenData.over((block, problem.margins(block)) for block in blocks))
        bounds = by_input(output)
        held += [each.low <= exact <= each.high for each, exact in zip(bounds, problem.first, strict=True)]
    assert (held / 300 >= 0.95 - ALLOWED * math.sqrt(0.95 * 0.05 / 300)).all()


# ------------------------------------------------------------------------------------------------ sums


def test_merged_parts_are_the_whole() -> None:
    # exact: sums over parts, taken about different centres, are the sums over all but for rounding
    scores = scores_of(17, 3, 6000)
    margins = np.stack([scores[0] + 1e3, scores[1] * scores[2]])
    blocks = [(scores[:, at : at + 1500], margins[:, at : at + 1500]) for at in range(0, 6000, 1500)]
    parts = [GivenData.of(*block, block=at) for at, block in enumerate(blocks)]
    whole = GivenData.over(blocks)
    for order in ((0, 1, 2, 3), (3, 1, 0, 2)):
        merged = parts[order[0]]
        for at in order[1:]:
            merged = merged.merge(parts[at])
        assert np.array_equal(merged.counts, whole.counts)
        assert merged.cases[:4].tolist() == [1500] * 4
        for ours, theirs in zip(merged.ranking("abc", "uv"), whole.ranking("abc", "uv"), strict=True):
            assert_same(ours, theirs)


def assert_same(first: OutputFirstOrder, second: OutputFirstOrder) -> None:
    assert [each.input for each in first.indices] == [each.input for each in second.indices]
    for ours, theirs in zip(first.indices, second.indices, strict=True):
        values = (theirs.index.value, theirs.index.low, theirs.index.high)
        assert (ours.index.value, ours.index.low, ours.index.high) == pytest.approx(values, abs=1e-9)


def test_memory_does_not_grow() -> None:
    scores = scores_of(19, 2, 2**14)
    one = GivenData.of(scores, scores[:1])
    many = GivenData.over((scores, scores[:1]) for _ in range(20))
    assert (one.counts.nbytes, one.sums.nbytes) == (many.counts.nbytes, many.sums.nbytes)
    assert many.cases.sum() == 20 * 2**14


def test_every_case_is_counted_once_whatever_its_score() -> None:
    scores = np.array([[-40.0, -4.0, -0.0, 0.0, 3.9999, 4.0, 12.0, *np.linspace(-5.0, 5.0, 993)]])
    data = GivenData.of(scores, np.ones((1, 1000)))
    assert data.counts.sum() == 1000
    assert data.counts.sum(axis=0)[0, 0] >= 2
    assert data.counts.sum(axis=0)[0, -1] >= 3


def test_invalid_cases_are_left_out_and_counted() -> None:
    scores = scores_of(23, 2, 4096)
    margins = np.stack([scores[0], scores[1]])
    spoiled = np.insert(margins, [5, 900, 4000], np.array([[np.nan, 1.0, np.inf], [0.0, -np.inf, 1e300]]), axis=1)
    data = GivenData.of(np.insert(scores, [5, 900, 4000], 3.0, axis=1), spoiled)
    clean = GivenData.of(scores, margins)
    assert (data.invalid, data.cases.sum()) == (3, 4096)
    for ours, theirs in zip(data.ranking("ab", "uv"), clean.ranking("ab", "uv"), strict=True):
        assert ours.invalid == 3
        assert_same(ours, theirs)


def test_a_large_constant_changes_nothing() -> None:
    scores = scores_of(29, 2, 4096)
    near = only(GivenData.of(scores, scores[:1] + 0.5 * scores[1:]))
    far = only(GivenData.of(scores, scores[:1] + 0.5 * scores[1:] + 1e7))
    assert_same(far, near)


def test_no_index_without_cause() -> None:
    scores = scores_of(31, 2, FEWEST_CASES)
    margins = np.stack([np.full(FEWEST_CASES, 0.1), scores[0]])
    steady, varied = GivenData.of(scores, margins).ranking("ab", "uv")
    assert (steady.indices, steady.reason) == ((), "The margin did not vary.")
    assert len(varied.indices) == 2
    few = GivenData.of(scores[:, 1:], margins[:, 1:]).ranking("ab", "uv")
    assert [each.indices for each in few] == [(), ()]
    assert few[0].reason == "Inputs are ranked from 512 valid cases or more; there are 511."
    spoiled = GivenData.of(scores, np.full((1, FEWEST_CASES), np.nan))
    assert (only(spoiled).reason, spoiled.invalid) == (
        "Inputs are ranked from 512 valid cases or more; there are 0.",
        512,
    )


def test_margin_that_varies_in_one_group_of_cases_only_has_no_bounds() -> None:
    scores = scores_of(47, 1, 1600)
    margins = np.where(np.arange(1600) < 100, scores, 0.0)
    index = only(GivenData.of(scores, margins)).indices[0].index
    assert (index.low, index.high) == (0.0, 1.0)


def test_one_block_that_stays_whole_gives_no_bounds() -> None:
    scores = scores_of(37, 1, 1000)
    index = only(GivenData.of(scores, scores, block=0)).indices[0].index
    assert (index.low, index.high) == (0.0, 1.0)
    assert index.value == pytest.approx(1.0, abs=0.01)


def test_what_does_not_fit_is_refused() -> None:
    data = GivenData.of(np.zeros((2, 600)), np.zeros((1, 600)))
    with pytest.raises(ValueError, match="2 inputs and 1 margins need as many names, not 1 and 1"):
        data.ranking(["a"], ["u"])
    with pytest.raises(ValueError, match="confidence must lie between 0 and 1"):
        data.ranking(["a", "b"], ["u"], 1.0)
    with pytest.raises(ValueError, match="different inputs or margins"):
        data.merge(GivenData.of(np.zeros((3, 600)), np.zeros((1, 600))))
    with pytest.raises(ValueError, match="at least one block"):
        GivenData.over([])
    with pytest.raises(ValueError, match=r"must be \(d, n\) and \(r, n\)"):
        GivenData.of(np.zeros((2, 600)), np.zeros((1, 599)))


# ------------------------------------------------------------------------------------------------ jackknife


def test_jackknife_of_a_mean_is_the_t_interval_of_group_means() -> None:
    # exact: leaving out groups of equal size, the jackknife variance of a mean is that of the group means over their
    # number
    groups = np.random.default_rng(41).normal(2.0, 1.0, (8, 50))
    means = groups.mean(axis=1)
    left_out = (means.sum() - means) / 7
    reach = jackknife_reach(means.mean(), left_out, np.full(8, 50), 0.9)
    known = replicate_mean(means, 0.9)
    assert reach == pytest.approx((known.high - known.low) / 2, rel=1e-12)


def test_jackknife_covers_with_groups_of_unequal_size() -> None:
    # exact mean 0; 2 000 seeds: standard error 0.49 percentage points. Sizes as unequal as whole blocks make them.
    sizes = np.array([1, 1, 1, 2, 2, 2, 2, 2])
    sums = np.random.default_rng(43).standard_normal((2000, 8)) * np.sqrt(sizes)
    totals = sums.sum(axis=1)
    left_out = (totals[:, np.newaxis] - sums) / (sizes.sum() - sizes)
    reach = jackknife_reach(totals / sizes.sum(), left_out.T, sizes, 0.95)
    held = np.mean(np.abs(totals / sizes.sum()) <= reach)
    assert abs(held - 0.95) <= ALLOWED * math.sqrt(0.95 * 0.05 / 2000)
