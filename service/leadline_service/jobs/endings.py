"""How a try of a run ends, and which error ends it how."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydantic import ValidationError

from leadline.errors import OutputError, RunError, SamplingError, StudyError, WorkerLost
from leadline_service.files import NoRoom
from leadline_service.store.errors import LeaseLost, NotFound, StoreUnavailable
from leadline_service.store.port import MOST_ATTEMPTS
from leadline_service.store.records import Failure, FileRecord

__all__ = ["Dropped", "Ending", "Failed", "Finished", "GivenBack", "Interrupted", "LeftAlone", "Stopped", "ending_of"]

CODES: Final[Mapping[type[Exception], str]] = {
    StudyError: "study",
    SamplingError: "sampling",
    NotFound: "study-gone",
    ValidationError: "request",  # it was stored by another version
    RunError: "run",
}
"""What no further try can put right, and the word for it."""
RETRY_S, RETRY_FILES_S = 1.0, 5.0
"""How long a run waits for its second try, s; longer for each further one."""
LONGEST = 1000
"""Signs of an error that are kept."""


class Interrupted(Exception):
    """The process is leaving, and gives the run back."""


class Dropped(Exception):
    """Somebody else has the run."""


@dataclass(frozen=True, slots=True)
class Finished:
    """All is computed."""

    outcome: Mapping[str, Any]
    files: tuple[FileRecord, ...]


@dataclass(frozen=True, slots=True)
class Stopped:
    """A stop was asked; what is done is the outcome, None where nothing is."""

    outcome: Mapping[str, Any] | None
    files: tuple[FileRecord, ...]


@dataclass(frozen=True, slots=True)
class Failed:
    """It can never be computed."""

    failure: Failure


@dataclass(frozen=True, slots=True)
class GivenBack:
    """Others, or this process later, may try again; `error` is what the run may be to blame for."""

    error: str | None
    delay_s: float
    why: str


@dataclass(frozen=True, slots=True)
class LeftAlone:
    """Nothing may be written, or nothing can be."""


Ending = Finished | Stopped | Failed | GivenBack | LeftAlone


def ending_of(error: Exception, attempts: int) -> Ending:
    """Return how an error ends a try.

    Parameters
    ----------
    error
        What was raised.
    attempts
        Tries lost before this one since the run last got on.
    """
    if isinstance(error, Dropped | LeaseLost | StoreUnavailable):
        return LeftAlone()
    if isinstance(error, Interrupted):
        return GivenBack(None, 0.0, "leaving")
    if isinstance(error, OutputError):
        return _unwritten(error, attempts)
    if isinstance(error, WorkerLost):
        return GivenBack(_said(error), RETRY_S * 2**attempts, "workers-lost")
    for kind, code in CODES.items():
        if isinstance(error, kind):
            return Failed(Failure(code, _said(error)))
    return GivenBack(f"{type(error).__name__}: {_said(error)}", RETRY_S * 2**attempts, "error")


def _unwritten(error: OutputError, attempts: int) -> Ending:
    """Wait for room, longer each time, and say in the end what was wanting; the blocks are in the store meanwhile."""
    if attempts + 1 >= MOST_ATTEMPTS:
        return Failed(Failure("no-room" if isinstance(error, NoRoom) else "files", _said(error)))
    return GivenBack(_said(error), RETRY_FILES_S * 3**attempts, "files")


def _said(error: Exception) -> str:
    return str(error)[:LONGEST]
