"""A study with numbers set to other values, flown on the draws of its run."""

from __future__ import annotations

from pathlib import Path

import pytest

from leadline.errors import StudyError
from leadline.run.engine import Request, compute
from leadline.run.varied import Varied, checked_value, knob_of
from leadline.study import load, loads
from run.ferries import FERRY, ferry

CASES = 20_000  # more than a block, and no whole number of them
DRY, LOAD, VOLUME = "ferry.dry_mass", "ferry.tanks.hold.load", "ferry.tanks.hold.volume"


def test_the_nominal_gives_the_run_itself() -> None:
    expected = compute(ferry(), Request(CASES, seed=4)).result
    for place in (DRY, VOLUME):
        knob = knob_of(ferry(), place)
        found = Varied(ferry(), (knob,), CASES, 4).counts((knob.nominal,))
        assert (found.succeeded, found.invalid) == (expected.cases.succeeded, expected.cases.invalid)  # exact
        failed = {each.name: round((1 - each.chance.value) * CASES) for each in expected.requirements}
        assert found.failures_by_requirement.tolist() == list(failed.values())


def test_a_dispersed_number_is_moved_with_its_spread() -> None:
    heavier = loads(FERRY.replace("{mean: 10 t, sd: 0.2 t}", "{mean: 10.1 t, sd: 0.2 t}", 1))
    expected = compute(heavier, Request(CASES)).result
    found = Varied(ferry(), (knob_of(ferry(), DRY),), CASES, 0).counts((10_100.0,))
    assert found.succeeded == pytest.approx(expected.cases.succeeded, abs=1)  # exact but for rounding at the bound


def test_a_plain_number_is_replaced_as_an_option_would() -> None:
    small = ferry().with_values({VOLUME: "5.5 m3"})
    expected = compute(small, Request(CASES)).result
    assert Varied(ferry(), (knob_of(ferry(), VOLUME),), CASES, 0).counts((5.5,)).succeeded == expected.cases.succeeded


def test_two_numbers_at_once_and_back_again() -> None:
    knobs = tuple(knob_of(ferry(), place) for place in (DRY, LOAD))
    varied = Varied(ferry(), knobs, CASES, 0)
    before = varied.counts((10_000.0, 8_000.0))
    other = varied.counts((9_900.0, 8_100.0))
    again = varied.counts((10_000.0, 8_000.0))
    assert (again.succeeded, again.failures_by_requirement.tolist()) == (
        before.succeeded,
        before.failures_by_requirement.tolist(),
    )  # exact: kept draws are never changed
    assert other.succeeded != before.succeeded


def test_cases_that_fail_one_requirement_alone_are_among_those_that_fail_it() -> None:
    found = Varied(ferry(), (knob_of(ferry(), LOAD),), CASES, 0).counts((7_900.0,))
    assert all(found.alone_failures <= found.failures_by_requirement)
    failed = CASES - found.succeeded - found.invalid
    assert max(found.failures_by_requirement) <= failed <= sum(found.failures_by_requirement)


def test_knobs_know_their_unit_and_whether_they_are_whole() -> None:
    load_knob, isp = (knob_of(ferry(), place) for place in (LOAD, "ferry.engines.main.isp"))
    assert (load_knob.unit, load_knob.nominal, load_knob.whole) == ("kg", 8_000.0, False)
    assert load_knob.read("8.5 t") == pytest.approx(8_500.0)
    assert load_knob.words(8_500.0) == "8.5 t"
    assert (isp.called, isp.unit) == ("the specific impulse of ferry.main", "s")
    campaign = load(Path(__file__).parents[2] / "studies" / "tern.yaml")
    flights = knob_of(campaign, "legs.fill at Skerry.flights")
    assert (flights.whole, flights.unit) == (True, "")
    assert knob_of(campaign, "tern.engines.main.count").whole
    assert not knob_of(campaign, "tern.tanks.hold.load_ratio").whole


@pytest.mark.parametrize("place", ["ferry", "title", "ferry.tanks.hold.propellant", "nowhere.at.all"])
def test_what_is_no_number_is_refused(place: str) -> None:
    with pytest.raises(StudyError, match="There is no number at"):
        knob_of(ferry(), place)


def test_a_part_of_a_law_is_a_number_too() -> None:
    knob = knob_of(ferry(), "ferry.dry_mass.sd")
    assert (knob.nominal, knob.unit) == (200.0, "kg")
    wider = loads(FERRY.replace("{mean: 10 t, sd: 0.2 t}", "{mean: 10 t, sd: 0.4 t}", 1))
    expected = compute(wider, Request(CASES)).result
    assert Varied(ferry(), (knob,), CASES, 0).counts((400.0,)).succeeded == expected.cases.succeeded  # exact


def test_a_value_that_cannot_be_read_says_what_to_write() -> None:
    with pytest.raises(StudyError) as caught:
        checked_value(knob_of(ferry(), LOAD), "8.5")
    assert caught.value.issues[0].path == ("vehicle.ferry.tanks.hold.load",)
    assert caught.value.issues[0].remedy
