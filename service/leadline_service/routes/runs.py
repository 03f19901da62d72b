"""Runs: asked for, followed, stopped, gone on with, deleted."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Response

from leadline_service.access import Caller
from leadline_service.bodies import json_body
from leadline_service.conditional import is_known
from leadline_service.dependencies import (
    PLAIN,
    Cursor,
    IdempotencyKey,
    IfNoneMatch,
    KnownRun,
    Limit,
    Reader,
    Runner,
    Serving,
)
from leadline_service.description import GUARDED, body_of, content, problems
from leadline_service.flaws import Flaw
from leadline_service.identifiers import BadIdentifier, is_content_id, parse_study_name
from leadline_service.paging import link_next
from leadline_service.refusals import Refusal
from leadline_service.requests import RunRequest
from leadline_service.schemas import Extension, Run, RunsPage, SubmittedRun
from leadline_service.states import RunState
from leadline_service.store.records import RunFilter, RunRecord
from leadline_service.submitting import extended, submit
from leadline_service.tokens import Forbidden, Role

__all__ = ["router"]

router = APIRouter(prefix="/v1/runs", tags=["runs"], responses=GUARDED)

SUBMITTED: dict[int | str, dict[str, Any]] = {
    200: {"model": SubmittedRun, "description": "The same run was asked for before; here it is."},
    **problems(409, 422),
}
SOONEST_S, LATEST_S = 1, 30
"""Bounds of what Retry-After says while a run goes on."""


def _chosen(
    state: Annotated[RunState | None, Query(description="Only runs in this state.")] = None,
    study: Annotated[
        str | None,
        Query(min_length=1, max_length=100, pattern=PLAIN, description="Only runs of this study: content id, or name."),
    ] = None,
    caller: Annotated[
        str | None, Query(min_length=1, max_length=200, pattern=PLAIN, description="Only runs of this caller.")
    ] = None,
) -> RunFilter:
    """Return which runs are asked for; 422 where the study is neither a content id nor a name."""
    if study is not None and not is_content_id(study):
        try:
            parse_study_name(study)
        except BadIdentifier as error:
            raise Refusal(422, errors=[Flaw(parameter="study", code="study", detail=str(error))]) from error
    return RunFilter(state, caller, study)


@router.post(
    "",
    operation_id="start_run",
    status_code=202,
    response_model=SubmittedRun,
    openapi_extra=body_of(RunRequest),
    responses=SUBMITTED,
)
def start_run(
    caller: Runner,
    service: Serving,
    request: Annotated[RunRequest, Depends(json_body(RunRequest))],
    response: Response,
    idempotency_key: IdempotencyKey = None,
) -> Any:
    """Ask for a run. Its cost is estimated first, and one that is too large or too long is refused with the numbers.

    A run that was asked for before, and has not failed or been cancelled, is found, not computed again.
    """
    return _answered(submit(service, caller, request, idempotency_key), response)


@router.post(
    "/{run_id}/extend",
    operation_id="extend_run",
    status_code=202,
    response_model=SubmittedRun,
    openapi_extra=body_of(Extension),
    responses={**SUBMITTED, **problems(404, 422)},
)
def extend_run(
    caller: Runner,
    service: Serving,
    run: KnownRun,
    more: Annotated[Extension, Depends(json_body(Extension))],
    response: Response,
    idempotency_key: IdempotencyKey = None,
) -> Any:
    """Ask for a new run that adds cases to an ended one, starting from its finished blocks."""
    request = extended(run, more.cases)
    return _answered(submit(service, caller, request, idempotency_key, extends=run.run_id), response)


@router.get("", operation_id="list_runs", responses=problems(422))
def list_runs(
    _caller: Reader,
    service: Serving,
    response: Response,
    chosen: Annotated[RunFilter, Depends(_chosen)],
    cursor: Cursor = None,
    limit: Limit = 50,
) -> RunsPage:
    """List runs, newest first; runs that are added meanwhile move nothing."""
    page = service.store.runs(chosen, cursor, limit)
    link_next(response, "/v1/runs", page.next, **asdict(chosen), limit=limit)
    return RunsPage.of(page)


@router.get(
    "/{run_id}",
    operation_id="get_run",
    response_model=Run,
    responses={**content(304, "Nothing has changed."), **problems(404, 422)},
)
def get_run(_caller: Reader, run: KnownRun, response: Response, if_none_match: IfNoneMatch = None) -> Any:
    """Return a run as it stands, with its progress: cases done, the chance so far and its interval, time left."""
    headers = {"ETag": f'"{run.run_id}-{run.revision}"', "Cache-Control": "private, no-cache", **_retry(run)}
    if is_known(if_none_match, headers["ETag"]):
        return Response(status_code=304, headers=headers)
    response.headers.update(headers)
    return Run.of(run)


@router.post(
    "/{run_id}/cancel",
    operation_id="cancel_run",
    status_code=202,
    response_model=Run,
    responses={200: {"model": Run, "description": "It has ended."}, **problems(404, 422)},
)
def cancel_run(caller: Runner, service: Serving, run: KnownRun, response: Response) -> Any:
    """Ask a run to stop: within a second, with what is done as a partial result. An ended one stays as it is."""
    _require_own(caller, run)
    stopping = service.store.cancel(run.run_id)
    service.wake()
    response.status_code = 200 if stopping.has_ended else 202
    response.headers.update(_retry(stopping))
    return Run.of(stopping)


@router.delete(
    "/{run_id}",
    operation_id="delete_run",
    status_code=204,
    response_class=Response,
    responses={**content(204, "It is gone, and its files go."), **problems(404, 409, 422)},
)
def delete_run(caller: Runner, service: Serving, run: KnownRun) -> Response:
    """Delete an ended run with its files."""
    _require_own(caller, run)
    service.store.delete(run.run_id)
    return Response(status_code=204)


def _answered(submitted: SubmittedRun, response: Response) -> SubmittedRun:
    response.status_code = 202 if submitted.found == "new" else 200
    response.headers["Location"] = f"/v1/runs/{submitted.run_id}"
    if submitted.ended is None:
        response.headers["Retry-After"] = str(SOONEST_S)
    return submitted


def _retry(run: RunRecord) -> dict[str, str]:
    """Return when to ask again, while there is something to wait for: about a tenth of the time it will still take."""
    if run.has_ended:
        return {}
    left_s = (run.progress or {}).get("left_s") or 0.0
    return {"Retry-After": str(min(LATEST_S, max(SOONEST_S, math.ceil(left_s / 10))))}


def _require_own(caller: Caller, run: RunRecord) -> None:
    """Refuse to touch somebody else's run, unless as an administrator."""
    if not caller.may_change(run.caller):
        raise Forbidden(caller.role, Role.ADMIN)
