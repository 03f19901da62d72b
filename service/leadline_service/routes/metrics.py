"""What is counted and timed."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Response, Security
from fastapi.security import HTTPAuthorizationCredentials
from starlette.requests import Request

from leadline_service.dependencies import BEARER, Serving, caller_of
from leadline_service.description import GUARDED, content
from leadline_service.metrics import MEDIA_TYPE
from leadline_service.settings import is_loopback
from leadline_service.tokens import Role

__all__ = ["router"]

router = APIRouter(tags=["health"], responses=GUARDED)

FORWARDED = ("forwarded", "x-forwarded-for", "via")
"""A proxy on this machine asks from here for somebody elsewhere."""


def _near_or_reader(
    request: Request, service: Serving, _shown: Annotated[HTTPAuthorizationCredentials | None, Depends(BEARER)]
) -> None:
    client = "" if request.client is None else request.client.host
    if not is_loopback(client) or any(name in request.headers for name in FORWARDED):
        caller_of(request, service, Role.READ)


@router.get(
    "/metrics",
    operation_id="metrics",
    response_class=Response,
    dependencies=[Security(_near_or_reader, scopes=[Role.READ.value])],
    responses=content(200, "Metrics as Prometheus reads them.", "text/plain"),
)
def metrics(service: Serving) -> Response:
    """Return what is counted and timed; from this machine no token is needed."""
    return Response(service.metrics.text(), media_type=MEDIA_TYPE)
