"""What must hold for missions of every kind of leg: masses balance, more of what hurts hurts, parts make the whole."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from budget.voyages import KINDS, SADDLE_TANK, Fleet, Voyage, contents, voyages
from leadline.budget import LedgerRow
from leadline.vehicle import Burn, Coast, Drop, Leg, Load, Transfer

LEAKY: Final = Fleet(boil_off_per_s=3e-8, heat_w=150.0, start_kg=15.0)
KEEPS_ALL: Final = tuple(kind for kind in KINDS if kind not in {"drop", "tug", "refuel"})
"""What leaves nothing behind and fills nothing up. Otherwise less may be more: a lighter saddle, dropped later, spares
the hold; and a tank that is filled up, whatever it lacks, hides what it lost, while the burns before had less to push.
"""
FILLED: Final = tuple(kind for kind in KEEPS_ALL if kind != "load")
"""The same, of tanks that are full from the start."""
ROUNDING_KG: Final = 1e-8
"""Round-off of a few dozen sums of tens of tonnes in binary64, each within 4e-12 kg, with room for a thousand."""
GIVEN_BACK: Final = 1e-5
"""Share of an added mass that boiling may give back: a heavier stack burns longer in each pass and so waits, and boils,
the shorter between two of them; 1.3e-7 was seen."""


def noted(row: LedgerRow, *names: str) -> float:
    """Add up a row's quantities of some names, or that begin with them and a dot."""
    return sum(
        float(value[0])
        for key, value in row.quantities.items()
        if any(key == name or key.startswith(f"{name}.") for name in names)
    )


LOST: Final = ("propellant_burned_kg", "start_loss_kg", "stop_loss_kg", "boiled_off_kg", "lost_kg")


@settings(max_examples=200)
@given(voyages(), st.floats(0.0, 1e-7), st.floats(0.0, 400.0), st.floats(0.0, 40.0))
def test_what_comes_in_and_what_goes_out_balance_leg_by_leg(
    voyage: Voyage, rate: float, heat: float, start: float
) -> None:
    ledger = voyage.ledger(Fleet(boil_off_per_s=rate, heat_w=heat, start_kg=start))
    for position, row in enumerate(ledger.rows[1:], start=1):
        added = noted(row, "loaded_kg", "filled_kg")
        leg = voyage.legs[position - 1]
        left_behind = 0.0
        if isinstance(leg, Drop):
            left_behind = sum(float(v[0]) for v in ledger.rows[position - 1].propellant_kg[SADDLE_TANK].values())
        # exact but for rounding: nothing else makes or takes propellant
        change = contents(ledger, position) - contents(ledger, position - 1)
        assert change == pytest.approx(added - noted(row, *LOST) - left_behind, abs=ROUNDING_KG), leg


@settings(max_examples=200)
@given(voyages(), st.floats(0.0, 1e-7), st.floats(0.0, 400.0), st.floats(0.0, 40.0))
def test_the_stack_weighs_what_is_in_it(voyage: Voyage, rate: float, heat: float, start: float) -> None:
    fleet = Fleet(boil_off_per_s=rate, heat_w=heat, start_kg=start)
    dry = fleet.dry_by_element
    for row, stack in zip(voyage.ledger(fleet).rows, voyage.stacks, strict=True):
        inside = sum(
            float(v[0])
            for tank, liquids in row.propellant_kg.items()
            if tank.split(".")[0] in stack
            for v in liquids.values()
        )
        whole = inside + sum(dry[element] for element in stack)
        # exact but for rounding
        assert row.stack_mass_kg[0] == pytest.approx(whole, abs=ROUNDING_KG)
        assert row.propellant_total_kg[0] == pytest.approx(inside, abs=ROUNDING_KG)


def end_mass(voyage: Voyage, fleet: Fleet) -> float:
    return float(voyage.ledger(fleet).rows[-1].stack_mass_kg[0])


