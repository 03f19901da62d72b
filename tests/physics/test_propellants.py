"""Densities and heats of the propellant combinations against references outside."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from leadline.physics.propellants import PROPELLANTS, bulk_density


@pytest.mark.parametrize(
    ("key", "ratio", "density"),
    # computed with (1+MR)/(MR/rho_o+1/rho_f) from CoolProp 8.0.0 at 1 atm and RocketProps docs
    [
        ("lox-lh2", 5.0, 324.3),
        ("lox-lh2", 6.0, 361.3),
        ("lox-lch4", 3.4, 822.9),
        ("lox-lch4", 3.6, 833.0),
        ("n2o4-mmh", 1.65, 1161.60),
        ("n2o4-mmh", 2.05, 1191.94),
        ("n2o4-a50", 1.6, 1169.92),
    ],
)
def test_bulk_densities(key: str, ratio: float, density: float) -> None:
    assert bulk_density(PROPELLANTS[key], ratio) == pytest.approx(density, rel=5e-4)


def test_kerosene_and_oxygen_lie_within_the_handbook_range() -> None:
    # from memory: kerosene 800 to 820 kg/m3, so with oxygen at 2.3 within 1 % of 1015.4
    assert bulk_density(PROPELLANTS["lox-rp1"], 2.3) == pytest.approx(1015.4, rel=0.01)


def test_storables_weigh_about_twelve_hundred_kilograms_a_cubic_metre() -> None:
    # common practice, no source: nitrogen tetroxide with monomethylhydrazine about 1.2 t/m3
    storable = bulk_density(PROPELLANTS["n2o4-mmh"], 1.65)
    assert storable == pytest.approx(1200.0, rel=0.05)
    # common practice, no source: hydrogen-oxygen between a quarter and a third as dense
    assert 0.25 < bulk_density(PROPELLANTS["lox-lh2"], 6.0) / storable < 1.0 / 3.0
    # common practice, no source: with packing losses about 84 t fit 300 m3
    assert 300.0 * bulk_density(PROPELLANTS["lox-lh2"], 6.0) * 0.78 == pytest.approx(84e3, rel=0.03)


@pytest.mark.parametrize(
    ("key", "liquid", "heat"),
    # computed: latent heat times rho_l/(rho_l-rho_v) from CoolProp 8.0.0 at 1.013 bar
    [
        ("lox-lh2", "fuel", 454_659.0),
        ("lox-lh2", "oxidiser", 213_893.0),
        ("lox-lch4", "fuel", 513_035.0),
    ],
)
def test_heat_that_vents_a_kilogram(key: str, liquid: str, heat: float) -> None:
    assert getattr(PROPELLANTS[key], liquid).vent_heat_j_kg == pytest.approx(heat, rel=5e-3)


def test_against_the_equation_of_state(need: Callable[[str], Any]) -> None:
    coolprop = need("CoolProp.CoolProp")
    for fluid, liquid in (
        ("Oxygen", PROPELLANTS["lox-lh2"].oxidiser),
        ("ParaHydrogen", PROPELLANTS["lox-lh2"].fuel),
        ("Methane", PROPELLANTS["lox-lch4"].fuel),
    ):
        assert liquid is not None
        dense, thin = (coolprop.PropsSI("D", "P", 101325, "Q", q, fluid) for q in (0, 1))
        heats = [coolprop.PropsSI("H", "P", 101325, "Q", q, fluid) for q in (0, 1)]
        assert liquid.density_kg_m3 == pytest.approx(dense, rel=1e-3)  # cross-checked, CoolProp
        vented = (heats[1] - heats[0]) * dense / (dense - thin)
        assert liquid.vent_heat_j_kg == pytest.approx(vented, rel=1e-3)


def test_every_combination_is_keyed_by_its_key_and_has_sources() -> None:
    for key, combination in PROPELLANTS.items():
        assert combination.key == key
        assert combination.fuel.source.title
        assert (combination.oxidiser is None) == (combination.mixture_ratio is None)
