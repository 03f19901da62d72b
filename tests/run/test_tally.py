"""Sums and counts that merge exactly."""

from __future__ import annotations

import itertools
import json
import math
from fractions import Fraction
from random import Random

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline.run.tally import BINS, LARGEST, ExactSum, Grid, Histogram, Scratch, count_slots

Array = npt.NDArray[np.float64]

numbers = st.floats(allow_nan=False, allow_infinity=False)
countable = st.floats(-LARGEST, LARGEST)

# ------------------------------------------------------------------------------------------------ exact sums


@given(st.lists(numbers, max_size=30))
def test_a_sum_is_the_one_of_fractions(values: list[float]) -> None:
    # exact: Python's rational arithmetic
    total = ExactSum.of(values)
    exact = sum(map(Fraction, values), Fraction(0))
    assert total.fraction == exact
    try:
        rounded = float(exact)
    except OverflowError:
        with pytest.raises(OverflowError):
            _ = total.value
    else:
        assert total.value == rounded


@given(st.lists(numbers, max_size=30), st.randoms(use_true_random=False))
def test_order_and_grouping_leave_no_trace(values: list[float], random: Random) -> None:
    shuffled = list(values)
    random.shuffle(shuffled)
    cut = len(values) // 3
    grouped = ExactSum.of(shuffled[:cut]).merge(ExactSum.of(shuffled[cut:]))
    one_by_one = ExactSum()
    for value in values:
        one_by_one = one_by_one.add(value)
    assert grouped == one_by_one == ExactSum.of(values)
    assert grouped.to_hex() == one_by_one.to_hex()


def test_what_floats_would_lose() -> None:
    # exact: each float sum is off, the second by all there is
    assert ExactSum.of([0.1] * 10).value == float(10 * Fraction(0.1))
    assert sum([1e300, 5e-324, -1e300]) == 0.0
    assert ExactSum.of([1e300, 5e-324, -1e300]).value == 5e-324
    assert ExactSum.of([2.0**53, 1.0, 2.0**-1000]).value == 2.0**53 + 2  # just above a tie, so rounded up


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="only finite numbers"):
        ExactSum().add(value)


@given(st.integers(-(2**2200), 2**2200))
def test_each_sum_has_one_text(scaled: int) -> None:
    total = ExactSum(scaled)
    assert ExactSum.from_hex(total.to_hex()) == total


@pytest.mark.parametrize("text", ["", "xyz", "0x1", "A", "01", "-0", "+1", " 1", "1_0"])
def test_other_texts_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a sum|invalid literal"):
        ExactSum.from_hex(text)


# ------------------------------------------------------------------------------------------------ grids


@given(countable, countable)
def test_a_grid_holds_its_ends_and_is_the_finest(first: float, second: float) -> None:
    low, high = sorted((first, second))
    grid = Grid.over(low, high)
    assert grid.low <= low <= high < grid.high
    assert grid.width == math.ldexp(1.0, grid.exponent)
    assert Fraction(grid.high) - Fraction(grid.low) == BINS * Fraction(grid.width)
    narrower = Fraction(grid.width) / 2
    needed = math.floor(Fraction(high) / narrower) - math.floor(Fraction(low) / narrower) + 1
    largest = max(abs(low), abs(high))
    assert needed > BINS or grid.width <= max(largest * 2.0**-39, 2.0**-300)


def test_zero_is_an_edge_of_every_grid_that_holds_it() -> None:
    # exact: edges are whole multiples of the width
    for low, high in [(-1.0, 3.0), (-0.1, 1e6), (-1e-9, 1e-12)]:
        grid = Grid.over(low, high)
        assert grid.edge(-grid.first) == 0.0
        assert 0 < -grid.first < BINS


def test_a_grid_around_one_number_resolves_it() -> None:
    grid = Grid.over(7.0e5, 7.0e5)
    assert grid.low <= 7.0e5 < grid.high
    assert 0 < grid.width <= 7.0e5 * 2.0**-39


# ------------------------------------------------------------------------------------------------ histograms


def slot_of(value: float, grid: Grid) -> int:
    """Find a value's slot in rational arithmetic."""
    index = math.floor(Fraction(value) / Fraction(grid.width)) - grid.first
    return min(max(index, -1), BINS) + 1


