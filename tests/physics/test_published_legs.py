"""Legs between Earth and Moon as a review gives them, its reserve taken off, against ours."""

from __future__ import annotations

from typing import Final

import numpy as np
import pytest

from leadline.constants import MOON_MEAN_DISTANCE_M
from leadline.physics import lunar_transfer

KM: Final = 1_000.0
RESERVE: Final = 0.05
"""published: the review adds 5 % to several of its legs."""

# published: Acta Astronautica 177 (2020) 351-372, Table 4 (PMC7385728), km/s, reserve included: from 407 km to the
# Moon; from there into a 100 km orbit; from that orbit home
OUT, INTO_LOW_ORBIT, HOME = 3.276, 0.952, 1.256
TO_LOOSE_ORBIT: Final = 0.450
"""published, the same, without reserve: from the flight to the Moon into the halo orbit about it."""


def net_m_s(with_reserve_km_s: float) -> float:
    return 1e3 * with_reserve_km_s / (1.0 + RESERVE)


def burn(hours: float | None, low_km: float, high_km: float) -> float:
    seconds = None if hours is None else 3_600.0 * hours
    excess = lunar_transfer.arrival_excess(seconds, MOON_MEAN_DISTANCE_M)
    return float(lunar_transfer.lunar_burn_cost(excess, low_km * KM, high_km * KM))


def test_the_reserve_is_what_stands_between_the_review_and_us() -> None:
    assert net_m_s(OUT) == pytest.approx(3_120.0, abs=0.5)  # published: the review's own figure without it
    distances = np.array([363_300.0, 405_500.0]) * KM  # published: NASA fact sheet, perigee and apogee of the Moon
    ours = lunar_transfer.departure_cost(407.0 * KM, distances)
    assert (np.abs(ours - net_m_s(OUT)) < 0.015 * ours).all()
    assert (np.abs(ours - 1e3 * OUT) > 0.05 * ours).all()


def test_into_low_orbit_after_about_three_days() -> None:
    # the review's flights take some three days: ours of 66 h and the cheapest bracket what it gives without reserve
    assert burn(None, 100.0, 100.0) < net_m_s(INTO_LOW_ORBIT) < burn(66.0, 100.0, 100.0)
    assert burn(70.1, 100.0, 100.0) == pytest.approx(net_m_s(INTO_LOW_ORBIT), rel=0.01)


def test_home_costs_the_review_more_than_any_flight_in_the_plane() -> None:
    # its way home turns the plane as well, which a flight in the plane does not: ours is the floor
    floor = burn(None, 100.0, 100.0)
    assert floor < burn(55.7, 100.0, 100.0) < net_m_s(HOME) < 1.5 * floor


def test_a_loose_orbit_spares_about_half() -> None:
    # practice: the halo orbit is no ellipse about the Moon; with its low and high points, 3000 and 70 000 km from
    # memory, one burn lies below the two that the review counts, which turn the plane too
    loose = burn(None, 3_000.0 - 1_737.0, 70_000.0 - 1_737.0)
    assert 0.3 * 1e3 * TO_LOOSE_ORBIT < loose < 1e3 * TO_LOOSE_ORBIT
    assert 0.55 * burn(None, 100.0, 100.0) > 1e3 * TO_LOOSE_ORBIT
