"""What happens to a run, as it happens."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from typing import Annotated

from fastapi import APIRouter, Depends, Header
from fastapi.sse import EventSourceResponse, ServerSentEvent

from leadline_service.dependencies import KnownRun, Reader, Serving
from leadline_service.description import GUARDED, content, problems
from leadline_service.events import events_of
from leadline_service.flaws import Flaw
from leadline_service.identifiers import BadIdentifier, parse_event_id
from leadline_service.problems import SOON
from leadline_service.refusals import Refusal

__all__ = ["router"]

router = APIRouter(prefix="/v1/runs", tags=["runs"], responses={**GUARDED, **problems(404, 422)})


def _after(
    run: KnownRun,
    last_event_id: Annotated[
        str | None,
        Header(
            alias="Last-Event-ID",
            max_length=100,
            description="Number of the last event known; the stream goes on after it.",
        ),
    ] = None,
) -> int:
    """Return the number after which the stream begins; 204 where nothing will ever follow it."""
    if not last_event_id:
        return 0
    try:
        after = parse_event_id(last_event_id)
    except BadIdentifier as error:
        raise Refusal(422, errors=[Flaw(parameter="Last-Event-ID", code="event-id", detail=str(error))]) from error
    if run.has_ended and after >= run.revision:
        raise Refusal(204)
    return after


def _slot(service: Serving) -> Iterator[None]:
    """Hold a place among the streams that are open at once; 503 where there is none."""
    streams = service.streams
    if not streams.acquire(blocking=False):
        raise Refusal(503, "Too many streams of events are open. Poll the run instead.", headers=SOON)
    try:
        with service.metrics.streams.track_inprogress():
            yield
    finally:
        streams.release()


@router.get(
    "/{run_id}/events",
    operation_id="watch_run",
    response_class=EventSourceResponse,
    responses=content(204, "The run has ended and its last event is known: do not come back."),
)
async def watch_run(
    _caller: Reader,
    service: Serving,
    run: KnownRun,
    after: Annotated[int, Depends(_after)],
    _place: Annotated[None, Depends(_slot)],
) -> AsyncIterator[ServerSentEvent]:
    """Follow a run: its state, its progress with the chance so far, its files; ends when the run ends.

    Every event has a number as its id and a JSON object as its data. A client that comes back with Last-Event-ID gets
    what it missed; progress that later progress replaced may be left out.
    """
    async for event in events_of(service, run.run_id, after):
        yield event
