"""Tank geometry by quadrature, and mass regressions against the worked example."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from leadline.physics import tanks


@pytest.mark.parametrize(
    ("radius", "length", "dome", "volume", "area"),
    # computed by quadrature to 1e-12
    [
        (1.5, 3.0, 1.5 / math.sqrt(2), 31.202237, 51.222140),
        (2.0, 5.0, 1.0, 79.587014, 97.519384),
        (2.5, 0.0, 2.5, 65.449847, 78.539816),
        (2.25, 6.0, 2.25 / math.sqrt(2), 129.164019, 136.455566),
    ],
)
def test_tabulated_tanks(radius: float, length: float, dome: float, volume: float, area: float) -> None:
    assert float(tanks.volume(radius, length, dome)) == pytest.approx(volume, rel=1e-6)
    assert float(tanks.area(radius, length, dome)) == pytest.approx(area, rel=1e-6)


@given(st.floats(0.2, 5.0), st.floats(0.0, 20.0), st.floats(0.05, 0.999))
def test_against_quadrature(radius: float, length: float, ratio: float) -> None:
    dome = ratio * radius

    def ring(z: float) -> float:
        r = radius * math.sqrt(1 - (z / dome) ** 2)
        slope = radius * z / dome**2 / math.sqrt(1 - (z / dome) ** 2)
        return 2 * math.pi * r * math.sqrt(1 + slope**2)

    cap = quad(ring, 0, dome * (1 - 1e-12), limit=200)[0]
    assert float(tanks.area(radius, length, dome)) == pytest.approx(2 * math.pi * radius * length + 2 * cap, rel=1e-5)
    bulk = quad(lambda z: math.pi * radius**2 * (1 - (z / dome) ** 2), 0, dome)[0]
    whole = math.pi * radius**2 * length + 2 * bulk
    assert float(tanks.volume(radius, length, dome)) == pytest.approx(whole, rel=1e-9)


def test_a_long_cylinder_of_the_trade() -> None:
    # common practice, no source: 60 ft long and 15 ft wide holds about 300 m3
    assert float(tanks.volume(7.5 * 0.3048, 60 * 0.3048, 0.0)) == pytest.approx(300.0, rel=0.01)


def test_regressions_against_the_worked_example() -> None:
    # published: D.L. Akin, ENAE 791 (2016): 273.1 m3 of hydrogen, 2482 kg; 102.1 m3 of oxygen, 1242 kg
    assert float(tanks.tank_mass(273.1, 0.0, hydrogen=True, insulated=False)) == pytest.approx(2482.0, rel=0.01)
    assert float(tanks.tank_mass(102.1, 0.0, hydrogen=False, insulated=False)) == pytest.approx(1242.0, rel=0.01)
    bare = tanks.tank_mass(np.array([10.0, 20.0]), np.array([20.0, 35.0]), hydrogen=True, insulated=False)
    wrapped = tanks.tank_mass(np.array([10.0, 20.0]), np.array([20.0, 35.0]), hydrogen=True, insulated=True)
    np.testing.assert_allclose(wrapped - bare, 2.88 * np.array([20.0, 35.0]))  # published, same lecture
