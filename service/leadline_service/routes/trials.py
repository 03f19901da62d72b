"""Small answers that the caller waits for."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.concurrency import run_in_threadpool

from leadline.run.result import CompareResult
from leadline.study import Study
from leadline_service.asked import asked_study, known_options
from leadline_service.bodies import json_body
from leadline_service.cost import cost_of
from leadline_service.dependencies import Runner, Serving
from leadline_service.description import GUARDED, body_of, problems
from leadline_service.flaws import Flaw
from leadline_service.refusals import Refusal
from leadline_service.requests import RunRequest
from leadline_service.schemas import CompareRequest, Trial, TrialRequest, TrialResult
from leadline_service.serving import Service
from leadline_service.submitting import stored_text
from leadline_service.trials import compare_trial, run_trial

__all__ = ["router"]

router = APIRouter(prefix="/v1", tags=["trials"], responses={**GUARDED, **problems(422)})

NO_STUDY = "0" * 64
"""Stands in a request whose cost alone is wanted."""


@router.post("/trial", operation_id="try_study", openapi_extra=body_of(TrialRequest))
async def try_study(
    _caller: Runner, service: Serving, request: Annotated[TrialRequest, Depends(json_body(TrialRequest))]
) -> TrialResult:
    """Compute a small run at once: the chance, and what else is asked, within a time limit; nothing is stored."""
    study = await run_in_threadpool(_studied, service, request, request.option)
    _require_small(service, await run_in_threadpool(_seconds, study, request))
    return await service.trials.run(lambda control: run_trial(study, request, control))


@router.post("/compare", operation_id="compare_options", openapi_extra=body_of(CompareRequest))
async def compare_options(
    _caller: Runner, service: Serving, request: Annotated[CompareRequest, Depends(json_body(CompareRequest))]
) -> CompareResult:
    """Compare options of a study with its base on the same draws, at once; nothing is stored."""
    study = await run_in_threadpool(_studied, service, request, None)
    options = study.options if request.options is None else request.options
    known_options(study, options)
    return await service.trials.run(lambda control: compare_trial(study, request, control))


def _studied(service: Service, request: Trial, option: str | None) -> Study:
    if (request.study is None) == (request.text is None):
        raise Refusal(422, errors=[Flaw(pointer="#", code="study", detail="Give either study or text.")])
    if request.text is not None:
        return asked_study(request.text, option, request.set, text_at=("text",))
    return asked_study(stored_text(service, str(request.study)), option, request.set)


def _seconds(study: Study, request: TrialRequest) -> float:
    asked = RunRequest(
        study=NO_STUDY, cases=request.cases, seed=request.seed, design=request.design, answers=request.answers
    )
    return cost_of(study, asked).seconds


def _require_small(service: Service, seconds: float) -> None:
    most = service.settings.trial_s
    if seconds > most:
        detail = f"That would take about {seconds:.0f} s; a trial may take {most:g} s. Start a run instead."
        raise Refusal(422, detail, errors=[Flaw(pointer="#/answers", code="too-long", detail=detail)])
