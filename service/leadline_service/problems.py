"""Errors as RFC 9457 problem documents, for every status the service answers with."""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Mapping, Sequence
from http import HTTPStatus
from typing import Any

from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, ConfigDict
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from leadline_service.protection import SECURITY_HEADERS

__all__ = ["PROBLEM_HANDLERS", "Flaw", "Problem", "problem_response"]

MEDIA_TYPE = "application/problem+json"

_SENTENCES: Mapping[int, str] = {
    404: "There is nothing at this address.",
    405: "This address does not answer that method; the Allow header names those it does.",
    413: "The request body is larger than this server takes.",
    422: "The request cannot be used as written; see errors.",
    500: "Something went wrong in the server. Its log has the cause.",
    503: "The server is not ready to answer yet. Try again shortly.",
}


class Flaw(BaseModel):
    """One thing wrong with a request.

    Parameters
    ----------
    pointer
        Where in the body, as a JSON pointer in a URI fragment (RFC 6901, section 6); None when it is not in the body.
    parameter
        Which query, path, header or cookie parameter; None when it is in the body.
    code
        A short stable word for programs.
    detail
        What is wrong.
    """

    model_config = ConfigDict(frozen=True)

    pointer: str | None = None
    parameter: str | None = None
    code: str
    detail: str


class Problem(BaseModel):
    """A problem document (RFC 9457, section 3).

    Parameters
    ----------
    type
        A URI naming the kind of problem; ``about:blank`` means that the status says it all.
    title
        The status in words.
    status
        The HTTP status code.
    detail
        What happened this time, and what to do.
    errors
        Every flaw found in the request, where there are any.
    """

    model_config = ConfigDict(frozen=True)

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    errors: tuple[Flaw, ...] | None = None


def problem_response(
    status: int,
    detail: str | None = None,
    *,
    errors: Sequence[Flaw] = (),
    headers: Mapping[str, str] | None = None,
) -> Response:
    """Return the response that tells of a problem.

    Parameters
    ----------
    status
        HTTP status code.
    detail
        What happened; None takes the sentence that fits the status.
    errors
        Flaws to list.
    headers
        Headers to send besides the security headers, such as Allow.
    """
    title = HTTPStatus(status).phrase
    document = Problem(
        title=title, status=status, detail=detail or _SENTENCES.get(status, title), errors=tuple(errors) or None
    )
    return Response(
        document.model_dump_json(exclude_none=True),
        status_code=status,
        # The answer to a crash is sent from outside the middleware, so it brings its own security headers.
        headers={**SECURITY_HEADERS, **(headers or {})},
        media_type=MEDIA_TYPE,
    )


async def _http(_request: Request, error: HTTPException) -> Response:
    said_nothing_new = error.detail == HTTPStatus(error.status_code).phrase
    return problem_response(error.status_code, None if said_nothing_new else error.detail, headers=error.headers)


async def _invalid(_request: Request, error: RequestValidationError) -> Response:
    return problem_response(422, errors=[_flaw(item) for item in error.errors()])


async def _crashed(_request: Request, _error: Exception) -> Response:
    return problem_response(500)


def _flaw(item: Mapping[str, Any]) -> Flaw:
    """Turn one entry of a validation error's list into a flaw."""
    place, *steps = item["loc"]
    code = str(item["type"]).replace("_", "-")
    if place != "body":
        return Flaw(parameter=".".join(map(str, steps)), code=code, detail=item["msg"])
    # Where the body is no JSON at all, pydantic gives the character's offset: that is no pointer into a document.
    inside = [] if item["type"] == "json_invalid" else steps
    return Flaw(pointer="#" + "".join(f"/{_escaped(step)}" for step in inside), code=code, detail=item["msg"])


def _escaped(step: str | int) -> str:
    """Escape one reference token (RFC 6901, section 3)."""
    return str(step).replace("~", "~0").replace("/", "~1")


PROBLEM_HANDLERS: dict[int | type[Exception], Callable[[Request, Any], Coroutine[Any, Any, Response]]] = {
    HTTPException: _http,
    RequestValidationError: _invalid,
    Exception: _crashed,
}
"""What the app factory installs, so that no answer leaves as plain text or with a stack trace."""
