"""Rank correlations: the copula's relations, what is drawn, and what is refused."""

from __future__ import annotations

import math
import pickle
import time
from itertools import combinations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.stats import kendalltau, spearmanr

from leadline.errors import SamplingError
from leadline.sampling import (
    DependenceError,
    Discrete,
    Input,
    Law,
    Lognormal,
    Normal,
    Pert,
    RankCorrelation,
    Sampler,
    Triangular,
    rank_correlation,
    score_correlation,
)
from leadline.sampling.copula import factor
from leadline.sampling.law import Array

# exact: Spearman (6/pi) asin(rho/2) and Kendall (2/pi) asin(rho); source: "stats.stackexchange 262061", recomputed to
# 12 digits, tolerance 1e-12
COPULA = [
    (-0.95, -0.945311667605, -0.797834751791),
    (-0.8, -0.785939282607, -0.590334470602),
    (-0.3, -0.287564218623, -0.193973368041),
    (0.0, 0.0, 0.0),
    (0.1, 0.09553279942, 0.0637685608585),
    (0.4, 0.384565301094, 0.261979760869),
    (0.5, 0.482583739531, 0.333333333333),
    (0.7, 0.682910503824, 0.493633377787),
    (0.9, 0.89145613168, 0.712867413743),
    (0.99, 0.988991677913, 0.909893172711),
    (1.0, 1.0, 1.0),
]

# exact: 2 sin(pi r/6); same source
INVERSE = [
    (0.1, 0.104671912486),
    (0.3, 0.31286893008),
    (0.5, 0.517638090205),
    (0.7, 0.716735899091),
    (0.9, 0.907980999479),
]

NAMES = ("a", "b", "c", "d", "e")


def normals(count: int) -> tuple[Input, ...]:
    return tuple(Input(name, Normal(0.0, 1.0)) for name in NAMES[:count])


def sampler_for(ranks: dict[str, float], inputs: tuple[Input, ...] = normals(5), seed: int = 5) -> Sampler:
    pairs = [RankCorrelation(pair[0], pair[1], rank) for pair, rank in ranks.items()]
    return Sampler(inputs, pairs, seed=seed)


def assert_mean_is(values: list[float], expected: float) -> None:
    # Each value is one block of 2^14 cases; standard error from the scatter of 12 blocks, 11 degrees
    # of freedom; 8 standard errors: false alarm 7e-6.
    scatter = np.std(values, ddof=1) / len(values) ** 0.5
    assert abs(np.mean(values) - expected) < 8.0 * scatter


@pytest.mark.parametrize(("rho", "spearman", "_tau"), COPULA)
def test_spearman_of_scores(rho: float, spearman: float, _tau: float) -> None:
    assert rank_correlation(rho) == pytest.approx(spearman, abs=1e-12)
    assert score_correlation(spearman) == pytest.approx(rho, abs=1e-11)


@pytest.mark.parametrize(("rank", "rho"), INVERSE)
def test_scores_for_spearman(rank: float, rho: float) -> None:
    assert score_correlation(rank) == pytest.approx(rho, abs=1e-12)


def test_largest_gap_between_rank_and_score_correlation() -> None:
    # exact: 0.0180831774293, source "computed here", tolerance 1e-9
    rho = np.linspace(0.0, 1.0, 100_001)
    assert np.max(np.abs(rho - rank_correlation(rho))) == pytest.approx(0.0180831774293, abs=1e-9)


@pytest.mark.parametrize(("rho", "spearman", "tau"), [row for row in COPULA if 0.0 < abs(row[0]) < 0.99])
def test_drawn_scores_have_the_rank_correlations(rho: float, spearman: float, tau: float) -> None:
    sampler = sampler_for({"ab": spearman}, normals(2))
    drawn = [sampler.draw(block) for block in range(12)]
    assert_mean_is([float(spearmanr(*xy).statistic) for xy in drawn], spearman)
    assert_mean_is([float(kendalltau(*xy[:, :4096]).statistic) for xy in drawn], tau)
    assert_mean_is([float(np.mean(xy[0] * xy[1])) for xy in drawn], rho)


@pytest.mark.parametrize(
    "laws",
    [(Lognormal(240.0, 2.5), Pert(0.0, 1.0, 9.0)), (Triangular(0.0, 0.0, 1.0), Normal(3.0, 2.0))],
    ids=["lognormal and pert", "triangular and normal"],
)
def test_rank_correlation_holds_whatever_the_continuous_laws(laws: tuple[Law, Law]) -> None:
    inputs = tuple(Input(name, law) for name, law in zip("ab", laws, strict=True))
    sampler = sampler_for({"ab": -0.7}, inputs)
    assert_mean_is([float(spearmanr(*sampler.draw(block)).statistic) for block in range(12)], -0.7)


