"""Burns of finite length through the whole chain, against integration, closed forms and trade practice."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from budget.burn_missions import BELTS, DRY_KG, LOAD_KG, NO_DRAWS, START_KG, departing, flown, margins_of, quantity
from budget.integrated_burns import Thrust, arrival_mass_ratio, departure
from budget.missions import ENGINE, TANK, ferry_mission, storable_tank
from leadline.budget import Workspace, compile_plan
from leadline.constants import (
    EARTH_GM_M3_S2,
    EARTH_RADIUS_M,
    MOON_GM_M3_S2,
    MOON_RADIUS_M,
    STANDARD_GRAVITY_M_S2,
)
from leadline.physics.finite_burn import near_impulsive_fixed, near_impulsive_tangential
from leadline.vehicle import (
    BeltTime,
    Burn,
    BurnLoss,
    BurnTime,
    Column,
    Completion,
    ElapsedTime,
    Element,
    Engine,
    FiniteBurn,
    Steering,
)

G0 = STANDARD_GRAVITY_M_S2
HOUR = 3600.0
LOW_ORBIT = FiniteBurn("earth", 200e3)

# cross-checked: dv = 3100 m/s, 200 km, 450 s, integrated pass by pass with SciPy, burns along the velocity and centred
# on perigee. Passes, thrust-to-weight; loss m/s; hours from first ignition to last cut-off; legs through and hours in
# the inner belt (1000 to 12 000 km), in the outer (13 000 to 60 000 km). There each pass spends the same ideal
# velocity, here each stops at the energy of the impulsive schedule: up to 3 % apart where losses are large.
INTEGRATED = [
    (1, 0.1, 378.9, 0.68, 1, 0.75, 1, 3.68),
    (2, 0.1, 118.6, 3.86, 3, 3.85, 1, 3.63),
    (3, 0.1, 54.7, 8.54, 5, 4.52, 3, 7.08),
    (4, 0.1, 31.1, 14.19, 7, 6.96, 3, 9.95),
    (5, 0.1, 20.0, 20.56, 9, 8.04, 5, 14.48),
    (6, 0.1, 13.9, 27.48, 11, 10.20, 5, 18.93),
    (8, 0.1, 7.9, 42.57, 15, 13.46, 7, 29.60),
    (2, 0.05, 412.6, 4.29, 3, 4.35, 1, 3.70),
    (4, 0.05, 120.1, 14.44, 7, 7.15, 3, 9.98),
    (8, 0.05, 31.2, 42.71, 15, 13.54, 7, 29.63),
]


@pytest.mark.parametrize("row", INTEGRATED)
def test_passes_match_the_integrated_grid(row: tuple[float, ...]) -> None:
    passes, weight, loss, hours, inner_legs, inner, outer_legs, outer = row
    ledger = flown(departing(FiniteBurn("earth", 200e3, passes=int(passes), belts=BELTS), weight))
    assert quantity(ledger, "loss_m_s") == pytest.approx(loss, rel=0.04, abs=0.06)
    assert ledger.rows[1].elapsed_s[0] / HOUR == pytest.approx(hours, rel=0.03)
    assert (quantity(ledger, "belt_legs.inner"), quantity(ledger, "belt_legs.outer")) == (inner_legs, outer_legs)
    assert quantity(ledger, "belt_time_s.inner") / HOUR == pytest.approx(inner, rel=0.03)
    assert quantity(ledger, "belt_time_s.outer") / HOUR == pytest.approx(outer, rel=0.03)


# cross-checked: the same, single burns; steering, specific impulse, thrust-to-weight, loss m/s (SciPy, 0.1 m/s)
SINGLE = [
    ("tangential", 320.0, 0.02, 1397.0),
    ("tangential", 320.0, 0.05, 827.7),
    ("tangential", 320.0, 0.2, 90.2),
    ("tangential", 450.0, 0.01, 1910.0),
    ("tangential", 450.0, 0.07, 643.2),
    ("tangential", 450.0, 0.3, 52.9),
    ("fixed", 320.0, 0.15, 343.4),
    ("fixed", 320.0, 0.3, 81.0),
    ("fixed", 450.0, 0.2, 245.9),
]


@pytest.mark.parametrize(("steering", "isp", "weight", "loss"), SINGLE)
def test_single_burns_match_the_integrated_table(steering: str, isp: float, weight: float, loss: float) -> None:
    finite = FiniteBurn("earth", 200e3, steering=Steering(steering))
    assert quantity(flown(departing(finite, weight, isp=isp)), "loss_m_s") == pytest.approx(loss, rel=0.004, abs=0.1)


@pytest.mark.parametrize("passes", [1, 2, 3, 5])
def test_departures_at_random_match_direct_integration(passes: int) -> None:
    """cross-checked: SciPy's DOP853 in SI, mass and time along with it; the loss within 0.4 %, the mass with it."""
    rng = np.random.default_rng(passes)
    for _ in range(2):
        altitude, isp = rng.uniform(200e3, 900e3), rng.uniform(300.0, 460.0)
        weight, cost = rng.uniform(0.06, 0.4), rng.uniform(2_000.0, 3_100.0)
        ledger = flown(departing(FiniteBurn("earth", altitude, passes=passes), weight, cost=cost, isp=isp))
        thrust = Thrust(EARTH_GM_M3_S2, EARTH_RADIUS_M + altitude, weight * G0 * START_KG, isp * G0)
        left, seconds = departure(thrust, START_KG, cost, passes)
        loss = isp * G0 * math.log(START_KG / left) - cost
        assert quantity(ledger, "loss_m_s") == pytest.approx(loss, rel=0.004)
        assert ledger.rows[1].stack_mass_kg[0] == pytest.approx(left, abs=0.004 * loss / (isp * G0) * left)
        assert ledger.rows[1].elapsed_s[0] == pytest.approx(seconds, rel=0.002)


