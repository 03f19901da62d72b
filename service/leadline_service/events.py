"""A run's events as a stream: everything since a number, then what comes, until the run has ended."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator

from fastapi.sse import ServerSentEvent
from starlette.concurrency import run_in_threadpool

from leadline_service.identifiers import event_id
from leadline_service.logs import logger
from leadline_service.serving import Service
from leadline_service.store.errors import NotFound, StoreError
from leadline_service.store.records import EventRecord

__all__ = ["events_of"]

LOG = logger("leadline.events")
AT_ONCE = 200
AGAIN_MS = 2_000
"""When a client whose stream broke off should come back, ms."""


async def events_of(service: Service, run_id: str, after: int) -> AsyncIterator[ServerSentEvent]:
    """Yield a run's events beyond a number, and a comment now and then while there are none.

    Ends when the run has ended and everything was told, when the run is deleted, and when the server ends; also when
    the store does not answer: the client comes back and goes on from the last event it saw.

    Parameters
    ----------
    service
        What is open.
    run_id
        The run.
    after
        The number of the last event that is known.
    """
    yield ServerSentEvent(comment="events follow", retry=AGAIN_MS)
    spoke = time.monotonic()
    try:
        while not service.leaving.is_set():
            events, ended = await run_in_threadpool(_look, service, run_id, after)
            for event in events:
                yield _sent(event)
                after = event.number
            if ended and len(events) < AT_ONCE:
                return
            if events:
                spoke = time.monotonic()
            elif time.monotonic() - spoke >= service.settings.heartbeat_s:
                yield ServerSentEvent(comment="still here")
                spoke = time.monotonic()
            await asyncio.sleep(0 if len(events) == AT_ONCE else service.settings.poll_s)
    except NotFound:
        return
    except StoreError as error:
        LOG.warning("a stream of events broke off", run_id=run_id, reason=str(error))


def _look(service: Service, run_id: str, after: int) -> tuple[tuple[EventRecord, ...], bool]:
    """Return what is new, and whether nothing will follow: asked first, so that no last event is missed."""
    ended = service.store.run(run_id).has_ended
    return service.store.events(run_id, after, AT_ONCE), ended


def _sent(event: EventRecord) -> ServerSentEvent:
    return ServerSentEvent(raw_data=event.body_json, event=event.kind, id=event_id(event.number))
