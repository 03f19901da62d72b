"""Boil-off against a published-data table and its own invariants."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline.physics import boil_off
from leadline.physics.propellants import PROPELLANTS

DAY_S = 86_400.0


@pytest.mark.parametrize(
    ("key", "liquid", "volume", "percent_a_day"),
    # computed from CoolProp 8.0.0: sphere, 95 % full, 1 atm, 0.5 W/m2, latent heat alone
    [
        ("lox-lh2", "fuel", 10.0, 0.323),
        ("lox-lh2", "fuel", 100.0, 0.150),
        ("lox-lh2", "oxidiser", 10.0, 0.042),
        ("lox-lch4", "fuel", 100.0, 0.022),
    ],
)
def test_spheres_at_half_a_watt_a_square_metre(key: str, liquid: str, volume: float, percent_a_day: float) -> None:
    data = getattr(PROPELLANTS[key], liquid)
    area = math.pi ** (1 / 3) * (6 * volume) ** (2 / 3)
    contents = np.array([0.95 * volume * data.density_kg_m3])
    rate = boil_off.vent_rate(0.5 * area, data.vent_heat_j_kg)
    lost = boil_off.boiled_by_heat(contents, rate, DAY_S)
    # the vented vapour's share makes ours up to 2 % smaller than the table's latent heat alone
    assert 100 * lost[0] / contents[0] == pytest.approx(percent_a_day, rel=0.035)


@given(st.floats(0.0, 1e5), st.floats(0.0, 1e-6), st.floats(0.0, 1e7), st.floats(0.0, 1.0))
def test_a_coast_split_in_two_loses_what_the_whole_loses(
    contents: float, rate: float, seconds: float, part: float
) -> None:
    start = np.array([contents])
    whole = boil_off.boiled_by_rate(start, rate, seconds)
    first = boil_off.boiled_by_rate(start, rate, part * seconds)
    second = boil_off.boiled_by_rate(start - first, rate, (1 - part) * seconds)
    assert (first + second)[0] == pytest.approx(whole[0], rel=1e-9, abs=1e-9 * contents + 1e-12)


@given(st.floats(-1e4, 1e5), st.floats(0.0, 1.0), st.floats(0.0, 1e7))
def test_never_more_than_there_is_and_never_less_than_nothing(contents: float, rate: float, seconds: float) -> None:
    start = np.array([contents])
    by_heat = boil_off.boiled_by_heat(start, rate, seconds)[0]
    by_rate = boil_off.boiled_by_rate(start, rate, seconds)[0]
    for lost in (by_heat, by_rate):
        assert 0.0 <= lost <= max(contents, 0.0)


def test_dispersed_and_fixed_numbers_agree() -> None:
    contents = np.array([100.0, 200.0, 300.0])
    rate, seconds = 2e-7, 5 * DAY_S
    fixed = boil_off.boiled_by_rate(contents, rate, seconds)
    dispersed = boil_off.boiled_by_rate(contents, np.full(3, rate), np.full(3, seconds))
    np.testing.assert_allclose(fixed, dispersed, rtol=1e-12)
    np.testing.assert_allclose(fixed, contents * (1 - np.exp(-rate * seconds)), rtol=1e-9)
