"""The stream of a run's events, on a real server: told as they happen, replayed, kept alive, ended."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx2
import pytest

from leadline_service.store.port import Store
from service.routes.listening import listening
from service.routes.served import Served, serving
from service.stepped_clock import SteppedClock


@dataclass(frozen=True)
class Told:
    """An event as a browser would see it."""

    number: int
    kind: str
    body: dict[str, Any]


def told_in(lines: Iterator[str]) -> Iterator[Told | str]:
    """Read a stream: events, and comments as texts."""
    fields: dict[str, str] = {}
    for line in lines:
        if line.startswith(":"):
            yield line[1:].strip()
        elif line:
            name, _, value = line.partition(": ")
            fields[name] = value
        elif "data" in fields:
            yield Told(int(fields["id"]), fields["event"], json.loads(fields["data"]))
            fields = {}


@contextmanager
def stream(served: Served, address: str, run_id: str, **headers: str) -> Iterator[Iterator[Told | str]]:
    """Open a stream of a run."""
    shown = {"authorization": f"Bearer {served.tokens['read']}", **headers}
    with httpx2.stream("GET", f"{address}/v1/runs/{run_id}/events", headers=shown, timeout=20) as answer:
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("text/event-stream")
        assert answer.headers["cache-control"] == "no-cache"
        yield told_in(answer.iter_lines())


def events_in(told: Iterator[Told | str]) -> list[Told]:
    """Return the events of a stream that ends."""
    return [each for each in told if isinstance(each, Told)]


def test_a_run_is_followed_to_its_end_and_replayed(served_on_both: Served) -> None:
    served = served_on_both
    run_id = served.started()
    with listening(served.app) as address:
        later = threading.Timer(0.3, served.compute)
        later.start()
        with stream(served, address, run_id) as told:
            seen = events_in(told)
        later.join()
        assert [each.body["state"] for each in seen if each.kind == "state"] == ["queued", "running", "finished"]
        (progress,) = (each for each in seen if each.kind == "progress")
        assert progress.body["chance"]["low"] < progress.body["chance"]["value"] < progress.body["chance"]["high"]
        numbers = [each.number for each in seen]
        assert numbers == sorted(set(numbers))
        assert numbers[-1] == served.store.run(run_id).revision
        for known in (numbers[0], numbers[-2]):
            with stream(served, address, run_id, **{"last-event-id": str(known)}) as told:
                assert events_in(told) == [each for each in seen if each.number > known]


def test_whoever_knows_the_last_event_need_not_come_back(served: Served) -> None:
    run_id = served.ended()
    last = served.store.run(run_id).revision
    answer = served.get(f"/v1/runs/{run_id}/events", headers={"last-event-id": str(last)})
    assert (answer.status_code, answer.content) == (204, b"")
    wrong = served.get(f"/v1/runs/{run_id}/events", headers={"last-event-id": "monday"})
    assert (wrong.status_code, wrong.json()["errors"][0]["parameter"]) == (422, "Last-Event-ID")
    assert served.get("/v1/runs/run_00000000000000000000000000/events").status_code == 404


def test_a_quiet_stream_says_that_it_is_alive(quick_store: Store, clock: SteppedClock, tmp_path: Path) -> None:
    with serving(quick_store, clock, tmp_path, heartbeat_s=0.1) as served:
        run_id = served.started()
        with listening(served.app) as address, stream(served, address, run_id) as told:
            comments = [each for each in (next(told) for _ in range(5)) if isinstance(each, str)]
        assert comments == ["events follow", "still here", "still here", "still here"]


def test_a_stream_ends_when_its_run_is_deleted_and_when_the_server_leaves(served: Served) -> None:
    run_id = served.started()
    with listening(served.app) as address:
        with stream(served, address, run_id) as told:
            next(told)
            served.store.cancel(run_id)
            served.store.delete(run_id)
            assert len(events_in(told)) <= 2
        other = served.started(seed=5)
        with stream(served, address, other) as told:
            next(told)
            began = time.monotonic()
            served.leaving.set()
            events_in(told)
            assert time.monotonic() - began < 2.0


@pytest.mark.parametrize("places", [1, 2])
def test_only_so_many_streams_at_once(quick_store: Store, clock: SteppedClock, tmp_path: Path, places: int) -> None:
    with serving(quick_store, clock, tmp_path, streams=places) as served:
        run_id = served.started()
        with listening(served.app) as address:

            def ask() -> httpx2.Response:
                shown = {"authorization": f"Bearer {served.tokens['read']}"}
                return httpx2.get(f"{address}/v1/runs/{run_id}/events", headers=shown, timeout=10)

            with ExitStack() as open_ones:
                told = [open_ones.enter_context(stream(served, address, run_id)) for _ in range(places)]
                assert [next(each) for each in told] == ["events follow"] * places
                full = ask()
                assert (full.status_code, int(full.headers["retry-after"]) > 0) == (503, True)
            served.store.cancel(run_id)
            until = time.monotonic() + 5
            while ask().status_code == 503:
                assert time.monotonic() < until
                time.sleep(0.02)
