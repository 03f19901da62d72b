"""The value of one number that gives the wanted chance: against order statistics and closed forms."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from leadline.risk import allowed_failures, clopper_pearson, judge
from leadline.risk.acceptance import Verdict
from leadline.risk.sizing import Counts, Prefer, Question, Sizing, Wording, size

Array = npt.NDArray[np.float64]

WORDING = Wording("the load", lambda x: f"{x:.2f} t", ("reserve", "fill", "ignition"))
RNG = np.random.default_rng(20_340_302)


def counting(margins: Callable[[float], Array]) -> Callable[[float], Counts]:
    """Turn margins (r, n) for a value into counts."""

    def counts(x: float) -> Counts:
        failed = ~(margins(x) >= 0)
        number = failed.sum(axis=0)
        return Counts(
            failed.shape[1], int((number == 0).sum()), 0, failed.sum(axis=1), (failed & (number == 1)).sum(axis=1)
        )

    return counts


def at_least(needed: Array) -> Callable[[float], Counts]:
    return counting(lambda x: (x - needed)[None])


def between(needed: Array, room: Array) -> Callable[[float], Counts]:
    return counting(lambda x: np.stack([x - needed, room - x]))


def assert_is(found: float | None, exact: float, sizing: Sizing) -> None:
    """Assert that the value found lies above the exact edge, by no more than the resolution."""
    assert found is not None
    assert exact <= found <= exact + sizing.question.resolution * (1 + 1e-9)


@pytest.mark.parametrize(
    ("cases", "chance", "confidence"), [(400, 0.95, 0.9), (20_000, 0.95, 0.9), (5_000, 0.997, 0.6)]
)
def test_a_linear_budget_needs_an_order_statistic(cases: int, chance: float, confidence: float) -> None:
    # exact: success from X_i on, so the load shown is the value of rank n - (failures allowed), Wilks 1941; the upper
    # bound reaches the chance from the rank that would show the chance of failure, and the estimate from ceil(p n)
    needed = 40 + 3 * RNG.standard_normal((4, cases)).sum(axis=0) / 2
    sizing = size(at_least(needed), Question(20, 60, chance, confidence), WORDING)
    ordered = np.sort(needed)
    allowed = allowed_failures(cases, chance, confidence)
    refuting = allowed_failures(cases, 1 - chance, confidence)
    assert allowed is not None
    assert refuting is not None
    assert_is(sizing.answer, ordered[cases - allowed - 1], sizing)
    # two readings between tried values, within the resolution on either side
    assert sizing.likely == pytest.approx(ordered[math.ceil(chance * cases - 1e-9) - 1], abs=sizing.question.resolution)
    assert sizing.at_best == pytest.approx(ordered[refuting], abs=sizing.question.resolution)
    # exact: required load mu + sigma Phi^-1(p); 4 standard errors of a sample quantile, sqrt(p q / n) / density
    normal = scipy.stats.norm(40, 3)
    truth, spread = normal.ppf(chance), math.sqrt(chance * (1 - chance) / cases)
    assert sizing.likely == pytest.approx(truth, abs=4 * spread / normal.pdf(truth))
    assert sizing.calls <= 40


def test_the_answer_is_no_less_than_the_truth_as_often_as_asked() -> None:
    # exact: P(X_(k) >= quantile) is the binomial sum that allowed_failures keeps at 90 % or more; 1000 seeds, standard
    # error 0.95 points, 3.3 of them allowed (false alarm 1 in 2000); the same for the other bound
    truth = float(scipy.stats.norm.ppf(0.9))
    question = Question(-4, 6, 0.9, 0.9, tolerance=1e-3)
    held = np.zeros(2)
    for seed in range(1000):
        sizing = size(at_least(np.random.default_rng(seed).standard_normal(200)), question, WORDING)
        assert sizing.answer is not None
        assert sizing.at_best is not None
        held += (sizing.answer >= truth, sizing.at_best - question.resolution <= truth)
    assert (held / 1000 >= 0.9 - 3.3 * math.sqrt(0.09 / 1000)).all()


def test_a_load_by_the_rocket_equation() -> None:
    # exact: m_p = m_d (exp(dv / ve) - 1); of a normal cost the quantile goes through the monotone equation
    dry, exhaust = 18.4, 4383.6
    cost = 4200 + 60 * RNG.standard_normal(50_000)
    needed = dry * np.expm1(cost / exhaust)
    sizing = size(at_least(needed), Question(20, 40, 0.95, 0.9), WORDING)
    assert_is(sizing.answer, np.sort(needed)[50_000 - (allowed_failures(50_000, 0.95, 0.9) or 0) - 1], sizing)
    truth = dry * math.expm1((4200 + 60 * float(scipy.stats.norm.ppf(0.95))) / exhaust)
    assert sizing.likely == pytest.approx(truth, abs=0.05)  # 3 standard errors of the quantile: 0.04 t, and resolution


def test_a_cost_without_spread_has_one_edge() -> None:
    # exact: the closed form; all three levels are crossed there
    needed = 18.4 * math.expm1(4200 / 4383.6)
    sizing = size(at_least(np.full(100, needed)), Question(20, 40, 0.95, 0.9), WORDING)
    assert_is(sizing.answer, needed, sizing)
    assert sizing.likely == pytest.approx(needed, abs=sizing.question.resolution)
    assert sizing.at_best == pytest.approx(needed, abs=sizing.question.resolution)
    assert sizing.chance.value == 1


@pytest.mark.parametrize("prefer", list(Prefer))
def test_both_ends_of_a_range(prefer: Prefer) -> None:
    # exact: no case fails both, so the two edges are order statistics of what is needed and of the room
    needed, room = 40 + RNG.standard_normal(4000), 55 + RNG.standard_normal(4000)
    sizing = size(between(needed, room), Question(20, 80, 0.95, 0.9, prefer=prefer), WORDING)
    allowed = allowed_failures(4000, 0.95, 0.9) or 0
    ((low, high),) = sizing.met
    assert_is(low, np.sort(needed)[4000 - allowed - 1], sizing)
    assert_is(-high, -np.sort(room)[allowed], sizing)
    assert sizing.answer == (low if prefer is Prefer.SMALLEST else high)
    assert sizing.limits == (0, 1)
    assert "must lie between" in sizing.sentence
    assert sizing.sentence.endswith("just below, reserve fails most; just above, fill fails most.")


@pytest.mark.parametrize("centre", [33.0, 41.7, 46.1])
def test_a_narrow_range_between_two_values_of_the_grid_is_found(centre: float) -> None:
    needed, room = centre - 0.1 + 0.01 * RNG.standard_normal(1000), centre + 0.1 + 0.01 * RNG.standard_normal(1000)
    sizing = size(between(needed, room), Question(20, 80, 0.95, 0.9), WORDING)
    assert all(counts.succeeded == 0 for _, counts in sizing.points if abs(_ - centre) > 0.2)
    assert sizing.answer is not None
    assert sizing.met[0][0] < centre < sizing.met[0][1]


def test_what_holds_the_chance_down_is_named() -> None:
    # exact by construction: 8 % never ignite, independently of the load, which costs another few where it fits best
    cases = 4000
    needed, room = 40 + RNG.standard_normal(cases), 46 + RNG.standard_normal(cases)
    ignites = np.where(np.arange(cases) % 25 < 2, -1.0, 1.0)
    counts = counting(lambda x: np.stack([x - needed, room - x, ignites]))
    sizing = size(counts, Question(20, 80, 0.95, 0.9), WORDING)
    best = counts(43.0)  # halfway, where the two fail least together
    assert (sizing.answer, sizing.met) == (None, ())
    assert sizing.best == pytest.approx(43, abs=0.7)
    assert sizing.chance.value >= best.succeeded / cases - 1e-3
    assert sizing.cap is not None
    assert (sizing.cap.requirement, sizing.cap.failures) == (2, 320)
    there = np.mean((needed <= sizing.best) & (room >= sizing.best))
    assert sizing.cap.chance_without.value == there
    assert sizing.judgement.verdict is Verdict.NO
    assert sizing.sentence.startswith("the load: no value from 20.00 t to 80.00 t that was tried shows 95 %")
    assert "there ignition fails most, and without it the chance would be 99." in sizing.sentence


@pytest.mark.parametrize("high", [10, 1000])
def test_whole_numbers_are_found_exactly(high: int) -> None:
    # exact: 5 flights or more with chance 1/2, 7 or more with chance 0.9, 8 with chance 1, in just these shares
    flights = np.repeat([5.0, 7.0, 8.0], [500, 400, 100])
    question = Question(0.5, high + 0.3, 0.85, 0.9, whole=True)
    sizing = size(at_least(flights), question, replace(WORDING, words="{:.0f} flights".format))
    assert (sizing.answer, sizing.likely, sizing.at_best) == (7, 7, 7)
    assert list(sizing.met) == [(7, high)]
    assert sizing.chance.value == 0.9
    assert all(x == round(x) for x, _ in sizing.points)
    assert sizing.sentence.startswith(
        "the load must be at least 7 flights for 85 % with 90 % confidence: at 7 flights,"
    )
    assert size(at_least(flights), replace(question, chance=0.95), WORDING).answer == 8


def test_the_most_that_may_be() -> None:
    # exact: an order statistic from the other side
    limit = 30 + RNG.standard_normal(2000)
    sizing = size(counting(lambda x: (limit - x)[None]), Question(0, 60, 0.9, 0.9, prefer=Prefer.LARGEST), WORDING)
    assert_is(-(sizing.answer or 0), -np.sort(limit)[allowed_failures(2000, 0.9, 0.9) or 0], sizing)
    assert sizing.likely is not None
    assert sizing.at_best is not None
    assert (sizing.answer or 0) < sizing.likely < sizing.at_best
    assert "may be at most" in sizing.sentence


def test_two_ranges_are_told_apart() -> None:
    gap = between(np.full(200, 20.0), np.full(200, 30.0)), between(np.full(200, 60.0), np.full(200, 70.0))
    found = size(lambda x: gap[x > 45](x), Question(0, 100, 0.95, 0.9, budget=60), WORDING)
    assert [tuple(np.round(run)) for run in found.met] == [(20, 30), (60, 70)]
    assert found.answer == pytest.approx(20, abs=0.011)
    assert "between 20.0" in found.sentence
    assert " or between 60.0" in found.sentence


def test_a_range_that_meets_it_throughout_has_no_edges() -> None:
    sizing = size(at_least(np.zeros(100)), Question(20, 40, 0.95, 0.9), WORDING)
    assert (sizing.answer, sizing.likely, sizing.at_best, sizing.limits) == (20, None, None, (None, None))
    assert (sizing.resolution, sizing.cap, sizing.calls) == (0, None, 13)
    assert "may take any value from 20.00 t to 40.00 t" in sizing.sentence


def test_too_few_cases_are_named_as_the_reason() -> None:
    # exact: ln 0.1 / ln 0.95 = 44.9, so 45 cases at the least
    sizing = size(at_least(np.linspace(20, 30, 20)), Question(0, 60, 0.95, 0.9), WORDING)
    assert sizing.answer is None
    assert sizing.likely == pytest.approx(np.linspace(20, 30, 20)[18], abs=0.006)
    assert sizing.sentence.endswith("more cases than these could show it (without any failure it takes 45).")


@given(
    seed=st.integers(0, 999),
    cases=st.sampled_from([30, 300, 3000]),
    centre=st.floats(0, 100),
    width=st.floats(1e-3, 50),
    room=st.floats(-20, 80),
    budget=st.integers(13, 60),
    whole=st.booleans(),
)
def test_whatever_is_asked_the_answer_was_tried_and_shows_it(
    seed: int, cases: int, centre: float, width: float, room: float, budget: int, *, whole: bool
) -> None:
    z = np.random.default_rng(seed).standard_normal((2, cases))
    counts = between(centre + width * z[0], centre + room + width * z[1])
    sizing = size(counts, Question(0, 100, 0.9, 0.9, budget=budget, whole=whole), WORDING)
    tried = dict(sizing.points)
    assert sizing.calls == len(tried) <= budget
    for x in {end for run in sizing.met for end in run}:
        assert judge(tried[x].succeeded, cases, 0.9, 0.9).verdict is Verdict.YES
    assert (sizing.answer is None) == (not sizing.met)
    assert sizing.chance.value == tried[sizing.at].succeeded / cases
    assert tried[sizing.best].succeeded == max(each.succeeded for each in tried.values())
    if sizing.answer is not None and sizing.likely is not None and sizing.at_best is not None:
        assert sizing.at_best <= sizing.likely + 1e-9
        assert sizing.likely <= sizing.answer + 1e-9
    if budget >= 55 and sizing.met:
        assert sizing.resolution <= sizing.question.resolution * (1 + 1e-9)


def test_the_bounds_are_those_it_is_judged_by() -> None:
    sizing = size(at_least(np.arange(1000.0)), Question(0, 1000, 0.9, 0.95), WORDING)
    assert (sizing.chance.low, sizing.chance.high) == (sizing.judgement.low, sizing.judgement.high)
    # exact: two one-sided 95 % bounds hold 90 % between them
    assert sizing.chance.confidence == pytest.approx(0.9)
    two_sided = clopper_pearson(round(sizing.chance.value * 1000), 1000, 0.9)
    assert sizing.chance.low == pytest.approx(two_sided.low, rel=1e-12)
    assert sizing.chance.low >= 0.9


@pytest.mark.parametrize(
    "change",
    [
        {"low": 60.0},
        {"high": math.nan},
        {"chance": 1.0},
        {"confidence": 0.0},
        {"grid": 2},
        {"budget": 12},
        {"tolerance": 0.0},
        {"low": 1.2, "high": 1.9, "whole": True},
    ],
)
def test_impossible_questions_are_refused(change: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="must|do not fit"):
        Question(**{"low": 0.0, "high": 60.0, "chance": 0.9, "confidence": 0.9} | change)  # type: ignore[arg-type]


def test_values_tried_on_different_cases_are_refused() -> None:
    with pytest.raises(ValueError, match="the same cases"):
        size(lambda x: at_least(np.zeros(10 + int(x)))(x), Question(0, 60, 0.9, 0.9), WORDING)
