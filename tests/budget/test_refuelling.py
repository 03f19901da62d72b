"""Tanker campaigns: counting flights, time, boil-off while waiting, and what is left over."""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from budget.missions import ENGINE, TANK, ferry_mission, storable_tank
from leadline.budget import Ledger, Plan, compile_plan
from leadline.vehicle import (
    Burn,
    Coast,
    Column,
    ElapsedTime,
    Filled,
    FlightsUsed,
    Leg,
    Load,
    Number,
    PropellantLeft,
    Refuel,
    Supply,
    Tank,
    TankerFlight,
    TankFill,
)

Array = npt.NDArray[np.float64]

DAY = 86_400.0
LOAD = 50_000.0
REQUIREMENTS = (Filled("filling", "fill", TANK), FlightsUsed("flights", "fill", 5.0), ElapsedTime("time", 1e9))


def campaign(
    flights: tuple[TankerFlight, ...],
    *,
    arrives: Number = 1.0,
    deadline_s: Number | None = None,
    tank: Tank | None = None,
    before: tuple[Leg, ...] = (),
) -> Plan:
    """Plan a mission that fills the ferry's tank and does nothing else."""
    leg = Refuel("fill", TANK, flights, arrives, deadline_s)
    tank = storable_tank(load_kg=LOAD) if tank is None else tank
    return compile_plan(ferry_mission((*before, leg), REQUIREMENTS, tank=tank))


def alike(count: int, delivered_kg: float = 10_000.0, interval_s: float = 8 * DAY) -> tuple[TankerFlight, ...]:
    """Give flights that differ only in the draw that tells whether they arrive."""
    return tuple(TankerFlight(interval_s, delivered_kg, Column(k, f"arrives#{k}")) for k in range(count))


def held(ledger: Ledger) -> Array:
    """Give what is in the tank at the end, kg."""
    return np.asarray(sum(ledger.rows[-1].propellant_kg[TANK].values()))


def patterns(count: int, chance: float) -> tuple[Array, Array]:
    """Give every pattern of arrivals as draws, and the chance of each."""
    lost = np.array(list(itertools.product((0.0, 1.0), repeat=count))).T
    return lost, np.prod(np.where(lost < 0.5, chance, 1.0 - chance), axis=0)


@pytest.mark.parametrize(("count", "chance"), [(5, 0.97), (6, 0.97), (7, 0.9), (8, 0.6)])
def test_enough_flights_arrive_as_often_as_the_binomial_law_says(count: int, chance: float) -> None:
    draws, weights = patterns(count, chance)
    margins = campaign(alike(count), arrives=chance, deadline_s=400 * DAY).evaluate(draws).margins
    # exact: all 2^n patterns weighed, against the binomial law; five flights of 10 t fill 50 t
    assert weights[margins[0] >= 0.0].sum() == pytest.approx(stats.binom.sf(4, count, chance), rel=1e-12)


@pytest.mark.parametrize(("count", "chance"), [(5, 0.97), (7, 0.9), (9, 0.6)])
def test_flights_used_follow_the_negative_binomial_law(count: int, chance: float) -> None:
    draws, weights = patterns(count, chance)
    used = 5.0 - campaign(alike(count), arrives=chance, deadline_s=400 * DAY).evaluate(draws).margins[1]
    failures = np.arange(count - 4)
    waiting = stats.nbinom.pmf(failures, 5, chance)  # exact: failures before the fifth arrival
    expected = waiting @ (failures + 5) + (1.0 - waiting.sum()) * count
    assert weights @ used == pytest.approx(expected, rel=1e-12)
    for number in range(5, count):
        assert weights[used == number].sum() == pytest.approx(stats.nbinom.pmf(number - 5, 5, chance), rel=1e-12)


def test_the_margin_counts_what_was_missing_or_could_still_have_come() -> None:
    lost = np.array([[0, 0, 0, 0, 0, 0], [1, 0, 0, 0, 0, 0], [1, 1, 0, 0, 0, 0], [0, 0, 0, 0, 1, 1]], dtype=float).T
    margins = campaign(alike(6, 11_000.0), arrives=0.5, deadline_s=400 * DAY).evaluate(lost).margins
    # exact: 6, 5, 4 and 4 flights of 11 t against 50 t
    np.testing.assert_allclose(margins[0], [16_000.0, 5_000.0, -6_000.0, -6_000.0], atol=1e-6)
    np.testing.assert_array_equal(5.0 - margins[1], [5, 6, 6, 6])


def test_a_tank_filled_exactly_counts_as_filled() -> None:
    # 0.1 t a flight does not add up exactly in binary
    tank = storable_tank(load_kg=1_000.0)
    ledger = campaign(alike(10, 100.0), arrives=1.0, tank=tank).ledger(np.zeros((10, 1)))
    assert ledger.margins[0, 0] == 0.0
    assert held(ledger)[0] == pytest.approx(1_000.0, rel=1e-12)
    assert ledger.rows[1].quantities["flights_used"][0] == 10


