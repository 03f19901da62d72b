"""Issues carried through pydantic, which collects them and adds where they stand."""

from __future__ import annotations

from collections.abc import Sequence

from pydantic import ValidationError
from pydantic_core import InitErrorDetails, PydanticCustomError

from leadline.errors import Issue

__all__ = ["carried", "refusal"]


def refusal(issues: Sequence[Issue]) -> ValidationError:
    """Wrap issues, their paths relative to the value at hand, for a pydantic validator to raise."""
    details = [InitErrorDetails(type=_custom(issue), loc=issue.path, input=None) for issue in issues]
    return ValidationError.from_exception_data("study", details)


def carried(code: str, message: str, remedy: str) -> PydanticCustomError:
    """Make the error that a pydantic validator raises for the value at hand."""
    return _custom(Issue((), message, remedy, code))


def _custom(issue: Issue) -> PydanticCustomError:
    context = {"message": issue.message, "remedy": issue.remedy, "code": issue.code}
    return PydanticCustomError("leadline", "{message}", context)