@pytest.mark.parametrize(("altitude", "cost", "acceleration"), [(100e3, 820.0, 0.6), (300e3, 700.0, 0.3)])
def test_an_arrival_at_the_moon_matches_direct_integration(altitude: float, cost: float, acceleration: float) -> None:
    """cross-checked: SciPy's DOP853, run backwards from the circular orbit with growing mass."""
    finite = FiniteBurn("moon", altitude, arrives=True)
    ledger = flown(departing(finite, acceleration / G0, cost=cost, isp=318.0))
    left = float(ledger.rows[1].stack_mass_kg[0])
    thrust = Thrust(MOON_GM_M3_S2, MOON_RADIUS_M + altitude, acceleration * START_KG, 318.0 * G0)
    loss = 318.0 * G0 * math.log(arrival_mass_ratio(thrust, left, cost)) - cost
    assert quantity(ledger, "loss_m_s") == pytest.approx(loss, rel=0.005)


@pytest.mark.parametrize("weight", [0.5, 1.0, 2.0])
def test_short_burns_lose_what_the_closed_forms_say(weight: float) -> None:
    # exact to leading order in the arc; the next term is up to 2 % of it where the arc is half a radian
    tangential = flown(departing(LOW_ORBIT, weight))
    fixed = flown(departing(FiniteBurn("earth", 200e3, steering=Steering.FIXED), weight))
    arc = quantity(tangential, "arc_rad")
    exhaust, radius = 450.0 * G0, EARTH_RADIUS_M + 200e3
    rate = math.sqrt(EARTH_GM_M3_S2 / radius**3)
    burning = (1.0 - math.exp(-3100.0 / exhaust)) * exhaust / (weight * G0)
    assert arc == pytest.approx(rate * burning, rel=1e-12)  # exact
    along = near_impulsive_tangential(3100.0, arc, rate * radius)
    assert quantity(tangential, "loss_m_s") == pytest.approx(float(along), rel=0.03)
    assert quantity(fixed, "loss_m_s") == pytest.approx(float(near_impulsive_fixed(3100.0, arc)), rel=0.03)


