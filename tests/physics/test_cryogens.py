"""Saturated liquids against the equation of state and its printed values."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from leadline.physics.cryogens import CRYOGENS

BAR = 1e5
FLUIDS = {"oxygen": "Oxygen", "hydrogen": "ParaHydrogen", "methane": "Methane"}


@pytest.mark.parametrize(
    ("liquid", "pressure", "density", "latent", "temperature"),
    # cross-checked: CoolProp 8.0.0 saturated liquid (para-hydrogen), as tabulated
    [
        ("oxygen", 1.01325, 1141.17, 213.06e3, 90.19),
        ("oxygen", 2.0, 1105.40, 205.74e3, 97.24),
        ("oxygen", 3.0, 1080.06, 200.20e3, 102.02),
        ("hydrogen", 1.01325, 70.83, 446.07e3, 20.27),
        ("hydrogen", 3.0, 65.16, 410.57e3, 24.57),
        ("methane", 1.01325, 422.36, 510.83e3, 111.67),
        ("methane", 3.0, 399.38, 479.88e3, 126.71),
    ],
)
def test_at_pressure(liquid: str, pressure: float, density: float, latent: float, temperature: float) -> None:
    found = CRYOGENS[liquid].at_pressure(pressure * BAR)
    assert float(found.density_kg_m3) == pytest.approx(density, rel=2e-4)
    assert float(found.latent_heat_j_kg) == pytest.approx(latent, rel=3e-4)
    assert float(found.temperature_k) == pytest.approx(temperature, abs=0.01)


@pytest.mark.parametrize(
    ("liquid", "temperature", "density"),
    # cross-checked: CoolProp 8.0.0, subcooled at 3 bar; compression is what we leave out
    [("oxygen", 66.0, 1255.6), ("oxygen", 77.0, 1205.0), ("methane", 93.0, 448.6), ("hydrogen", 16.0, 75.4)],
)
def test_subcooled_liquids(liquid: str, temperature: float, density: float) -> None:
    found = CRYOGENS[liquid].at_temperature(temperature)
    assert float(found.density_kg_m3) == pytest.approx(density, rel=4e-3)


@pytest.mark.parametrize(("liquid", "fluid"), FLUIDS.items())
def test_the_whole_line_against_the_equation_of_state(liquid: str, fluid: str, need: Callable[[str], Any]) -> None:
    props = need("CoolProp.CoolProp").PropsSI
    low, high = CRYOGENS[liquid].temperatures_k
    temperature = np.linspace(low, high, 61)
    found = CRYOGENS[liquid].at_temperature(temperature)
    pressure = props("P", "T", temperature, "Q", 0, fluid)
    dense, thin = (props("D", "T", temperature, "Q", q, fluid) for q in (0, 1))
    latent = props("H", "T", temperature, "Q", 1, fluid) - props("H", "T", temperature, "Q", 0, fluid)
    np.testing.assert_allclose(found.pressure_pa, pressure, rtol=3e-4)
    np.testing.assert_allclose(found.density_kg_m3, dense, rtol=2e-5)
    np.testing.assert_allclose(found.vapour_density_kg_m3, thin, rtol=3e-4)
    np.testing.assert_allclose(found.latent_heat_j_kg, latent, rtol=2e-5)
    np.testing.assert_allclose(found.vent_heat_j_kg, latent * dense / (dense - thin), rtol=5e-5)
    back = CRYOGENS[liquid].at_pressure(found.pressure_pa[1:-1])
    np.testing.assert_allclose(back.temperature_k, temperature[1:-1], rtol=2e-5)


def test_outside_the_line_there_is_no_number() -> None:
    found = CRYOGENS["hydrogen"].at_temperature(np.array([13.9, 14.0, 26.0, 30.0]))
    assert np.isfinite(found.density_kg_m3).tolist() == [False, True, True, False]
    assert not np.isfinite(CRYOGENS["oxygen"].at_pressure(np.array([1e2, 9e5, np.nan])).latent_heat_j_kg).any()
