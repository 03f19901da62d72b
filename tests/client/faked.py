"""Servers that answer from a list, and a clock that stands still unless something pauses."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import httpx2
import pytest

from leadline.client import Client

__all__ = ["ADDRESS", "RUN", "Faked", "document", "faked", "problem"]

ADDRESS = "http://leadline.test"
Answer = httpx2.Response | Exception | Callable[[httpx2.Request], httpx2.Response]

RUN: dict[str, Any] = {
    "run_id": "run_00000000000000000000000000",
    "state": "queued",
    "caller": "ada",
    "study": "0" * 64,
    "request": {},
    "cases": 1,
    "extends": None,
    "progress": None,
    "outcome": None,
    "partial": False,
    "failure": None,
    "created": "2026-01-01T00:00:00Z",
    "started": None,
    "ended": None,
    "revision": 1,
    "found": "new",
    "estimate": {"cases": 1, "seconds": 0.1},
    "more": "a newer server may say more",
}


@dataclass
class Faked:
    """A server that gives one answer after another, the last one for ever.

    Parameters
    ----------
    answers
        Responses, errors to raise in place of one, or functions of the request.
    """

    answers: list[Answer]
    requests: list[httpx2.Request] = field(default_factory=list)
    pauses: list[float] = field(default_factory=list)
    clock_s: float = 0.0

    def __call__(self, request: httpx2.Request) -> httpx2.Response:
        """Answer one request."""
        self.requests.append(request)
        answer = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
        if isinstance(answer, Exception):
            raise answer
        return answer(request) if callable(answer) else answer

    def sleep(self, seconds: float) -> None:
        """Let the clock go on without waiting."""
        self.pauses.append(seconds)
        self.clock_s += seconds


def faked(monkeypatch: pytest.MonkeyPatch, *answers: Answer, patience_s: float = 60.0) -> tuple[Client, Faked]:
    """Return a client of a faked server."""
    server = Faked(list(answers))
    client = Client(ADDRESS, "a-token", patience_s=patience_s, transport=httpx2.MockTransport(server))
    monkeypatch.setattr("leadline.client.client.time.sleep", server.sleep)
    client.talks.patience.now = lambda: server.clock_s
    return client, server


def document(body: dict[str, Any], status: int = 200) -> httpx2.Response:
    """Return an answer with a document."""
    return httpx2.Response(status, json=body)


def problem(status: int, detail: str, retry_after: str | None = None, **more: Any) -> httpx2.Response:
    """Return a refusal with its problem document."""
    headers = {"content-type": "application/problem+json"} | ({"retry-after": retry_after} if retry_after else {})
    body = {"type": "about:blank", "title": "A title", "status": status, "detail": detail, **more}
    return httpx2.Response(status, content=json.dumps(body), headers=headers)
