"""The documents on the wire, and how the store's records become them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, JsonValue

from leadline.run.answers import DriversResult, RareResult, SizingResult, SweepResult
from leadline.run.document import Chance
from leadline.run.result import Result
from leadline_service.cost import Cost
from leadline_service.requests import Answer, Asked, OptionName, RunRequest
from leadline_service.states import RunState
from leadline_service.store.records import FileRecord, Page, RunRecord, StudyRecord, StudyVersion
from leadline_service.store.records import Found as FoundAs

__all__ = [
    "CompareRequest",
    "Estimate",
    "Extension",
    "FileInfo",
    "Files",
    "NameVersion",
    "NamesPage",
    "Progress",
    "Run",
    "RunsPage",
    "StoredStudy",
    "SubmittedRun",
    "TrialRequest",
    "TrialResult",
]

StudyText = Annotated[str, Field(min_length=1, max_length=262_144)]
ContentId = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class Wire(BaseModel):
    """A frozen document that is sent."""

    model_config = ConfigDict(frozen=True, allow_inf_nan=False)


class StoredStudy(Wire):
    """A study's text as it was given, under the SHA-256 of its UTF-8 bytes."""

    content_id: str
    title: str
    text: str
    created: datetime

    @classmethod
    def of(cls, record: StudyRecord) -> Self:
        """Translate the store's record."""
        return cls(content_id=record.content_id, title=record.title, text=record.text, created=record.created)


class NameVersion(Wire):
    """One version of a named study, counted from 1."""

    name: str
    version: int
    content_id: str
    title: str
    caller: str
    created: datetime

    @classmethod
    def of(cls, record: StudyVersion) -> Self:
        """Translate the store's record."""
        return cls(
            name=record.name,
            version=record.version,
            content_id=record.content_id,
            title=record.title,
            caller=record.caller,
            created=record.created,
        )


class NamesPage(Wire):
    """A part of a listing of names or of versions; `next` is the cursor of the part that follows."""

    items: tuple[NameVersion, ...]
    next: str | None

    @classmethod
    def of(cls, page: Page[StudyVersion]) -> Self:
        """Translate the store's page."""
        return cls(items=tuple(NameVersion.of(each) for each in page.items), next=page.next)


class Progress(Wire):
    """Where a run stands: the answer under way among `stages`, its cases done and wanted, and the chance so far.

    `left_s` is about how long it will still take, once a rate is known.
    """

    model_config = ConfigDict(extra="ignore")

    answer: str | None = None
    stages: tuple[str, ...] = ()
    cases: int = 0
    wanted: int = 0
    elapsed_s: float = 0.0
    rate_per_s: float = 0.0
    left_s: float | None = None
    chance: Chance | None = None


class Failed(Wire):
    """Why a run failed: a short stable word for programs, and a sentence."""

    code: str
    message: str


class Estimate(Wire):
    """What a run costs at most, further answers included: cases, and about how long they take one thread here."""

    cases: int
    seconds: float

    @classmethod
    def of(cls, cost: Cost) -> Self:
        """Translate a cost."""
        return cls(cases=cost.cases, seconds=cost.seconds)


class Run(Wire):
    """A run as it stands.

    `cases` is the most it will compute; `outcome` says in short what came out; `partial` that it is of fewer cases
    than were asked for; `links` are the addresses that answer for it now.
    """

    run_id: str
    state: RunState
    caller: str
    study: str
    request: RunRequest
    cases: int
    extends: str | None
    progress: Progress | None
    outcome: dict[str, JsonValue] | None
    partial: bool
    failure: Failed | None
    created: datetime
    started: datetime | None
    ended: datetime | None
    revision: int
    links: dict[str, str]

    @classmethod
    def of(cls, record: RunRecord) -> Self:
        """Translate the store's record."""
        return cls(**_told(record))


