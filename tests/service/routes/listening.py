"""A real server for an application, on a free loopback port, in a thread."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn
from fastapi import FastAPI

__all__ = ["listening"]


@contextmanager
def listening(app: FastAPI) -> Iterator[str]:
    """Serve an application whose lifespan is somebody else's affair; yield its address."""
    config = uvicorn.Config(app, log_config=None, log_level="error", timeout_graceful_shutdown=1)
    server = uvicorn.Server(config)
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP) as listens:
        listens.bind(("127.0.0.1", 0))
        listens.listen(512)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listens]})
        thread.start()
        until = time.monotonic() + 10
        while not server.started:
            assert time.monotonic() < until
            time.sleep(0.01)
        try:
            yield f"http://127.0.0.1:{listens.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join()