near_zero = st.sampled_from([0.0, -0.0, -5e-324, 5e-324, -1e-300, 1e-17, -1e-17, -1.0, 1.0])


@given(st.lists(st.one_of(st.floats(-50, 50), near_zero, countable), min_size=1, max_size=40))
def test_counts_are_those_of_rational_arithmetic(values: list[float]) -> None:
    grid = Grid.over(-20.0, 30.0)
    counted = Histogram.empty(grid).fill(np.array(values))
    expected = np.bincount([slot_of(v, grid) for v in values], minlength=BINS + 2)
    assert np.array_equal(counted.slots, expected)
    below_zero = counted.under + int(counted.counts[: -grid.first].sum())
    # exact: the edge at zero parts failures from successes; a shift by 2**-5 makes -5e-324 vanish, but not its sign
    assert below_zero == sum(v < 0 for v in values)


@given(st.lists(st.lists(st.floats(-50, 50), max_size=10), max_size=6), st.randoms(use_true_random=False))
def test_histograms_merge_in_any_order(groups: list[list[float]], random: Random) -> None:
    grid = Grid.over(-20.0, 30.0)
    parts = [Histogram.empty(grid).fill(np.array(group)) for group in groups]
    everything = Histogram.empty(grid).fill(np.array(list(itertools.chain(*groups))))
    random.shuffle(parts)
    merged = Histogram.empty(grid)
    for part in parts:
        merged = part.merge(merged)
    assert merged == everything


def test_other_edges_are_refused() -> None:
    with pytest.raises(ValueError, match="different edges"):
        Histogram.empty(Grid(0, 0)).merge(Histogram.empty(Grid(1, 0)))


def test_memory_is_reused_and_may_be_larger_than_needed() -> None:
    grid, scratch = Grid.over(-4.0, 4.0), Scratch(100)
    values = np.linspace(-5.0, 5.0, 37)
    first = count_slots(values, grid, (-5.0, 5.0), scratch)
    kept = first.copy()
    count_slots(-values[:20], grid, (0.0, 5.0), scratch)
    assert np.array_equal(first, kept)
    assert kept.sum() == 37


@given(st.lists(st.floats(-60, 60), max_size=60), st.integers(2, 300))
def test_a_coarse_histogram_keeps_every_count(values: list[float], limit: int) -> None:
    fine = Histogram.empty(Grid.over(-20.0, 30.0)).fill(np.array(values))
    coarse = fine.coarsen(limit)
    assert len(coarse.counts) <= limit
    assert (coarse.under, coarse.over) == (fine.under, fine.over)
    inside = [v for v in values if fine.grid.low <= v < fine.grid.high]
    for i, count in enumerate(coarse.counts):
        low, high = coarse.start + i * coarse.width, coarse.start + (i + 1) * coarse.width
        assert count == sum(low <= v < high for v in inside)
    assert sum(coarse.counts) == len(inside)
    assert (coarse.start / coarse.width).is_integer()  # so zero stays an edge


def test_a_coarse_histogram_uses_the_bins_it_may() -> None:
    values = np.random.default_rng(1).standard_normal(10_000)
    coarse = Histogram.empty(Grid.over(-5.0, 5.0)).fill(values).coarsen(240)
    assert 120 <= len(coarse.counts) <= 240


def test_too_few_bins_are_refused() -> None:
    with pytest.raises(ValueError, match="at least 2"):
        Histogram.empty(Grid(0, 0)).coarsen(1)


@given(st.lists(st.floats(-60, 60), max_size=60))
def test_a_histogram_goes_through_json(values: list[float]) -> None:
    histogram = Histogram.empty(Grid.over(-20.0, 30.0)).fill(np.array(values))
    assert Histogram.from_json(json.loads(json.dumps(histogram.to_json()))) == histogram


@pytest.mark.parametrize(("begin", "slots"), [(-1, [1]), (BINS + 2, [1]), (0, [-1])])
def test_counts_that_fit_no_histogram_are_refused(begin: int, slots: list[int]) -> None:
    with pytest.raises(ValueError, match="do not fit"):
        Histogram.from_json({"first": 0, "exponent": 0, "begin": begin, "slots": slots})
