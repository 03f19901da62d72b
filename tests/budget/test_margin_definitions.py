"""One mass budget under every definition of its margin, and how the definitions hang together."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline.budget.margin_definitions import DEFINITIONS, MassBudget
from leadline.constants import Standing

WORKED = MassBudget(best_kg=1000.0, growth=0.15, allowable_kg=1300.0)
SHARE = {definition.name: definition.share for definition in DEFINITIONS}


@pytest.mark.parametrize(
    ("name", "percent"),
    [
        # Exact arithmetic on best estimate 1000, growth 15 %, allowable 1300; to ten printed decimals.
        ("margin over the best estimate", 15.0),  # AIAA/GSFC margin (allowable-predicted)/basic %
        ("margin over the predicted mass", 13.0434782609),  # NASA % margin (MPV-MEV)/MEV
        ("reserve over the best estimate", 30.0),  # total growth allowance (allowable-CBE)/CBE %
        ("reserve within the allowable mass", 23.0769230769),  # JPL-style (allowable-CBE)/allowable %
    ],
)
def test_the_same_masses_read_differently_by_definition(name: str, percent: float) -> None:
    assert 100 * SHARE[name](WORKED) == pytest.approx(percent, abs=1e-9)


def test_a_reserve_of_30_percent_of_the_allowable_mass_is_43_percent_of_the_best_estimate() -> None:
    budget = MassBudget(best_kg=700.0, growth=0.0, allowable_kg=1000.0)
    assert 100 * SHARE["reserve within the allowable mass"](budget) == pytest.approx(30.0, abs=1e-9)
    # Exact: 30 % of allocation expressed on CBE %, 0.3 / 0.7.
    assert 100 * SHARE["reserve over the best estimate"](budget) == pytest.approx(42.8571428571, abs=1e-9)


@pytest.mark.parametrize(
    ("growth", "factor"),
    [
        (0.20, 1.44),  # exact: ESA stack cat. D 20 % then system 20 % factor
        (0.05, 1.26),  # exact: ESA stack cat. A/B 5 % then 20 % factor
    ],
)
def test_a_system_margin_stacks_on_the_predicted_mass(growth: float, factor: float) -> None:
    budget = MassBudget(best_kg=1000.0, growth=growth, allowable_kg=1000.0 * factor)
    assert SHARE["margin over the predicted mass"](budget) == pytest.approx(0.20, abs=1e-12)


def test_masses_of_the_worked_example() -> None:
    # Exact: example predicted/MEV with MGA 15 % 1150, allowable 1300.
    assert (WORKED.growth_kg, WORKED.predicted_kg, WORKED.margin_kg) == (150.0, 1150.0, 150.0)


BUDGETS = st.builds(MassBudget, st.floats(1.0, 1e6), st.floats(0.0, 1.0), st.floats(1.0, 1e6))


@given(BUDGETS, st.floats(0.01, 100.0))
def test_no_margin_depends_on_the_unit_of_mass(budget: MassBudget, unit: float) -> None:
    other = MassBudget(budget.best_kg * unit, budget.growth, budget.allowable_kg * unit)
    for definition in DEFINITIONS:
        assert math.isclose(definition.share(other), definition.share(budget), rel_tol=1e-9, abs_tol=1e-9)


@given(BUDGETS)
def test_how_the_definitions_hang_together(budget: MassBudget) -> None:
    best, predicted = SHARE["margin over the best estimate"], SHARE["margin over the predicted mass"]
    within, over = SHARE["reserve within the allowable mass"], SHARE["reserve over the best estimate"]
    # Exact: (A - P)/B = (A - P)/P (1 + growth) = (A - B)/B - growth; (A - B)/B = s/(1 - s) of s = (A - B)/A.
    assert math.isclose(best(budget), predicted(budget) * (1 + budget.growth), rel_tol=1e-9, abs_tol=1e-9)
    assert math.isclose(best(budget), over(budget) - budget.growth, rel_tol=1e-9, abs_tol=1e-9)
    share = within(budget)
    assert math.isclose(over(budget) * (1.0 - share), share, rel_tol=1e-9, abs_tol=1e-9)


@given(BUDGETS)
def test_margins_after_growth_are_zero_together_and_of_one_sign(budget: MassBudget) -> None:
    signs = {
        math.copysign(1.0, SHARE[name](budget))
        for name in ("margin over the best estimate", "margin over the predicted mass")
        if budget.margin_kg != 0.0
    }
    assert len(signs) <= 1
    met = MassBudget(budget.best_kg, budget.growth, budget.predicted_kg)
    assert SHARE["margin over the best estimate"](met) == 0.0
    assert SHARE["margin over the predicted mass"](met) == 0.0


def test_every_definition_says_who_defines_it_and_what_it_divides_by() -> None:
    assert len({definition.name for definition in DEFINITIONS}) == len(DEFINITIONS) == 4
    for definition in DEFINITIONS:
        assert definition.name.partition("the ")[2].partition(" mass")[0] in definition.formula.partition("/ ")[2]
        # None of them was read in the original, and each must say so.
        assert definition.source.standing in {Standing.SECOND_HAND, Standing.PRACTICE}
        said = definition.source.where
        assert "quotes it" in said or "from memory" in said
