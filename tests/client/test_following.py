"""A run followed over streams that break off."""

from __future__ import annotations

import json
from collections.abc import Iterator

import httpx2
import pytest

from client.faked import RUN, document, faked, problem
from leadline.client import Client, RunHandle, RunState
from leadline.errors import Unreachable

PROGRESS = {"answer": "chance", "stages": ["chance"], "cases": 5, "wanted": 9, "elapsed_s": 1.0, "rate_per_s": 5.0}


def told(number: int, kind: str = "progress", **body: object) -> bytes:
    """Write one event as it stands in a stream."""
    data = json.dumps(body or PROGRESS)
    return f": a comment\nretry: 2000\n\nevent: {kind}\ndata: {data}\nid: {number}\n\n".encode()


class Breaks(httpx2.SyncByteStream):
    """A body that breaks off."""

    def __init__(self, *events: bytes) -> None:
        self.events = events

    def __iter__(self) -> Iterator[bytes]:
        """Yield what arrives, in small pieces."""
        for event in self.events:
            yield from (event[start : start + 7] for start in range(0, len(event), 7))
        raise httpx2.ReadError("cut off")


def stream(*events: bytes) -> httpx2.Response:
    """Return a stream that the server ends in good order."""
    return httpx2.Response(200, content=b"".join(events), headers={"content-type": "text/event-stream"})


def broken(*events: bytes) -> httpx2.Response:
    """Return a stream that breaks off."""
    return httpx2.Response(200, stream=Breaks(*events), headers={"content-type": "text/event-stream"})


def handle(client: Client) -> RunHandle:
    """Return the handle of the run."""
    return client.run(str(RUN["run_id"]))


ENDS = told(4, "state", state="finished")


def test_a_broken_stream_is_taken_up_where_it_broke(monkeypatch: pytest.MonkeyPatch) -> None:
    first = broken(told(1, "state", state="running"), told(2))
    client, server = faked(
        monkeypatch, document(RUN), first, httpx2.ConnectError("away"), stream(told(2), told(3), ENDS)
    )
    events = list(handle(client).events())
    assert [event.number for event in events] == [1, 2, 3, 4]  # exact: none lost, none twice
    assert events[0].state is RunState.RUNNING
    assert events[1].progress is not None
    assert (events[1].progress.cases, events[1].progress.wanted) == (5, 9)
    asked = [request.headers.get("last-event-id") for request in server.requests[1:]]
    assert asked == [None, "2", "2"]


def test_no_room_for_a_stream_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    full = problem(503, "Too many streams of events are open.", "2")
    client, server = faked(monkeypatch, document(RUN), full, stream(ENDS))
    assert [event.number for event in handle(client).events()] == [4]
    assert 2 <= server.pauses[0] <= 3


def test_nothing_follows_the_last_event(monkeypatch: pytest.MonkeyPatch) -> None:
    client, server = faked(monkeypatch, document(RUN), httpx2.Response(204))
    assert list(handle(client).events(after=4)) == []
    assert server.requests[1].headers["last-event-id"] == "4"


def test_a_server_that_stays_away_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    client, server = faked(monkeypatch, document(RUN), broken(told(1)), httpx2.ConnectError("away"), patience_s=10)
    events = handle(client).events()
    assert next(events).number == 1
    with pytest.raises(Unreachable, match="away"):
        next(events)
    assert 5 < sum(server.pauses) <= 10


def test_streams_that_end_without_the_run_are_opened_ever_more_slowly(monkeypatch: pytest.MonkeyPatch) -> None:
    empty = [stream() for _ in range(7)]
    client, server = faked(monkeypatch, document(RUN), *empty, stream(ENDS))
    assert [event.number for event in handle(client).events()] == [4]
    assert server.pauses[6] > 20 * server.pauses[0]


@pytest.mark.parametrize("data", ["no json", "[]", '{"state": "flying"}'])
def test_events_of_another_kind_are_told_of(monkeypatch: pytest.MonkeyPatch, data: str) -> None:
    odd = f"event: state\ndata: {data}\nid: 1\n\n".encode()
    client, _ = faked(monkeypatch, document(RUN), stream(odd))
    with pytest.raises(Unreachable, match="no Leadline server of this version"):
        list(handle(client).events())
