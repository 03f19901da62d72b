"""Shapley effects of a study's dispersed numbers, which take dependence apart."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.risk.shapley import MOST_GROUPS, OutputShapley, shapley_effects
from leadline.run.answer_words import INTERVAL_CONFIDENCE, as_chance
from leadline.run.answers import ShapleyOf, ShapleyRow
from leadline.run.dispersed import Dispersed, dispersed_numbers
from leadline.run.grouped import grouped_numbers
from leadline.run.shifts import WHOLE
from leadline.run.work import Prepared, fly
from leadline.sampling import Sampler

__all__ = ["shapley_of"]

Array = npt.NDArray[np.float64]

MOST_PAIRS: Final = 16_384
"""More are not taken: each pair is flown once for every subset of the groups, up to a thousand times."""


def shapley_of(ready: Prepared, pairs: int, seed: int, stopped: Callable[[], bool]) -> tuple[ShapleyOf, ...]:
    """Return the Shapley effects on every margin, every failure and the whole.

    Numbers that depend on others stand by themselves, as far as ten groups go; all the others
    are one group.

    Parameters
    ----------
    ready
        The study made ready.
    pairs
        Pairs of cases, at most 16 384.
    seed
        Which draws.
    stopped
        Asked before each page but the first.
    """
    names, rows = _groups(ready)
    found = shapley_effects(
        lambda scores: fly(ready, ready.sampler.apply_laws(scores)).margins,
        _correlation(ready),
        rows,
        names,
        [label.name for label in ready.plan.requirements],
        pages=_pages(ready, min(pairs, MOST_PAIRS), seed, stopped),
        whole=WHOLE,
        confidence=INTERVAL_CONFIDENCE,
    )
    return tuple(_of(one) for one in found)


def _groups(ready: Prepared) -> tuple[list[str], list[tuple[int, ...]]]:
    tied = [number for group in grouped_numbers(ready.study) if len(group.numbers) > 1 for number in group.numbers]
    others = [number for number in dispersed_numbers(ready.study) if number not in tied]
    alone = [*tied, *others] if len(tied) + len(others) <= MOST_GROUPS else tied[: MOST_GROUPS - 1]
    rest = [number for number in (*tied, *others) if number not in alone]
    names, rows = [number.place for number in alone], [number.rows for number in alone]
    if rest:
        names.append("all others" if alone else "all")
        rows.append(_rows(rest))
    return names, rows


def _rows(numbers: Sequence[Dispersed]) -> tuple[int, ...]:
    return tuple(row for number in numbers for row in number.rows)


def _correlation(ready: Prepared) -> Array:
    """Return the correlation of the scores (d, d), read off the mixing of unit scores."""
    mixed = ready.sampler.correlate(np.eye(len(ready.study.inputs)))
    correlation: Array = mixed @ mixed.T
    return correlation


def _pages(ready: Prepared, pairs: int, seed: int, stopped: Callable[[], bool]) -> Iterator[tuple[Array, Array]]:
    study = ready.study
    first, second = (Sampler(study.inputs, (), seed=seed, purpose=f"shapley {side}") for side in "ab")
    for start in range(0, pairs, first.block_size):
        if start and stopped():
            return
        block, cases = start // first.block_size, min(first.block_size, pairs - start)
        yield first.scores(block)[:, :cases], second.scores(block)[:, :cases]


def _of(found: OutputShapley) -> ShapleyOf:
    rows = tuple(
        ShapleyRow(input=each.group, effect=as_chance(each.effect), distinguishable=each.distinguishable)
        for each in found.effects
    )
    return ShapleyOf(output=found.label, kind=found.kind.value, effects=rows, reason=found.reason)
