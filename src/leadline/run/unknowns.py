"""How far a study's chance may move with what is fixed and only not known, as a document."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.risk.unknowns import ENDS, Streams, Unknowns, unknowns
from leadline.run.answer_words import INTERVAL_CONFIDENCE, as_chance
from leadline.run.endings import succeeded_cases
from leadline.run.first_result import UnknownQuantile, UnknownsResult
from leadline.run.work import Prepared, fly
from leadline.sampling import Sampler

__all__ = ["DRAWS", "unknowns_of"]

Counts = npt.NDArray[np.int64]

DRAWS: Final = 200
"""Draws of what is not known."""
PARTS: Final = 16
"""Draws of knowledge that share a block, so that each is flown with 1 024 cases of its own."""


def unknowns_of(ready: Prepared, seed: int) -> UnknownsResult | None:
    """Return how the chance is spread over what is not known; None where everything differs by flight.

    Parameters
    ----------
    ready
        The study made ready.
    seed
        Which draws; they are other ones than the run's.
    """
    if not ready.study.knowledge:
        return None
    counts, cases = _counts(ready, seed)
    ask = ready.study.ask
    found = unknowns(
        counts, cases, INTERVAL_CONFIDENCE, streams=Streams.INDEPENDENT, asked=None if ask is None else ask.chance
    )
    return _document(found, tuple(sorted(ready.study.knowledge)))


def _counts(ready: Prepared, seed: int) -> tuple[Counts, int]:
    study = ready.study
    rows = [row for row, given in enumerate(study.inputs) if given.name in study.knowledge]
    known, flights = (
        Sampler(study.inputs, study.correlations, seed=seed, purpose=purpose) for purpose in ("knowledge", "flights")
    )
    values = known.draw(0)[rows]
    cases = flights.block_size // PARTS
    counts = []
    columns = np.empty((len(study.inputs), flights.block_size))
    for block in range(-(-DRAWS // PARTS)):
        flights.draw(block, out=columns)
        columns[rows] = values[:, block * PARTS : (block + 1) * PARTS].repeat(cases, axis=1)
        met = succeeded_cases(fly(ready, columns).margins)
        counts += np.count_nonzero(met.reshape(PARTS, cases), axis=1).tolist()
    return np.array(counts[:DRAWS], dtype=np.int64), cases


def _document(found: Unknowns, inputs: tuple[str, ...]) -> UnknownsResult:
    return UnknownsResult(
        inputs=inputs,
        draws=found.draws,
        cases=found.cases,
        mean=as_chance(found.mean),
        spread=as_chance(found.spread),
        quantiles=tuple(
            UnknownQuantile(p=p, chance=as_chance(each)) for p, each in zip(ENDS, found.quantiles, strict=True)
        ),
        asked=found.asked,
        reaches=None if found.reaches is None else as_chance(found.reaches),
        distinguishable=found.distinguishable,
        estimates=tuple(found.estimates.tolist()),
        sentence=found.sentence[:1].upper() + found.sentence[1:],
    )
