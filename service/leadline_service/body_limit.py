"""A bound on what a request may send.

The framework has such a bound too, but answers with plain text where the client declares the length beforehand.
"""

from __future__ import annotations

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from leadline_service.problems import problem_response

__all__ = ["BodyLimit"]


class BodyLimit:
    """Refuse a request body above a number of bytes, declared or counted as it comes in, with a 413 problem.

    Parameters
    ----------
    app
        The application to wrap.
    limit_bytes
        Largest body taken.
    """

    def __init__(self, app: ASGIApp, limit_bytes: int) -> None:
        self.app = app
        self.limit_bytes = limit_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse its body."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
        elif self._declares_too_much(scope):
            await problem_response(413)(scope, receive, send)
        else:
            await self.app(scope, self._counted(receive), send)

    def _declares_too_much(self, scope: Scope) -> bool:
        declared = Headers(scope=scope).get("content-length", "")
        return declared.isdecimal() and int(declared) > self.limit_bytes

    def _counted(self, receive: Receive) -> Receive:
        """Wrap `receive` so that it raises once more than the limit has come in (a body sent in chunks)."""
        taken = 0

        async def receive_counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > self.limit_bytes:
                raise HTTPException(413)
            return message

        return receive_counted
