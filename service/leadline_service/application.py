"""The app factory."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import ExitStack, asynccontextmanager
from importlib.metadata import version
from threading import Event
from typing import Any

from fastapi import FastAPI
from starlette.concurrency import run_in_threadpool

from leadline_service.body_limit import BodyLimit
from leadline_service.clock import Clock, SystemClock
from leadline_service.description import Described
from leadline_service.edits import EditRequest
from leadline_service.files import Files, open_files
from leadline_service.logs import RequestLog
from leadline_service.metrics import Metrics
from leadline_service.opening import opened_store, require_protected
from leadline_service.pages.errors import told_as_pages
from leadline_service.pages.router import router as pages
from leadline_service.problems import PROBLEM_HANDLERS
from leadline_service.protection import SecurityHeaders
from leadline_service.requests import RunRequest
from leadline_service.routes import (
    cases,
    editing,
    events,
    figures,
    files,
    health,
    metrics,
    names,
    runs,
    studies,
    trials,
    trying,
)
from leadline_service.schemas import CompareRequest, Extension, TrialRequest
from leadline_service.serving import Computing, Service
from leadline_service.settings import Settings
from leadline_service.store.port import Store
from leadline_service.time_limit import TimeLimit
from leadline_service.tries import TryRequest

__all__ = ["create_app"]

ROUTERS = (studies, editing, names, runs, events, figures, files, cases, trials, trying, health, metrics)
BODIES = (RunRequest, Extension, TrialRequest, CompareRequest, EditRequest, TryRequest)
Computes = Callable[[Store, Files, Metrics], Computing]
"""Makes whoever computes queued runs, from what is open."""


def create_app(
    settings: Settings,
    store: Store | None = None,
    files: Files | None = None,
    *,
    clock: Clock | None = None,
    computes: Computes | None = None,
    leaving: Event | None = None,
) -> FastAPI:
    """Return the service as an ASGI application.

    Parameters
    ----------
    settings
        Checked settings; nothing is read from the environment.
    store, files
        What outlives it, left open at the end; opened as the settings say, and closed again, when None.
    clock
        Tells the time; the machine's when None.
    computes
        Makes whoever computes queued runs beside this server; nobody when None.
    leaving
        Set by whoever runs the server once it is to end, so that streams of events end first.
    """
    counted = Metrics()
    opening = _Opening(
        settings,
        store,
        files,
        clock=clock or SystemClock(),
        computes=computes,
        leaving=leaving or Event(),
        counted=counted,
    )
    app = Described(
        bodies=BODIES,
        title="Leadline",
        summary="How likely a spaceflight concept is to close, by how much, and what fails first.",
        version=version("leadline"),
        lifespan=opening.lifespan,
        exception_handlers=told_as_pages(PROBLEM_HANDLERS),
        # The ready-made documentation pages load scripts from elsewhere.
        docs_url=None,
        redoc_url=None,
        # The log records that the framework exports hold stack traces.
        telemetry={"logs": False},
        separate_input_output_schemas=False,
    )
    # The last one added is the outermost.
    app.add_middleware(BodyLimit, limit_bytes=settings.max_body_bytes)
    app.add_middleware(TimeLimit, request_s=settings.request_s, stream_s=settings.stream_s)
    app.add_middleware(SecurityHeaders)
    app.add_middleware(RequestLog, metrics=counted)
    for module in ROUTERS:
        app.include_router(module.router)
    app.include_router(pages)
    return app


class _Opening:
    """Opens what the service needs, and closes what it has opened."""

    def __init__(
        self,
        settings: Settings,
        store: Store | None,
        files: Files | None,
        *,
        clock: Clock,
        computes: Computes | None,
        leaving: Event,
        counted: Metrics,
    ) -> None:
        self._settings, self._store, self._files = settings, store, files
        self._clock, self._computes, self._leaving, self._counted = clock, computes, leaving, counted

    @asynccontextmanager
    async def lifespan(self, _app: FastAPI) -> AsyncIterator[Mapping[str, Any]]:
        """Hand every request the service while it is open."""
        with ExitStack() as stack:
            service = await run_in_threadpool(self._open, stack)
            yield {"service": service}
            self._leaving.set()
            service.trials.close()
            if service.computing is not None:
                await run_in_threadpool(service.computing.close)

    def _open(self, stack: ExitStack) -> Service:
        settings = self._settings
        store = self._store
        if store is None:
            store = opened_store(settings, self._clock)
            stack.callback(store.close)
        require_protected(settings, store)
        files = self._files or open_files(settings.files_place)
        self._counted.watch(store)
        computing = None if self._computes is None else self._computes(store, files, self._counted)
        if computing is not None:
            computing.start()
        return Service.of(
            settings,
            self._clock,
            store,
            files,
            metrics=self._counted,
            computing=computing,
            leaving=self._leaving,
        )