def test_normal_intervals_meet_a_deadline_as_often_as_their_sum() -> None:
    n = 100_000
    draws = 8 * DAY + 2 * DAY * np.random.default_rng(5).standard_normal((5, n))
    flights = tuple(TankerFlight(Column(k, f"every#{k}"), 10_000.0) for k in range(5))
    share = np.mean(campaign(flights, deadline_s=44 * DAY).evaluate(draws).margins[0] >= 0.0)
    # exact: the sum is normal with 40 d and 2 sqrt(5) d; SE 0.0012, 4 SE: false alarm 6e-5, seed fixed
    assert share == pytest.approx(stats.norm.cdf(4.0 / (2.0 * 5.0**0.5)), abs=0.005)


def test_uniform_intervals_meet_a_deadline_as_often_as_their_sum() -> None:
    n = 100_000
    draws = np.random.default_rng(6).uniform(5 * DAY, 16 * DAY, (5, n))
    flights = tuple(TankerFlight(Column(k, f"every#{k}"), 10_000.0) for k in range(5))
    share = np.mean(campaign(flights, deadline_s=60 * DAY).evaluate(draws).margins[0] >= 0.0)
    # exact: sum of five uniforms (Irwin and Hall); SE 0.0014, 4 SE, seed fixed
    assert share == pytest.approx(stats.irwinhall(5).cdf((60.0 - 25.0) / 11.0), abs=0.006)


def test_boil_off_while_waiting_is_made_good_by_hand() -> None:
    tank = storable_tank(load_kg=LOAD, boil_off_per_s=0.001 / DAY)
    flights = (TankerFlight(10 * DAY, 20_000.0),) * 3
    ledger = campaign(flights, tank=tank).ledger(np.empty((0, 1)))
    # exact: 20 t keep exp(-0.01) for ten days, so do the 39.801 t after the second flight
    after_two = 20_000.0 * np.exp(-0.01) + 20_000.0
    lacking = LOAD - after_two * np.exp(-0.01)
    row = ledger.rows[1].quantities
    assert row["filled_kg.flight 3"][0] == pytest.approx(lacking, rel=1e-12)
    boiled = sum(values[0] for name, values in row.items() if name.startswith("boiled_off_kg"))
    assert boiled == pytest.approx((20_000.0 + after_two) * -np.expm1(-0.01), rel=1e-12)
    assert ledger.margins[0, 0] == pytest.approx(20_000.0 - lacking, rel=1e-12)
    assert ledger.rows[1].elapsed_s[0] == 30 * DAY


def test_liquids_that_boil_unequally_end_at_the_ratio_of_the_load() -> None:
    oxidiser, fuel = storable_tank(load_kg=LOAD, boil_off_per_s=0.004 / DAY).liquids
    tank = Tank(TANK, "n2o4-mmh", (storable_tank().liquids[0], fuel), load_kg=LOAD, load_ratio=1.65)
    ledger = campaign((TankerFlight(10 * DAY, 20_000.0),) * 4, tank=tank).ledger(np.empty((0, 1)))
    contents = ledger.rows[-1].propellant_kg[TANK]
    assert oxidiser.role.value in contents
    # exact: each flight brings what is missing of each liquid
    assert contents["oxidiser"][0] / contents["fuel"][0] == pytest.approx(1.65, rel=1e-9)


def test_time_stops_when_full_and_at_the_deadline_otherwise() -> None:
    draws = np.array([[0, 0, 0, 0, 0, 0], [1, 1, 1, 0, 0, 0]], dtype=float).T
    ledger = campaign(alike(6), arrives=0.5, deadline_s=45 * DAY).ledger(draws)
    # exact: five flights of 8 d; the other case has had five flights when the sixth would come after 48 d
    np.testing.assert_allclose(ledger.rows[1].elapsed_s, [40 * DAY, 45 * DAY])
    np.testing.assert_array_equal(ledger.rows[1].quantities["flights_used"], [5, 5])
    np.testing.assert_allclose(held(ledger), [50_000.0, 20_000.0])


def test_a_tank_loaded_before_is_topped_up() -> None:
    plan = campaign(alike(6), arrives=0.5, before=(Load("at the pad", TANK, 20_000.0),))
    ledger = plan.ledger(np.zeros((6, 1)))
    assert ledger.rows[2].quantities["flights_used"][0] == 3  # exact: 30 t are missing
    full = campaign(alike(6), arrives=0.5, before=(Load("at the pad", TANK),)).ledger(np.zeros((6, 1)))
    assert full.rows[2].quantities["flights_used"][0] == 0
    assert full.rows[2].elapsed_s[0] == 0.0
    assert full.margins[0, 0] == 60_000.0  # exact: six flights that nobody needed


