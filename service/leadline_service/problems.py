"""Errors as RFC 9457 problem documents, for every status the service answers with."""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Mapping, Sequence
from http import HTTPStatus
from typing import Any

from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, ConfigDict
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response

from leadline.errors import LeadlineError, OutputError, SamplingError, StudyError
from leadline_service.files import FileMissing, FilesUnavailable, NoRoom
from leadline_service.flaws import Flaw
from leadline_service.identifiers import BadIdentifier
from leadline_service.logs import logger
from leadline_service.protection import SECURITY_HEADERS
from leadline_service.refusals import Refusal, flaws_of_issues, pointer
from leadline_service.store.errors import BadCursor, KeyReused, NotEnded, NotFound, StoreUnavailable, TooMany
from leadline_service.tokens import Forbidden, Unauthenticated

__all__ = ["MEDIA_TYPE", "PROBLEM_HANDLERS", "SOON", "Problem", "problem_response"]

LOG = logger("leadline.problems")
MEDIA_TYPE = "application/problem+json"
SOON = {"Retry-After": "2"}
"""When to come back where a disk or a database may be back at any moment."""

_SENTENCES: Mapping[int, str] = {
    404: "There is nothing at this address.",
    405: "This address does not answer that method; the Allow header names those it does.",
    408: "The request did not arrive in time.",
    413: "The request body is larger than this server takes.",
    422: "The request cannot be used as written; see errors.",
    500: "Something went wrong in the server. Its log has the cause.",
    503: "The server is not ready to answer yet. Try again shortly.",
}


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


def refusal_of(error: LeadlineError) -> Refusal | None:
    """Return how an error of the store, of the files or of a study is told; None for one that is a fault of ours."""
    if isinstance(error, Refusal):
        return error
    if isinstance(error, StudyError):
        return Refusal(422, "The study cannot be used as written.", errors=flaws_of_issues(error.issues))
    told = next((told for kind, told in TOLD.items() if isinstance(error, kind)), None)
    return None if told is None else told(error)


def _with_status(status: int) -> Callable[[Any], Refusal]:
    return lambda error: Refusal(status, _sentence(error))


def _parameter(name: str, code: str) -> Callable[[Any], Refusal]:
    return lambda error: Refusal(422, errors=[Flaw(parameter=name, code=code, detail=_sentence(error))])


def _unauthenticated(error: Unauthenticated) -> Refusal:
    return Refusal(401, _sentence(error), headers={"WWW-Authenticate": "Bearer"})


def _forbidden(error: Forbidden) -> Refusal:
    challenge = f'Bearer error="insufficient_scope", scope="{error.needed}"'
    return Refusal(403, _sentence(error), headers={"WWW-Authenticate": challenge})


def _too_many(error: TooMany) -> Refusal:
    status = 429 if error.scope == "caller" else 503
    return Refusal(status, _sentence(error), headers={"Retry-After": str(error.retry_after_s)})


def _away(what: str) -> Callable[[Any], Refusal]:
    # The error's own words name places that are nobody's business outside; the log has them.
    return lambda _error: Refusal(503, f"{what} just now. Try again shortly.", headers=SOON)


TOLD: Mapping[type[LeadlineError], Callable[[Any], Refusal]] = {
    SamplingError: _with_status(422),
    NotFound: _with_status(404),
    BadIdentifier: _with_status(404),
    NotEnded: _with_status(409),
    KeyReused: _parameter("Idempotency-Key", "reused"),
    BadCursor: _parameter("cursor", "cursor"),
    FileMissing: lambda _error: Refusal(410, "The file was there once and is gone."),
    Unauthenticated: _unauthenticated,
    Forbidden: _forbidden,
    TooMany: _too_many,
    StoreUnavailable: _away("The store does not answer"),
    FilesUnavailable: _away("The service's files cannot be reached"),
    NoRoom: _away("There is no room for files"),
}
"""How each error of ours is told."""


def _sentence(error: Exception) -> str:
    said = str(error)
    first = said.partition(" ")[0]
    # An identifier is not a word to be written with a capital.
    return f"{said if '_' in first else said[:1].upper() + said[1:]}."


async def _ours(_request: Request, error: LeadlineError) -> Response:
    refusal = refusal_of(error)
    if refusal is None:
        raise error  # a fault of ours, told as any other and logged with its trace
    if isinstance(error, StoreUnavailable | OutputError):
        LOG.warning("unavailable", reason=str(error))
    if refusal.status == HTTPStatus.NO_CONTENT:
        return Response(status_code=204)
    return problem_response(refusal.status, refusal.detail, errors=refusal.errors, headers=refusal.headers)


async def _http(_request: Request, error: HTTPException) -> Response:
    said_nothing_new = error.detail == HTTPStatus(error.status_code).phrase
    return problem_response(error.status_code, None if said_nothing_new else error.detail, headers=error.headers)


async def _invalid(_request: Request, error: RequestValidationError) -> Response:
    return problem_response(422, errors=[_flaw(item) for item in error.errors()])


async def _crashed(_request: Request, _error: Exception) -> Response:
    return problem_response(500)


async def _gone(_request: Request, _error: ClientDisconnect) -> Response:
    return problem_response(400)  # nobody is there to read it


def _flaw(item: Mapping[str, Any]) -> Flaw:
    """Turn one entry of a validation error's list into a flaw."""
    place, *steps = item["loc"]
    code = str(item["type"]).replace("_", "-")
    if place != "body":
        return Flaw(parameter=".".join(map(str, steps)), code=code, detail=item["msg"])
    # Where the body is no JSON at all, pydantic gives the character's offset: that is no pointer into a document.
    inside = () if item["type"] == "json_invalid" else tuple(steps)
    return Flaw(pointer=pointer(inside), code=code, detail=item["msg"])


PROBLEM_HANDLERS: dict[int | type[Exception], Callable[[Request, Any], Coroutine[Any, Any, Response]]] = {
    HTTPException: _http,
    RequestValidationError: _invalid,
    LeadlineError: _ours,
    ClientDisconnect: _gone,
    Exception: _crashed,
}
"""What the app factory installs, so that no answer leaves as plain text or with a stack trace."""
