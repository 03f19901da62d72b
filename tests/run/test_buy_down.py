"""What a change buys: against the closed form, and on draws that stay the same."""

from __future__ import annotations

import pytest

from leadline.run.answers import BuyDownRow
from leadline.run.buy_down import Bought, BuyDownTask, buy_down_rows, steps_of_study
from leadline.run.dispersed import called, dispersed_numbers
from leadline.run.drivers import Extent, drivers
from leadline.run.work import Work, prepared
from leadline.sampling import Design
from leadline.study import Study, loads
from run.ferries import BLOCK, ferry
from run.hopper import BOUND_SD_KG, DRY_SD_KG, MARGIN_KG, SLOPE, chance, hopper

DRY, BOUND, WAIT = "vehicle.hopper.dry_mass", "requirements.reserve.at_least", "legs.wait.lasts"


def rows_of(study: Study, cases: int = 6 * BLOCK) -> list[BuyDownRow]:
    return list(drivers(study, Extent(cases=cases, pairs=1)).buy_down)


@pytest.fixture(scope="module")
def rows() -> dict[tuple[str, str], BuyDownRow]:
    return {(row.input, row.change.split(" ")[0]): row for row in rows_of(hopper())}


@pytest.mark.parametrize(
    ("place", "how", "with_it"),
    [
        (DRY, "halving", chance(dry_sd_kg=DRY_SD_KG / 2)),
        (DRY, "fixing", chance(dry_sd_kg=0.0)),
        (DRY, "moving", chance(margin_kg=MARGIN_KG + SLOPE * DRY_SD_KG)),  # down, the better way
        (BOUND, "halving", chance(bound_sd_kg=BOUND_SD_KG / 2)),
        (BOUND, "fixing", chance(bound_sd_kg=0.0)),
        (BOUND, "moving", chance(margin_kg=MARGIN_KG + BOUND_SD_KG)),
    ],
)
def test_a_gain_is_the_closed_form(
    rows: dict[tuple[str, str], BuyDownRow], place: str, how: str, with_it: float
) -> None:
    row = rows[place, how]
    # exact: the chance of a normal sum. 98 304 cases: 2.5 half-widths are 4.9 standard errors.
    half = (row.gain.high - row.gain.low) / 2
    assert row.gain.value == pytest.approx(with_it - chance(), abs=2.5 * half)
    assert row.chance.low - half <= with_it <= row.chance.high + half
    assert row.distinguishable
    assert "buys +" in row.sentence


@pytest.mark.parametrize("how", ["halving", "fixing", "moving"])
def test_a_number_that_does_nothing_buys_exactly_nothing(rows: dict[tuple[str, str], BuyDownRow], how: str) -> None:
    row = rows[WAIT, how]
    assert row.gain.value == 0.0  # exact: no case ends otherwise, for the draws are the same
    assert row.gain.low <= 0.0 <= row.gain.high
    assert not row.distinguishable
    assert "makes no difference" in row.sentence


def test_gains_are_sorted_and_places_hold_their_row() -> None:
    listed = rows_of(ferry(), 2 * BLOCK)
    gains = [row.gain.value for row in listed]
    assert gains == sorted(gains, reverse=True)
    assert all(row.rank[0] <= place <= row.rank[1] for place, row in enumerate(listed, start=1))


def test_a_nominal_is_moved_the_better_way_only() -> None:
    moved = [row for row in rows_of(ferry(), BLOCK) if row.change.startswith("moving")]
    assert len({row.input for row in moved}) == len(moved)
    ways = {row.input: row.change for row in moved}
    assert " down by 200 kg" in ways["vehicle.ferry.dry_mass"]
    assert " up by 1 s" in ways["vehicle.ferry.engines.main.isp"]


@pytest.mark.parametrize("design", [Design.INDEPENDENT, Design.SOBOL], ids=str)
def test_ranges_merge_to_the_same_counts_in_any_order(design: Design) -> None:
    work = Work.of(hopper(), 5, design)
    ready = prepared(work)
    size, task = ready.sampler.block_size, BuyDownTask(work)

    def flown(*blocks: int) -> Bought:
        parts = [task(range(b * size, (b + 1) * size), lambda: False)[1] for b in blocks]
        total = parts[0]
        for part in parts[1:]:
            total = total.merge(part)
        return total

    _, at_once = task(range(3 * size), lambda: False)
    for order in ((0, 1, 2), (2, 0, 1)):
        assert flown(*order).counts == at_once.counts
        assert flown(*order).summary.to_bytes() == at_once.summary.to_bytes()
    assert len(buy_down_rows(ready, at_once.counts)) == 9


def test_the_base_is_left_as_it_was_drawn() -> None:
    """Every change is undone before the next: the last change of all equals the same change made alone."""
    study = hopper()
    steps = steps_of_study(dispersed_numbers(study))
    _, bought = BuyDownTask(Work.of(study, 0, Design.INDEPENDENT))(range(BLOCK), lambda: False)
    base = {counts.both + counts.only_base for counts in bought.counts}
    assert base == {bought.summary.succeeded}
    assert len(bought.counts) == len(steps)


def test_what_cannot_be_negative_is_not_moved_below_zero() -> None:
    study = loads(HOPPING)
    words = [step.change.words for step in steps_of_study(dispersed_numbers(study)) if "moving" in step.change.words]
    assert sum("start loss" in word for word in words) == 1
    assert next(word for word in words if "start loss" in word).startswith("moving the start loss of hopper.main up by")
    assert sum("dry mass" in word for word in words) == 2


HOPPING = """\
leadline: 1
title: A hop
vehicle:
  hopper:
    dry_mass: {mean: 10 t, sd: 0.2 t}
    engines: {main: {isp: 316 s, mixture_ratio: 1.65, ignites: 99 %, start_loss: {median: 1 kg, spread: 3}}}
    tanks:
      hold: {propellant: n2o4-mmh, load: 8 t, load_ratio: 1.65, volume: 12 m3, unusable: {mean: 1 %, sd: 0.2 %}}
legs:
  - {burn: out, engine: hopper.main, tank: hopper.hold, cost: 1500 m/s}
requirements:
  light: {stack_mass: {at_most: 14 t}, after: out}
"""


def test_what_happens_or_not_is_fixed_at_its_likelier_outcome_and_has_no_spread() -> None:
    study = loads(HOPPING)
    (ignition,) = [number for number in dispersed_numbers(study) if number.happens]
    assert not ignition.written
    (step,) = steps_of_study([ignition])
    assert step.change.words == "fixing the ignition of out at its likelier outcome"
    (row,) = [row for row in rows_of(study) if row.input == ignition.place]
    # exact: without it 99 of 100 starts work, with it every one. 98 304 cases: 5 errors of 0.00032.
    assert row.gain.value == pytest.approx(0.01, abs=0.0016)


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("vehicle.tern.dry_mass", "the dry mass of tern"),
        ("vehicle.tern.engines.main.isp", "the specific impulse of tern.main"),
        ("vehicle.tern.tanks.hold.heat_leak.fuel", "the heat leak (fuel) of tern.hold"),
        ("vehicle.tern.tanks.hold.heat_leak.fuel.deep space", "the heat leak (fuel, deep space) of tern.hold"),
        ("legs.outbound.lasts", "the duration of outbound"),
        ("requirements.reserve.at_least", "the least allowed of reserve"),
    ],
)
def test_numbers_are_called_by_names_of_the_trade(place: str, said: str) -> None:
    assert called(place) == said