def test_very_low_thrust_in_one_burn_wastes_velocity_and_passes_save_it() -> None:
    # practice: an escape under one twentieth of a weight wastes a quarter of the cost or more in a single burn, and is
    # flown in many passes, which bring it to a few per cent
    one = quantity(flown(departing(LOW_ORBIT, 0.04)), "loss_m_s")
    many = quantity(flown(departing(FiniteBurn("earth", 200e3, passes=8), 0.04)), "loss_m_s")
    assert one > 0.25 * 3100.0
    assert many < 0.03 * 3100.0


def test_cost_and_loss_take_their_propellant_and_their_time() -> None:
    for passes in (1, 4):
        ledger = flown(departing(FiniteBurn("earth", 200e3, passes=passes), 0.1))
        row, loss = ledger.rows[1], quantity(ledger, "loss_m_s")
        left = START_KG * math.exp(-(3100.0 + loss) / (450.0 * G0))  # exact
        assert row.stack_mass_kg[0] == pytest.approx(left, rel=1e-12)
        assert quantity(ledger, "propellant_burned_kg") == pytest.approx(START_KG - left, rel=1e-12)
        seconds = (START_KG - left) * 450.0 * G0 / (0.1 * G0 * START_KG)  # exact
        assert quantity(ledger, "burn_time_s") == pytest.approx(seconds, rel=1e-12)


def test_bounds_on_loss_time_and_belts_count_all_passes() -> None:
    finite = FiniteBurn("earth", 200e3, passes=3, belts=BELTS)
    asked = (
        BurnLoss("lost", ("go",), 60.0),
        BurnTime("burning", ("go",), 3600.0),
        ElapsedTime("soon", 9.0 * HOUR),
        BeltTime("belts", 12.0 * HOUR),
        BeltTime("inner belt", 4.0 * HOUR, "inner"),
    )
    mission = departing(finite, 0.1, requirements=asked)
    ledger, margins = flown(mission), margins_of(mission)
    belts = quantity(ledger, "belt_time_s.inner"), quantity(ledger, "belt_time_s.outer")
    assert margins["lost"][0] == pytest.approx(60.0 - quantity(ledger, "loss_m_s"))
    assert margins["burning"][0] == pytest.approx(3600.0 - quantity(ledger, "burn_time_s"))
    waited = quantity(ledger, "between_passes_s") + quantity(ledger, "burn_time_s")
    assert margins["soon"][0] == pytest.approx(9.0 * HOUR - waited)
    assert margins["belts"][0] == pytest.approx(12.0 * HOUR - sum(belts))
    assert margins["inner belt"][0] == pytest.approx(4.0 * HOUR - belts[0])
    assert margins["inner belt"][0] < 0 < margins["belts"][0]
    assert compile_plan(mission).requirements[2].sentence == "go loses at most 60 m/s against an impulse"


def test_every_pass_is_a_start_and_a_stop() -> None:
    ledger = flown(departing(FiniteBurn("earth", 200e3, passes=3), 0.2, start_loss_kg=30.0, stop_loss_kg=10.0))
    kept = math.exp(-(3100.0 + quantity(ledger, "loss_m_s")) / (3 * 450.0 * G0))
    mass = START_KG
    for _ in range(3):
        mass = (mass - 30.0) * kept - 10.0  # exact
    assert ledger.rows[1].stack_mass_kg[0] == pytest.approx(mass, rel=1e-12)
    assert (quantity(ledger, "start_loss_kg"), quantity(ledger, "stop_loss_kg")) == (90.0, 30.0)


