"""Runs and studies as a line of a table shows them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from leadline.report.wording import chance, count
from leadline.run.document import Chance
from leadline_service.serving import Service
from leadline_service.states import RunState
from leadline_service.store.records import RunFilter, RunRecord, StudyVersion

__all__ = ["RunRow", "StudyRow", "run_row", "study_name_of", "study_row", "when"]

STATES: Final = {
    RunState.QUEUED: "waiting",
    RunState.RUNNING: "running",
    RunState.STOPPING: "being stopped",
    RunState.FINISHED: "done",
    RunState.FAILED: "failed",
    RunState.CANCELLED: "stopped",
}
MOST_NAMES: Final = 200
LOOKED_AT: Final = 10


@dataclass(frozen=True, slots=True)
class RunRow:
    """A run in a listing.

    Parameters
    ----------
    run_id, state, state_words, has_ended, revision
        Which, and where it stands.
    study, title, option, caller, created, when
        What was asked for, by whom, and when.
    chance, cases, seed
        What came out, or stands so far, in words; empty where there is nothing yet.
    partial, failure
        Whether it was stopped early, and why it failed.
    """

    run_id: str
    state: str
    state_words: str
    has_ended: bool
    revision: int
    study: str
    title: str
    option: str | None
    caller: str
    created: datetime
    when: str
    chance: str
    cases: str
    seed: int
    partial: bool
    failure: str | None


@dataclass(frozen=True, slots=True)
class StudyRow:
    """A named study in a listing, with its newest run."""

    name: str
    title: str
    version: int
    address: str
    chance: str
    run: str | None
    state: str


def when(moment: datetime) -> str:
    """Return a moment as a page shows it."""
    return moment.strftime("%Y-%m-%d %H:%M UTC")


def run_row(service: Service, run: RunRecord) -> RunRow:
    """Return a run as a line of a table."""
    outcome, request = run.outcome or {}, run.request
    said = outcome.get("study") or {}
    return RunRow(
        run_id=run.run_id,
        state=run.state.value,
        state_words=STATES[run.state],
        has_ended=run.has_ended,
        revision=run.revision,
        study=run.study_id,
        title=said.get("title") or service.store.study(run.study_id).title,
        option=request.get("option"),
        caller=run.caller,
        created=run.created,
        when=when(run.created),
        chance=_chance_words(run, outcome),
        cases=count(_cases(run, outcome)),
        seed=int(request.get("seed", 0)),
        partial=run.partial,
        failure=None if run.failure is None or not run.has_ended else run.failure.message,
    )


def study_row(service: Service, study: StudyVersion) -> StudyRow:
    """Return a named study as a line of a table."""
    newest = service.store.runs(RunFilter(study=study.name), None, LOOKED_AT).items
    # A comparison has no one chance to show.
    single = next((run for run in newest if not run.request.get("compare")), newest[0] if newest else None)
    row = None if single is None else run_row(service, single)
    return StudyRow(
        name=study.name,
        title=study.title,
        version=study.version,
        address=f"/studies/{study.name}",
        chance="" if row is None else row.chance,
        run=None if row is None else row.run_id,
        state="" if row is None else row.state_words,
    )


def study_name_of(service: Service, content_id: str) -> str | None:
    """Return a name whose newest version is a text; None where there is none among the first many."""
    page = service.store.studies(None, MOST_NAMES)
    return next((one.name for one in page.items if one.content_id == content_id), None)


def _chance_words(run: RunRecord, outcome: dict[str, Any]) -> str:
    if outcome.get("kind") == "comparison":
        return f"{len(outcome.get('options', ()))} side by side"
    given = outcome.get("chance") or (run.progress or {}).get("chance")
    return "" if given is None else chance(Chance.from_json(json.dumps(given)))


def _cases(run: RunRecord, outcome: dict[str, Any]) -> int:
    cases = outcome.get("cases")
    return int(cases["total"]) if cases else run.cases
