"""The sampler's own promises: memory, cost of building, laws on scores, refusals."""

from __future__ import annotations

import pickle
import tracemalloc

import numpy as np
import pytest

from leadline.errors import SamplingError
from leadline.sampling import (
    Design,
    Discrete,
    Input,
    Law,
    Lognormal,
    Normal,
    Pert,
    RankCorrelation,
    Sampler,
    Triangular,
    TruncatedNormal,
    Uniform,
)
from leadline.sampling.pert import _table

THIRTEEN = tuple(Input(f"n{at}", Normal(10.0 + at, 1.0 + at)) for at in range(13))


def peak_while_drawing(sampler: Sampler) -> int:
    out = sampler.draw(0)
    tracemalloc.start()
    try:
        sampler.draw(1, out)
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_normal_inputs_are_drawn_without_memory() -> None:
    # exact: one row of a block is 131 072 bytes; generators and slices take a few hundred
    assert peak_while_drawing(Sampler(THIRTEEN, seed=1)) < 8192


def test_other_laws_and_groups_stay_below_the_page_threshold() -> None:
    laws: tuple[Law, ...] = (
        Lognormal(1.0, 2.0),
        Uniform(0.0, 1.0),
        Triangular(0.0, 1.0, 2.0),
        Pert(0.0, 1.0, 2.0),
        TruncatedNormal(0.0, 1.0, -1.0, 1.0),
        Discrete((0.0, 1.0), (0.1, 0.9)),
    )
    inputs = [Input(str(at), law) for at, law in enumerate(laws)]
    # exact: temporaries are pieces of 32 KiB, at most nine at once in the truncated normal, and none reaches the
    # 128 KiB from which the allocator maps fresh pages
    assert peak_while_drawing(Sampler(inputs, [RankCorrelation("0", "1", 0.5)], seed=1)) < 9 * 32_768


def test_building_makes_no_tables() -> None:
    _table.cache_clear()
    inputs = [Input(str(at), Pert(0.0, 1.0 + at, 20.0)) for at in range(13)]
    sampler = Sampler(inputs, seed=1)
    assert _table.cache_info().misses == 0
    assert len(pickle.dumps(sampler)) < 4096


def test_laws_apply_to_scores_of_any_length() -> None:
    inputs = [Input("a", Normal(10.0, 2.0)), Input("b", Lognormal(3.0, 2.0))]
    sampler = Sampler(inputs, [RankCorrelation("a", "b", 0.5)], seed=1)
    scores = np.array([[0.0, 1.0], [0.0, -1.0]])
    # exact: medians at score zero, one sd up, one factor down
    np.testing.assert_allclose(sampler.apply_laws(scores), [[10.0, 12.0], [3.0, 1.5]], rtol=1e-15)
    assert np.array_equal(scores, [[0.0, 1.0], [0.0, -1.0]])
    assert sampler.apply_laws(scores, scores) is scores


def test_draw_is_laws_on_correlated_scores() -> None:
    inputs = [Input("a", Pert(0.0, 1.0, 9.0)), Input("b", Triangular(0.0, 1.0, 9.0))]
    sampler = Sampler(inputs, [RankCorrelation("a", "b", 0.5)], seed=1)
    step_by_step = sampler.apply_laws(sampler.correlate(sampler.independent_scores(3)))
    assert sampler.draw(3).tobytes() == step_by_step.tobytes()
    assert sampler.draw(3).tobytes() == sampler.apply_laws(sampler.scores(3)).tobytes()


def test_one_input_can_be_replaced_on_its_scores() -> None:
    sampler = Sampler(THIRTEEN, seed=1)
    scores, others = sampler.scores(0), sampler.scores(1)
    scores[4] = others[4]
    mixed = sampler.apply_laws(scores)
    assert np.array_equal(mixed[4], sampler.draw(1)[4])
    assert np.array_equal(np.delete(mixed, 4, axis=0), np.delete(sampler.draw(0), 4, axis=0))


def test_design_may_be_given_by_its_name() -> None:
    sampler = Sampler(THIRTEEN, seed=1, design=Design("sobol"))
    assert sampler.design is Design.SOBOL
    assert (sampler.names, sampler.seed, sampler.purpose) == (tuple(f"n{at}" for at in range(13)), 1, "run")


def test_refusals() -> None:
    with pytest.raises(SamplingError, match="two inputs are named 'n1'"):
        Sampler([*THIRTEEN, THIRTEEN[1]], seed=1)
    with pytest.raises(SamplingError, match="non-negative"):
        Sampler(THIRTEEN, seed=-1)
    with pytest.raises(SamplingError, match="there is no input 'm1'"):
        Sampler(THIRTEEN, seed=1).with_laws({"m1": Normal(0.0, 1.0)})
