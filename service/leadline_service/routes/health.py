"""Is the service alive, and is it ready to answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib.metadata import version
from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict

from leadline.errors import LeadlineError
from leadline_service.dependencies import Serving
from leadline_service.description import problems
from leadline_service.flaws import Flaw
from leadline_service.problems import SOON
from leadline_service.refusals import Refusal
from leadline_service.serving import Service

__all__ = ["Live", "Ready", "router"]

router = APIRouter(prefix="/health", tags=["health"], responses=problems(500))


class Live(BaseModel):
    """The process runs and answers."""

    model_config = ConfigDict(frozen=True)

    status: Literal["live"] = "live"


class Ready(BaseModel):
    """Everything the service needs is there.

    Parameters
    ----------
    status
        Always ``ready``; what is not ready answers 503 and says what is missing.
    version
        Version of leadline that answers.
    """

    model_config = ConfigDict(frozen=True)

    status: Literal["ready"] = "ready"
    version: str


@router.get("/live", operation_id="live")
async def live() -> Live:
    """Say that the process runs."""
    return Live()


@router.get("/ready", operation_id="ready", responses=problems(503))
def ready(service: Serving) -> Ready:
    """Say that the store answers and is up to date, files can be written, and queued runs are computed."""
    missing = [flaw for name, check in CHECKS.items() if (flaw := _missing(name, check, service)) is not None]
    if missing:
        raise Refusal(503, "Something that the service needs is missing; see errors.", errors=missing, headers=SOON)
    return Ready(version=version("leadline"))


def _missing(name: str, check: Callable[[Service], str | None], service: Service) -> Flaw | None:
    try:
        said = check(service)
    except LeadlineError:
        said = "It does not answer."  # anybody may ask, so the reason stays in the log
    return None if said is None else Flaw(code=name, detail=said)


def _store(service: Service) -> str | None:
    service.store.ping()
    return None


def _migrations(service: Service) -> str | None:
    waiting = service.store.pending()
    return f"The database lacks {len(waiting)} migrations." if waiting else None


def _disk(service: Service) -> str | None:
    free = service.files.free_bytes()
    if free is not None and free < service.settings.least_free_bytes:
        return f"Only {free // 1_000_000} MB are free."
    return None


def _computing(service: Service) -> str | None:
    computing = service.computing
    if computing is None or (computing.alive and computing.trouble is None):
        return None
    return "Workers cannot be reached." if computing.alive else "Queued runs are not being computed."


CHECKS: Mapping[str, Callable[[Service], str | None]] = {
    "store": _store,
    "migrations": _migrations,
    "disk": _disk,
    "computing": _computing,
}
"""What has to be in order; each check gives a sentence where it is not, or raises."""
