"""What the first cases tell besides their margins."""

from __future__ import annotations

import pytest

from leadline.run.engine import Request, compute
from leadline.run.first_cases import LEDGER_CASES
from leadline.run.result import Result
from leadline.sampling import Design
from run.ferries import BLOCK, ferry
from run.hopper import BOUND_SD_KG, DRY_SD_KG, SLOPE, hopper

DRY, BOUND, WAIT = "vehicle.hopper.dry_mass", "requirements.reserve.at_least", "legs.wait.lasts"


@pytest.fixture(scope="module")
def result() -> Result:
    return compute(hopper(), Request(3 * BLOCK)).result


def test_shares_of_a_linear_margin_are_shares_of_its_variance(result: Result) -> None:
    (reserve,) = [each for each in result.shares if each.output == "reserve"]
    rows = {row.input: row for row in reserve.shares}
    share = (SLOPE * DRY_SD_KG) ** 2 / ((SLOPE * DRY_SD_KG) ** 2 + BOUND_SD_KG**2)  # exact: a sum of two
    assert rows[DRY].share.value == pytest.approx(share, abs=0.03)
    assert rows[BOUND].share.value == pytest.approx(1 - share, abs=0.03)
    assert rows[DRY].called == "the dry mass of hopper"
    assert not rows[WAIT].distinguishable
    assert reserve.cases == LEDGER_CASES == result.ledger_cases


def test_shifts_stand_for_every_requirement_and_the_whole(result: Result) -> None:
    assert [each.output for each in result.shifts] == ["light", "reserve", "supply of hopper.hold", "any requirement"]
    light, reserve, _, whole = result.shifts
    assert (light.shifts, light.failures) == ((), 0)
    assert light.reason
    assert whole.failures == reserve.failures
    assert {row.input for row in whole.shifts if row.distinguishable} == {DRY, BOUND}


def test_more_cases_do_not_change_what_the_first_tell(result: Result) -> None:
    more = compute(hopper(), Request(4 * BLOCK)).result
    assert (more.shares, more.shifts, more.ledger) == (result.shares, result.shifts, result.ledger)
    fewer = compute(hopper(), Request(1_000)).result
    assert fewer.ledger_cases == 1_000
    assert fewer.shares[0].cases == 1_000


def test_a_margin_that_does_not_vary_has_a_reason() -> None:
    fixed = hopper(hopper__dry_mass="10 t", legs__wait__lasts="1 d")
    shares = {each.output: each for each in compute(fixed, Request(2_000)).result.shares}
    assert shares["light"].shares == ()
    assert shares["light"].reason
    assert shares["reserve"].shares[0].share.value == pytest.approx(1.0, abs=0.05)  # exact: one number alone


def test_without_dispersions_there_is_no_ranking() -> None:
    fixed = hopper(hopper__dry_mass="10 t", requirements__reserve__at_least="500 kg", legs__wait__lasts="1 d")
    result = compute(fixed, Request(100)).result
    assert (result.shares, result.shifts) == ((), ())


@pytest.mark.parametrize("design", [Design.LATIN, Design.SOBOL], ids=str)
def test_replicate_designs_rank_too(design: Design) -> None:
    result = compute(ferry(), Request(2**14, design=design)).result
    (reserve,) = [each for each in result.shares if each.output == "reserve"]
    assert reserve.shares[0].called == "the dry mass of ferry"
    assert reserve.shares[0].distinguishable


def test_the_chance_settles_to_that_of_all_cases(result: Result) -> None:
    assert [look.cases for look in result.settling] == [*(64 << power for power in range(9)), 3 * BLOCK]
    assert result.settling[-1].chance == result.chance
    assert result.settling[0].chance == compute(hopper(), Request(64)).result.chance  # exact: the same first cases


def test_a_short_run_has_its_end_only_once() -> None:
    assert [look.cases for look in compute(hopper(), Request(128)).result.settling] == [64, 128]
