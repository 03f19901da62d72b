"""Problem documents of a server, as the errors a local run would raise, or as refusals."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any, Final, Protocol, get_args

from pydantic_core.core_schema import ErrorType

from leadline.client.errors import Busy, Refused, RequestFlaw
from leadline.errors import Issue, LeadlineError, Path, StudyError, Unreachable

__all__ = ["is_unknown_study", "problem_of"]

WHOLE_BODY: Final = ("/v1/studies", "/v1/names")
"""Addresses whose body is a study, so that whatever is wrong in the body is wrong with the study."""
NO_STUDY: Final = "no-study"
ABOUT_TEXTS: Final = frozenset({NO_STUDY, "study", "string-pattern-mismatch", "string-too-long", "string-too-short"})
"""Words for what is wrong with naming or sending a study, not with what it says."""
TOKEN: Final = "a token is shown by LEADLINE_TOKEN or a token file"  # noqa: S105 - a sentence, no secret


class Answer(Protocol):
    """What a server answered."""

    @property
    def status(self) -> int:
        """HTTP status."""
        ...

    @property
    def content(self) -> bytes:
        """The body."""
        ...

    @property
    def retry_after_s(self) -> float | None:
        """How long it asks to wait, s."""
        ...


def problem_of(reply: Answer, path: str) -> LeadlineError:
    """Return the error that a refusal stands for.

    Parameters
    ----------
    reply
        A status beyond 299, with a problem document (RFC 9457) or without one.
    path
        What was asked.
    """
    document = _document(reply.content)
    if document is None:
        return _no_document(reply)
    flaws = document.get("errors") or []
    detail = str(document.get("detail") or document.get("title") or "No reason is given.")
    if reply.status == 422:
        issues = _issues(flaws, whole=path.startswith(WHOLE_BODY))
        if issues:
            return StudyError(issues)
    if reply.status in {401, 403}:
        detail = f"{detail} ({TOKEN})"
    kind = Busy if reply.status in {429, 503} else Refused
    return kind(reply.status, detail, [_flaw(each) for each in flaws], reply.retry_after_s)


def is_unknown_study(error: LeadlineError) -> bool:
    """Tell whether a run was refused because its study has to be stored first."""
    return isinstance(error, Refused) and any(flaw.code == NO_STUDY for flaw in error.flaws)


def _document(content: bytes) -> dict[str, Any] | None:
    try:
        document = json.loads(content)
    except ValueError:
        return None
    is_problem = isinstance(document, dict) and "status" in document and "title" in document
    return document if is_problem else None


def _no_document(reply: Answer) -> LeadlineError:
    """Return what an answer means that something else than a Leadline server gave, such as a gateway on the way."""
    if reply.status in {429, 502, 503, 504}:
        return Busy(reply.status, f"Something on the way to the server answers {reply.status}.", (), None)
    return Unreachable(f"what answers there is no Leadline server: it answers {reply.status} without saying why")


def _issues(flaws: Sequence[Mapping[str, Any]], *, whole: bool) -> list[Issue]:
    """Return the flaws that are about the study, as the issues a local check finds."""
    places = [(flaw, _place(flaw, whole=whole)) for flaw in flaws]
    return [_issue(flaw, place) for flaw, place in places if place is not None]


def _issue(flaw: Mapping[str, Any], place: Path) -> Issue:
    remedy = str(flaw.get("remedy") or "")
    message = str(flaw["detail"]).removesuffix(f" {remedy}")
    return Issue(place, message, remedy, str(flaw["code"]), flaw.get("line"), flaw.get("column"))


def _place(flaw: Mapping[str, Any], *, whole: bool) -> Path | None:
    """Return the place in the study that a flaw of a request is at; None where it is about the request itself."""
    pointer, code = flaw.get("pointer"), str(flaw["code"])
    if pointer is None:
        return None
    steps = tuple(_step(each) for each in pointer.removeprefix("#").split("/")[1:])
    return steps if whole else _inside(steps, code)


def _inside(steps: Path, code: str) -> Path | None:
    """Return the place in the study that a place in a request for a run stands for."""
    match steps:
        case ("study" | "text", *inside) if code not in ABOUT_TEXTS:
            return tuple(inside)
        case ("set", place, *inside):
            return (place, *inside)
        case ("option",) | ("compare", int()) if code not in _shapes():
            return ("options",)
        case ("answers", int()) if code not in _shapes():
            return ()
        case _:
            return None


@lru_cache(maxsize=1)
def _shapes() -> frozenset[str]:
    """Return the words for what is wrong with the shape of a request, whatever study it is about."""
    return frozenset(word.replace("_", "-") for word in get_args(ErrorType))


def _step(text: str) -> str | int:
    plain = text.replace("~1", "/").replace("~0", "~")
    return int(plain) if plain.isascii() and plain.isdigit() and str(int(plain)) == plain else plain


def _flaw(flaw: Mapping[str, Any]) -> RequestFlaw:
    place = flaw.get("pointer") or flaw.get("parameter") or ""
    return RequestFlaw(str(place).removeprefix("#"), str(flaw["code"]), str(flaw["detail"]))
