"""Rare failures of a study, as a document."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from leadline.errors import RunError
from leadline.risk.rare import rare_failures
from leadline.risk.rare_answer import RareAnswer, RareEstimate, RareState
from leadline.run.answer_words import INTERVAL_CONFIDENCE, as_chance, study_label
from leadline.run.answers import RareEstimateResult, RareFailure, RareResult
from leadline.run.engine import Control, Progress
from leadline.run.limits import limits_of
from leadline.run.shifts import WHOLE
from leadline.run.work import Prepared, Work, fly, prepared
from leadline.sampling import Design
from leadline.study import Study

__all__ = ["RareRequest", "rare"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RareRequest:
    """How precisely rare failures are sought.

    Parameters
    ----------
    variation
        Coefficient of variation to reach.
    most_cases
        Cases allowed for each answer.
    seed
        Which draws.
    """

    variation: float = 0.1
    most_cases: int = 10_000_000
    seed: int = 0


def rare(study: Study, request: RareRequest, control: Control | None = None) -> RareResult:
    """Find how likely the study fails, and each requirement of it, where failures are rare.

    Parameters
    ----------
    study
        The study, with its option and values already replaced.
    request
        How precisely.
    control
        What to tell and ask meanwhile; answers not ready when it is stopped are marked so.

    Raises
    ------
    RunError
        Nothing is dispersed, so that every case is the same.
    """
    control = control or Control()
    if not study.inputs:
        raise RunError("nothing in the study is dispersed: every case is the same, and no failure is rare")
    ready = prepared(Work.of(study, request.seed, Design.INDEPENDENT))
    began = time.monotonic()

    def tell(_: str, calls: int) -> None:
        elapsed = time.monotonic() - began
        control.progress(Progress(calls, request.most_cases, elapsed, calls / max(elapsed, 1e-9), None, None))

    answers = rare_failures(
        lambda scores: _margins(ready, scores),
        len(study.inputs),
        [label.name for label in ready.plan.requirements],
        seed=request.seed,
        target_variation=request.variation,
        max_calls=request.most_cases,
        confidence=INTERVAL_CONFIDENCE,
        progress=tell,
        cancelled=control.stopped,
    )
    return RareResult(
        study=study_label(study),
        seed=request.seed,
        partial=any(one.state is RareState.STOPPED for one in answers),
        target_variation=request.variation,
        failures=(_failure(_called(answers[0], WHOLE)), *(_failure(one) for one in answers[1:])),
        notes=study.notes,
        limits=limits_of(study),
        sentence=f"{study.title}: {_called(answers[0], '').sentence}",
    )


def _margins(ready: Prepared, scores: Array) -> Array:
    """Fly cases given by independent scores (d, n), which stay as they are."""
    columns = ready.sampler.correlate(scores.copy())
    return fly(ready, ready.sampler.apply_laws(columns, columns)).margins


def _called(found: RareAnswer, name: str) -> RareAnswer:
    """Return an answer under another name, or with a sentence that names nothing."""
    said = found.sentence.removeprefix(f"{found.label}: ")
    return replace(found, label=name, sentence=f"{name}: {said}" if name else said)


def _failure(found: RareAnswer) -> RareFailure:
    return RareFailure(
        output=found.label,
        state=found.state.value,
        quoted=None if found.quoted is None else _estimate(found.quoted),
        estimates=tuple(_estimate(each) for each in found.estimates),
        calls=found.calls,
        invalid=found.invalid,
        sentence=found.sentence,
    )


def _estimate(found: RareEstimate) -> RareEstimateResult:
    return RareEstimateResult(
        method=found.method.value,
        chance=as_chance(found.interval),
        coefficient_of_variation=found.coefficient_of_variation,
        calls=found.calls,
        replicates=found.replicates,
    )
