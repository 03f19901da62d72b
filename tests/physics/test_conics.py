"""Times along conics: the short way through a block of ellipses against the way that holds everywhere."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline.constants import EARTH_GM_M3_S2
from leadline.physics.conics import Conics


def orbits(perigees: list[float], eccentricities: list[float]) -> Conics:
    q, e = np.array(perigees), np.array(eccentricities)
    return Conics.of(q, (e - 1.0) * EARTH_GM_M3_S2 / (2.0 * q), EARTH_GM_M3_S2)


@given(
    st.lists(st.tuples(st.floats(6.5e6, 7.5e6), st.floats(0.01, 0.997)), min_size=1, max_size=6),
    st.floats(6.4e6, 1e8),
)
def test_the_short_way_is_the_long_way(given: list[tuple[float, float]], radius: float) -> None:
    block = orbits([q for q, _ in given], [e for _, e in given])
    # exact but for rounding, which the difference of two near-equal terms enlarges near perigee
    np.testing.assert_allclose(block.time_to(radius), block._anywhere(radius), rtol=1e-9, atol=1e-6)


@pytest.mark.parametrize("stray", [0.0, 1.0, 1.5, float("nan")])
def test_an_orbit_of_another_kind_in_the_block_changes_no_neighbour(stray: float) -> None:
    alone = orbits([7e6], [0.7]).time_to(2e7)
    mixed = orbits([7e6, 7e6], [0.7, stray]).time_to(2e7)
    assert mixed[0] == pytest.approx(alone[0], rel=1e-13)
    assert np.isnan(mixed[1]) == np.isnan(stray)


def test_a_block_is_below_a_radius_only_where_every_orbit_is() -> None:
    apogee = 7e6 * 1.5 / 0.5
    assert orbits([7e6, 7e6], [0.5, 0.4]).all_below(apogee * 1.0001)  # exact: q (1 + e)/(1 - e)
    assert not orbits([7e6, 7e6], [0.5, 0.6]).all_below(apogee * 1.0001)
    assert not orbits([7e6, 7e6], [0.5, float("nan")]).all_below(1e12)
    assert not orbits([7e6], [1.2]).all_below(1e12)
