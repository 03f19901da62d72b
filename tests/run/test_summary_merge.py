"""Block summaries merged in any order, read off, and written as bytes."""

from __future__ import annotations

import itertools
import pickle
import struct
from dataclasses import replace
from functools import reduce
from hashlib import sha256
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leadline.errors import OutputError
from leadline.run.summary import BlockSummary, Edges, Shape
from run.summary_blocks import Block, blocks, edges_for, random_block

# ------------------------------------------------------------------------------------------------ merging


@settings(max_examples=60)
@given(blocks(least=6), st.lists(st.integers(1, 23), min_size=1, max_size=6), st.randoms(use_true_random=False))
def test_any_order_and_grouping_gives_the_same_bytes(block: Block, cuts: list[int], random: Random) -> None:
    edges = edges_for(block.shape.requirements)
    n = len(block.rows[0])
    ends = sorted({0, n, *(cut for cut in cuts if cut < n)})
    parts = [block.part(a, b).summed(edges) for a, b in itertools.pairwise(ends)]
    in_order = reduce(BlockSummary.merge, parts)
    pile = list(parts)
    random.shuffle(pile)
    while len(pile) > 1:
        first, second = pile.pop(0), pile.pop(random.randrange(len(pile)) if len(pile) > 1 else 0)
        pile.append(first.merge(second))
    assert pile[0].to_bytes() == in_order.to_bytes()
    whole = block.summed(edges)
    for name in ("cases", "succeeded", "invalid", "more", "combinations"):
        assert getattr(in_order, name) == getattr(whole, name)
    for name in ("failures", "first_failures", "slots", "minimum", "maximum"):
        assert np.array_equal(getattr(in_order, name), getattr(whole, name))


def test_equal_zeros_do_not_tell_the_order() -> None:
    one, other = (Block(Shape(1, (0,)), [np.array([zero])]).summed(edges_for(1)) for zero in (0.0, -0.0))
    assert one.merge(other).to_bytes() == other.merge(one).to_bytes()


def test_what_does_not_belong_together_is_not_merged() -> None:
    block = random_block(2, 3, 10, 1.0, seed=4)
    found = block.summed(edges_for(2))
    elsewhere = block.summed(Edges.of(block.margins))
    other_shape = replace(found, shape=Shape(2, (0, 0, 1)))
    for stranger in (elsewhere, other_shape):
        with pytest.raises(ValueError, match="different studies or edges"):
            found.merge(stranger)


def test_size_does_not_grow_with_the_cases() -> None:
    block = random_block(6, 10, 500, 0.5, seed=12)
    found = block.summed(edges_for(6))
    total = found
    for _ in range(20):
        total = total.merge(total)
    assert total.cases == 500 * 2**20
    assert len(total.to_bytes()) < 1.01 * len(found.to_bytes())  # some digits more


# ------------------------------------------------------------------------------------------------ what is read off


def test_moments_are_those_of_the_margins() -> None:
    # cross-checked: NumPy's mean and std, in one go over all cases
    block = random_block(3, 3, 900, 1e6, seed=13)
    edges = Edges.of(block.margins[:, :50])
    total = reduce(BlockSummary.merge, [block.part(i, i + 300).summed(edges) for i in (0, 300, 600)])
    for j in range(3):
        mean, sd = total.moments(j)
        assert mean == pytest.approx(block.margins[j].mean(), rel=1e-14)
        assert sd == pytest.approx(block.margins[j].std(ddof=1), rel=1e-9)


def test_a_constant_margin_has_no_scatter() -> None:
    block = Block(Shape(1, (0,)), [np.full(300, 0.1)])
    edges = Edges.of(block.margins)
    assert block.summed(edges).moments(0) == (0.1, 0.0)
    single = block.part(0, 1).summed(edges)
    assert single.moments(0) == (0.1, 0.0)


