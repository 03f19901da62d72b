"""Any case of a run, leg by leg."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path

from leadline.run.replay import CaseResult, replay
from leadline.sampling import Design
from leadline_service.dependencies import KnownRun, Reader, Serving
from leadline_service.description import GUARDED, problems
from leadline_service.requests import RunRequest

__all__ = ["router"]

router = APIRouter(prefix="/v1/runs", tags=["results"], responses={**GUARDED, **problems(404, 422)})


@router.get("/{run_id}/cases/{case}", operation_id="get_case")
def get_case(
    _caller: Reader,
    service: Serving,
    run: KnownRun,
    case: Annotated[int, Path(ge=0, le=10**13, description="Number of the case, from 0.")],
) -> CaseResult:
    """Fly one case of a run again, whether or not the run got there, and return its ledger.

    Of a comparison it is the base study's case.
    """
    request = RunRequest.of(run.request)
    study = request.study_of(service.store.study(run.study_id).text)
    return replay(study, case, seed=request.seed, design=Design(request.design))
