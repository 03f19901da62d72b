"""The nouns that go in and out of a store: frozen, with times in UTC."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any, Generic, TypeVar

from leadline_service.states import ENDED, RunState

__all__ = [
    "Claim",
    "EventRecord",
    "Failure",
    "FileRecord",
    "Found",
    "Json",
    "Limits",
    "Page",
    "RunFilter",
    "RunRecord",
    "StudyRecord",
    "StudyVersion",
    "Submission",
    "Submitted",
]

Json = Mapping[str, Any]
"""A JSON object."""
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Page(Generic[T]):
    """A part of a listing.

    Parameters
    ----------
    items
        What is listed here.
    next
        The cursor of the part that follows; None at the end.
    """

    items: tuple[T, ...]
    next: str | None


@dataclass(frozen=True, slots=True)
class StudyRecord:
    """A study's text, addressed by its content.

    Parameters
    ----------
    content_id
        SHA-256 of the text's UTF-8 bytes, in hexadecimal.
    title
        The study's title, for listings.
    text
        The text as it was given.
    created
        When it was first stored.
    """

    content_id: str
    title: str
    text: str = field(repr=False)
    created: datetime


@dataclass(frozen=True, slots=True)
class StudyVersion:
    """One version of a named study.

    Parameters
    ----------
    name
        The study's name in the service.
    version
        Counted from 1.
    content_id, title
        The text it stands for, and that text's title.
    caller
        Who put it there.
    created
        When.
    """

    name: str
    version: int
    content_id: str
    title: str
    caller: str
    created: datetime


@dataclass(frozen=True, slots=True)
class Submission:
    """A run somebody wants.

    Parameters
    ----------
    caller
        Who asks: what fair shares and limits go by.
    study_id
        Content id of a stored study.
    request
        What is asked for: options, values, cases or precision, seed, design, answers wanted. With the study and the
        run extended, it is what an idempotency key is compared by.
    identity
        Digest of whatever decides the answer; two runs of one identity are one run.
    cases
        The most cases it will compute.
    extends
        The run whose kept blocks it may start from, or None.
    """

    caller: str
    study_id: str
    request: Json
    identity: str
    cases: int
    extends: str | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """How many runs may wait; None for no limit.

    Parameters
    ----------
    queued_per_caller, queued_total
        Most runs waiting, of one caller and of all.
    retry_after_s
        When one who was refused should try again, s.
    """

    queued_per_caller: int | None = None
    queued_total: int | None = None
    retry_after_s: int = 10


class Found(StrEnum):
    """How a submission was answered."""

    NEW = "new"
    SAME_KEY = "same-key"
    SAME_RUN = "same-run"


@dataclass(frozen=True, slots=True)
class Failure:
    """Why a run failed: a short stable word for programs, and a sentence."""

    code: str
    message: str


@dataclass(frozen=True, slots=True)
class FileRecord:
    """A file of a run, as it was written.

    Parameters
    ----------
    name
        What it is called within the run, such as ``result.json``.
    path
        Where it is in the service's files.
    size
        Bytes.
    sha256
        Its checksum in hexadecimal.
    media_type
        Its media type.
    """

    name: str
    path: str
    size: int
    sha256: str
    media_type: str


@dataclass(frozen=True, slots=True)
class RunRecord:
    """A run as it stands.

    Parameters
    ----------
    run_id, state, caller, study_id, identity, cases, extends
        As submitted, and where it stands.
    request_json, progress_json, outcome_json
        Canonical JSON: the request, the last progress and, once it has ended with a result, the outcome; None where
        there is none.
    partial
        Whether the outcome is of fewer cases than asked for.
    failure
        Why it failed; of a run that has not ended, the last thing that went wrong.
    created, started, ended
        When it was submitted, first claimed, and ended.
    attempts
        Tries lost since it last got on.
    fence, owner, lease_until, not_before
        Its lease: the newest fencing number, who holds it and until when; when it may be claimed again.
    revision
        Grows with every change a reader can see, and is the number of the run's last event.
    """

    run_id: str
    state: RunState
    caller: str
    study_id: str
    identity: str
    cases: int
    extends: str | None
    request_json: str
    progress_json: str | None
    outcome_json: str | None
    partial: bool
    failure: Failure | None
    created: datetime
    started: datetime | None
    ended: datetime | None
    attempts: int
    fence: int
    owner: str | None
    lease_until: datetime | None
    not_before: datetime | None
    revision: int

    @property
    def has_ended(self) -> bool:
        """Whether it will not change any more."""
        return self.state in ENDED

    @property
    def request(self) -> dict[str, Any]:
        """The request."""
        decoded: dict[str, Any] = json.loads(self.request_json)
        return decoded

    @property
    def progress(self) -> dict[str, Any] | None:
        """The last progress told."""
        return None if self.progress_json is None else json.loads(self.progress_json)

    @property
    def outcome(self) -> dict[str, Any] | None:
        """What is said of the result in listings."""
        return None if self.outcome_json is None else json.loads(self.outcome_json)


@dataclass(frozen=True, slots=True)
class Submitted:
    """The run that answers a submission, and whether it was there before."""

    run: RunRecord
    how: Found


@dataclass(frozen=True, slots=True)
class Claim:
    """A run to be computed, under a lease.

    Parameters
    ----------
    run
        The run, as claimed.
    fence
        The number to show with every write; a later claim of the same run makes it worthless.
    stop_asked
        True where only what was kept is to be made into a partial result.
    """

    run: RunRecord
    fence: int
    stop_asked: bool


@dataclass(frozen=True, slots=True)
class EventRecord:
    """Something that happened to a run.

    Parameters
    ----------
    run_id
        To which run.
    number
        Its place among the run's events; grows, with gaps where progress was thinned.
    kind
        ``state``, ``progress``, ``files`` or ``start-over``.
    body_json
        What happened, as a JSON object.
    at
        When.
    """

    run_id: str
    number: int
    kind: str
    body_json: str
    at: datetime


@dataclass(frozen=True, slots=True)
class RunFilter:
    """Which runs to list; None asks for all.

    Parameters
    ----------
    state, caller
        Only runs in this state, of this caller.
    study
        Only runs of this study: a content id, or the name whose versions are meant.
    """

    state: RunState | None = None
    caller: str | None = None
    study: str | None = None
