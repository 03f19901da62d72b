"""What a budget reads in one look is what the fuller functions give."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from leadline.constants import EARTH_GM_M3_S2, EARTH_RADIUS_M
from leadline.physics.entry_grid import FAST, LIFT, LOG_BETA, corner_shares, interpolate
from leadline.physics.perigee_passes import pass_course, pass_orbits, perigee_passes

CASES = 10_000


def burns() -> tuple[tuple[Any, Any, Any], dict[str, Any]]:
    """Draw burns, some of them too long, too dear or no burn at all."""
    rng = np.random.default_rng(4)
    costs = np.append(rng.uniform(100.0, 8_500.0, CASES), [-1.0, np.nan, 3_000.0])
    thrusts = np.append(rng.uniform(0.2, 4.0, CASES), [1.0, 1.0, 0.0])
    return (costs, rng.uniform(2_900.0, 4_600.0, CASES + 3), thrusts), {
        "radius_m": EARTH_RADIUS_M + 400e3,
        "gravity_m3_s2": EARTH_GM_M3_S2,
    }


@pytest.mark.parametrize("passes", [2, 3, 5])
def test_one_look_tells_what_the_others_tell(passes: int) -> None:
    given, place = burns()
    course = pass_course(*given, passes=passes, paths=True, **place)
    whole, orbits = perigee_passes(*given, passes=passes, **place), pass_orbits(*given, passes=passes, **place)
    assert 0.1 < np.isnan(course.loss_m_s).mean() < 0.9  # both kinds are there
    for one, other in (
        (course.loss_m_s, whole.loss_m_s),
        (course.arc_rad, whole.arc_rad),
        (course.period_s, whole.period_s),
        (course.perigee_radius_m, orbits.perigee_radius_m),
        (course.energy_j_kg, orbits.energy_j_kg),
    ):
        np.testing.assert_array_equal(one, other)


def test_paths_that_nobody_asks_for_are_not_there() -> None:
    given, place = burns()
    course = pass_course(*given, passes=2, paths=False, **place)
    assert course.perigee_radius_m.shape == course.energy_j_kg.shape == (0, CASES + 3)


def test_one_column_read_alone_is_the_column_of_the_product() -> None:
    rng, axes = np.random.default_rng(5), (FAST, LOG_BETA, LIFT)
    cells = tuple(axis.find(rng.uniform(axis.nodes[0], axis.nodes[-1], 500)) for axis in axes)
    values = rng.random(FAST.size * LOG_BETA.size * LIFT.size).astype(np.float32)
    # exact, to the last bit: the same products in the same order
    np.testing.assert_array_equal(interpolate(cells, axes, values), corner_shares(cells, axes) @ values)