def test_what_is_unusable_is_reckoned_anew_after_a_second_filling() -> None:
    tank = Tank(TANK, "n2o4-mmh", storable_tank().liquids, load_kg=LOAD, load_ratio=1.65, unusable=0.02, volume_m3=60.0)
    flights = (TankerFlight(DAY, 25_000.0),) * 2
    legs = (
        Load("little", TANK, 10_000.0),
        Burn("up", ENGINE, TANK, 500.0),
        Refuel("fill", TANK, flights),
        Burn("out", ENGINE, TANK, 500.0),
    )
    requirements = (
        Supply("supply", TANK),
        PropellantLeft("left", TANK, 0.0, after="fill"),
        TankFill("fits", TANK),
    )
    plan = compile_plan(ferry_mission(legs, requirements, tank=tank))
    margins = plan.evaluate(np.empty((0, 1))).margins
    assert margins[1, 0] == pytest.approx(0.98 * LOAD, rel=1e-9)  # exact
    assert [plan.legs[check.leg] for check in plan.checks if check.requirement == 2] == ["little", "fill"]


def test_waiting_boils_every_tank_that_is_still_there() -> None:
    tank = storable_tank(load_kg=LOAD)
    other = storable_tank("ferry.other", 1_000.0, boil_off_per_s=0.01 / DAY)
    mission = ferry_mission((Refuel("fill", TANK, alike(5)),), REQUIREMENTS[:2], tank=tank)
    ferry = mission.elements[0]
    two = type(ferry)(ferry.name, ferry.dry_mass_kg, ferry.engines, (*ferry.tanks, other))
    plan = compile_plan(type(mission)(mission.title, (two,), mission.legs, mission.requirements))
    row = plan.ledger(np.zeros((5, 1))).rows[1]
    left = sum(values[0] for values in row.propellant_kg["ferry.other"].values())
    assert left == pytest.approx(1_000.0 * np.exp(-0.4), rel=1e-12)  # exact: 40 days at 1 %/d


FLOATS = st.floats(0.0, 1.0)


@given(st.lists(st.tuples(FLOATS, FLOATS, FLOATS), min_size=2, max_size=7), FLOATS, st.floats(0.1, 0.9))
def test_mass_balances_and_more_flights_or_time_never_hurt(
    draws: list[tuple[float, float, float]], deadline: float, chance: float
) -> None:
    flights = tuple(TankerFlight((1.0 + 15.0 * a) * DAY, 4_000.0 + 20_000.0 * b, c) for a, b, c in draws)
    last = (10.0 + 60.0 * deadline) * DAY
    tank = storable_tank(load_kg=LOAD, boil_off_per_s=0.002 / DAY)

    def flown(flights: tuple[TankerFlight, ...], deadline_s: float) -> Ledger:
        plan = campaign(flights, arrives=chance, deadline_s=deadline_s, tank=tank)
        return plan.ledger(np.empty((0, 1)))

    ledger = flown(flights, last)
    start, end = ledger.rows
    filled = sum(float(v[0]) for name, v in end.quantities.items() if name.startswith("filled_kg"))
    boiled = sum(float(v[0]) for name, v in end.quantities.items() if name.startswith("boiled_off_kg"))
    assert held(ledger)[0] == pytest.approx(filled - boiled, abs=1e-6)
    assert end.stack_mass_kg[0] - start.stack_mass_kg[0] == pytest.approx(held(ledger)[0], abs=1e-6)
    assert held(ledger)[0] <= LOAD * (1.0 + 1e-9)
    filling = ledger.margins[0, 0]
    if filling >= 0.0:
        assert flown(flights, 1.3 * last).margins[0, 0] >= 0.0
        assert flown((*flights, TankerFlight(DAY, 5_000.0, 0.0)), last).margins[0, 0] >= filling
    else:
        assert held(ledger)[0] == pytest.approx(LOAD + filling, abs=1e-6)
        assert flown(flights[:-1], last).margins[0, 0] < 0.0


def test_the_campaign_is_the_same_for_one_case_and_for_many() -> None:
    rng = np.random.default_rng(11)
    draws = np.vstack(
        [rng.uniform(5 * DAY, 16 * DAY, (6, 64)), rng.normal(9_600.0, 300.0, (6, 64)), rng.random((6, 64))]
    )
    flights = tuple(TankerFlight(Column(k, "a"), Column(6 + k, "b"), Column(12 + k, "c")) for k in range(6))
    tank = storable_tank(load_kg=LOAD, boil_off_per_s=0.001 / DAY)
    plan = campaign(flights, arrives=0.9, deadline_s=60 * DAY, tank=tank, before=(Coast("before", DAY),))
    many = plan.evaluate(draws).margins.copy()
    alone = np.hstack([plan.evaluate(draws[:, k : k + 1]).margins.copy() for k in range(64)])
    np.testing.assert_array_equal(many, alone)
    assert 0 < np.mean(many[0] >= 0.0) < 1
