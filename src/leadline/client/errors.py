"""What can go wrong between a client and a server, besides what can go wrong with a local run.

RunError
├── Refused             the server does not do what was asked, and says why
│   └── Busy            it has no room now, or is not ready (also Unreachable)
├── RunFailed           the run was taken, and failed
└── Unreachable         nobody answers, or not as a server of this kind does
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from leadline.errors import RunError, Unreachable

__all__ = ["Busy", "Refused", "RequestFlaw", "RunFailed"]


@dataclass(frozen=True, slots=True)
class RequestFlaw:
    """One thing wrong with a request, as the server says it.

    Parameters
    ----------
    place
        A JSON pointer into what was sent, or the name of a parameter; empty where it is about the whole.
    code
        A short stable word for programs.
    detail
        What is wrong, and what to ask instead.
    """

    place: str
    code: str
    detail: str

    def __str__(self) -> str:
        return f"{self.place}: {self.detail}" if self.place else self.detail


class Refused(RunError):
    """The server does not do what was asked.

    Parameters
    ----------
    status
        HTTP status.
    detail
        Why, in a sentence.
    flaws
        What is wrong with the request, where that is the reason.
    retry_after_s
        When it may be asked again, s; None where asking again is of no use.
    """

    def __init__(
        self, status: int, detail: str, flaws: Sequence[RequestFlaw] = (), retry_after_s: float | None = None
    ) -> None:
        self.status, self.detail = status, detail
        self.flaws, self.retry_after_s = tuple(flaws), retry_after_s
        more = "; ".join(str(flaw) for flaw in self.flaws if flaw.detail != detail)
        super().__init__(f"{detail} {more}".strip())

    def __reduce__(self) -> tuple[type[Refused], tuple[int, str, tuple[RequestFlaw, ...], float | None]]:
        return type(self), (self.status, self.detail, self.flaws, self.retry_after_s)


class Busy(Refused, Unreachable):
    """The server has no room for this now, or is not ready; asking again later is of use."""


class RunFailed(RunError):
    """A run was taken by the server, and failed.

    Parameters
    ----------
    run_id
        Which.
    code
        A short stable word for programs.
    message
        Why, in a sentence.
    """

    def __init__(self, run_id: str, code: str, message: str) -> None:
        self.run_id, self.code, self.message = run_id, code, message
        super().__init__(f"the run {run_id} failed: {message}")

    def __reduce__(self) -> tuple[type[RunFailed], tuple[str, str, str]]:
        return type(self), (self.run_id, self.code, self.message)
