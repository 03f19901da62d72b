"""The app factory."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.metadata import version
from typing import TypedDict

from fastapi import FastAPI

from leadline_service import health
from leadline_service.body_limit import BodyLimit
from leadline_service.problems import PROBLEM_HANDLERS
from leadline_service.protection import SecurityHeaders
from leadline_service.settings import Settings

__all__ = ["create_app"]


class State(TypedDict):
    """What the lifespan hands to every request.

    Parameters
    ----------
    ready
        True once everything the service needs is open.
    """

    ready: bool


@asynccontextmanager
async def _lifespan(_app: FastAPI) -> AsyncIterator[State]:
    """Open what the service needs and close it again; today there is nothing to open."""
    yield State(ready=True)


def create_app(settings: Settings) -> FastAPI:
    """Return the service as an ASGI application.

    Parameters
    ----------
    settings
        Checked settings; nothing is read from the environment.
    """
    app = FastAPI(
        title="Leadline",
        version=version("leadline"),
        lifespan=_lifespan,
        exception_handlers=PROBLEM_HANDLERS,
        # The ready-made documentation pages load scripts from elsewhere.
        docs_url=None,
        redoc_url=None,
        # The log records that the framework exports hold stack traces.
        telemetry={"logs": False},
    )
    app.add_middleware(BodyLimit, limit_bytes=settings.max_body_bytes)
    app.add_middleware(SecurityHeaders)
    app.include_router(health.router)
    return app
