"""The value of one number that gives the wanted chance, against the rocket equation."""

from __future__ import annotations

import pytest
from scipy.special import ndtri

from leadline.errors import RunError, StudyError
from leadline.risk.sizing import Prefer
from leadline.run.answers import SizingResult
from leadline.run.engine import Control, Progress
from leadline.run.sizing import SizingRequest, size_number
from run.hopper import BOUND_KG, BOUND_SD_KG, DRY_KG, DRY_SD_KG, SLOPE, hopper, load_for_kg

LOAD = "hopper.tanks.hold.load"
FIXED = {"hopper__dry_mass": "10 t", "requirements__reserve__at_least": "500 kg"}


def test_the_load_of_a_fixed_budget_is_that_of_the_rocket_equation() -> None:
    found = size_number(hopper(**FIXED), SizingRequest(LOAD, "6 t", "9 t", cases=1_000))
    needed = load_for_kg()  # exact: the rocket equation solved for the load
    assert found.answer is not None
    assert needed <= found.answer <= needed + found.resolution + 1e-6
    assert found.resolution < 2.0
    assert found.limited_below == "reserve"
    assert found.number.called == "the load of hopper.hold"


def test_the_load_for_a_chance_is_a_quantile_of_what_is_needed() -> None:
    found = size_number(hopper(), SizingRequest(LOAD, "7 t", "9 t", chance=0.95, confidence=0.9, cases=100_000))
    spread = (SLOPE * DRY_SD_KG, BOUND_SD_KG)
    sd = (spread[0] ** 2 + spread[1] ** 2) ** 0.5 / (0.99 - SLOPE)
    needed = load_for_kg(DRY_KG, BOUND_KG) + ndtri(0.95) * sd  # exact: what is needed is a normal sum
    error = sd * (0.05 * 0.95 / 100_000) ** 0.5 / 0.10314  # of a sample quantile; normal density at its 95 %
    assert found.likely == pytest.approx(needed, abs=4 * error)
    assert found.answer is not None
    assert needed - 3 * error < found.answer < needed + 5 * error
    assert found.chance.low >= 0.95
    assert found.likely is not None
    assert found.likely < found.answer
    at = {point.value: point for point in found.points}[found.answer]
    assert at.low == found.chance.low  # exact: every value tried carries the bounds it is judged by


def test_a_dry_mass_is_sized_from_above() -> None:
    found = size_number(hopper(**FIXED), SizingRequest("vehicle.hopper.dry_mass", prefer=Prefer.LARGEST, cases=1_000))
    most = (0.99 * 8_000 - 8_000 * SLOPE - BOUND_KG) / SLOPE  # exact: the same equation, solved for the dry mass
    assert found.answer is not None
    assert most - found.resolution - 1e-6 <= found.answer <= most
    assert found.sentence.startswith("A hop with one burn: the dry mass of hopper may be at most")
    assert (found.low, found.high) == (5_000.0, 15_000.0)  # half to one and a half times what the study says


def test_where_no_value_does_the_cap_is_named() -> None:
    # Too light a limit: what the reserve needs to be left the stack may not weigh.
    capped = hopper(requirements__light__stack_mass__at_most="10.55 t")
    found = size_number(capped, SizingRequest(LOAD, "7 t", "9 t", cases=5_000))
    assert found.answer is None
    assert found.met == ()
    assert found.cap is not None
    assert found.cap.requirement in {"light", "reserve"}
    assert found.cap.chance_without.value > found.chance.value
    assert f"there {found.cap.requirement} fails most" in found.sentence
    assert "no value from 7 t to 9 t" in found.sentence


def test_values_are_flown_on_the_same_draws(sized: SizingResult) -> None:
    rising = [point.succeeded for point in sized.points]
    assert rising == sorted(rising)  # exact: a larger load loses no case that a smaller one won
    assert all(point.cases == sized.points[0].cases for point in sized.points)
    assert all(point.low <= point.succeeded / point.cases <= point.high for point in sized.points)


@pytest.fixture(scope="module")
def sized() -> SizingResult:
    return size_number(hopper(), SizingRequest(LOAD, "7 t", "9 t", cases=4_000, seed=3))


def test_the_document_reads_back_and_repeats(sized: SizingResult) -> None:
    assert SizingResult.from_json(sized.to_json()) == sized
    assert size_number(hopper(), SizingRequest(LOAD, "7 t", "9 t", cases=4_000, seed=3)).to_json() == sized.to_json()
    assert (sized.asked, sized.confidence) == (0.9, 0.9)  # what the study asks for


def test_progress_is_told_and_a_stop_ends_it() -> None:
    told: list[Progress] = []
    size_number(hopper(), SizingRequest(LOAD, cases=500), Control(progress=told.append))
    assert [each.cases for each in told] == [500 * (number + 1) for number in range(len(told))]
    with pytest.raises(RunError, match="stopped"):
        size_number(hopper(), SizingRequest(LOAD, cases=500), Control(stopped=lambda: True))


@pytest.mark.parametrize(
    ("request_", "said"),
    [
        (SizingRequest("hopper.tanks.hold.colour"), "There is no number"),
        (SizingRequest("nowhere"), "There is no number"),
        (SizingRequest(LOAD, "9 t", "7 t"), "has no length"),
        (SizingRequest(LOAD, "7 km", "9 t"), "km"),
        (SizingRequest(LOAD, "-7 t", "9 t", cases=10), ""),
    ],
    ids=["no number", "no place", "wrong way round", "wrong unit", "not taken by the study"],
)
def test_what_cannot_be_sized_is_said(request_: SizingRequest, said: str) -> None:
    with pytest.raises(StudyError) as caught:
        size_number(hopper(), request_)
    assert said in str(caught.value)
    assert caught.value.issues[0].remedy
