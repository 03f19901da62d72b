"""The Moon's distance against another ephemeris and against published extremes."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from conftest import need
from leadline.physics import moon

need("erfa")


def seconds(*date: int) -> float:
    return datetime(*date, tzinfo=UTC).timestamp() - moon.J2000_S  # type: ignore[misc, arg-type]


def nearest_and_farthest(start: float, days: float) -> tuple[float, float]:
    distance = moon.distance_on(start + np.arange(0, days * 86_400, 1_800.0))
    return float(distance.min()) / 1e3, float(distance.max()) / 1e3


@pytest.mark.parametrize(
    ("date", "extreme", "kilometres"),
    # published: extremes 1960-2040, hemelkalender.be glossary
    [
        ((2034, 11, 24), 0, 356_445),
        ((1988, 12, 15), 0, 370_354),
        ((1976, 7, 18), 1, 404_064),
        ((1984, 3, 1), 1, 406_712),
    ],
)
def test_published_extremes(date: tuple[int, int, int], extreme: int, kilometres: float) -> None:
    assert nearest_and_farthest(seconds(*date), 3.0)[extreme] == pytest.approx(kilometres, abs=10.0)


def test_against_another_ephemeris() -> None:
    need("de421")
    ephemeris = need("jplephem").Ephemeris(need("de421"))
    days = np.linspace(0.0, 365.25 * 40, 1_000)
    position = ephemeris.position("moon", 2_451_545.0 + days)
    theirs = np.sqrt(np.sum(np.square(position), axis=0))
    ours = moon.distance_on(days * 86_400.0) / 1e3
    assert np.abs(ours - theirs).max() < 10.0  # cross-checked: de421 through jplephem, km


def test_the_distribution_is_that_of_an_orbit() -> None:
    # computed with another built-in ephemeris over 18.6 years from 2025-01-01, 3 h steps
    distance = moon.distance_on(seconds(2025, 1, 1) + np.arange(0, 18.6134 * 365.25 * 86_400, 10_800.0)) / 1e3
    assert distance.min() == pytest.approx(356_448.5, abs=10.0)
    assert distance.max() == pytest.approx(406_688.6, abs=10.0)
    assert distance.mean() == pytest.approx(384_989.6, abs=10.0)
    assert distance.std() == pytest.approx(15_161.4, abs=10.0)


def test_a_window_interpolates_to_a_kilometre() -> None:
    first = seconds(2034, 3, 2)
    times, distances = moon.distance_between(first, first + 27 * 86_400.0)
    between = np.random.default_rng(2).uniform(first, times[-1], 500)
    np.testing.assert_allclose(np.interp(between, times, distances), moon.distance_on(between), atol=1_000.0)


def test_dates_outside_the_ephemeris_are_refused() -> None:
    with pytest.raises(ValueError, match="for the years 1950 to 2100"):
        moon.distance_on(seconds(2150, 1, 1))
