"""A run taken in: its study found, what it costs estimated, then queued or found."""

from __future__ import annotations

from leadline_service.access import Caller
from leadline_service.asked import asked_study, known_options
from leadline_service.cost import Cost, cost_of
from leadline_service.flaws import Flaw
from leadline_service.refusals import Refusal
from leadline_service.requests import RunRequest
from leadline_service.schemas import SubmittedRun
from leadline_service.serving import Service
from leadline_service.settings import Settings
from leadline_service.store.errors import NotEnded, NotFound
from leadline_service.store.records import Limits, RunRecord, Submission

MOST_CASES = 10**13
"""The most that a request can name."""

__all__ = ["extended", "stored_text", "submit"]


def submit(
    service: Service, caller: Caller, request: RunRequest, key: str | None, extends: str | None = None
) -> SubmittedRun:
    """Queue a run, or find the same.

    Parameters
    ----------
    service
        What is open.
    caller
        Who asks.
    request
        What they ask for.
    key
        Their idempotency key, or None.
    extends
        The run it goes on from, or None.

    Raises
    ------
    Refusal
        The study cannot be used as asked for, or the run is too large; 422.
    KeyReused
        The key was used before, with another request.
    TooMany
        Too many runs are waiting.
    """
    study = asked_study(stored_text(service, request.study), request.option, request.set)
    known_options(study, request.compare or ())
    cost = cost_of(study, request)
    _require_within(service.settings, cost)
    wanted = Submission(
        caller=caller.name,
        study_id=request.study,
        request=request.document,
        identity=request.identity(study),
        cases=request.most_cases,
        extends=extends,
    )
    found = service.store.submit(wanted, key, _limits(service.settings))
    service.wake()
    return SubmittedRun.submitted(found.run, found.how, cost)


def extended(run: RunRecord, more: int) -> RunRequest:
    """Return the request of a run that adds cases to an ended one.

    Raises
    ------
    NotEnded
        It is under way.
    Refusal
        It has no result, or compares options, which keeps nothing to go on from; 409.
    """
    request, outcome = RunRequest.of(run.request), run.outcome
    if not run.has_ended:
        raise NotEnded(run.run_id, run.state)
    if outcome is None or request.compare is not None:
        why = "has no result" if outcome is None else "compares options"
        raise Refusal(409, f"The run {why}, so there is nothing to add cases to. Start a new one.")
    total = outcome["cases"]["total"] + more
    if total > MOST_CASES:
        detail = f"With those it would be {total} cases; {MOST_CASES} is the most that can be asked for."
        raise Refusal(422, detail, errors=[Flaw(pointer="#/cases", code="too-many-cases", detail=detail)])
    return RunRequest.of({**request.document, "cases": total, "until": None})


def stored_text(service: Service, content_id: str) -> str:
    """Return a stored study's text; 422 at ``study`` where there is none, as the address itself is right."""
    try:
        return service.store.study(content_id).text
    except NotFound as error:
        detail = f"There is no study {content_id}; store it first."
        raise Refusal(422, errors=[Flaw(pointer="#/study", code="no-study", detail=detail)]) from error


def _require_within(settings: Settings, cost: Cost) -> None:
    """Refuse a run that costs too much, with the numbers."""
    if cost.cases > settings.most_cases:
        detail = f"It would take {cost.cases} cases, further answers included; at most {settings.most_cases} are taken."
        raise Refusal(422, detail, errors=[Flaw(pointer="#/cases", code="too-many-cases", detail=detail)])
    if cost.seconds > settings.most_run_s:
        detail = (
            f"{cost.cases} cases would take about {cost.seconds:.0f} s on one thread;"
            f" at most {settings.most_run_s:.0f} s are taken."
        )
        raise Refusal(422, detail, errors=[Flaw(pointer="#/cases", code="too-long", detail=detail)])


def _limits(settings: Settings) -> Limits:
    return Limits(settings.queued_per_caller, settings.queued_total, settings.retry_after_s)
