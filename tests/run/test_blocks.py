"""Which cases stand in which block, and what is left to do."""

from __future__ import annotations

from itertools import pairwise

import hypothesis.strategies as st
import pytest
from hypothesis import given

from leadline.run.blocks import (
    Layout,
    Spans,
    add_span,
    blocks_per_task,
    checkpoints,
    count_blocks,
    gaps,
    lay_out,
    task_ranges,
)

Blocks = st.sets(st.integers(0, 30), max_size=20)


def spans_of(blocks: set[int]) -> Spans:
    spans: Spans = ()
    for block in sorted(blocks, key=lambda b: (b % 3, b)):  # in no particular order
        spans = add_span(spans, block, block + 1)
    return spans


def blocks_of(spans: Spans) -> set[int]:
    return {block for low, high in spans for block in range(low, high)}


@given(Blocks)
def test_spans_hold_the_blocks_added(blocks: set[int]) -> None:
    spans = spans_of(blocks)
    assert blocks_of(spans) == blocks  # exact: set algebra
    assert count_blocks(spans) == len(blocks)
    assert all(before[1] < after[0] for before, after in pairwise(spans))


@given(Blocks, st.integers(0, 35))
def test_gaps_are_what_is_missing(blocks: set[int], stop: int) -> None:
    assert blocks_of(gaps(spans_of(blocks), stop)) == set(range(stop)) - blocks  # exact: set algebra


@given(Blocks, st.integers(1, 9), st.integers(1, 50))
def test_task_ranges_cover_each_case_once(blocks: set[int], per_task: int, size: int) -> None:
    ranges = list(task_ranges(spans_of(blocks), per_task, size))
    cases = [case for each in ranges for case in each]
    assert cases == [block * size + i for block in sorted(blocks) for i in range(size)]  # exact
    assert all(0 < len(each) <= per_task * size for each in ranges)


@pytest.mark.parametrize(
    ("cases", "cut", "expected"),
    [
        # exact: 100 000 = 6 * 16 384 + 1 696
        (100_000, True, Layout(100_000, 16_384)),
        (100_000, False, Layout(114_688, 16_384)),
        (16_384, False, Layout(16_384, 16_384)),
    ],
)
def test_layout(cases: int, cut: int, expected: Layout) -> None:
    assert lay_out(cases, 16_384, cut=bool(cut)) == expected


def test_a_cut_block_is_the_tail() -> None:
    layout = lay_out(100_000, 16_384, cut=True)
    # exact: see above
    assert (layout.whole_blocks, layout.tail_cases, layout.tail) == (6, 1_696, range(98_304, 100_000))


def test_checkpoints_are_fixed_and_close() -> None:
    found = list(checkpoints(4, 100))
    assert found[:10] == [4, 5, 6, 7, 8, 10, 12, 14, 16, 20]  # exact: 4 to 7 times powers of two
    assert found[-1] == 100
    assert all(after <= 1.25 * before for before, after in pairwise(found))


@given(st.integers(1, 500), st.integers(1, 500))
def test_checkpoints_do_not_depend_on_where_a_run_starts(first: int, stop: int) -> None:
    whole = [point for point in checkpoints(1, stop) if point >= first or point == stop]
    assert list(checkpoints(first, stop)) == whole  # exact: the same list, cut


def test_the_least_checkpoints_come_first() -> None:
    assert next(checkpoints(1, 1000)) == 4  # exact


@pytest.mark.parametrize(
    ("blocks", "block_s", "task_s", "workers", "expected"),
    [
        (10_000, 0.002, 1.0, 2, 500),  # exact: 1 s / 2 ms
        (62, 0.002, 1.0, 2, 8),  # exact: a quarter of each worker's share, rounded up
        (3, 10.0, 1.0, 2, 1),  # a block is the least
    ],
)
def test_tasks_are_of_a_length(blocks: int, block_s: float, task_s: float, workers: int, expected: int) -> None:
    assert blocks_per_task(blocks, block_s, task_s, workers) == expected
