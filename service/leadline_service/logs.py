"""Structured logs: one line of JSON for each request, and what happened in between with the request's id.

No header, no query and no body is logged, so no token and no study ends up in a log.
"""

from __future__ import annotations

import logging
import re
import secrets
import sys
import time

import structlog
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from leadline_service.identifiers import written
from leadline_service.metrics import Metrics

__all__ = ["REQUEST_ID", "RequestLog", "logger", "set_up_logs"]

REQUEST_ID = "x-request-id"
GIVEN_ID = re.compile(r"[A-Za-z0-9._-]{8,64}")
SHARED: list[structlog.typing.Processor] = [
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_log_level,
    structlog.stdlib.add_logger_name,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
    structlog.processors.format_exc_info,
]


def logger(name: str) -> structlog.stdlib.BoundLogger:
    """Return a logger whose lines carry what is bound to the context; it says nothing until logs are set up."""
    made: structlog.stdlib.BoundLogger = structlog.wrap_logger(
        logging.getLogger(name),
        processors=[structlog.stdlib.filter_by_level, *SHARED, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        wrapper_class=structlog.stdlib.BoundLogger,
    )
    return made


LOG = logger("leadline.requests")


def set_up_logs(level: int = logging.INFO) -> None:
    """Send our logs, and the warnings of libraries, to standard error, one JSON object a line; at a program's start."""
    render: list[structlog.typing.Processor] = [
        structlog.stdlib.ProcessorFormatter.remove_processors_meta,
        structlog.processors.JSONRenderer(),
    ]
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(structlog.stdlib.ProcessorFormatter(foreign_pre_chain=SHARED, processors=render))
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.WARNING)  # what libraries say day by day may hold addresses with queries
    logging.getLogger("leadline").setLevel(level)
    structlog.configure(
        processors=[structlog.stdlib.filter_by_level, *SHARED, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=structlog.stdlib.BoundLogger,
    )


class RequestLog:
    """Give every request an id, log how it was answered, count and time it.

    Parameters
    ----------
    app
        The application to wrap.
    metrics
        Where it is counted.
    """

    def __init__(self, app: ASGIApp, metrics: Metrics) -> None:
        self.app, self.metrics = app, metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, with its id in the answer."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request_id = _id_of(scope)
        began = time.perf_counter()
        status, first_byte = 500, began

        async def send_named(message: Message) -> None:
            nonlocal status, first_byte
            if message["type"] == "http.response.start":
                status, first_byte = message["status"], time.perf_counter()
                MutableHeaders(scope=message)[REQUEST_ID] = request_id
            await send(message)

        with structlog.contextvars.bound_contextvars(request_id=request_id):
            try:
                await self.app(scope, receive, send_named)
            finally:
                self._note(scope, status, first_byte - began, time.perf_counter() - began)

    def _note(self, scope: Scope, status: int, waited_s: float, took_s: float) -> None:
        operation = getattr(scope.get("route"), "operation_id", None) or "none"
        self.metrics.requests.labels(operation, str(status)).inc()
        self.metrics.seconds.labels(operation).observe(waited_s)
        caller = scope.get("state", {}).get("caller")
        LOG.info(
            "request",
            method=scope["method"],
            path=scope["path"],
            operation=operation,
            status=status,
            took_ms=round(took_s * 1000, 2),
            caller=caller,
        )


def _id_of(scope: Scope) -> str:
    """Return the id a proxy gave, where it is a plain one; a new one otherwise."""
    given = Headers(scope=scope).get(REQUEST_ID, "")
    return given if GIVEN_ID.fullmatch(given) else f"req_{written(secrets.token_bytes(10))}"
