"""One thing wrong with a request."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

__all__ = ["Flaw"]


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
        What is wrong, and what to write instead.
    remedy
        The part of the detail, its last, that says what to write instead; None where it is not told apart.
    line, column
        Where in a body that is a study's text, counted from 1; None elsewhere.
    """

    model_config = ConfigDict(frozen=True)

    pointer: str | None = None
    parameter: str | None = None
    code: str
    detail: str
    remedy: str | None = None
    line: int | None = None
    column: int | None = None
