"""A service that goes away and comes back, and one that asks for tokens."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from client.serving import serving, token_for
from leadline.client import Client, Event, Refused, RunState
from leadline.errors import Unreachable
from leadline.run.engine import run_study
from run.ferries import FERRY, ferry

CASES = 5_000_000


def test_a_restart_of_the_service_is_sat_out(tmp_path: Path) -> None:
    events: list[Event] = []
    with serving(tmp_path) as address:
        port = int(address.rpartition(":")[2])
        client = Client(address)
        asked = client.submit(FERRY, cases=CASES)
        following = threading.Thread(target=lambda: events.extend(asked.events()))
        following.start()
        next(event for event in asked.events() if event.progress is not None and event.progress.cases)
    with serving(tmp_path, port=port):  # with what the first has left behind
        assert asked.result() == run_study(ferry(), cases=CASES)
        following.join(20)
    assert events[-1].state is RunState.FINISHED
    assert [event.number for event in events] == sorted({event.number for event in events})
    client.close()


def test_tokens_decide_what_may_be_asked(tmp_path: Path) -> None:
    reader, runner = token_for(tmp_path, "read"), token_for(tmp_path, "run")
    with serving(tmp_path) as address:
        with Client(address, runner) as client:
            run_id = client.submit(FERRY, cases=100).run_id
            assert client.run(run_id).wait(20).caller == "ada"
        with Client(address, reader) as client:
            assert client.run(run_id).result().cases.total == 100
            with pytest.raises(Refused) as refused:
                client.submit(FERRY, cases=100)
            assert refused.value.status == 403
        for wrong in (None, "no-such-token"):
            with Client(address, wrong) as client, pytest.raises(Refused, match="LEADLINE_TOKEN") as refused:
                client.run(run_id)
            assert refused.value.status == 401
            with Client(address, wrong) as client, pytest.raises(Refused):
                next(client.events(run_id, 0))


def test_nobody_there_is_told_soon() -> None:
    with Client("http://127.0.0.1:1") as client, pytest.raises(Unreachable, match="cannot be reached"):
        client.check(FERRY)