def test_tanks_boil_off_between_passes_wherever_they_are() -> None:
    depot = Element("depot", 100.0, (), (storable_tank("depot.store", 1_000.0, boil_off_per_s=1e-6),))
    mission = departing(
        FiniteBurn("earth", 200e3, passes=4), 0.1, boil_off_per_s=1e-6, others=(depot,), apart=frozenset({"depot"})
    )
    ledger, dry = flown(mission), flown(departing(FiniteBurn("earth", 200e3, passes=4), 0.1))
    waited = quantity(ledger, "between_passes_s")
    stored = sum(value[0] for value in ledger.rows[1].propellant_kg["depot.store"].values())
    assert stored == pytest.approx(1_000.0 * math.exp(-1e-6 * waited), rel=1e-12)  # exact
    lost = sum(v[0] for k, v in ledger.rows[1].quantities.items() if k.startswith("boiled_off_kg.ferry"))
    burned = quantity(ledger, "propellant_burned_kg")
    assert ledger.rows[1].stack_mass_kg[0] == pytest.approx(START_KG - burned - lost, rel=1e-12)
    assert 0.02 * LOAD_KG < lost < LOAD_KG * (1.0 - math.exp(-1e-6 * waited))
    assert burned < quantity(dry, "propellant_burned_kg")


@pytest.mark.parametrize(
    "finite",
    [
        LOW_ORBIT,
        FiniteBurn("earth", 200e3, steering=Steering.FIXED),
        FiniteBurn("earth", 200e3, passes=2),
        FiniteBurn("earth", 200e3, passes=2, belts=BELTS),
    ],
)
def test_thrust_too_low_fails_by_name_and_leaves_other_margins_finite(finite: FiniteBurn) -> None:
    thrusts = np.geomspace(0.3, 3e-4, 4001)[None, :] * G0 * START_KG
    asked = (BurnLoss("lost", ("go",), 500.0), *((BeltTime("belts", 9 * HOUR),) if finite.belts else ()))
    margins = margins_of(departing(finite, thrust_n=Column(0, "thrust"), requirements=asked), thrusts)
    completion = margins["completion of go"]
    assert all(np.isfinite(margin).all() for margin in margins.values())
    assert completion[0] > 0 > completion[-1]
    assert (np.diff(completion) < 0).all()
    edge = int(np.argmax(completion < 0))
    for name, margin in margins.items():  # continuous where it gives way: no step is out of line with those around
        steps = np.abs(np.diff(margin[edge - 4 : edge + 4]))
        assert steps.max() <= 1.2 * np.abs(np.diff(margin[edge - 30 : edge - 4])).max() + 1e-6, name


def test_belts_ask_a_single_burn_to_keep_within_half_a_turn_and_leave_its_loss_alone() -> None:
    with_belts, without = (departing(FiniteBurn("earth", 200e3, belts=belts), 0.05) for belts in (BELTS, ()))
    arc = quantity(flown(without), "arc_rad")
    assert margins_of(with_belts)["completion of go"][0] == pytest.approx(math.pi - arc)  # exact
    assert margins_of(without)["completion of go"][0] == pytest.approx(80.0 - arc)  # exact: the table's end
    # cross-checked: integrated with SciPy, 973.2 m/s
    assert quantity(flown(with_belts), "loss_m_s") == pytest.approx(973.2, rel=0.003)
    assert math.isfinite(quantity(flown(with_belts), "belt_time_s.outer"))


def test_a_cost_outside_the_table_is_no_number() -> None:
    # of two passes the last finds no orbit that returns once the cost is 0.82 of the circular speed of 7.78 km/s
    costs = np.array([[6_300.0, 6_450.0, 9_000.0]])
    mission = departing(FiniteBurn("earth", 200e3, passes=2), 0.3, cost=Column(0, "cost"))
    margins = margins_of(mission, costs)
    assert np.isfinite(margins["supply"]).tolist() == [True, False, False]


@settings(max_examples=60)
@given(
    st.integers(2, 6), st.floats(0.02, 1.0), st.floats(300.0, 460.0), st.floats(500.0, 3200.0), st.floats(200e3, 2e6)
)
def test_more_passes_never_lose_more(passes: int, weight: float, isp: float, cost: float, altitude: float) -> None:
    lost = []
    for number in (1, passes):
        mission = departing(FiniteBurn("earth", altitude, passes=number), weight, cost=cost, isp=isp)
        ledger = flown(mission)
        if margins_of(mission)["completion of go"][0] < 0:
            return
        lost.append(quantity(ledger, "loss_m_s"))
    assert 0.0 < lost[1] <= lost[0]


