"""The chance over one or two numbers: counts, bounds, and lines where the wanted chance is reached."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from leadline.risk import exact_lower_bound, exact_upper_bound
from leadline.risk.sweep import Axis, Sweep, contour_lines, crossings, sweep

Array = npt.NDArray[np.float64]

CASES = 20_000
Z = np.random.default_rng(1962).standard_normal((2, CASES))
LOAD = Axis("load", np.linspace(35, 55, 11), "{:.1f} t".format)
MASS = Axis("dry mass", np.linspace(16, 22, 7), "{:.1f} t".format)


def test_one_number_against_the_normal_law() -> None:
    # exact: margin x - (45 + 3 z), chance Phi((x - 45) / 3)
    found = sweep(lambda x: int(np.count_nonzero(x - 45 - 3 * Z[0] >= 0)), [LOAD], CASES, 0.9, 0.95)
    truth = scipy.stats.norm.cdf((LOAD.values - 45) / 3)
    # 4 standard errors, false alarm 1 in 1500 over the 11 values
    assert np.all(np.abs(found.value - truth) <= 4 * np.sqrt(truth * (1 - truth) / CASES) + 1 / CASES)
    # exact: the quantile 45 + 3 Phi^-1(0.9); its standard error is sqrt(p q / n) / density
    normal = scipy.stats.norm(45, 3)
    spread = math.sqrt(0.09 / CASES) / normal.pdf(normal.ppf(0.9))
    ((likely,),), ((shown,),) = (line.tolist() for line in (found.likely[0], found.shown[0]))
    assert likely == pytest.approx(normal.ppf(0.9), abs=4 * spread)
    # exact to first order: the lower bound is 1.645 standard errors away
    assert shown - likely == pytest.approx(1.645 * spread, rel=0.1)
    assert "load from 35.0 t to 55.0 t, 20 000 cases, the same for every value, give a chance" in found.sentence
    assert "90 % is shown with 95 % confidence from 49.0 t to 55.0 t; the plain estimate crosses it at 48." in (
        found.sentence
    )


def test_bounds_are_clopper_pearson() -> None:
    # exact: the same bounds one by one
    counts = np.array([0, 1, 50, 99, 100])
    found = Sweep.of([replace(LOAD, values=np.arange(5.0))], counts, 100, 0.9, 0.95)
    assert found.low == pytest.approx([exact_lower_bound(int(k), 100, 0.95) for k in counts], rel=1e-12)
    assert found.high == pytest.approx([exact_upper_bound(int(k), 100, 0.95) for k in counts], rel=1e-12)


def test_none_and_all_count_as_half_a_case() -> None:
    # exact: halfway between equal and opposite scores
    found = Sweep.of([replace(LOAD, values=np.array([10.0, 20.0]))], np.array([0, 101]), 101, 0.5, 0.9)
    assert found.likely[0] == pytest.approx(np.array([[15.0]]), abs=1e-12)


@pytest.mark.parametrize(("counts", "said"), [([0, 0, 0], "none of the 3"), ([100, 0, 100], "2 of the 3")])
def test_a_sweep_says_where_it_is_shown(counts: list[int], said: str) -> None:
    found = Sweep.of([replace(LOAD, values=np.arange(3.0))], np.array(counts), 100, 0.9, 0.9)
    assert f"90 % is shown with 90 % confidence at {said} tried" in found.sentence
    assert len(found.likely) == len(found.shown) == (2 if max(counts) else 0)


def test_too_few_cases_show_it_nowhere() -> None:
    found = Sweep.of([replace(LOAD, values=np.arange(3.0))], np.array([0, 5, 10]), 10, 0.95, 0.9)
    assert found.shown == ()
    assert len(found.likely) == 1


def test_two_numbers_against_the_normal_law() -> None:
    # exact: margin x - y - (25 + 3 z1 + z2), so the line is x - y = 25 + sqrt(10) Phi^-1(0.9) all over the grid
    def succeeded(x: float, y: float) -> int:
        return int(np.count_nonzero(x - y - 25 - 3 * Z[0] - Z[1] >= 0))

    found = sweep(succeeded, [LOAD, MASS], CASES, 0.9, 0.95)
    normal = scipy.stats.norm(25, math.sqrt(10))
    spread = math.sqrt(0.09 / CASES) / normal.pdf(normal.ppf(0.9))
    (line,) = found.likely
    gap = line[:, 0] - line[:, 1] - normal.ppf(0.9)
    # 4 standard errors, and what a straight line misses inside a cell for sampled counts: as much again
    assert np.abs(gap).max() <= 8 * spread
    # it runs from one side of the grid to the other, through every row
    assert {line[0, 1], line[-1, 1]} == {16, 22}
    assert set(MASS.values) <= set(line[:, 1])
    assert found.value.shape == (11, 7)
    assert f"at {int((found.low >= 0.9).sum())} of the 77 tried" in found.sentence


def test_a_circle_closes() -> None:
    # exact: x^2 + y^2 = 4; linear interpolation of a parabola in cells of 0.1 errs by at most h^2 / 8 x 2 / slope 2
    x = np.linspace(-3, 3, 61)
    (line,) = contour_lines(x, x + 0.02, 4 - x[:, None] ** 2 - (x + 0.02) ** 2)
    assert line[0] == pytest.approx(line[-1])
    assert np.abs(np.hypot(*line.T) - 2).max() <= 0.1**2 / 8
    # exact: circumference 4 pi, a polygon inside by the square of the cell over the radius
    assert np.hypot(*np.diff(line, axis=0).T).sum() == pytest.approx(4 * math.pi, rel=2e-3)


@pytest.mark.parametrize("high", [1.0, 3.0])
def test_a_saddle_joins_the_corners_its_middle_belongs_to(high: float) -> None:
    # exact: corners +high, -2, +high, -2, so the mean's sign is that of high - 2; each line cuts off one of the others
    x = np.array([0.0, 1.0])
    lines = contour_lines(x, x, np.array([[high, -2.0], [-2.0, high]]))
    middles = sorted(tuple(line.mean(axis=0).round(12).tolist()) for line in lines)
    near = 0.5 * 2 / (2 + high)  # half the distance from a low corner
    far = 0.5 * high / (2 + high)
    low_cut, high_cut = [(near, 1 - near), (1 - near, near)], [(far, far), (1 - far, 1 - far)]
    assert np.allclose(middles, low_cut if high > 2 else high_cut)


heights = arrays(np.float64, (6, 5), elements=st.sampled_from([-3.0, -1.0, 0.5, 2.0]))


@given(heights)
def test_lines_part_high_from_low(field: Array) -> None:
    # exact: every edge of the grid whose ends differ is crossed once, by one line; lines end on the border or close
    x, y = np.arange(6.0), np.arange(5.0)
    lines = contour_lines(x, y, field)
    above = field >= 0
    changes = int((above[1:] != above[:-1]).sum() + (above[:, 1:] != above[:, :-1]).sum())
    points = {tuple(point) for line in lines for point in line.tolist()}
    closed = [line for line in lines if np.array_equal(line[0], line[-1])]
    assert len(points) == changes == sum(len(line) for line in lines) - len(closed)
    for line in lines:
        assert len(line) >= 2
        for end in (line[0], line[-1]):
            border = end[0] in {0, 5} or end[1] in {0, 4}
            assert border or any(line is other for other in closed)


@given(st.lists(st.sampled_from([-3.0, -1.0, 0.5, 2.0]), min_size=2, max_size=9))
def test_crossings_lie_between_the_values_they_part(field: list[float]) -> None:
    found = crossings(np.arange(len(field), dtype=np.float64), np.array(field))
    cells = [k for k, (f, g) in enumerate(itertools.pairwise(field)) if (f >= 0) != (g >= 0)]
    assert [math.floor(x) for x in found] == cells
    # exact: where a straight line is 0
    assert np.allclose(np.interp(found, range(len(field)), field), 0, atol=1e-12)


@pytest.mark.parametrize(
    ("counts", "cases", "asked"), [([0, 1], 10, 0.9), ([0, 1, 11], 10, 0.9), ([0, -1, 2], 10, 0.9), ([0, 1, 2], 10, 1)]
)
def test_impossible_counts_are_refused(counts: list[int], cases: int, asked: float) -> None:
    with pytest.raises(ValueError, match="count"):
        Sweep.of([replace(LOAD, values=np.arange(3.0))], np.array(counts), cases, asked, 0.9)


@pytest.mark.parametrize("values", [[1.0], [2.0, 1.0], [1.0, math.nan]])
def test_values_that_do_not_rise_are_refused(values: list[float]) -> None:
    with pytest.raises(ValueError, match="must rise"):
        Axis("load", np.array(values), str)
