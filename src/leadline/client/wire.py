"""The documents that only a server hands over; results and answers are those of a local run.

Unknown keys are passed over: a newer server may say more.
"""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, JsonValue

from leadline.run.answers import DriversResult, RareResult, SizingResult, SweepResult
from leadline.run.document import Chance
from leadline.run.result import Result

__all__ = [
    "ENDED",
    "Answered",
    "Estimate",
    "Event",
    "FileInfo",
    "FileList",
    "Run",
    "RunPage",
    "RunProgress",
    "RunState",
    "StoredStudy",
    "StudyVersion",
    "Submitted",
    "Trial",
]

Answered = DriversResult | RareResult | SizingResult | SweepResult
"""What a run can be asked for besides the chance."""


class RunState(StrEnum):
    """Where a run stands."""

    QUEUED = "queued"
    RUNNING = "running"
    STOPPING = "stopping"
    FINISHED = "finished"
    FAILED = "failed"
    CANCELLED = "cancelled"


ENDED = frozenset({RunState.FINISHED, RunState.FAILED, RunState.CANCELLED})
"""States a run never leaves."""


class Told(BaseModel):
    """A frozen document from a server."""

    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False)


class RunProgress(Told):
    """How far a run is.

    `answer` is what is being computed, of all in `stages`; `cases` of `wanted` are done of it, `left_s` is about how
    long it will still take, once known; `chance` is the chance so far, with its interval.
    """

    answer: str | None = None
    stages: tuple[str, ...] = ()
    cases: int = 0
    wanted: int = 0
    elapsed_s: float = 0.0
    rate_per_s: float = 0.0
    left_s: float | None = None
    chance: Chance | None = None


class Failure(Told):
    """Why a run failed."""

    code: str
    message: str


class Run(Told):
    """A run as it stands.

    `cases` is the most it will compute, `outcome` says in short what came out, and `partial` that it is of fewer cases
    than were asked for.
    """

    run_id: str
    state: RunState
    caller: str
    study: str
    request: dict[str, JsonValue]
    cases: int
    extends: str | None
    progress: RunProgress | None
    outcome: dict[str, JsonValue] | None
    partial: bool
    failure: Failure | None
    created: datetime
    started: datetime | None
    ended: datetime | None
    revision: int

    @property
    def has_ended(self) -> bool:
        """Whether nothing more will happen to it."""
        return self.state in ENDED


class Estimate(Told):
    """What a run costs at most: cases, and about how long they take one thread of the server."""

    cases: int
    seconds: float


class Submitted(Run):
    """A run just asked for: `found` is new, same-key or same-run."""

    found: str
    estimate: Estimate


class RunPage(Told):
    """Some of the runs, and where the next page begins."""

    items: tuple[Run, ...]
    next: str | None


class StoredStudy(Told):
    """A study's text under the SHA-256 of its UTF-8 bytes."""

    content_id: str
    title: str
    text: str
    created: datetime


class StudyVersion(Told):
    """One version of a named study, counted from 1."""

    name: str
    version: int
    content_id: str
    title: str
    caller: str
    created: datetime


class FileInfo(Told):
    """A file of a run."""

    name: str
    size: int
    sha256: str
    media_type: str


class FileList(Told):
    """The files of a run."""

    items: tuple[FileInfo, ...]


class Trial(Told):
    """The result of a trial, and the further answers in the order asked for."""

    result: Result
    answers: tuple[Annotated[Answered, Field(discriminator="kind")], ...]


class Event(Told):
    """Something that happened to a run.

    Parameters
    ----------
    number
        Counted within the run, growing.
    kind
        Such as ``state`` or ``progress``.
    body
        What the server says of it.
    state
        The state the run went into, where it is about that.
    progress
        How far it is, where it is about that.
    """

    number: int
    kind: str
    body: dict[str, JsonValue]
    state: RunState | None = None
    progress: RunProgress | None = None
