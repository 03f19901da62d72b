"""Options flown on the draws of the base."""

from __future__ import annotations

import pytest

from leadline.run.compare import compare
from leadline.run.engine import Control, Request, compute
from leadline.run.paired import Joint
from leadline.run.result import CompareResult
from leadline.sampling import Design
from leadline.study import loads
from run.ferries import BLOCK, FERRY, ferry


@pytest.fixture(scope="module", params=[Design.INDEPENDENT, Design.LATIN], ids=str)
def compared(request: pytest.FixtureRequest) -> CompareResult:
    return compare(ferry(), Request(40_000, seed=3, design=request.param))


def test_an_option_equal_to_the_base_differs_in_no_case(compared: CompareResult) -> None:
    same = compared.options[2]
    assert same.name == "as before"
    assert same.chance == compared.options[0].chance
    assert same.difference is not None
    assert (same.difference.value, same.difference.option_only, same.difference.base_only) == (0.0, 0, 0)  # exact
    assert same.difference.low <= 0 <= same.difference.high
    assert "the same in every case" in same.sentence


def test_joint_counts_add_up(compared: CompareResult) -> None:
    base, light, _ = compared.options
    found = light.difference
    assert found is not None
    assert found.both + found.option_only == light.cases.succeeded  # exact
    assert found.both + found.base_only == base.cases.succeeded
    assert found.both + found.option_only + found.base_only + found.neither == base.cases.total
    assert found.value == pytest.approx(light.chance.value - base.chance.value, abs=1e-12)
    assert found.low < found.value < found.high


def test_common_draws_tell_more_than_separate_runs(compared: CompareResult) -> None:
    base, light, _ = compared.options
    assert light.difference is not None
    apart = (base.chance.high - base.chance.low) + (light.chance.high - light.chance.low)
    assert light.difference.high - light.difference.low < apart / 1.4  # independent runs: the root of two at best


def test_each_side_is_the_run_on_its_own(compared: CompareResult) -> None:
    alone = compute(ferry().with_option("light"), Request(40_000, seed=3, design=Design(compared.design))).result
    light = compared.options[1]
    assert light.cases == alone.cases
    assert light.chance == alone.chance
    assert light.digest == alone.study.digest
    assert light.first_failure == alone.first_failures[0]


def test_requirements_that_separate_an_option_are_counted_on_the_same_cases(compared: CompareResult) -> None:
    base, light, same = compared.options
    assert (base.separations, base.where_base_fails, same.separations) == ((), None, ())
    chances = {row.name: {each.name: each.chance.value for each in row.requirements} for row in (base, light)}
    assert {each.requirement for each in light.separations} >= {"reserve"}
    for each in light.separations:
        expected = chances["light"][each.requirement] - chances[None][each.requirement]
        assert each.difference.value == pytest.approx(expected, abs=1e-12)  # exact: the same counts
        assert each.required == "by both"
    sizes = [abs(each.difference.value) for each in light.separations]
    assert sizes == sorted(sizes, reverse=True)
    assert f"{light.separations[0].requirement} separates them most" in light.sentence


def test_where_the_base_fails_is_counted_among_its_failures(compared: CompareResult) -> None:
    base, light, same = compared.options
    assert light.difference is not None
    assert light.where_base_fails is not None
    failing = base.cases.total - base.cases.succeeded
    assert light.where_base_fails.value == pytest.approx(light.difference.option_only / failing, abs=1e-12)  # exact
    assert same.where_base_fails is not None
    assert same.where_base_fails.value == 0.0


def test_a_requirement_of_one_side_only_is_met_on_the_other() -> None:
    bare = FERRY.replace("  light: {vehicle", "  free: {requirements.reserve: null}\n  light: {vehicle")
    free = compare(loads(bare), Request(BLOCK), options=["free"]).options[1]
    (reserve,) = [each for each in free.separations if each.requirement == "reserve"]
    assert reserve.required == "by the base only"
    assert (reserve.difference.base_only, reserve.difference.neither) == (0, 0)  # exact
    assert reserve.difference.option_only > 0


def test_only_the_options_asked_for() -> None:
    compared = compare(ferry(), Request(BLOCK), options=["light"])
    assert [row.name for row in compared.options] == [None, "light"]
    assert CompareResult.from_json(compared.to_json()) == compared


def test_a_stopped_comparison_is_partial() -> None:
    asked = iter([False, False, True])
    compared = compare(ferry(), Request(100_000), control=Control(stopped=lambda: next(asked, True)))
    assert compared.partial
    assert compared.options[0].cases.total in {BLOCK, 2 * BLOCK}


def test_joint_merge_adds_up() -> None:
    one, two = Joint(5, 1, 2, 3, 1, -1, 1), Joint(4, 3, 0, 4, 1, 3, 9)
    assert one.merge(two) == Joint(9, 4, 2, 7, 2, 2, 10)  # exact