def dearer(voyage: Voyage, extra: float) -> Voyage:
    """Make the first burn dearer."""
    first = next((leg for leg in voyage.legs if isinstance(leg, Burn)), None)

    def change(leg: Leg) -> tuple[Leg, ...]:
        if isinstance(leg, Burn) and leg is first and isinstance(leg.delta_v_m_s, float):
            return (replace(leg, delta_v_m_s=leg.delta_v_m_s + extra),)
        return (leg,)

    return voyage.rewritten(change)


@settings(max_examples=200)
@given(voyages(KEEPS_ALL), st.floats(0.0, 200.0))
def test_more_cost_never_leaves_more(voyage: Voyage, extra: float) -> None:
    assert end_mass(dearer(voyage, extra), LEAKY) <= end_mass(voyage, LEAKY) + ROUNDING_KG


@settings(max_examples=200)
@given(voyages(FILLED), st.floats(0.0, 1e-7), st.floats(0.0, 300.0))
def test_more_boil_off_never_leaves_more(voyage: Voyage, rate: float, heat: float) -> None:
    leakier = replace(LEAKY, boil_off_per_s=LEAKY.boil_off_per_s + rate, heat_w=LEAKY.heat_w + heat)
    ledger = voyage.ledger(leakier)
    # where all boils away whatever the rate, the sooner the better: the burns before have less to push
    assume(all(v[0] > 0.0 for row in ledger.rows for tank in row.propellant_kg.values() for v in tank.values()))
    assert float(ledger.rows[-1].stack_mass_kg[0]) <= end_mass(voyage, LEAKY) + ROUNDING_KG


@settings(max_examples=200)
@given(voyages(), st.floats(0.0, 3_000.0))
def test_more_dry_mass_never_leaves_more(voyage: Voyage, extra: float) -> None:
    heavier = replace(LEAKY, dry_kg=10_000.0 + extra)
    assert end_mass(voyage, heavier) - extra <= end_mass(voyage, LEAKY) + GIVEN_BACK * extra + ROUNDING_KG


@settings(max_examples=200)
@given(voyages(KEEPS_ALL))
def test_passes_never_leave_less_than_a_single_burn(voyage: Voyage) -> None:
    def single(leg: Leg) -> tuple[Leg, ...]:
        if isinstance(leg, Burn) and leg.finite is not None:
            return (replace(leg, finite=replace(leg.finite, passes=1)),)
        return (leg,)

    # boil-off between passes is another matter: it may well cost more than the passes save
    assert end_mass(voyage, Fleet()) >= end_mass(voyage.rewritten(single), Fleet()) - ROUNDING_KG


def split(leg: Leg, part: float) -> tuple[Leg, ...]:
    """Cut a leg in two where nothing depends on it: at once, without losses of starting."""
    first, second = f"{leg.name}, first part", f"{leg.name}, second part"
    rest = 1.0 - part
    match leg:
        case Burn(delta_v_m_s=float(cost), finite=None):
            return replace(leg, name=first, delta_v_m_s=part * cost), replace(leg, name=second, delta_v_m_s=rest * cost)
        case Coast(duration_s=float(seconds)):
            return replace(leg, name=first, duration_s=part * seconds), Coast(second, rest * seconds)
        case Load(amount_kg=float(amount)) | Transfer(amount_kg=float(amount)):
            return replace(leg, name=first, amount_kg=part * amount), replace(leg, name=second, amount_kg=rest * amount)
        case _:
            return (leg,)


@settings(max_examples=200)
@given(voyages(), st.floats(0.0, 1.0))
def test_a_voyage_of_split_legs_is_the_voyage(voyage: Voyage, part: float) -> None:
    fleet = replace(LEAKY, start_kg=0.0)
    one = voyage.ledger(fleet).rows[-1]
    two = voyage.rewritten(lambda leg: split(leg, part)).ledger(fleet).rows[-1]
    # exact but for rounding
    assert two.stack_mass_kg[0] == pytest.approx(one.stack_mass_kg[0], abs=1e-6)
    assert two.elapsed_s[0] == pytest.approx(one.elapsed_s[0], rel=1e-9)
    for tank, liquids in one.propellant_kg.items():
        for role, held in liquids.items():
            np.testing.assert_allclose(two.propellant_kg[tank][role], held, atol=1e-6)
