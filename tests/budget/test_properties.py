"""What must hold for any mission: mass balance, monotony, splitting a leg changes nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from budget.missions import ENGINE, TANK, ferry_mission, storable_tank
from leadline.budget import Workspace, compile_plan
from leadline.vehicle import Burn, Coast, Column, Leg, Load, Mission, PropellantLeft, Supply

NO_DRAWS = np.empty((0, 1))
burns = st.builds(lambda dv: ("burn", dv), st.floats(0.0, 1500.0, allow_subnormal=False))
coasts = st.builds(lambda t: ("coast", t), st.floats(0.0, 3e6, allow_subnormal=False))
loads = st.builds(lambda m: ("load", m), st.floats(0.0, 5e3, allow_subnormal=False))
itineraries = st.lists(st.one_of(burns, coasts, loads), min_size=1, max_size=8)


def legs_of(itinerary: list[tuple[str, float]]) -> tuple[Leg, ...]:
    def leg(name: str, kind: str, size: float) -> Leg:
        if kind == "burn":
            return Burn(name, ENGINE, TANK, size)
        return Coast(name, size) if kind == "coast" else Load(name, TANK, size)

    return tuple(leg(f"leg {i}", kind, size) for i, (kind, size) in enumerate(itinerary))


def margins_of(mission: Mission) -> np.ndarray:
    return compile_plan(mission).evaluate(NO_DRAWS).margins[:, 0].copy()


REQUIREMENTS = (PropellantLeft("reserve", TANK, 100.0), Supply("supply", TANK))


@given(itineraries, st.floats(0.0, 3e-7))
def test_mass_balance(itinerary: list[tuple[str, float]], rate: float) -> None:
    tank = storable_tank(boil_off_per_s=rate)
    legs = legs_of([*itinerary, ("burn", 10.0)])
    ledger = compile_plan(ferry_mission(legs, REQUIREMENTS, tank=tank)).ledger(NO_DRAWS)
    for row in ledger.rows:
        held = sum(float(v[0]) for v in row.propellant_kg[TANK].values())
        assert row.stack_mass_kg[0] == pytest.approx(10_000.0 + held, rel=1e-12)
        assert row.propellant_total_kg[0] == pytest.approx(held, rel=1e-12, abs=1e-9)


@given(itineraries, st.floats(1.0, 300.0))
def test_more_cost_never_leaves_more(itinerary: list[tuple[str, float]], extra: float) -> None:
    legs = legs_of([("burn", 200.0), *itinerary])
    dearer = legs_of([("burn", 200.0 + extra), *itinerary])
    before = margins_of(ferry_mission(legs, REQUIREMENTS))
    after = margins_of(ferry_mission(dearer, REQUIREMENTS))
    assert (after <= before + 1e-9).all()


@given(itineraries, st.floats(1.0, 3000.0))
def test_more_dry_mass_never_leaves_more(itinerary: list[tuple[str, float]], extra: float) -> None:
    legs = legs_of([*itinerary, ("burn", 100.0)])
    before = margins_of(ferry_mission(legs, REQUIREMENTS))
    after = margins_of(ferry_mission(legs, REQUIREMENTS, dry_mass_kg=10_000.0 + extra))
    assert (after <= before + 1e-9).all()


@given(st.floats(0.0, 800.0), st.floats(1e3, 3e6), st.floats(0.0, 3e-8), st.floats(0.0, 3e-8))
def test_more_boil_off_never_leaves_more(delta_v: float, seconds: float, rate: float, extra: float) -> None:
    # before a burn that empties no tank: what boils away also makes the stack lighter
    legs = (Coast("wait", seconds), Burn("go", ENGINE, TANK, delta_v))
    before, after = (
        margins_of(ferry_mission(legs, REQUIREMENTS, tank=storable_tank(boil_off_per_s=r)))
        for r in (rate, rate + extra)
    )
    assert (after <= before + 1e-9).all()


@given(st.floats(0.0, 2500.0), st.floats(0.0, 1.0), st.floats(0.0, 3e6), st.floats(0.0, 2e-7))
def test_a_split_leg_equals_the_whole(delta_v: float, part: float, seconds: float, rate: float) -> None:
    tank = storable_tank(boil_off_per_s=rate)
    whole = (Burn("go", ENGINE, TANK, delta_v), Coast("wait", seconds))
    split = (
        Burn("go 1", ENGINE, TANK, delta_v * part),
        Burn("go 2", ENGINE, TANK, delta_v * (1 - part)),
        Coast("wait 1", seconds * part),
        Coast("wait 2", seconds * (1 - part)),
    )
    one, two = (margins_of(ferry_mission(legs, REQUIREMENTS, tank=tank)) for legs in (whole, split))
    np.testing.assert_allclose(one, two, rtol=1e-9, atol=1e-6)


@settings(max_examples=20)
@given(st.floats(500.0, 2500.0))
def test_margins_are_continuous_through_zero(delta_v: float) -> None:
    cost = Column(0, "legs.go.cost")
    mission = ferry_mission((Burn("go", ENGINE, TANK, cost),), REQUIREMENTS)
    costs = delta_v + np.linspace(-1.0, 1.0, 201)[None, :]
    margins = compile_plan(mission).evaluate(costs).margins
    # exact: the slope is -m/ve, at most 18 000/3099 kg per m/s, and the steps are 0.01 m/s
    assert np.abs(np.diff(margins, axis=1)).max() <= 0.01 * 18_000.0 / 3_098.0 * 2.65 / 1.0


def test_a_reused_workspace_changes_no_bit() -> None:
    names = ("dry", "cost", "load")
    columns = {name: Column(i, name) for i, name in enumerate(names)}
    mission = ferry_mission(
        (Burn("go", ENGINE, TANK, columns["cost"]), Coast("wait", 1e6)),
        REQUIREMENTS,
        tank=storable_tank(load_kg=columns["load"], boil_off_per_s=1e-8),
        dry_mass_kg=columns["dry"],
    )
    plan, workspace = compile_plan(mission), Workspace(512)
    rng = np.random.default_rng(3)
    draws = np.array([[1e4], [1e3], [8e3]]) + rng.standard_normal((3, 512)) * 100
    fresh = plan.evaluate(draws).margins.copy()
    for _ in range(3):
        np.testing.assert_array_equal(plan.evaluate(draws, workspace).margins, fresh)


def test_a_case_alone_equals_the_case_in_its_block() -> None:
    mission = ferry_mission(dry_mass_kg=Column(0, "dry"))
    plan = compile_plan(mission)
    draws = 1e4 + 500 * np.random.default_rng(5).standard_normal((1, 1000))
    block = plan.evaluate(draws).margins.copy()
    for case in (0, 7, 999):
        alone = plan.evaluate(draws[:, case : case + 1]).margins[:, 0]
        # vector and scalar loops of exp may differ in the last bits
        np.testing.assert_allclose(alone, block[:, case], rtol=1e-12)
