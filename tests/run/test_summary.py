"""Block summaries against a slow and plain count of the same cases."""

from __future__ import annotations

import math
import threading
from collections import Counter
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings

from leadline.run.summary import BlockSummary, Edges, Shape, SummaryWorkspace, summarise_block
from leadline.run.tally import BINS, LARGEST, Grid
from run.summary_blocks import Block, blocks, edges_for, random_block

# ------------------------------------------------------------------------------------------------ the plain count


def slot_of(value: float, grid: Grid) -> int:
    index = math.floor(Fraction(value) / Fraction(grid.width)) - grid.first
    return min(max(index, -1), BINS) + 1


def assert_counted(block: Block, edges: Edges, found: BlockSummary) -> None:
    """Go through the cases one by one in plain Python and compare everything."""
    margins = block.margins.T.tolist()
    checks = np.stack(block.rows).T.tolist()
    invalid, succeeded, more = 0, 0, 0
    failures: Counter[int] = Counter()
    firsts: Counter[int] = Counter()
    combinations: Counter[int] = Counter()
    kept: list[list[float]] = []
    for case, looks in zip(margins, checks, strict=True):
        if not all(abs(m) <= LARGEST for m in case):
            invalid += 1
            continue
        kept.append(case)
        failing = [j for j, m in enumerate(case) if m < 0]
        failures.update(failing)
        if not failing:
            succeeded += 1
            continue
        firsts[next(c for c, look in enumerate(looks) if look < 0)] += 1
        if len(failing) <= 3:
            combinations[sum(1 << j for j in failing)] += 1
        else:
            more += 1
    assert (found.cases, found.invalid, found.succeeded) == (len(margins), invalid, succeeded)
    assert found.failures.tolist() == [failures[j] for j in range(block.shape.requirements)]
    assert found.first_failures.tolist() == [firsts[c] for c in range(len(block.shape.checks))]
    assert dict(found.combinations) == combinations
    assert found.more == more
    assert found.blocks == 1
    assert found.block_cases == len(margins)
    assert found.met.tolist() == [succeeded] + [len(kept) - failures[j] for j in range(block.shape.requirements)]
    assert found.met_squared.tolist() == [k * k for k in found.met.tolist()]
    for j in range(block.shape.requirements):
        assert_spread(j, [case[j] for case in kept], edges, found)


def assert_spread(j: int, values: list[float], edges: Edges, found: BlockSummary) -> None:
    slots = np.zeros(BINS + 2, dtype=np.int64)
    for value in values:
        slots[slot_of(value, edges.grids[j])] += 1
    assert np.array_equal(found.slots[j], slots)
    assert found.minimum[j] == min(values, default=math.inf)
    assert found.maximum[j] == max(values, default=-math.inf)
    assert not np.signbit(found.minimum[j]) or found.minimum[j] != 0.0
    assert not np.signbit(found.maximum[j]) or found.maximum[j] != 0.0
    # within a block sums are rounded; each deviation and each square by half a unit, then at most log2(n) + 8 times
    deviations = [Fraction(v) - Fraction(edges.centres[j]) for v in values]
    slack = 2.0**-52 * (len(values) + 2)
    scale = float(sum(map(abs, deviations), Fraction(0)))
    assert abs(float(found.sums[j].fraction - sum(deviations, Fraction(0)))) <= slack * scale
    squares = sum((d * d for d in deviations), Fraction(0))
    # squares of the smallest numbers vanish
    assert abs(found.squares[j].fraction - squares) <= Fraction(slack) * squares + Fraction(2) ** -1000


# ------------------------------------------------------------------------------------------------ one block


@settings(max_examples=200)
@given(blocks())
def test_a_block_is_counted_as_by_hand(block: Block) -> None:
    edges = edges_for(block.shape.requirements)
    assert_counted(block, edges, block.summed(edges))


@pytest.mark.parametrize("shift", [12.0, 4.0, 2.5, 0.5, -6.0])  # nothing fails, one in a hundred, ..., all fail
@pytest.mark.parametrize(("requirements", "checks"), [(1, 1), (6, 10), (8, 8), (9, 20), (40, 120), (70, 75)])
def test_many_cases_are_counted_as_by_hand(requirements: int, checks: int, shift: float) -> None:
    block = random_block(requirements, checks, 300, shift, seed=requirements)
    edges = Edges.of(block.margins)
    assert_counted(block, edges, block.summed(edges))


def test_a_few_invalid_cases_among_many() -> None:
    block = random_block(6, 10, 700, 2.0, seed=5)
    block.rows[2][[3, 90, 400]] = math.nan
    block.rows[7][[90, 91]] = [math.inf, -math.inf]
    block.rows[0][8] = -1e160
    edges = edges_for(6)
    found = block.summed(edges)
    assert found.invalid == 5
    assert_counted(block, edges, found)


