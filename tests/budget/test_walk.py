"""The walk through the legs, against sums done by hand and closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from budget.missions import ENGINE, TANK, ferry_mission, storable_tank
from leadline.budget import Ledger, compile_plan
from leadline.constants import STANDARD_GRAVITY_M_S2
from leadline.vehicle import (
    Burn,
    BurnTime,
    Coast,
    Column,
    Dock,
    Drop,
    ElapsedTime,
    Element,
    Engine,
    Leg,
    LiftedMass,
    Load,
    Measure,
    Mission,
    PropellantLeft,
    Requirement,
    Role,
    StackMass,
    Supply,
    TankFill,
    Transfer,
    Undock,
)

NO_DRAWS = np.empty((0, 1))
EXHAUST = 316.0 * STANDARD_GRAVITY_M_S2


def fly(mission: Mission) -> tuple[Ledger, dict[str, float]]:
    plan = compile_plan(mission)
    ledger = plan.ledger(NO_DRAWS)
    margins = plan.evaluate(NO_DRAWS).margins
    np.testing.assert_array_equal(ledger.margins, margins)
    return ledger, {r.name: float(m[0]) for r, m in zip(plan.requirements, margins, strict=True)}


def test_two_burns_and_a_coast_by_hand() -> None:
    ledger, margins = fly(ferry_mission())
    # exact: 18 t stack, 900 m/s then 700 m/s at ve = 316 g0, nothing lost between
    after = 18_000.0 * math.exp(-900.0 / EXHAUST), 18_000.0 * math.exp(-1600.0 / EXHAUST)
    assert [row.name for row in ledger.rows] == ["start", "out", "wait", "back"]
    masses = [row.stack_mass_kg[0] for row in ledger.rows]
    assert masses == pytest.approx([18_000.0, after[0], after[0], after[1]], rel=1e-12)
    left = after[1] - 10_000.0
    assert margins["reserve"] == pytest.approx(left - 100.0, rel=1e-9)
    in_hand = EXHAUST * math.log(after[1] / 10_000.0) - 50.0
    assert margins["in hand"] == pytest.approx(in_hand, rel=1e-9)
    assert margins["supply of ferry.hold"] == pytest.approx(left, rel=1e-9)


def test_the_ledger_keeps_time_and_what_each_leg_did() -> None:
    ledger, _ = fly(ferry_mission())
    out, wait = ledger.rows[1], ledger.rows[2]
    used = 18_000.0 * (1 - math.exp(-900.0 / EXHAUST))
    assert out.quantities["propellant_burned_kg"][0] == pytest.approx(used)
    assert out.quantities["burn_time_s"][0] == pytest.approx(used * EXHAUST / 30_000.0)
    assert wait.elapsed_s[0] - out.elapsed_s[0] == pytest.approx(86_400.0)
    assert out.propellant_kg[TANK]["oxidiser"][0] == pytest.approx((8000.0 - used) * 1.65 / 2.65)


def test_start_and_stop_losses_are_mass_without_velocity() -> None:
    engine = Engine(ENGINE, 316.0, 30_000.0, 1.65, start_loss_kg=12.0, stop_loss_kg=8.0)
    ledger, _ = fly(ferry_mission((Burn("out", ENGINE, TANK, 900.0),), engine=engine))
    expected = (18_000.0 - 12.0) * math.exp(-900.0 / EXHAUST) - 8.0  # exact
    assert ledger.rows[1].stack_mass_kg[0] == pytest.approx(expected, rel=1e-12)
    assert ledger.rows[1].propellant_total_kg[0] == pytest.approx(expected - 10_000.0)


def test_the_liquid_that_runs_out_first_decides() -> None:
    engine = Engine(ENGINE, 316.0, 30_000.0, mixture_ratio=1.75)
    mission = ferry_mission((Burn("out", ENGINE, TANK, 1500.0),), engine=engine)
    measures = tuple(
        PropellantLeft(measure.value, TANK, 0.0, measure)
        for measure in (Measure.BURNABLE, Measure.TOTAL, Measure.OXIDISER, Measure.FUEL)
    )
    _, margins = fly(replace(mission, requirements=measures))
    used = 18_000.0 * (1 - math.exp(-1500.0 / EXHAUST))
    oxidiser = 8000.0 * 1.65 / 2.65 - used * 1.75 / 2.75
    fuel = 8000.0 / 2.65 - used / 2.75
    assert margins["oxidiser"] == pytest.approx(oxidiser)
    assert margins["fuel"] == pytest.approx(fuel)
    assert margins["total"] == pytest.approx(oxidiser + fuel)
    assert margins["burnable"] == pytest.approx(min(oxidiser * 2.75 / 1.75, fuel * 2.75))  # exact
    assert margins["burnable"] < margins["total"]


def test_outage_is_skewed_as_the_mixture_ratio_is_dispersed() -> None:
    """What cannot be burned because one liquid ran out, for a symmetric mixture ratio.

    computed, 2e6 draws: loads 25 091 and 15 712 lb, mixture ratio 1-sigma 0.5 %: mean 81.2 lb,
    99.87 % point 376.8, skew 1.28 (outage = max(Mo - MR Mf, 0) + max(Mf - Mo/MR, 0)). That
    skew makes 3 sigma no probability is published in AD0659741 (1967), abstract. Here
    n = 400 000: standard error of the mean 0.12 lb, of the 99.87 % point about 3 lb.
    """
    loads, n = (25_091.0, 15_712.0), 400_000
    ratio = Column(0, "ratio")
    nominal = loads[0] / loads[1]
    tank = replace(storable_tank(load_kg=sum(loads)), load_ratio=nominal)
    engine = Engine(ENGINE, 316.0, mixture_ratio=ratio)
    requirements = (
        PropellantLeft("total", TANK, 0.0, Measure.TOTAL),
        PropellantLeft("burnable", TANK, 0.0),
    )
    mission = ferry_mission((Burn("none", ENGINE, TANK, 0.0),), requirements, tank=tank, engine=engine)
    draws = nominal * (1 + 0.005 * np.random.default_rng(7).standard_normal((1, n)))
    total, burnable = compile_plan(mission).evaluate(draws).margins
    outage = total - burnable
    assert outage.mean() == pytest.approx(81.2, abs=0.6)
    assert np.quantile(outage, 0.9987) == pytest.approx(376.8, abs=12.0)
    skew = np.mean((outage - outage.mean()) ** 3) / outage.std() ** 3
    assert skew == pytest.approx(1.28, abs=0.03)


def test_a_dry_tank_is_a_signed_shortfall_on_the_leg_where_it_ran_dry() -> None:
    legs = tuple(Burn(f"burn {i}", ENGINE, TANK, 700.0) for i in range(3))
    plan = compile_plan(ferry_mission(legs, (Supply("supply of ferry.hold", TANK),)))
    outcome = plan.evaluate(NO_DRAWS)
    left = [18_000.0 * math.exp(-700.0 * k / EXHAUST) - 10_000.0 for k in (1, 2, 3)]
    assert [row[0] for row in outcome.check_rows] == pytest.approx(left)
    assert [check.leg for check in plan.checks] == [0, 1, 2]
    assert outcome.margins[0, 0] == pytest.approx(min(left))
    assert left[1] > 0 > left[2]


def test_unusable_propellant_is_a_share_of_what_was_loaded() -> None:
    tank = replace(storable_tank(), unusable=0.02)
    _, full = fly(ferry_mission())
    _, less = fly(ferry_mission(tank=tank))
    assert full["reserve"] - less["reserve"] == pytest.approx(0.02 * 8000.0)


def test_boil_off_by_rate_leaves_the_stack_lighter() -> None:
    tank = storable_tank(boil_off_per_s=1e-7)
    ledger, _ = fly(ferry_mission((Coast("wait", 1e6),), (PropellantLeft("r", TANK, 0.0),), tank=tank))
    lost = 8000.0 * (1 - math.exp(-0.1))  # exact
    assert ledger.rows[1].stack_mass_kg[0] == pytest.approx(18_000.0 - lost)
    noted = sum(v[0] for k, v in ledger.rows[1].quantities.items() if k.startswith("boiled_off"))
    assert noted == pytest.approx(lost)


SADDLE = Element("saddle", 1_500.0, (), (storable_tank("saddle.hold", 6_000.0),))


def test_a_drop_tank_is_emptied_and_left_behind() -> None:
    legs: tuple[Leg, ...] = (
        Burn("out", ENGINE, "saddle.hold", 800.0),
        Drop("let go", "saddle"),
        Burn("back", ENGINE, TANK, 700.0),
    )
    supplies = (Supply("a", "saddle.hold"), Supply("b", TANK))
    ledger, margins = fly(ferry_mission(legs, supplies, others=(SADDLE,)))
    start = 25_500.0
    used = start * (1 - math.exp(-800.0 / EXHAUST))
    assert ledger.rows[2].stack_mass_kg[0] == pytest.approx(18_000.0, rel=1e-12)
    assert margins["a"] == pytest.approx(6_000.0 - used)


def test_docking_and_undocking_move_mass_in_and_out_of_the_stack() -> None:
    legs: tuple[Leg, ...] = (
        Dock("join", "saddle"),
        Burn("out", ENGINE, "saddle.hold", 100.0),
        Undock("part", "saddle"),
        Coast("apart", 1e5),
        Dock("join again", "saddle"),
    )
    ledger, _ = fly(ferry_mission(legs, (StackMass("m", 1e6),), others=(SADDLE,), apart=frozenset({"saddle"})))
    masses = [row.stack_mass_kg[0] for row in ledger.rows]
    used = 25_500.0 * (1 - math.exp(-100.0 / EXHAUST))
    expected = [18_000, 25_500, 25_500 - used, 18_000, 18_000, 25_500 - used]
    assert masses == pytest.approx(expected, rel=1e-12)


def test_transfer_moves_mass_and_loses_its_share() -> None:
    legs: tuple[Leg, ...] = (
        Burn("out", ENGINE, TANK, 900.0),
        Transfer("top up", "saddle.hold", TANK, 2_000.0, loss=0.01),
    )
    ledger, margins = fly(ferry_mission(legs, (TankFill("fits", TANK), Supply("s", "saddle.hold")), others=(SADDLE,)))
    before, after = ledger.rows[1], ledger.rows[2]
    assert before.stack_mass_kg[0] - after.stack_mass_kg[0] == pytest.approx(20.0)
    gained = sum(v[0] for v in after.propellant_kg[TANK].values()) - sum(
        v[0] for v in before.propellant_kg[TANK].values()
    )
    assert gained == pytest.approx(1_980.0)
    assert margins["s"] == pytest.approx(4_000.0)


def test_a_tank_that_a_leg_loads_starts_empty() -> None:
    legs: tuple[Leg, ...] = (
        Coast("wait", 10.0),
        Load("fill", TANK),
        Burn("out", ENGINE, TANK, 900.0),
    )
    requirements: tuple[Requirement, ...] = (
        LiftedMass("launch", ("ferry",), 11_000.0),
        TankFill("fits", TANK),
    )
    ledger, margins = fly(ferry_mission(legs, requirements))
    assert [row.stack_mass_kg[0] for row in ledger.rows[:3]] == [10_000.0, 10_000.0, 18_000.0]
    assert margins["launch"] == pytest.approx(1_000.0)
    volume = 8000.0 * (1.65 / 2.65 / 1441.44 + 1 / 2.65 / 879.84)  # exact
    assert margins["fits"] == pytest.approx(8.0 - volume)


def test_time_and_mass_bounds() -> None:
    requirements: tuple[Requirement, ...] = (
        BurnTime("thrusting", ("out", "back"), 3_600.0),
        ElapsedTime("by then", 90_000.0, after="wait"),
        StackMass("at home", 11_000.0),
    )
    _, margins = fly(ferry_mission(requirements=requirements))
    first = 18_000.0 * (1 - math.exp(-900.0 / EXHAUST)) * EXHAUST / 30_000.0
    both = 18_000.0 * (1 - math.exp(-1600.0 / EXHAUST)) * EXHAUST / 30_000.0
    assert margins["thrusting"] == pytest.approx(3_600.0 - both)
    assert margins["by then"] == pytest.approx(90_000.0 - 86_400.0 - first)
    assert margins["at home"] == pytest.approx(11_000.0 - 18_000.0 * math.exp(-1600.0 / EXHAUST))


def test_bounds_may_be_dispersed_and_columns_are_read_per_case() -> None:
    capacity = Column(0, "requirements.launch.at_most")
    mission = ferry_mission(requirements=(LiftedMass("launch", ("ferry",), capacity),))
    outcome = compile_plan(mission).evaluate(np.array([[17_000.0, 18_000.0, 19_500.0]]))
    np.testing.assert_allclose(outcome.margins, [[-1_000.0, 0.0, 1_500.0]])


def test_a_case_that_is_not_finite_is_left_as_such() -> None:
    mission = ferry_mission(dry_mass_kg=Column(0, "dry"))
    margins = compile_plan(mission).evaluate(np.array([[10_000.0, np.nan]])).margins
    assert np.isfinite(margins[:, 0]).all()
    assert not np.isfinite(margins[:, 1]).any()


def test_labels_say_what_must_hold() -> None:
    plan = compile_plan(ferry_mission())
    label = plan.requirements[0]
    assert (label.kind, label.unit) == ("propellant", "kg")
    assert label.sentence == "burnable propellant in ferry.hold at the end is at least 100 kg"
    assert {source.title for source in plan.sources} >= {"RocketProps documentation, n2o4_prop and mmh_prop"}


def test_a_monopropellant_is_one_liquid() -> None:
    from leadline.vehicle import Liquid, Tank

    tank = Tank(TANK, "hydrazine", (Liquid(Role.FUEL, "hydrazine", 1008.0),), load_kg=900.0)
    engine = Engine(ENGINE, 228.0)
    legs = (Burn("trim", ENGINE, TANK, 100.0),)
    _, margins = fly(ferry_mission(legs, (PropellantLeft("left", TANK, 0.0),), tank=tank, engine=engine))
    used = 10_900.0 * (1 - math.exp(-100.0 / (228.0 * STANDARD_GRAVITY_M_S2)))  # exact
    assert margins["left"] == pytest.approx(900.0 - used)
