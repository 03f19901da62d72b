"""What is reported of drivers: names and ranks, groups, and why indices are absent."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leadline.risk.drivers import LEAST_FAILURES, Driver, Drivers, OutputDrivers, find_drivers
from risk.benchmark_functions import Array, ishigami, linear

CASES = 2**10
NAMES = ("tank", "engine", "mass", "leak")
WEIGHTS = (1.0, 3.0, 2.0, 0.0)


def page(inputs: int, seed: int = 7, cases: int = CASES) -> tuple[Array, Array]:
    rng = np.random.Generator(np.random.SFC64(seed))
    return rng.standard_normal((inputs, cases)), rng.standard_normal((inputs, cases))


def only(drivers: Drivers) -> OutputDrivers:
    return drivers.outputs[0]


def named(output: OutputDrivers) -> dict[str, Driver]:
    assert output.reason is None
    return {driver.name: driver for driver in output.drivers}


def linear_drivers(**options: object) -> Drivers:
    given_options = {"inputs": NAMES, "requirements": ["reserve"], **options}
    return find_drivers(linear(WEIGHTS, 3.0).margins, [page(4)], **given_options)  # type: ignore[arg-type]


# ---------------------------------------------------------------------------------------------------- rank and names


def test_largest_total_index_comes_first() -> None:
    # exact: squares of the weights; 1 024 cases tell 9, 4, 1 and 0 of 14 apart
    output = only(linear_drivers())
    assert [driver.name for driver in output.drivers] == ["engine", "mass", "tank", "leak"]
    assert [driver.rank for driver in output.drivers] == [(1, 1, 1), (2, 2, 2), (3, 3, 3), (4, 4, 4)]


@given(order=st.permutations(range(4)), fresh=st.permutations(("ash", "birch", "cedar", "dogwood")))
@settings(max_examples=30)
def test_ranking_depends_neither_on_names_nor_on_order(order: list[int], fresh: list[str]) -> None:
    # exact: the same cases give the same indices, whatever the inputs are called and however they are listed
    known = linear_drivers()
    renamed = dict(zip(NAMES, fresh, strict=True))
    first, second = page(4)
    back = np.argsort(order)
    found = find_drivers(
        lambda z: linear(WEIGHTS, 3.0).margins(z[back]),
        [(first[order], second[order])],
        inputs=[renamed[NAMES[row]] for row in order],
        requirements=["reserve"],
    )
    for before, after in zip(known.outputs, found.outputs, strict=True):
        assert [replace(driver, name=renamed[driver.name], remark="") for driver in before.drivers] == [
            replace(driver, remark="") for driver in after.drivers
        ]


def test_equal_indices_stand_in_order_of_names_and_share_their_places() -> None:
    # exact: three inputs without effect, each with an index of 0
    names = ["pear", "apple", "fig", "quince"]
    output = only(find_drivers(linear((0.0, 0.0, 1.0, 0.0)).margins, [page(4)], inputs=names, requirements=["reserve"]))
    assert [driver.name for driver in output.drivers] == ["fig", "apple", "pear", "quince"]
    assert [driver.rank for driver in output.drivers] == [(1, 1, 1), (2, 2, 4), (2, 3, 4), (2, 4, 4)]


def test_ranks_are_in_doubt_where_cases_are_few() -> None:
    # exact: equal weights, so no place is better than another; false alarm of a 99.99 % bound 1e-4 for each input
    output = only(
        find_drivers(linear((1.0,) * 4).margins, [page(4)], inputs=NAMES, requirements=["reserve"], confidence=0.9999)
    )
    assert [(driver.rank[0], driver.rank[2]) for driver in output.drivers] == [(1, 4)] * 4


def test_an_input_without_effect_is_told_in_words() -> None:
    leak = named(only(linear_drivers()))["leak"]
    assert (leak.first.value, leak.total.value, leak.total.low, leak.distinguishable) == (0.0, 0.0, 0.0, False)
    assert leak.remark == "leak changed reserve in none of 1 024 cases."
    engine = named(only(linear_drivers()))["engine"]
    assert (engine.distinguishable, engine.remark, engine.clipped) == (True, "", False)


def test_an_effect_seen_in_too_few_cases_is_not_told_from_zero() -> None:
    # An input that matters beyond 2.9 of its neighbour only: in about 2 of 1 024 cases, in 2 of 64 groups.
    def margins(z: Array) -> Array:
        return np.where(z[:1] > 2.9, z[:1] + z[1:2], z[:1])

    rare = named(only(find_drivers(margins, [page(2)], inputs=("often", "seldom"), requirements=["reserve"])))["seldom"]
    assert 0.0 < rare.total.value < rare.total.high
    assert (rare.total.low, rare.distinguishable) == (0.0, False)
    assert rare.remark == "The effect of seldom on reserve cannot be told from zero with 1 024 cases."


@pytest.mark.parametrize("seed", range(5))
def test_no_index_is_negative_and_what_was_moved_is_marked(seed: int) -> None:
    # The first-order index of the third input is 0 (exact), so its estimate is negative about every other time.
    function = ishigami()
    found = find_drivers(
        function.margins, [page(3, seed)], inputs=function.inputs, requirements=["reserve"], confidence=0.9999
    )
    for output in found.outputs:
        for driver in output.drivers:
            for index in (driver.first, driver.total):
                assert 0.0 <= index.low <= index.value <= index.high <= 1.0
            assert driver.clipped == (driver.first.value == 0.0)
    third = named(only(found))["x3"]
    assert third.first.low == 0.0
    assert third.distinguishable


def test_some_estimates_are_moved_to_zero() -> None:
    function = ishigami()
    runs = [
        find_drivers(function.margins, [page(3, seed)], inputs=function.inputs, requirements=["reserve"])
        for seed in range(12)
    ]
    moved = [named(only(run))["x3"].clipped for run in runs]
    assert 0 < sum(moved) < 12  # a sign that is even either way: false alarm 2 in 4 096


def test_interval_says_how_it_was_made() -> None:
    margin, failure, _ = linear_drivers().outputs
    assert margin.drivers[0].total.confidence == 0.95
    assert margin.drivers[0].total.method == (
        "t interval from the jackknife that leaves out one of 64 groups of cases at a time (63 degrees of freedom), "
        "95 % confidence"
    )
    assert failure.drivers[-1].total.method.endswith(
        ", widened to the Clopper-Pearson interval of the pairs that differ, since few do or few agree"
    )


# ------------------------------------------------------------------------------------------------------------ groups


def test_all_inputs_together_take_everything() -> None:
    # exact: with every row swapped c = b, so the first-order index is 1 - r² and the total 1 - r, r the noise between
    # A and B; interval of 99.9999 %
    groups = [(0, 1, 2, 3)]
    everything = only(linear_drivers(inputs=["all"], groups=groups, confidence=0.999999)).drivers[0]
    assert everything.first.value == pytest.approx(1.0, abs=0.04)
    assert everything.first.high == 1.0
    assert everything.total.low < 1.0 <= everything.total.high


def test_group_of_a_linear_function_has_the_sum_of_its_inputs_indices() -> None:
    # exact: 9 + 1 and 4 of 14; intervals of 99.99 %, four of them: false alarm 4e-4
    found = named(only(linear_drivers(inputs=["burns", "rest"], groups=[[1, 0], [3, 2]], confidence=0.9999)))
    for name, share in (("burns", 10 / 14), ("rest", 4 / 14)):
        for index in (found[name].first, found[name].total):
            assert index.low <= share <= index.high


def test_dependent_inputs_are_frozen_together() -> None:
    # exact: two rows that the function adds up are one normal input of variance 2, against one of variance 2
    def margins(z: Array) -> Array:
        total: Array = z[:1] + z[1:2] + np.sqrt(2.0) * z[2:3]
        return total

    found = find_drivers(
        margins,
        [page(3)],
        inputs=["pair", "single"],
        requirements=["reserve"],
        groups=[(0, 1), (2,)],
        confidence=0.9999,
    )
    for driver in only(found).drivers:
        assert driver.total.low <= 0.5 <= driver.total.high
    assert found.evaluations == 4 * CASES


# ---------------------------------------------------------------------------------------------------- absent indices


def test_constant_margin_has_no_indices() -> None:
    found = find_drivers(
        lambda z: np.stack([z[0], np.full(z.shape[1], 0.1)]),
        [page(1)],
        inputs=["only"],
        requirements=["reserve", "ballast"],
    )
    ballast = found.outputs[1]
    assert (ballast.drivers, ballast.cases) == ((), CASES)
    assert ballast.reason == "ballast is the same in every case: there is no variance to share out among inputs."
    assert found.outputs[0].reason is None


def test_rounding_alone_is_no_variance() -> None:
    # a large number to which what is added is lost, but for the last bit
    found = find_drivers(lambda z: 1e9 + 1e-7 * z, [page(1)], inputs=["only"], requirements=["reserve"])
    assert "no variance" in str(only(found).reason)


def test_large_mean_costs_no_accuracy() -> None:
    # exact: the indices are those of the margin without its mean, which 10 digits of it leave with 6
    def offset(z: Array) -> Array:
        return 1e9 + linear(WEIGHTS, 3.0).margins(z)

    far = find_drivers(offset, [page(4)], inputs=NAMES, requirements=["reserve"])
    for near, other in zip(only(linear_drivers()).drivers, only(far).drivers, strict=True):
        assert (other.first.value, other.total.value) == pytest.approx((near.first.value, near.total.value), abs=1e-6)


@pytest.mark.parametrize(
    ("sign", "counted"), [(1.0, "failed in {} of 2 048 cases"), (-1.0, "was met in {} of 2 048 cases")]
)
def test_rare_outcomes_have_no_indices(sign: float, counted: str) -> None:
    # exact: counted here in the two samples; about 2 of 2 048 lie beyond 3.1
    samples = page(1)
    beyond = sum(int(np.count_nonzero(sample > 3.1)) for sample in samples)
    assert beyond < LEAST_FAILURES
    margin, failure, whole = find_drivers(
        lambda z: sign * (3.1 - z), [samples], inputs=["only"], requirements=["reserve"]
    ).outputs
    assert margin.reason is None
    assert failure.failures == (beyond if sign > 0 else 2 * CASES - beyond)
    assert failure.drivers == whole.drivers == ()
    assert counted.format(beyond) in str(failure.reason)
    assert str(failure.reason).startswith("reserve ")
    assert str(whole.reason).startswith("At least one requirement ")


def test_margin_that_varies_in_one_group_only_has_no_indices() -> None:
    def margins(z: Array) -> Array:
        return np.where(np.arange(z.shape[1]) == 5, z, 0.0)

    found = only(find_drivers(margins, [page(1)], inputs=["only"], requirements=["reserve"]))
    assert found.reason == "reserve varies in too few cases for an index. Evaluate more cases."
