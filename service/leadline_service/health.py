"""Is the service alive, and is it ready to answer."""

from __future__ import annotations

from importlib.metadata import version
from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict
from starlette.exceptions import HTTPException
from starlette.requests import Request

__all__ = ["Live", "Ready", "router"]

router = APIRouter(prefix="/health", tags=["health"])


class Live(BaseModel):
    """The process runs and answers."""

    model_config = ConfigDict(frozen=True)

    status: Literal["live"] = "live"


class Ready(BaseModel):
    """Everything the service needs is open.

    Parameters
    ----------
    status
        Always ``ready``; what is not ready answers 503.
    version
        Version of leadline that answers.
    """

    model_config = ConfigDict(frozen=True)

    status: Literal["ready"] = "ready"
    version: str


@router.get("/live")
async def live() -> Live:
    """Say that the process runs."""
    return Live()


@router.get("/ready")
async def ready(request: Request) -> Ready:
    """Say that start-up has finished and requests can be answered; 503 until then."""
    if not getattr(request.state, "ready", False):
        raise HTTPException(503, headers={"Retry-After": "1"})
    return Ready(version=version("leadline"))