@pytest.mark.parametrize(
    ("sigmas", "rho", "pearson"),
    [
        # exact: (e^(rho s1 s2)-1)/sqrt((e^(s1^2)-1)(e^(s2^2)-1)), "closed form", tolerance 1e-12
        ((0.1, 0.1), 0.5, 0.498750002604),
        ((0.5, 0.5), 0.5, 0.468790626626),
        ((0.25, 1.0), -0.5, -0.352972535388),
    ],
)
def test_product_moment_correlation_of_lognormals(sigmas: tuple[float, float], rho: float, pearson: float) -> None:
    laws = [Lognormal(1.0, math.exp(sigma)) for sigma in sigmas]
    inputs = tuple(Input(name, law) for name, law in zip("ab", laws, strict=True))
    sampler = sampler_for({"ab": float(rank_correlation(rho))}, inputs)

    def correlation(x: Array) -> float:
        standard = [(row - law.mean) / law.sd for row, law in zip(x, laws, strict=True)]
        return float(np.mean(standard[0] * standard[1]))

    assert_mean_is([correlation(sampler.draw(block)) for block in range(12)], pearson)


def test_steps_weaken_a_rank_correlation() -> None:
    # practice: stated in the module; a two-valued input has ties that carry no rank
    inputs = (Input("a", Discrete((0.0, 1.0), (0.5, 0.5))), Input("b", Normal(0.0, 1.0)))
    seen = float(spearmanr(*sampler_for({"ab": 0.8}, inputs).draw(0)).statistic)
    assert 0.5 < seen < 0.75


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_full_correlation_makes_the_later_input_follow(sign: float) -> None:
    scores = sampler_for({"ac": sign}).scores(0)
    assert np.array_equal(scores[2], sign * scores[0])


def test_a_follower_may_be_correlated_with_others_consistently() -> None:
    scores = sampler_for({"ab": 1.0, "ac": 0.5, "bc": 0.5}).scores(0)
    assert np.array_equal(scores[1], scores[0])
    # n = 2^14, standard error sqrt(1 + rho^2)/128 = 0.009; 5 of them: false alarm 6e-7
    assert np.mean(scores[0] * scores[2]) == pytest.approx(score_correlation(0.5), abs=5.0 * 0.009)


def test_groups_leave_all_other_inputs_alone() -> None:
    free = sampler_for({}).scores(0)
    tied = sampler_for({"bd": 0.6, "ce": 0.0}).scores(0)
    assert [bool(np.array_equal(a, b)) for a, b in zip(free, tied, strict=True)] == [True, True, True, False, True]


def test_an_input_that_joins_a_group_last_leaves_its_members() -> None:
    small = sampler_for({"ab": 0.6}).scores(0)
    large = sampler_for({"ab": 0.6, "be": 0.3}).scores(0)
    assert np.array_equal(small[:4], large[:4])


def test_pair_may_be_named_in_either_order() -> None:
    assert np.array_equal(sampler_for({"ba": 0.6}).draw(0), sampler_for({"ab": 0.6}).draw(0))


@st.composite
def possible_ranks(draw: st.DrawFn) -> Array:
    """Ranks whose score correlations are those of random vectors, so they can hold."""
    size = draw(st.integers(2, 5))
    entries = draw(st.lists(st.floats(-1.0, 1.0), min_size=size * size, max_size=size * size))
    vectors = np.array(entries).reshape(size, size)
    lengths = np.linalg.norm(vectors, axis=1, keepdims=True)
    assume(np.all(lengths > 1e-3))
    correlation = (vectors / lengths) @ (vectors / lengths).T
    return np.asarray(rank_correlation(np.clip(correlation, -1.0, 1.0)))


@settings(max_examples=60)
@given(possible_ranks())
def test_factor_gives_back_every_possible_matrix(ranks: Array) -> None:
    lower = factor(score_correlation(ranks))
    assert lower is not None
    assert np.array_equal(lower, np.tril(lower))
    np.testing.assert_allclose(lower @ lower.T, score_correlation(ranks), atol=1e-5)


def refusal(ranks: dict[str, float]) -> DependenceError | None:
    try:
        sampler_for(ranks, normals(4))
    except DependenceError as error:
        return error
    return None