def test_only_invalid_cases() -> None:
    block = Block(Shape(2, (0, 1)), [np.full(5, math.nan), np.ones(5)])
    found = block.summed(edges_for(2))
    assert (found.cases, found.invalid, found.succeeded, found.failed, found.valid) == (5, 5, 0, 0, 0)
    assert found.slots.sum() == 0
    assert found.minimum.tolist() == [math.inf, math.inf]
    assert BlockSummary.from_bytes(found.to_bytes()) == found
    with pytest.raises(ValueError, match="no valid case"):
        found.moments(0)


def test_a_margin_of_zero_is_a_success() -> None:
    block = Block(Shape(1, (0,)), [np.array([0.0, -0.0, 5e-324, -5e-324])])
    found = block.summed(edges_for(1))
    assert (found.succeeded, found.failed) == (3, 1)
    grid = edges_for(1).grids[0]
    assert found.slots[0, -grid.first + 1] == 3
    assert found.slots[0, -grid.first] == 1


def test_checks_on_the_same_leg_blame_the_first_listed() -> None:
    block = Block(Shape(2, (1, 0)), [np.array([-1.0]), np.array([-2.0])])
    assert block.summed(edges_for(2)).first_failures.tolist() == [1, 0]


def test_every_case_ends_in_one_state() -> None:
    block = random_block(6, 10, 700, 1.0, seed=9)
    block.rows[1][::50] = math.nan
    found = block.summed(Edges.of(block.margins))
    assert found.succeeded + found.failed + found.invalid == found.cases
    assert found.first_failures.sum() == found.failed
    assert sum(found.combinations.values()) + found.more == found.failed
    assert (found.slots.sum(axis=1) == found.valid).all()


def test_a_view_of_larger_memory_is_counted_alike() -> None:
    block = random_block(6, 10, 400, 1.0, seed=3)
    wide = np.full((6, 1000), math.nan)
    wide[:, :400] = block.margins
    edges = Edges.of(block.margins)
    found = summarise_block(wide[:, :400], block.rows, block.shape, edges)
    assert found.to_bytes() == block.summed(edges).to_bytes()


def test_workspace_and_thread_leave_no_trace() -> None:
    first, second = random_block(6, 10, 600, 1.0, seed=1), random_block(6, 10, 250, 3.0, seed=2)
    edges = Edges.of(first.margins)
    workspace = SummaryWorkspace(1000, 6)
    alone = [block.summed(edges, SummaryWorkspace(len(block.rows[0]), 6)).to_bytes() for block in (first, second)]
    reused = [block.summed(edges, workspace).to_bytes() for block in (first, second, first)]
    assert reused == [*alone, alone[0]]
    found: list[bytes] = []
    thread = threading.Thread(target=lambda: found.extend(b.summed(edges).to_bytes() for b in (first, second)))
    thread.start()
    thread.join()
    assert found == alone


# ------------------------------------------------------------------------------------------------ edges


def test_edges_fit_a_normal_pilot() -> None:
    pilot = np.random.default_rng(6).normal(900.0, 300.0, (1, 4096))
    grid = Edges.of(pilot).grids[0]
    # exact: 1 % and 99 % lie 2.326 sd from the mean and the grid reaches 0.6 times their distance further, 5.1 sd; the
    # quantiles of 4096 cases scatter by 0.06 sd, and the grid may be up to twice as wide for its power of two
    assert 900 - 2 * 5.5 * 300 < grid.low < 900 - 4.8 * 300
    assert 900 + 4.8 * 300 < grid.high < 900 + 2 * 5.5 * 300
    assert 300 / 200 < grid.width * 200 < 2 * 300 * 2  # 100 to 200 bins a standard deviation
    assert grid.edge(-grid.first) == 0.0


@pytest.mark.parametrize(
    "row",
    [
        [5.0] * 50,
        [0.0] * 50,
        [-7e6] * 50,
        [1.0] * 49 + [-2e4],
        [0.0, 1.0] * 25,
        [math.nan] * 50,
        [math.inf, -math.inf] * 25,
        [math.nan, 3.0] * 25,
        [1e200, 3.0, 4.0],
        [1e-320, 2e-320, 0.0],
        [3.0],
    ],
)
def test_edges_can_be_fitted_to_anything(row: list[float]) -> None:
    pilot = np.array([row])
    edges = Edges.of(pilot)
    held = [v for v in row if abs(v) <= 1e70]
    grid = edges.grids[0]
    assert grid.low < grid.high
    assert all(grid.low <= v < grid.high for v in held)
    assert math.isfinite(edges.centres[0])
    found = summarise_block(pilot, [pilot[0]], Shape(1, (0,)), edges)
    assert found.slots[0, 1:-1].sum() == len(held) if held else found.valid == sum(abs(v) <= LARGEST for v in row)


def test_edges_follow_from_the_pilot_alone() -> None:
    pilot = np.random.default_rng(8).standard_normal((3, 500))
    assert Edges.of(pilot) == Edges.of(pilot.copy())
