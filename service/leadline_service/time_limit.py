"""A bound on how long a request may take."""

from __future__ import annotations

import asyncio

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from leadline_service.problems import SOON, problem_response

__all__ = ["TimeLimit"]


class TimeLimit:
    """End a request that takes too long: before its answer began with a problem, later by breaking off.

    Every piece of the answer sent gives it as much time again, so that a large file may take long as long as it moves;
    a stream of events, which may well be quiet, has a time of its own.

    Parameters
    ----------
    app
        The application to wrap.
    request_s
        How long nothing may be sent.
    stream_s
        How long a stream of events may last.
    """

    def __init__(self, app: ASGIApp, request_s: float, stream_s: float) -> None:
        self.app = app
        self.request_s, self.stream_s = request_s, stream_s

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request in time."""
        if scope["type"] == "http":
            await _Timed(self, receive, send).run(scope)
        else:
            await self.app(scope, receive, send)


class _Timed:
    """One request under way."""

    def __init__(self, limit: TimeLimit, receive: Receive, send: Send) -> None:
        self._limit, self._receive, self._send = limit, receive, send
        self._began_to_answer = self._has_body = self._streams = False
        self._timeout = asyncio.timeout(limit.request_s)

    async def run(self, scope: Scope) -> None:
        try:
            async with self._timeout:
                await self._limit.app(scope, self._received, self._sent)
        except TimeoutError:
            if not self._timeout.expired():
                raise
            if not self._began_to_answer:
                problem = problem_response(503, "That took too long.", headers=SOON)
                late = problem if self._has_body else problem_response(408)
                await late(scope, self._receive, self._send)

    async def _received(self) -> Message:
        message = await self._receive()
        self._has_body = self._has_body or not message.get("more_body", False)
        return message

    async def _sent(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self._began_to_answer = True
            self._streams = _is_stream(message)
            self._allow(self._limit.stream_s if self._streams else self._limit.request_s)
        elif not self._streams:
            self._allow(self._limit.request_s)
        await self._send(message)

    def _allow(self, seconds: float) -> None:
        if not self._timeout.expired():
            self._timeout.reschedule(asyncio.get_running_loop().time() + seconds)


def _is_stream(start: Message) -> bool:
    return any(name == b"content-type" and value.startswith(b"text/event-stream") for name, value in start["headers"])