class SubmittedRun(Run):
    """A run just asked for: whether it is new or was found, and what it costs at most where that was found out."""

    found: Literal["new", "same-key", "same-run"]
    estimate: Estimate

    @classmethod
    def submitted(cls, record: RunRecord, how: FoundAs, cost: Cost) -> Self:
        """Translate the store's answer to a submission."""
        return cls(**_told(record), found=how.value, estimate=Estimate.of(cost))


class RunsPage(Wire):
    """A part of the list of runs, newest first; `next` is the cursor of the part that follows."""

    items: tuple[Run, ...]
    next: str | None

    @classmethod
    def of(cls, page: Page[RunRecord]) -> Self:
        """Translate the store's page."""
        return cls(items=tuple(Run.of(each) for each in page.items), next=page.next)


class FileInfo(Wire):
    """A file of a run: its name, bytes, SHA-256 in hexadecimal, media type and address."""

    name: str
    size: int
    sha256: str
    media_type: str
    address: str


class Files(Wire):
    """The files of a run."""

    items: tuple[FileInfo, ...]

    @classmethod
    def of(cls, run_id: str, records: Iterable[FileRecord]) -> Self:
        """Translate the store's records."""
        items = (
            FileInfo(
                name=each.name,
                size=each.size,
                sha256=each.sha256,
                media_type=each.media_type,
                address=f"/v1/runs/{run_id}/files/{each.name}",
            )
            for each in records
        )
        return cls(items=tuple(items))


class Extension(Asked):
    """How many cases are to be added to a run."""

    cases: Annotated[int, Field(ge=1, le=10**13)]


class Trial(Asked):
    """What trials of both kinds are asked by.

    Parameters
    ----------
    study
        Content id of a stored study; or else
    text
        the text of one.
    set
        Values replaced, by their places, as in a run.
    cases
        How many.
    seed, design
        Which draws.
    """

    study: ContentId | None = None
    text: StudyText | None = None
    set: Annotated[dict[str, JsonValue], Field(max_length=200, default_factory=dict)]
    cases: Annotated[int, Field(ge=1, le=200_000)] = 100_000
    seed: Annotated[int, Field(ge=0, le=2**53 - 1)] = 0
    design: Literal["independent", "latin-hypercube", "sobol"] = "independent"


class TrialRequest(Trial):
    """A small run whose answer is waited for.

    `option` is the option taken; `answers` are wanted besides the chance. Nothing is stored.
    """

    option: OptionName | None = None
    answers: Annotated[tuple[Answer, ...], Field(max_length=4)] = ()


class CompareRequest(Trial):
    """A small comparison whose answer is waited for; `options` are all of the study's when left out."""

    options: Annotated[tuple[OptionName, ...], Field(min_length=1, max_length=50)] | None = None


class TrialResult(Wire):
    """The result of a trial, and the further answers in the order asked for."""

    result: Result
    answers: tuple[Annotated[DriversResult | RareResult | SizingResult | SweepResult, Field(discriminator="kind")], ...]


def _told(record: RunRecord) -> dict[str, Any]:
    return {
        "run_id": record.run_id,
        "state": record.state,
        "caller": record.caller,
        "study": record.study_id,
        "request": RunRequest.of(record.request),
        "cases": record.cases,
        "extends": record.extends,
        "progress": None if record.progress is None else Progress.model_validate(record.progress),
        "outcome": record.outcome,
        "partial": record.partial,
        "failure": None if record.failure is None else Failed(code=record.failure.code, message=record.failure.message),
        "created": record.created,
        "started": record.started,
        "ended": record.ended,
        "revision": record.revision,
        "links": _links(record),
    }


def _links(record: RunRecord) -> dict[str, str]:
    here = f"/v1/runs/{record.run_id}"
    links = {"self": here, "study": f"/v1/studies/{record.study_id}", "events": f"{here}/events"}
    if not record.has_ended:
        return {**links, "cancel": f"{here}/cancel"}
    if record.outcome_json is None:
        return links
    return {**links, "result": f"{here}/result", "report": f"{here}/report", "files": f"{here}/files"}
