"""Changes tried on a study, answered on draws that are kept warm."""

from __future__ import annotations

import time
from typing import Annotated

from fastapi import APIRouter, Depends, Response

from leadline.run.try_result import TryResult
from leadline_service.bodies import json_body
from leadline_service.dependencies import Runner, Serving
from leadline_service.description import GUARDED, body_of, problems
from leadline_service.tries import TryRequest, tried

__all__ = ["router"]

router = APIRouter(prefix="/v1", tags=["trials"], responses={**GUARDED, **problems(404, 422)})


@router.post("/try", operation_id="try_changes", openapi_extra=body_of(TryRequest))
async def try_changes(
    _caller: Runner,
    service: Serving,
    request: Annotated[TryRequest, Depends(json_body(TryRequest))],
    response: Response,
) -> TryResult:
    """Try changes on a study: the chance with them, and its paired difference from the study as it is.

    Nothing is stored; the study's draws are kept from one request to the next. Server-Timing says how long it took.
    """
    began = time.perf_counter()
    result = await service.trials.run(lambda control: tried(service, request, control))
    response.headers["Server-Timing"] = f"try;dur={1000 * (time.perf_counter() - began):.1f}"
    return result