def test_blocks_are_replicates() -> None:
    # exact: mean and variance of the shares by blocks
    block = random_block(3, 4, 1000, 1.0, seed=14)
    edges = edges_for(3)
    parts = [block.part(i, i + 250).summed(edges) for i in range(0, 1000, 250)]
    total = reduce(BlockSummary.merge, parts)
    shares = np.array([part.succeeded / 250 for part in parts])
    found = total.replicates()
    assert (found.count, found.cases_each, found.successes) == (4, 250, total.succeeded)
    assert found.mean == pytest.approx(shares.mean(), rel=1e-15)
    assert found.variance == pytest.approx(shares.var(ddof=1), rel=1e-12)
    one = np.array([1 - part.failures[2] / 250 for part in parts])
    assert total.replicates(2).mean == pytest.approx(one.mean(), rel=1e-15)
    assert total.replicates(2).variance == pytest.approx(one.var(ddof=1), rel=1e-12)


def test_blocks_of_several_sizes_are_no_replicates() -> None:
    block = random_block(2, 2, 30, 1.0, seed=15)
    edges = edges_for(2)
    sizes = [block.part(0, 10).summed(edges), block.part(10, 20).summed(edges), block.part(20, 25).summed(edges)]
    assert sizes[0].merge(sizes[1]).block_cases == 10
    mixed = sizes[0].merge(sizes[2]).merge(sizes[1])
    assert (mixed.blocks, mixed.block_cases) == (3, 0)
    with pytest.raises(ValueError, match="several sizes"):
        mixed.replicates()


def test_histogram_and_binned_tell_the_same() -> None:
    block = random_block(3, 3, 500, 1.0, seed=16)
    found = block.summed(Edges.of(block.margins))
    histogram, sample = found.histogram(1), found.binned(1)
    assert np.array_equal(histogram.slots, sample.counts)
    assert (sample.low, sample.width) == (histogram.grid.low, histogram.grid.width)
    assert (sample.minimum, sample.maximum) == (block.margins[1].min(), block.margins[1].max())


# ------------------------------------------------------------------------------------------------ bytes


@settings(max_examples=60)
@given(blocks())
def test_a_summary_goes_through_bytes_and_pickle(block: Block) -> None:
    found = block.summed(edges_for(block.shape.requirements))
    data = found.to_bytes()
    assert BlockSummary.from_bytes(data).to_bytes() == data
    assert pickle.loads(pickle.dumps(found)) == found  # noqa: S301 - our own pickle
    assert BlockSummary.from_bytes(data).merge(found) == found.merge(found)


def test_damaged_bytes_are_refused() -> None:
    data = random_block(2, 3, 50, 1.0, seed=17).summed(edges_for(2)).to_bytes()
    for position in (0, 30, len(data) // 2, len(data) - 1):
        broken_data = bytearray(data)
        broken_data[position] ^= 1
        with pytest.raises(OutputError, match="damaged|version"):
            BlockSummary.from_bytes(bytes(broken_data))
    for cut in (b"", data[:10], data[:-1], data + b"x"):
        with pytest.raises(OutputError, match="damaged|version"):
            BlockSummary.from_bytes(cut)


def sealed(body: bytes) -> bytes:
    return body + sha256(body).digest()


def test_well_sealed_nonsense_is_refused() -> None:
    data = random_block(2, 3, 50, 1.0, seed=18).summed(edges_for(2)).to_bytes()
    body = data[:-32]
    start = body.index(b"\n") + 1
    (length,) = struct.unpack_from("<Q", body, start)
    head, arrays = body[start + 8 : start + 8 + length], body[start + 8 + length :]
    for other_head, other_arrays, said in (
        (head.replace(b'"more":', b'"less":').replace(b'"sums"', b'"sun"'), arrays, "cannot be read"),
        (head, arrays[:-8], "cannot be read"),
        (head, arrays + bytes(8), "one way"),
        (head.replace(b":[", b": ["), arrays, "one way"),
        (b"[]", arrays, "cannot be read"),
    ):
        forged = body[:start] + struct.pack("<Q", len(other_head)) + other_head + other_arrays
        with pytest.raises(OutputError, match=said):
            BlockSummary.from_bytes(sealed(forged))
    with pytest.raises(OutputError, match="cannot be read"):
        BlockSummary.from_bytes(sealed(body[:start] + b"123"))
