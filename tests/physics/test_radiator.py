"""Radiator balance against tabulated values, view factors against quadrature."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad, quad

from leadline.constants import EARTH_RADIUS_M, MOON_RADIUS_M
from leadline.physics.radiator import (
    COATINGS,
    ENVIRONMENTS,
    SIZING_ENVIRONMENT,
    absorbed,
    area_needed,
    heat_rejected,
    orbit_average_absorbed,
    rejection_margin,
    sink_temperature,
    temperature_needed,
    view_factor_facing,
    view_factor_side,
    view_factor_sphere,
)

NEW, OLD = COATINGS["beginning of life"], COATINGS["end of life"]

# cross-checked: the balance worked out by an independent script from the same handbook inputs; W/m2 absorbed, sink
# temperature in K, net W/m2 at 260, 280, 300, 320 K, each to its last printed digit
BALANCE = {
    ("low Earth orbit, noon", "beginning of life"): (72.01, 194.9, 156.02, 234.70, 332.18, 451.23),
    ("low Earth orbit, noon", "end of life"): (81.74, 202.9, 138.51, 214.51, 308.66, 423.65),
    ("low Earth orbit, night", "beginning of life"): (60.22, 186.4, 167.81, 246.49, 343.97, 463.02),
    ("low Earth orbit, night", "end of life"): (58.16, 186.4, 162.09, 238.09, 332.24, 447.23),
    ("low Earth orbit, noon, facing the Earth", "beginning of life"): (220.82, 257.9, 7.20, 85.89, 183.36, 302.41),
    ("low Earth orbit, noon, facing the Earth", "end of life"): (250.68, 268.5, -30.43, 45.57, 139.72, 254.71),
    ("low Earth orbit, noon, full sun", "beginning of life"): (208.11, 254.1, 19.92, 98.60, 196.08, 315.13),
    ("low Earth orbit, noon, full sun", "end of life"): (353.94, 292.7, -133.69, -57.69, 36.46, 151.45),
    ("low lunar orbit, noon", "beginning of life"): (320.96, 283.2, -92.93, -14.25, 83.23, 202.28),
    ("low lunar orbit, noon", "end of life"): (315.02, 284.3, -94.77, -18.77, 75.38, 190.37),
    ("low lunar orbit, noon, facing the Moon", "beginning of life"): (
        967.67, 373.2, -739.64, -660.96, -563.48, -444.44,
    ),
    ("low lunar orbit, noon, facing the Moon", "end of life"): (949.78, 374.7, -729.53, -653.53, -559.38, -444.39),
    ("low lunar orbit, night", "beginning of life"): (1.36, 72.2, 226.67, 305.35, 402.83, 521.87),
    ("low lunar orbit, night", "end of life"): (1.31, 72.2, 218.94, 294.94, 389.09, 504.08),
    ("deep space", "beginning of life"): (0.0, 0.0, 228.03, 306.71, 404.18, 523.23),
    ("deep space", "end of life"): (0.0, 0.0, 220.25, 296.25, 390.41, 505.39),
    ("deep space, full sun", "beginning of life"): (136.10, 228.5, 91.93, 170.61, 268.08, 387.13),
    ("deep space, full sun", "end of life"): (272.20, 274.1, -51.95, 24.05, 118.21, 233.19),
}  # fmt: skip


@pytest.mark.parametrize(("environment", "coating"), BALANCE)
def test_balance(environment: str, coating: str) -> None:
    taken, sink, *net = BALANCE[environment, coating]
    place, face = ENVIRONMENTS[environment], COATINGS[coating]
    assert absorbed(place, face) == pytest.approx(taken, abs=0.006)
    assert sink_temperature(place, face) == pytest.approx(sink, abs=0.06)
    assert heat_rejected(1.0, np.array([260.0, 280.0, 300.0, 320.0]), place, face) == pytest.approx(net, abs=0.006)


def test_every_named_environment_is_in_the_table() -> None:
    assert {environment for environment, _ in BALANCE} == set(ENVIRONMENTS)
    assert SIZING_ENVIRONMENT in ENVIRONMENTS


def test_lunar_noon_is_the_sizing_case() -> None:
    # practice: of the environments a radiator can be turned into, lunar noon asks for the largest area at 300 K, new
    side_on = [name for name in ENVIRONMENTS if "facing" not in name and "full sun" not in name]
    areas = {name: float(area_needed(5e3, 300.0, ENVIRONMENTS[name], NEW)) for name in side_on}
    assert max(areas, key=areas.__getitem__) == SIZING_ENVIRONMENT


@pytest.mark.parametrize(
    ("radius_m", "altitude_m", "facing", "side", "sphere"),
    # cross-checked: closed forms worked out independently, nadir and side by quadrature; tolerance 1e-5 as given there
    [
        (EARTH_RADIUS_M, 400e3, 0.885455, 0.288727, 0.330778),
        (EARTH_RADIUS_M, 200e3, 0.940117, 0.345781, 0.377645),
        (MOON_RADIUS_M, 100e3, 0.894113, 0.296558, 0.337298),
    ],
)
def test_view_factors(radius_m: float, altitude_m: float, facing: float, side: float, sphere: float) -> None:
    assert float(view_factor_facing(radius_m, altitude_m)) == pytest.approx(facing, rel=1e-5)
    assert float(view_factor_side(radius_m, altitude_m)) == pytest.approx(side, rel=1e-5)
    assert float(view_factor_sphere(radius_m, altitude_m)) == pytest.approx(sphere, rel=1e-5)


@pytest.mark.parametrize("altitude_m", [100e3, 1000e3])
def test_view_factors_by_quadrature(altitude_m: float) -> None:
    # exact: integral of the cosine from the plate's normal over the cone in which the body is seen, over pi
    cone = float(np.arcsin(MOON_RADIUS_M / (MOON_RADIUS_M + altitude_m)))
    facing, _ = quad(lambda t: 2.0 * np.cos(t) * np.sin(t), 0.0, cone)
    side, _ = dblquad(lambda p, t: np.sin(t) ** 2 * np.cos(p) / np.pi, 0.0, cone, -np.pi / 2, np.pi / 2)
    sphere, _ = quad(lambda t: 0.5 * np.sin(t), 0.0, cone)
    assert float(view_factor_facing(MOON_RADIUS_M, altitude_m)) == pytest.approx(facing, rel=1e-8)
    assert float(view_factor_side(MOON_RADIUS_M, altitude_m)) == pytest.approx(side, rel=1e-8)
    assert float(view_factor_sphere(MOON_RADIUS_M, altitude_m)) == pytest.approx(sphere, rel=1e-8)


@pytest.mark.parametrize("sun_angle", [0.0, 0.7, np.pi / 2])
def test_orbit_average_by_quadrature(sun_angle: float) -> None:
    # exact: the noon share goes with the cosine of the sun's zenith angle below, round one orbit
    noon, night = ENVIRONMENTS["low lunar orbit, noon"], ENVIRONMENTS["low lunar orbit, night"]
    day = absorbed(noon, OLD) - absorbed(night, OLD)
    mean, _ = quad(lambda arc: max(np.cos(arc) * np.cos(sun_angle), 0.0), -np.pi, np.pi, points=[-np.pi / 2, np.pi / 2])
    expected = absorbed(night, OLD) + day * mean / (2.0 * np.pi)
    assert float(orbit_average_absorbed(noon, night, OLD, sun_angle)) == pytest.approx(expected, rel=1e-7)


@given(
    heat=st.floats(1.0, 1e5), temperature=st.floats(200.0, 400.0), share=st.floats(0.05, 1.0),
    environment=st.sampled_from(sorted(ENVIRONMENTS)), coating=st.sampled_from(sorted(COATINGS)),
)  # fmt: skip
def test_area_and_temperature_undo_the_balance(
    heat: float, temperature: float, share: float, environment: str, coating: str
) -> None:
    place, face = ENVIRONMENTS[environment], COATINGS[coating]
    area = float(area_needed(heat, temperature, place, face, share))
    if np.isinf(area):
        assert heat_rejected(1.0, temperature, place, face, share) <= 0.0
        return
    assert float(rejection_margin(heat, area, temperature, place, face, share)) == pytest.approx(0.0, abs=1e-6 * heat)
    assert float(temperature_needed(heat, area, place, face, share)) == pytest.approx(temperature, rel=1e-9)


@given(temperature=st.floats(150.0, 400.0), area=st.floats(0.1, 100.0))
def test_more_temperature_rejects_more_and_stowed_rejects_nothing(temperature: float, area: float) -> None:
    for place in ENVIRONMENTS.values():
        assert heat_rejected(area, temperature + 1.0, place, NEW) > heat_rejected(area, temperature, place, NEW)
        assert float(heat_rejected(area, temperature, place, NEW, 0.0)) == 0.0
    assert np.isinf(temperature_needed(10.0, area, ENVIRONMENTS["deep space"], NEW, 0.0))
