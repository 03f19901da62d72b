"""Drivers of a study whose margins are linear, so that every index has a closed form."""

from __future__ import annotations

import pytest

from conftest import need
from leadline.run.answers import DriversOf, DriversResult
from leadline.run.drivers import Extent, drivers
from leadline.run.engine import Control, Request, compute
from leadline.study import loads
from run.ferries import BLOCK
from run.hopper import BOUND_SD_KG, DRY_SD_KG, HOPPER, SLOPE, hopper

DRY, BOUND, WAIT = "vehicle.hopper.dry_mass", "requirements.reserve.at_least", "legs.wait.lasts"


@pytest.fixture(scope="module")
def found() -> DriversResult:
    return drivers(hopper(), Extent(cases=40_000, shapley=True))


def output(found: DriversResult, name: str, kind: str) -> DriversOf:
    (one,) = [each for each in found.outputs if (each.output, each.kind) == (name, kind)]
    return one


def test_indices_of_a_linear_margin_are_shares_of_its_variance(found: DriversResult) -> None:
    rows = {row.input: row for row in output(found, "reserve", "margin").drivers}
    # exact: for a sum of independent inputs first-order and total index are the share of the variance
    share = (SLOPE * DRY_SD_KG) ** 2 / ((SLOPE * DRY_SD_KG) ** 2 + BOUND_SD_KG**2)
    for index in (rows[DRY].first, rows[DRY].total):
        assert index.low - 0.01 <= share <= index.high + 0.01  # 95 % interval of one seed, with a little room
    assert rows[BOUND].total.value == pytest.approx(1 - share, abs=0.02)
    assert rows[WAIT].total.value == 0.0  # exact: the stay changes nothing in this study
    assert not rows[WAIT].distinguishable
    assert "in none of" in rows[WAIT].remark


def test_indices_are_ranked_and_the_whole_stands_last(found: DriversResult) -> None:
    assert [each.output for each in found.outputs if each.kind == "failure"][-1] == "any requirement"
    for each in found.outputs:
        totals = [row.total.value for row in each.drivers]
        assert totals == sorted(totals, reverse=True)
        assert all(row.first.value >= 0.0 for row in each.drivers)
        assert bool(each.drivers) != bool(each.reason)
    whole = output(found, "any requirement", "failure")
    assert [row.input for row in whole.drivers] == [DRY, BOUND, WAIT]
    assert whole.drivers[0].rank == (1, 1, 1)


def test_a_margin_without_failures_says_so(found: DriversResult) -> None:
    light = output(found, "light", "failure")
    assert light.drivers == ()
    assert "light failed in 0 of" in (light.reason or "")


def test_the_chance_is_the_runs_own(found: DriversResult) -> None:
    assert found.chance == compute(hopper(), Request(40_000)).result.chance  # exact: the same draws
    assert (found.buy_down_cases, found.cases) == (40_000, BLOCK)


def test_shifts_are_those_of_the_failing_cases(found: DriversResult) -> None:
    assert found.shift_cases == 40_000
    whole = found.shifts[-1]
    assert whole.output == "any requirement"
    assert whole.failures == 40_000 - round(found.chance.value * 40_000)
    shifts = {row.input: row for row in whole.shifts}
    assert shifts[DRY].direction == shifts[BOUND].direction == "higher"  # heavier, or more asked for: both fail
    # exact: for a normal sum the shifts of two inputs are in the ratio of their parts of it; 5 % is three errors
    assert shifts[DRY].shift.value / shifts[BOUND].shift.value == pytest.approx(
        SLOPE * DRY_SD_KG / BOUND_SD_KG, rel=0.05
    )
    assert not shifts[WAIT].distinguishable


def test_shapley_effects_sum_to_one_and_are_the_shares_of_a_linear_margin(found: DriversResult) -> None:
    (reserve,) = [each for each in found.shapley if (each.output, each.kind) == ("reserve", "margin")]
    effects = {row.input: row.effect.value for row in reserve.effects}
    assert sum(effects.values()) == pytest.approx(1.0, abs=1e-9)  # exact
    share = (SLOPE * DRY_SD_KG) ** 2 / ((SLOPE * DRY_SD_KG) ** 2 + BOUND_SD_KG**2)
    assert effects[DRY] == pytest.approx(share, abs=0.02)  # exact for independent inputs


def test_numbers_that_depend_on_one_another_are_taken_as_one() -> None:
    tied = loads(HOPPER + "dependence:\n  - {between: [hopper.dry_mass, legs.wait.lasts], rank: 0.5}\n")
    found = drivers(tied, Extent(cases=BLOCK))
    rows = output(found, "reserve", "margin").drivers
    assert [row.called for row in rows] == [
        "the dry mass of hopper together with the duration of wait",
        "the least allowed of reserve",
    ]
    assert any("depend on one another" in note for note in found.notes)


def test_the_ranking_does_not_depend_on_what_things_are_called() -> None:
    named = loads(HOPPER.replace("hopper", "aardvark").replace("reserve", "zeal").replace("wait", "away"))
    ours, theirs = (drivers(study, Extent(cases=BLOCK)) for study in (hopper(), named))

    def ranking(found: DriversResult) -> list[str]:
        return [row.called.split(" of ")[0] for row in found.outputs[-1].drivers]

    assert ranking(ours) == ranking(theirs)
    assert [row.change.split(" of ")[0] for row in ours.buy_down[:2]] == [
        row.change.split(" of ")[0] for row in theirs.buy_down[:2]
    ]


def test_a_stopped_search_is_partial_and_hands_over_what_it_has() -> None:
    asked = iter([False, False, True])
    found = drivers(
        hopper(), Extent(cases=100_000, pairs=10 * BLOCK), control=Control(stopped=lambda: next(asked, True))
    )
    assert found.partial
    assert found.buy_down_cases in {BLOCK, 2 * BLOCK}
    assert found.cases == BLOCK  # one page of pairs is computed in any event
    assert DriversResult.from_json(found.to_json()) == found


def test_a_study_without_dispersions_has_no_drivers() -> None:
    fixed = hopper(hopper__dry_mass="10 t", requirements__reserve__at_least="500 kg", legs__wait__lasts="1 d")
    found = drivers(fixed, Extent(cases=100))
    assert (found.buy_down, found.chance.value) == ((), 1.0)
    assert "halving no single spread" in found.sentence


def test_threads_give_the_same_bytes() -> None:
    need("distributed")
    from leadline.run.placement import executor_for

    executor = executor_for(threads=2)
    try:
        shared = drivers(hopper(), Extent(cases=60_000), executor)
    finally:
        executor.close()
    assert shared.to_json() == drivers(hopper(), Extent(cases=60_000)).to_json()


def test_impossible_extents_are_refused() -> None:
    with pytest.raises(ValueError, match="at least 1"):
        Extent(cases=0)
