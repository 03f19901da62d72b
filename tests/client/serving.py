"""A real service, with somebody who computes runs, on a loopback port in a thread."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import uvicorn

from leadline.run.executors import InProcess
from leadline_service.application import create_app
from leadline_service.clock import SystemClock
from leadline_service.jobs.dispatcher import Dispatcher
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.jobs.workplace import Workplace
from leadline_service.metrics import Metrics
from leadline_service.opening import opened_store
from leadline_service.settings import Settings
from leadline_service.store.port import Store
from leadline_service.tokens import Role, make_token

__all__ = ["serving", "token_for"]


@contextmanager
def serving(folder: Path, *, port: int = 0, **settings: Any) -> Iterator[str]:
    """Serve what a folder holds; yield the address."""
    made = Settings(data=folder, least_free_bytes=0, poll_s=0.05, rate_burst=1_000_000, **settings)
    with socket.create_server(("127.0.0.1", port), backlog=64) as listens:
        leaving = threading.Event()
        app = create_app(made, computes=lambda *parts: _dispatcher(made, *parts), leaving=leaving)
        config = uvicorn.Config(app, log_config=None, log_level="error", timeout_graceful_shutdown=1)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listens]})
        thread.start()
        until = time.monotonic() + 20
        while not server.started:
            assert time.monotonic() < until
            time.sleep(0.01)
        try:
            yield f"http://127.0.0.1:{listens.getsockname()[1]}"
        finally:
            leaving.set()
            server.should_exit = True
            thread.join()


def _dispatcher(settings: Settings, store: Store, files: Any, metrics: Metrics) -> Dispatcher:
    counted = JobMetrics(metrics.registry)
    return Dispatcher(settings, store, files, metrics=counted, workplace=Workplace(InProcess, counted))


def token_for(folder: Path, role: str) -> str:
    """Make a token for the service of a folder, which from then on asks everybody for one."""
    made = make_token("ada", Role(role), SystemClock().now())
    store = opened_store(Settings(data=folder))
    try:
        store.add_token(made.record)
    finally:
        store.close()
    return made.text
