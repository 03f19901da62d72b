"""Tanks in the core: sizes and conditions that follow from others, heat by environment, room before venting."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.missions import ENGINE, TANK, ferry_mission
from leadline.budget import Ledger, Workspace, compile_plan
from leadline.budget.coasting import boil
from leadline.budget.loading import begin
from leadline.budget.state import State
from leadline.vehicle import (
    Burn,
    Coast,
    Column,
    Environment,
    Formula,
    Leg,
    Liquid,
    Load,
    Number,
    PropellantLeft,
    Requirement,
    Role,
    Tank,
    TankFill,
    VentRoom,
)

DAY_S = 86_400.0
NO_DRAWS = np.empty((0, 1))
LOW, DEEP, LUNAR = Environment.LOW_EARTH_ORBIT, Environment.DEEP_SPACE, Environment.LOW_LUNAR_ORBIT
BY_ENVIRONMENT = ((LOW, 40.0), (DEEP, 10.0), (LUNAR, 25.0))
OXYGEN = Liquid(Role.OXIDISER, "oxygen", 1141.17, vent_heat_j_kg=213.893e3, heat_leak_w=0.0)
LEFT = PropellantLeft("left", TANK, 0.0)


def hydrogen(**given: Any) -> Liquid:
    return Liquid(Role.FUEL, "hydrogen", **{"density_kg_m3": 70.828, "vent_heat_j_kg": 454.659e3, **given})


def tank(fuel: Liquid, oxidiser: Liquid = OXYGEN, **given: Any) -> Tank:
    return Tank(TANK, "lox-lh2", (oxidiser, fuel), load_ratio=6.0, **{"load_kg": 7_000.0, **given})


def flown(held: Tank, *legs: Leg, requirements: tuple[Requirement, ...] = (LEFT,), draws: Any = NO_DRAWS) -> Ledger:
    return compile_plan(ferry_mission(legs, requirements, tank=held)).ledger(draws)


def fuel_after(ledger: Ledger) -> list[float]:
    return [float(row.propellant_kg[TANK]["fuel"][0]) for row in ledger.rows]


@pytest.mark.parametrize(
    ("liquid", "fluid"), [("oxygen", "Oxygen"), ("hydrogen", "ParaHydrogen"), ("methane", "Methane")]
)
@pytest.mark.parametrize("pressure_pa", [101_325.0, 2e5, 3e5])
def test_density_and_heat_of_venting_follow_the_pressure(
    liquid: str, fluid: str, pressure_pa: float, need: Callable[[str], Any]
) -> None:
    props = need("CoolProp.CoolProp").PropsSI
    pressure = Column(0, "pressure")
    density, heat = (
        Formula(f"density_at_pressure.{liquid}", (pressure,)),
        Formula(f"vent_heat_at_pressure.{liquid}", (pressure,)),
    )
    held = Tank(TANK, "x", (Liquid(Role.FUEL, liquid, density, vent_heat_j_kg=heat, heat_leak_w=1.0),), load_kg=100.0)
    facts = flown(held, Coast("wait", 0.0), draws=np.array([[pressure_pa]])).rows[0].quantities
    rho, vapour = (props("D", "P", pressure_pa, "Q", quality, fluid) for quality in (0, 1))
    latent = props("H", "P", pressure_pa, "Q", 1, fluid) - props("H", "P", pressure_pa, "Q", 0, fluid)
    # cross-checked: CoolProp, saturated liquid and vapour
    assert facts[f"density_kg_m3.{TANK}.fuel"][0] == pytest.approx(rho, rel=5e-4)
    assert facts[f"vent_heat_j_kg.{TANK}.fuel"][0] == pytest.approx(latent * rho / (rho - vapour), rel=1e-3)


def test_each_coast_has_the_heat_of_its_environment_and_waiting_that_of_the_last() -> None:
    fuel = hydrogen(heat_leaks_w=BY_ENVIRONMENT)
    legs = (
        Coast("no place yet", DAY_S),
        Coast("out", DAY_S, DEEP),
        Coast("on", DAY_S),
        Coast("there", DAY_S, LUNAR),
    )
    lost = -np.diff(fuel_after(flown(tank(fuel), *legs)))
    # exact: watts times a day over the heat of venting
    np.testing.assert_allclose(lost, np.array([40.0, 10.0, 10.0, 25.0]) * DAY_S / 454.659e3, rtol=1e-9)


def test_waits_within_one_leg_are_noted_together() -> None:
    mission = ferry_mission((Coast("wait", 1.0),), (LEFT,), tank=tank(hydrogen(heat_leaks_w=BY_ENVIRONMENT)))
    state = State(mission, NO_DRAWS, Workspace(1), records=True)
    begin(state, frozenset())
    for seconds in (DAY_S, 2.0 * DAY_S):
        boil(state, state.tanks[TANK], seconds)
    # exact: 40 W for three days, since no coast has named another environment
    lost = state.quantities[f"boiled_off_kg.{TANK}.fuel"]
    np.testing.assert_allclose(lost, 3.0 * DAY_S * 40.0 / 454.659e3, rtol=1e-12)


def test_an_environment_without_heat_is_no_quiet_zero() -> None:
    with pytest.raises(KeyError):
        flown(tank(hydrogen(heat_leaks_w=((DEEP, 10.0),))), Coast("wait", DAY_S))


@pytest.mark.parametrize(("lift", "net"), [(0.0, 30.0), (12.0, 18.0), (30.0, 0.0), (55.0, 0.0)])
def test_a_refrigerator_lifts_what_it_can_and_makes_no_liquid(lift: float, net: float) -> None:
    fuel = hydrogen(heat_leak_w=Formula("net_heat", (30.0, lift)))
    before, after = fuel_after(flown(tank(fuel), Coast("wait", 9 * DAY_S)))
    # exact: what leaks in less what is lifted, and never less than nothing
    assert before - after == pytest.approx(net * 9 * DAY_S / 454.659e3, abs=1e-9)


def test_a_dispersed_lift_is_capped_case_by_case() -> None:
    fuel = hydrogen(heat_leak_w=Formula("net_heat", (Column(0, "leak"), Column(1, "lift"))))
    draws = np.array([[30.0, 30.0, 5.0], [10.0, 40.0, 5.0]])
    row = flown(tank(fuel), Coast("wait", DAY_S), draws=draws).rows[1]
    # exact, as before
    np.testing.assert_allclose(
        row.quantities[f"boiled_off_kg.{TANK}.fuel"], np.array([20.0, 0.0, 0.0]) * DAY_S / 454.659e3
    )


fluxes = st.floats(0.0, 5.0)
areas = st.floats(1.0, 300.0)


@given(fluxes, st.floats(0.0, 2.0), areas, st.floats(0.0, 40.0), st.floats(0.0, 3e7))
def test_more_flux_never_leaves_more(flux: float, extra: float, area: float, lift: float, seconds: float) -> None:
    def left(flux: float) -> float:
        leak = Formula("net_heat", (Formula("product", (flux, area)), lift))
        return fuel_after(flown(tank(hydrogen(heat_leak_w=leak)), Coast("wait", seconds)))[-1]

    assert 0.0 <= left(flux + extra) <= left(flux) + 1e-9


@given(fluxes, areas, st.floats(0.0, 1e-7), st.floats(0.0, 3e6), st.floats(0.0, 1.0), st.sampled_from(Environment))
def test_parts_of_a_coast_add_up_to_the_whole(
    flux: float, area: float, rate: float, seconds: float, part: float, where: Environment
) -> None:
    heats = tuple(
        (each, Formula("product", (flux * factor, area)))
        for each, factor in zip(Environment, (1, 0.2, 0.7), strict=True)
    )
    rated = Liquid(Role.OXIDISER, "oxygen", 1141.17, boil_off_per_s=rate)
    held = tank(hydrogen(heat_leaks_w=heats), rated)
    whole = flown(held, Coast("all", seconds, where)).rows[-1].propellant_kg[TANK]
    parts = (Coast("first", seconds * part, where), Coast("second", seconds * (1.0 - part)))
    split = flown(held, *parts).rows[-1].propellant_kg[TANK]
    # exact but for rounding: a constant heat leak adds up, a rate compounds
    for role in ("oxidiser", "fuel"):
        assert split[role][0] == pytest.approx(whole[role][0], rel=1e-12, abs=1e-8)


@given(fluxes, areas, st.lists(st.tuples(st.sampled_from(Environment), st.floats(0.0, 2e6)), min_size=1, max_size=5))
def test_mass_balance(flux: float, area: float, coasts: list[tuple[Environment, float]]) -> None:
    heats = tuple((each, Formula("product", (flux, area))) for each in Environment)
    held = tank(hydrogen(heat_leaks_w=heats), mass_kg=250.0)
    dry = Formula("total", (9_750.0, 250.0))
    legs = tuple(Coast(f"leg {i}", seconds, where) for i, (where, seconds) in enumerate(coasts))
    ledger = compile_plan(ferry_mission(legs, (LEFT,), tank=held, dry_mass_kg=dry)).ledger(NO_DRAWS)
    for before, row in zip(ledger.rows, ledger.rows[1:], strict=False):
        vented = sum(float(v[0]) for k, v in row.quantities.items() if k.startswith("boiled_off_kg"))
        assert row.stack_mass_kg[0] == pytest.approx(before.stack_mass_kg[0] - vented, rel=1e-12)
        in_tank = sum(float(v[0]) for v in row.propellant_kg[TANK].values())
        assert row.stack_mass_kg[0] == pytest.approx(10_000.0 + in_tank, rel=1e-12)


def rooms(held: Tank, *legs: Leg) -> list[float]:
    asked = (TankFill("fits", TANK), VentRoom("room", TANK))
    mission = ferry_mission((*legs, Coast("wait", DAY_S)), asked, tank=held)
    return [float(margin) for margin in compile_plan(mission).evaluate(NO_DRAWS).margins[:, 0]]


def test_where_liquids_have_their_own_volumes_the_fuller_one_decides() -> None:
    held = tank(hydrogen(volume_m3=15.0), Liquid(Role.OXIDISER, "oxygen", 1141.17, volume_m3=6.0), ullage=0.05)
    fits = compile_plan(ferry_mission((Coast("wait", 1.0),), (TankFill("fits", TANK),), tank=held))
    oxygen, fuel = 6.0 * 0.95 - 6_000.0 / 1141.17, 15.0 * 0.95 - 1_000.0 / 70.828
    # exact: volume less the ullage less mass over density, the lesser of the two
    assert fits.evaluate(NO_DRAWS).margins[0, 0] == pytest.approx(min(oxygen, fuel), rel=1e-12)
    assert oxygen > fuel


def warm(name: str, pressure_pa: float = 2.5e5) -> Number:
    return Formula(f"density_at_pressure.{name}", (pressure_pa,))


@pytest.mark.parametrize(
    ("name", "loaded_kg_m3", "share", "bursts"),
    # computed from CoolProp 8.0.0 (balance of energy in a closed tank from 1.2 to 2.5 bar): hydrogen that fills 95 %
    # of a tank is all liquid before 2.5 bar; at half full, and oxygen and methane at 95 %, it is not
    [
        ("hydrogen", 70.15, 0.95, True),
        ("hydrogen", 70.15, 0.5, False),
        ("oxygen", 1132.9, 0.95, False),
        ("methane", 419.2, 0.95, False),
    ],
)
def test_hydrogen_in_a_full_tank_fills_it_before_it_vents(
    name: str, loaded_kg_m3: float, share: float, *, bursts: bool
) -> None:
    alone = Liquid(Role.FUEL, name, loaded_kg_m3, vent_density_kg_m3=warm(name))
    held = Tank(TANK, "x", (alone,), load_kg=share * 10.0 * loaded_kg_m3, volume_m3=10.0)
    fits, room = rooms(held)
    assert fits > 0.0
    assert (room < 0.0) is bursts


def test_room_is_looked_at_whenever_the_tank_is_filled() -> None:
    alone = Liquid(Role.FUEL, "hydrogen", 70.0, vent_density_kg_m3=66.0)
    held = Tank(TANK, "x", (alone,), load_kg=500.0, volume_m3=10.0)
    # exact: 10 m3 - 500 kg / 66 kg/m3; then 650 kg fit at 70 and do not at 66 kg/m3
    assert rooms(held) == pytest.approx([10 - 500 / 70, 10 - 500 / 66])
    assert rooms(held, Load("fill", TANK, 650.0)) == pytest.approx([10 - 650 / 70, 10 - 650 / 66])


def test_only_the_liquid_that_is_locked_up_needs_the_room() -> None:
    held = tank(
        hydrogen(volume_m3=15.0, vent_density_kg_m3=66.4), Liquid(Role.OXIDISER, "oxygen", 1141.17, volume_m3=5.0)
    )
    assert rooms(held)[1] == pytest.approx(15.0 - 1_000.0 / 66.4)  # exact; the oxygen's tank, too small, fails "fits"
    assert rooms(held)[0] < 0.0


def test_a_tank_that_is_sized_weighs_on_every_burn() -> None:
    def burned(dry: Number) -> float:
        held = tank(hydrogen())
        mission = ferry_mission((Burn("go", ENGINE, TANK, 500.0),), (LEFT,), tank=held, dry_mass_kg=dry)
        return float(compile_plan(mission).ledger(NO_DRAWS).rows[1].quantities["propellant_burned_kg"][0])

    sized = Formula("total", (9_000.0, Formula("tank_mass.hydrogen", (50.0, 60.0, 1.1))))
    # published: D.L. Akin, ENAE 791 (2016): 9.0911 kg/m3 of hydrogen tank and 2.88 kg/m2 of its insulation
    assert burned(sized) == pytest.approx(burned(9_000.0 + 1.1 * (9.0911 * 50.0 + 2.88 * 60.0)), rel=1e-12)
