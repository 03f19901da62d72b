"""The radiator's requirement against tabulated balances."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.missions import ferry_mission
from leadline.budget import Plan, compile_plan
from leadline.physics.radiator import ENVIRONMENTS
from leadline.vehicle import Coast, Column, HeatRejected

NEW, WORN = (0.10, 0.88), (0.20, 0.85)

# computed: balance of e s T^4 with absorbed sunlight and infrared, view factors checked by quadrature:
# environment, absorptance and emittance, temperature K, net rejection W/m2
BALANCES = [
    ("low Earth orbit, noon", NEW, 280.0, 234.70),
    ("low Earth orbit, noon", WORN, 300.0, 308.66),
    ("low Earth orbit, night", NEW, 280.0, 246.49),
    ("low Earth orbit, night", WORN, 320.0, 447.23),
    ("low Earth orbit, noon, facing the Earth", NEW, 300.0, 183.36),
    ("low Earth orbit, noon, facing the Earth", WORN, 260.0, -30.43),
    ("low Earth orbit, noon, full sun", NEW, 280.0, 98.60),
    ("low Earth orbit, noon, full sun", WORN, 280.0, -57.69),
    ("low lunar orbit, noon", NEW, 280.0, -14.25),
    ("low lunar orbit, noon", NEW, 300.0, 83.23),
    ("low lunar orbit, noon", WORN, 320.0, 190.37),
    ("low lunar orbit, noon, facing the Moon", NEW, 280.0, -660.96),
    ("low lunar orbit, night", NEW, 280.0, 305.35),
    ("low lunar orbit, night", WORN, 300.0, 389.09),
    ("deep space", NEW, 280.0, 306.71),
    ("deep space", WORN, 260.0, 220.25),
    ("deep space, full sun", NEW, 280.0, 170.61),
    ("deep space, full sun", WORN, 300.0, 118.21),
]


def plan_with(*requirements: HeatRejected) -> Plan:
    """Plan a mission that only coasts."""
    return compile_plan(ferry_mission((Coast("drift", 60.0),), requirements))


@pytest.mark.parametrize(("environment", "face", "temperature", "net"), BALANCES)
def test_net_rejection(environment: str, face: tuple[float, float], temperature: float, net: float) -> None:
    plan = plan_with(HeatRejected("cool", 22.0, temperature, *face, environment, 3_200.0))
    assert plan.checks[0].leg == -1
    assert plan.evaluate(np.empty((0, 1))).margins[0, 0] == pytest.approx(22.0 * net - 3_200.0, abs=22 * 0.006)


def test_every_environment_is_covered() -> None:
    assert {row[0] for row in BALANCES} == set(ENVIRONMENTS)


def test_every_number_may_be_drawn_and_another_leg_named() -> None:
    columns = [Column(k, name) for k, name in enumerate(("area", "temperature", "a", "e", "open", "heat"))]
    area, temperature, absorptance, emittance, share, heat = columns
    requirement = HeatRejected(
        "cool", area, temperature, absorptance, emittance, "deep space, full sun", heat, share, after="drift"
    )
    plan = plan_with(requirement)
    draws = np.array(
        [[10, 300, 0.1, 0.88, 1.0, 2_000], [20, 280, 0.2, 0.85, 0.5, 0.0], [20, 280, 0.2, 0.85, 0.0, 50.0]]
    )
    # exact: e s T^4 less a times 1361 W/m2 of sunlight, times the open area
    net = draws[:, 3] * 5.670374419e-8 * draws[:, 1] ** 4 - draws[:, 2] * 1361.0
    expected = draws[:, 0] * draws[:, 4] * net - draws[:, 5]
    np.testing.assert_allclose(plan.evaluate(draws.T.copy()).margins[0], expected, rtol=1e-12)
    assert plan.checks[0].leg == 0


def test_the_sentence_gives_what_a_hand_sum_needs() -> None:
    plan = plan_with(HeatRejected("cool", 22.0, 280.0, *NEW, "low lunar orbit, noon", 3_200.0))
    # computed: 320.96 W/m2 absorbed
    assert plan.requirements[0].sentence == (
        "the radiator rejects at least 3.2 kW (low lunar orbit, noon), "
        "where it takes in 321 W/m2 at absorptance 0.1 and emittance 0.88"
    )
    assert any("albedo" in source.title.lower() for source in plan.sources)


@given(st.floats(200.0, 400.0), st.floats(0.0, 100.0), st.sampled_from(sorted(ENVIRONMENTS)))
def test_hotter_never_rejects_less(temperature: float, more: float, environment: str) -> None:
    plan = plan_with(HeatRejected("cool", 22.0, Column(0, "t"), *WORN, environment, 0.0))
    cold, hot = plan.evaluate(np.array([[temperature, temperature + more]])).margins[0]
    assert hot >= cold
