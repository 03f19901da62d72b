"""The chance over one and two numbers, against the closed form."""

from __future__ import annotations

import itertools

import pytest

from leadline.errors import RunError, StudyError
from leadline.run.answers import SweepResult
from leadline.run.engine import Control
from leadline.run.sweep import SweepRange, SweepRequest, sweep_numbers
from run.hopper import MARGIN_KG, SLOPE, chance, hopper

DRY = SweepRange("hopper.dry_mass", "9.6 t", "10.6 t", 6)
LOAD = SweepRange("hopper.tanks.hold.load", "7.6 t", "8.4 t", 5)
CASES = 8_000


def closed(dry_kg: float, load_kg: float) -> float:
    gained = (load_kg - 8_000.0) * (0.99 - SLOPE) - (dry_kg - 10_000.0) * SLOPE
    return chance(margin_kg=MARGIN_KG + gained)


@pytest.fixture(scope="module")
def swept() -> SweepResult:
    return sweep_numbers(hopper(), SweepRequest((DRY, LOAD), cases=CASES))


def test_every_combination_has_the_chance_of_the_closed_form(swept: SweepResult) -> None:
    combinations = list(itertools.product(*(axis.values for axis in swept.axes)))
    assert len(combinations) == 30
    for at, (dry_kg, load_kg) in enumerate(combinations):
        expected = closed(dry_kg, load_kg)  # exact: a normal sum
        # One-sided bounds at 90 %: of 30 on common draws all at once, with room for two standard errors more.
        room = 2 * (expected * (1 - expected) / CASES) ** 0.5 + 1 / CASES
        assert swept.low[at] - room <= expected <= swept.high[at] + room


def test_the_asked_line_lies_where_the_closed_form_reaches_it(swept: SweepResult) -> None:
    points = [point for line in swept.likely for point in line]
    assert points
    assert all(closed(*point) == pytest.approx(swept.asked, abs=0.02) for point in points)
    shown = [at for at, low in enumerate(swept.low) if low >= swept.asked]
    assert f"at {len(shown)} of the 30 tried" in swept.sentence


def test_one_number_gives_a_line_on_the_same_draws() -> None:
    swept = sweep_numbers(hopper(), SweepRequest((DRY,), cases=CASES, chance=0.8, confidence=0.95))
    assert list(swept.succeeded) == sorted(swept.succeeded, reverse=True)  # exact: heavier wins no case
    assert (swept.asked, swept.confidence) == (0.8, 0.95)
    ((crossing,),) = swept.likely
    assert closed(crossing[0], 8_000.0) == pytest.approx(0.8, abs=0.02)
    assert SweepResult.from_json(swept.to_json()) == swept


def test_a_stopped_sweep_ends_at_the_last_value_done() -> None:
    asked = iter([False] * 13 + [True])
    swept = sweep_numbers(hopper(), SweepRequest((DRY, LOAD), cases=500), Control(stopped=lambda: next(asked, True)))
    assert swept.partial
    assert [len(axis.values) for axis in swept.axes] == [2, 5]  # 13 combinations are two whole rows of five
    assert len(swept.succeeded) == 10
    whole = sweep_numbers(hopper(), SweepRequest((DRY, LOAD), cases=500))
    assert not whole.partial
    assert swept.succeeded == whole.succeeded[:10]
    with pytest.raises(RunError, match="stopped"):
        sweep_numbers(hopper(), SweepRequest((DRY, LOAD), cases=500), Control(stopped=lambda: True))


@pytest.mark.parametrize(
    "ranges",
    [
        (DRY, SweepRange("vehicle.hopper.dry_mass", "9 t", "10 t")),
        (SweepRange("hopper.dry_mass", "10 t", "9 t"),),
        (SweepRange("hopper.dry_mass", "9 t", "10 t", 60), SweepRange("hopper.tanks.hold.load", "7 t", "8 t", 60)),
        (SweepRange("hopper.mass", "9 t", "10 t"),),
    ],
    ids=["one number twice", "wrong way round", "too many", "no number"],
)
def test_what_cannot_be_swept_is_said(ranges: tuple[SweepRange, ...]) -> None:
    with pytest.raises(StudyError):
        sweep_numbers(hopper(), SweepRequest(ranges, cases=10))


def test_three_numbers_are_one_too_many() -> None:
    with pytest.raises(ValueError, match="one or two"):
        sweep_numbers(hopper(), SweepRequest((DRY, LOAD, SweepRange("legs.out.cost", "1 km/s", "2 km/s"))))
