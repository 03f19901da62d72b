"""Problems told to a browser as pages, and to everything else as before."""

from __future__ import annotations

import json
from collections.abc import Callable, Coroutine, Mapping
from typing import Any, Final
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from leadline_service.pages.rendering import page

__all__ = ["told_as_pages"]

Handler = Callable[[Request, Any], Coroutine[Any, Any, Response]]
NOT_PAGES: Final = ("/v1", "/health", "/metrics", "/openapi.json", "/static")
HEADINGS: Final = {
    403: "That is not allowed",
    404: "There is nothing here",
    410: "It was here once",
    429: "Too many requests",
    500: "Something went wrong",
    503: "Not just now",
}


def told_as_pages(handlers: Mapping[int | type[Exception], Handler]) -> dict[int | type[Exception], Handler]:
    """Return handlers that answer a browser at one of the pages' addresses with a page.

    Where a token is missing, it is sent to sign in.
    """
    return {kind: _told(handler) for kind, handler in handlers.items()}


def _told(handler: Handler) -> Handler:
    async def tell(request: Request, error: Any) -> Response:
        answer = await handler(request, error)
        if not _wants_page(request) or answer.status_code < 400:
            return answer
        if answer.status_code == 401:
            return RedirectResponse(f"/sign-in?next={quote(request.url.path, safe='/')}", 303)
        return _page(answer)

    return tell


def _wants_page(request: Request) -> bool:
    elsewhere = request.url.path.startswith(NOT_PAGES)
    return not elsewhere and "text/html" in request.headers.get("accept", "")


def _page(answer: Response) -> Response:
    problem = json.loads(bytes(answer.body))
    status = answer.status_code
    made = page(
        "problem",
        title=problem["title"],
        here="",
        caller=None,
        status=status,
        heading=HEADINGS.get(status, problem["title"]),
        detail=problem["detail"],
        errors=[flaw["detail"] for flaw in problem.get("errors") or ()],
    )
    kept = {name: value for name, value in answer.headers.items() if name in {"retry-after", "allow"}}
    made.headers.update(kept)
    return made
