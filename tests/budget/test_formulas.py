"""Numbers that follow from other numbers are read like any other."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from budget.missions import ENGINE, TANK, ferry_mission
from leadline.budget import compile_plan
from leadline.budget.formulas import FORMULAS
from leadline.physics import lunar_transfer, moon
from leadline.vehicle import Burn, Column, Formula, StackMass

WINDOW = (1.0e9, 1.0e9 + 27 * 86_400.0)


def test_a_cost_from_geometry_follows_the_draws(need: Callable[[str], Any]) -> None:
    need("erfa")
    distance = Formula("moon_distance", (Column(0, "legs.go.cost.to_moon.between"), *WINDOW))
    cost = Formula("total", (Formula("to_moon_cheapest", (420e3, distance)), Column(1, "error")))
    mission = ferry_mission((Burn("go", ENGINE, TANK, cost),), (StackMass("m", 0.0),))
    parts, errors = np.linspace(0.0, 1.0, 40), np.linspace(-5.0, 5.0, 40)
    ledger = compile_plan(mission).ledger(np.array([parts, errors]))
    dates = WINDOW[0] + parts * (WINDOW[1] - WINDOW[0])
    expected = lunar_transfer.departure_cost(420e3, moon.distance_on(dates)) + errors
    np.testing.assert_allclose(ledger.rows[1].quantities["delta_v_m_s"], expected, atol=0.01)


def test_a_fixed_formula_is_a_number() -> None:
    volume = Formula("tank_volume", (1.5, 3.0, 1.06066))
    mission = ferry_mission((Burn("go", ENGINE, TANK, Formula("product", (volume, 10.0))),))
    ledger = compile_plan(mission).ledger(np.empty((0, 1)))
    # computed by quadrature: 31.2022 m3
    assert ledger.rows[1].quantities["delta_v_m_s"][0] == pytest.approx(312.022, rel=1e-5)


def test_formulas_out_of_range_make_a_case_invalid() -> None:
    cost = Formula("to_moon", (420e3, 384_400e3, Column(0, "flight time")))
    mission = ferry_mission((Burn("go", ENGINE, TANK, cost),), (StackMass("m", 1e5),))
    margins = compile_plan(mission).evaluate(np.array([[90.0, 20.0, 300.0]]) * 3600.0).margins
    assert np.isfinite(margins).tolist() == [[True, False, False]]


def test_every_formula_has_its_sources_or_is_plain_arithmetic_or_geometry() -> None:
    without = {kind for kind, formula in FORMULAS.items() if not formula.sources}
    assert without == {"total", "product", "tank_volume", "tank_area"}