def test_an_engine_out_burns_longer_and_loses_more() -> None:
    each = 0.05 * G0 * START_KG
    whole, out = (
        flown(departing(LOW_ORBIT, running=running, thrust_n=each, count=3, needed=2)) for running in (None, 2)
    )
    assert (quantity(whole, "engines_running"), quantity(out, "engines_running")) == (3.0, 2.0)
    assert quantity(out, "burn_time_s") > 1.5 * quantity(whole, "burn_time_s")
    # cross-checked: integrated with SciPy, 0.15 and 0.10 weights at 450 s from 200 km: 191.7 and 378.9 m/s
    assert quantity(whole, "loss_m_s") == pytest.approx(191.7, rel=0.003)
    assert quantity(out, "loss_m_s") == pytest.approx(378.9, rel=0.003)
    alone = flown(departing(LOW_ORBIT, thrust_n=0.1 * G0 * START_KG))
    assert quantity(out, "loss_m_s") == pytest.approx(quantity(alone, "loss_m_s"), rel=1e-12)


def test_a_reused_workspace_changes_no_bit_and_a_case_alone_is_the_case_in_its_block() -> None:
    finite = FiniteBurn("earth", Column(2, "altitude"), passes=3, belts=BELTS)
    asked = (BeltTime("belts", 9 * HOUR),)
    mission = departing(
        finite, 0.05, cost=Column(0, "cost"), dry_mass_kg=Column(1, "dry"), requirements=asked, boil_off_per_s=1e-7
    )
    rng, n = np.random.default_rng(2), 500
    draws = np.array([[3100.0], [DRY_KG], [400e3]]) + np.array([[10.0], [200.0], [9e3]]) * rng.standard_normal((3, n))
    plan, workspace = compile_plan(mission), Workspace(n)
    fresh = plan.evaluate(draws).margins.copy()
    assert np.isfinite(fresh).all()
    for _ in range(2):
        np.testing.assert_array_equal(plan.evaluate(draws, workspace).margins, fresh)
    for case in (0, 251):
        alone = plan.evaluate(draws[:, case : case + 1]).margins[:, 0]
        np.testing.assert_allclose(alone, fresh[:, case], rtol=1e-9)


def test_a_burn_at_once_is_what_it_was() -> None:
    # exact: the rocket equation alone, with the time of thrust over flow
    engine = Engine(ENGINE, 316.0, 30_000.0, 1.65, start_loss_kg=12.0, stop_loss_kg=8.0)
    mission = ferry_mission((Burn("out", ENGINE, TANK, 900.0),), (BurnTime("t", ("out",), 1e4),), engine=engine)
    ledger = compile_plan(mission).ledger(NO_DRAWS)
    used = 17_988.0 * (1.0 - math.exp(-900.0 / (316.0 * G0)))
    assert ledger.rows[1].stack_mass_kg[0] == pytest.approx(17_988.0 - used - 8.0, rel=1e-12)
    assert ledger.margins[0, 0] == pytest.approx(1e4 - used * 316.0 * G0 / 30_000.0)
    assert not any(name.startswith(("loss", "arc", "passes")) for name in ledger.rows[1].quantities)


def test_sources_name_tables_belts_and_the_binomial_law() -> None:
    mission = departing(FiniteBurn("earth", 200e3, passes=2, belts=BELTS), count=2, ignites=0.99, ignitions=(0.5, 0.5))
    titles = {source.title for source in compile_plan(mission).sources}
    assert "Leadline's own integration of constant-thrust burns" in titles
    assert "Encyclopaedia article on the Van Allen belts" in titles
    assert any(title.startswith("Binomial law") for title in titles)
    assert compile_plan(mission).requirements[0].kind == Completion.__name__.lower()
