"""What a request is refused with, raised where the reason is found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from leadline.errors import Issue, LeadlineError, Path
from leadline_service.flaws import Flaw

__all__ = ["Refusal", "flaws_of_issues", "pointer"]


class Refusal(LeadlineError):
    """A request is refused.

    Parameters
    ----------
    status
        HTTP status code.
    detail
        What happened, and what to do; None for the sentence that fits the status.
    errors
        Flaws of the request.
    headers
        Headers of the answer, such as Retry-After.
    """

    def __init__(
        self,
        status: int,
        detail: str | None = None,
        *,
        errors: Sequence[Flaw] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        self.status, self.detail = status, detail
        self.errors, self.headers = tuple(errors), dict(headers or {})
        super().__init__(detail or str(status))


def pointer(path: Path) -> str:
    """Return a place in a document as a JSON pointer in a URI fragment (RFC 6901, sections 3 and 6)."""
    return "#" + "".join(f"/{_escaped(step)}" for step in path)


def flaws_of_issues(issues: Sequence[Issue], under: Path = ()) -> tuple[Flaw, ...]:
    """Return a study's issues as flaws.

    Parameters
    ----------
    issues
        What is wrong with the study.
    under
        Where in the request the study, or the values for it, stand.
    """
    return tuple(
        Flaw(
            pointer=pointer((*under, *issue.path)),
            code=issue.code,
            detail=f"{issue.message} {issue.remedy}",
            remedy=issue.remedy,
            line=issue.line,
            column=issue.column,
        )
        for issue in issues
    )


def _escaped(step: str | int) -> str:
    return str(step).replace("~", "~0").replace("/", "~1")