@settings(max_examples=150)
@given(st.lists(st.integers(-100, 100), min_size=6, max_size=6), st.sets(st.integers(0, 5), min_size=3))
def test_impossible_matrices_are_refused_with_a_repair_that_works(hundredths: list[int], kept: set[int]) -> None:
    pairs = list(combinations("abcd", 2))
    ranks = {"".join(pairs[at]): hundredths[at] / 100.0 for at in sorted(kept)}
    matrix = np.eye(4)
    for pair, rank in ranks.items():
        i, j = "abcd".index(pair[0]), "abcd".index(pair[1])
        matrix[i, j] = matrix[j, i] = rank
    least = float(np.linalg.eigvalsh(score_correlation(matrix))[0])
    error = refusal(ranks)
    if error is None:
        assert least > -1e-9
        return
    assert least < 1e-6
    pair = "".join(error.pair)
    assert ranks[pair] == error.asked
    if error.nearest is not None:
        assert refusal(ranks | {pair: error.nearest}) is None
        short_of_it = 0.02 * error.asked + 0.98 * error.nearest
        assert abs(error.asked - error.nearest) < 0.1 or refusal(ranks | {pair: short_of_it}) is not None


def test_impossible_pair_is_named_with_the_nearest_value() -> None:
    # exact: with rho_ac = 0 and rho_bc = 2 sin(0.15 pi) = 0.907981, rho_ab can reach
    # sqrt(1 - 0.907981^2) = 0.418997, a rank correlation of 0.403059, rounded inwards
    with pytest.raises(DependenceError) as caught:
        sampler_for({"ab": 0.9, "bc": 0.9})
    error = caught.value
    assert isinstance(error, SamplingError)
    assert (error.pair, error.asked, error.nearest) == (("a", "b"), 0.9, 0.403)
    assert "write 0.403 instead of 0.9 for a with b" in str(error)
    # exact: left out, a with c would have to reach 2 x 0.907981^2 - 1 = 0.648859, rank 0.631, rounded inwards
    assert "state a with c, left out and so taken as 0, as 0.632" in str(error)
    assert str(pickle.loads(pickle.dumps(error))) == str(error)  # noqa: S301 - our own bytes


def test_when_no_single_pair_is_enough_all_are_scaled() -> None:
    ranks = {"".join(pair): -0.9 for pair in combinations("abcde", 2)}
    with pytest.raises(DependenceError, match=r"weighs most.*All of them at (\d+) %") as caught:
        sampler_for(ranks)
    assert caught.value.nearest is None
    # exact: five inputs can at most all have score correlation -1/4, rank (6/pi) asin(-1/8) = -0.2394,
    # which is 26.6 % of 0.9
    assert "All of them at 26 % of their values would work." in str(caught.value)
    sampler_for({pair: 0.26 * rank for pair, rank in ranks.items()})


def test_contradictions_with_full_correlation_are_refused() -> None:
    with pytest.raises(DependenceError, match="cannot all hold together"):
        sampler_for({"ab": 1.0, "ac": 0.5, "bc": 0.2})


def test_a_large_impossible_set_is_refused_at_once() -> None:
    names = [f"x{at}" for at in range(100)]
    inputs = [Input(name, Normal(0.0, 1.0)) for name in names]
    pairs = [RankCorrelation(a, b, -0.9) for a, b in combinations(names, 2)]
    start = time.perf_counter()
    with pytest.raises(DependenceError, match="cannot all hold together"):
        Sampler(inputs, pairs, seed=1)
    # Takes 0.05 s; the limit only tells it from a search over all 4950 pairs, which takes minutes.
    assert time.perf_counter() - start < 5.0


def test_other_refusals() -> None:
    with pytest.raises(DependenceError, match="cannot be correlated with itself"):
        RankCorrelation("a", "a", 0.5)
    for rank in (1.01, -1.01, math.nan):
        with pytest.raises(DependenceError, match="Write a number from -1 to 1"):
            RankCorrelation("a", "b", rank)
    with pytest.raises(DependenceError, match="given twice"):
        Sampler(normals(2), [RankCorrelation("a", "b", 0.1), RankCorrelation("b", "a", 0.1)], seed=1)
    with pytest.raises(SamplingError, match="there is no input 'dry_mas'. Did you mean dry_mass"):
        Sampler([Input("dry_mass", Normal(0.0, 1.0)), *normals(1)], [RankCorrelation("dry_mas", "a", 0.1)], seed=1)
