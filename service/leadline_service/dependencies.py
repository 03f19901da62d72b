"""What routes ask for by annotation."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Header, Path, Query, Security
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer, SecurityScopes
from starlette.requests import Request

from leadline_service.access import Caller
from leadline_service.identifiers import parse_run_id
from leadline_service.refusals import Refusal
from leadline_service.serving import Service
from leadline_service.store.records import RunRecord
from leadline_service.tokens import Role, Unauthenticated

__all__ = [
    "BEARER",
    "Cursor",
    "IdempotencyKey",
    "IfNoneMatch",
    "KnownRun",
    "Limit",
    "Reader",
    "RunId",
    "Runner",
    "Serving",
    "caller_of",
]

BEARER = HTTPBearer(
    auto_error=False,
    scheme_name="bearer",
    description="A token made by `leadline tokens make`. The role a request takes is named beside it.",
)
PLAIN = r"^[^\x00-\x1f\x7f]*$"
"""No control characters: not every database takes them."""


def _service(request: Request) -> Service:
    """Return what is open; 503 until start-up has finished."""
    service: Service | None = getattr(request.state, "service", None)
    if service is None:
        raise Refusal(503, headers={"Retry-After": "1"})
    return service


Serving = Annotated[Service, Depends(_service)]


def caller_of(request: Request, service: Service, needed: Role) -> Caller:
    """Return who asks, once it is clear that they may, and not too often.

    Raises
    ------
    Unauthenticated
        No good token is shown, and one is needed.
    Forbidden
        The token's role does not reach.
    Refusal
        They ask too often; 429.
    """
    try:
        caller = service.access.caller(request.headers, needed)
    except Unauthenticated:
        # Guessing 256 bits is hopeless at any speed; this keeps a broken client from keeping the store busy.
        service.failures.take(_address(request))
        raise
    service.rate.take(caller.name)
    request.state.caller = caller.name
    return caller


def _caller(
    request: Request,
    service: Serving,
    scopes: SecurityScopes,
    _shown: Annotated[HTTPAuthorizationCredentials | None, Depends(BEARER)],
) -> Caller:
    """Return who asks; the role it takes is the one scope."""
    return caller_of(request, service, Role(scopes.scopes[0]))


def _address(request: Request) -> str:
    return "" if request.client is None else request.client.host


Reader = Annotated[Caller, Security(_caller, scopes=[Role.READ.value])]
Runner = Annotated[Caller, Security(_caller, scopes=[Role.RUN.value])]

RunId = Annotated[
    str,
    Path(
        description="Identifier of a run.",
        examples=["run_00exampleexampleexamp1e00"],
        min_length=1,
        max_length=100,
    ),
]
Limit = Annotated[int, Query(ge=1, le=200, description="Most items on a page.")]
Cursor = Annotated[
    str | None,
    Query(min_length=1, max_length=1_000, pattern=PLAIN, description="Where a page ended: `next` of that page."),
]
IdempotencyKey = Annotated[
    str | None,
    Header(
        min_length=1,
        max_length=200,
        pattern=r"^[\x21-\x7e]+$",
        description="Chosen by the caller: the same key with the same body is the same run, however often it is sent.",
    ),
]
IfNoneMatch = Annotated[
    str | None,
    Header(max_length=1_000, description="Entity tags known already; 304 answers when nothing has changed."),
]


def _run(service: Serving, run_id: RunId) -> RunRecord:
    """Return the run of the address; 404 where there is none."""
    return service.store.run(parse_run_id(run_id))


KnownRun = Annotated[RunRecord, Depends(_run)]
