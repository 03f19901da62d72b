"""What no request may bring: too many bytes, too deep a body, numbers that are none, too often, too long."""

from __future__ import annotations

import json
import socket
import time
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from leadline_service.store.port import Store
from service.routes.listening import listening
from service.routes.served import FERRY, YAML, Served, serving
from service.stepped_clock import SteppedClock

JSON = {"content-type": "application/json"}


def flaw_of(served: Served, body: str | bytes) -> dict[str, Any]:
    """Send a body where a run request is wanted, and return the one thing wrong with it."""
    answer = served.post("/v1/runs", content=body, headers=JSON)
    assert answer.status_code == 422, answer.text
    (flaw,) = answer.json()["errors"]
    found: dict[str, Any] = flaw
    return found


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ('{"seed": NaN}', "json-value"),
        ('{"until": Infinity}', "json-value"),
        ('{"until": -Infinity}', "json-value"),
        ('{"set": {"a": 1e999}}', "json-value"),
        ('{"seed": ' + "9" * 5_000 + "}", "json-value"),
        ('{"seed": 1, "seed": 2}', "json-value"),
        ("[" * 100 + "]" * 100, "too-deep"),
        ("[" * 100_000, "too-deep"),
        ('{"a":' * 40 + "1" + "}" * 40, "too-deep"),
        ('{"option": "\\ud800"}', "text"),
        ('{"option": "\\u0000"}', "text"),
        ('{"\\udfff": 1}', "text"),
        (b'{"option": "\xff"}', "not-text"),
        ('{"option": "x"', "json-invalid"),
        ("", "json-invalid"),
    ],
)
def test_bodies_that_are_no_json_of_ours(served: Served, body: str | bytes, code: str) -> None:
    assert flaw_of(served, body)["code"] == code


def test_a_flaw_in_json_has_its_line_and_column(served: Served) -> None:
    flaw = flaw_of(served, '{\n  "seed": 1,\n  "option": }')
    assert (flaw["line"], flaw["column"]) == (3, 13)  # exact: where the brace stands


@pytest.mark.parametrize("kind", ["text/plain", "application/yaml", "application/json; charset=utf-16", ""])
def test_json_is_taken_as_json_only(served: Served, kind: str) -> None:
    assert served.post("/v1/runs", content="{}", headers={"content-type": kind}).status_code == 415


def test_who_asks_is_known_before_the_body_is_looked_at(served: Served) -> None:
    assert served.client.post("/v1/runs", content="[" * 10, headers=JSON).status_code == 401
    assert served.post("/v1/runs", "read", content="[" * 10, headers=JSON).status_code == 403


def test_a_body_too_large_is_refused(quick_store: Store, clock: SteppedClock, tmp_path: Path) -> None:
    with serving(quick_store, clock, tmp_path, max_body_bytes=len(FERRY)) as served:
        assert served.post("/v1/studies", content=FERRY, headers=YAML).status_code == 201
        large = served.post("/v1/studies", content=FERRY + " ", headers=YAML)
        assert (large.status_code, large.headers["content-type"]) == (413, "application/problem+json")


def test_a_caller_who_asks_too_often_waits(quick_store: Store, clock: SteppedClock, tmp_path: Path) -> None:
    with serving(quick_store, clock, tmp_path, rate_burst=5, rate_per_s=2.0) as served:
        assert [served.get("/v1/runs").status_code for _ in range(7)] == [200] * 5 + [429] * 2
        refused = served.get("/v1/runs")
        assert refused.headers["retry-after"] == "1"  # exact: half a second, in whole ones
        assert served.get("/v1/runs", "run").status_code == 200  # another caller
        assert served.client.get("/health/live").status_code == 200
        clock.step(1.0)
        assert [served.get("/v1/runs").status_code for _ in range(3)] == [200, 200, 429]  # exact: two a second


def test_runs_that_may_wait(quick_store: Store, clock: SteppedClock, tmp_path: Path) -> None:
    with serving(quick_store, clock, tmp_path, queued_per_caller=2, queued_total=3, retry_after_s=7) as served:
        study = served.stored()
        ask = [served.post("/v1/runs", json={"study": study, "cases": 10, "seed": seed}) for seed in range(3)]
        assert [answer.status_code for answer in ask] == [202, 202, 429]
        assert ask[2].headers["retry-after"] == "7"
        again = served.post("/v1/runs", json={"study": study, "cases": 10, "seed": 0})
        assert again.status_code == 200  # one that is found needs no room
        other = served.token("ann")
        ask = [served.post("/v1/runs", other, json={"study": study, "cases": 10, "seed": seed}) for seed in (8, 9)]
        assert [answer.status_code for answer in ask] == [202, 503]
        assert ask[1].headers["retry-after"] == "7"


def test_a_request_that_does_not_arrive_is_ended(quick_store: Store, clock: SteppedClock, tmp_path: Path) -> None:
    with serving(quick_store, clock, tmp_path, request_s=0.3) as served, listening(served.app) as address:
        where = urlsplit(address)
        with socket.create_connection((where.hostname, where.port), timeout=10) as slow:
            head = (
                f"POST /v1/runs HTTP/1.1\r\nHost: {where.netloc}\r\nAuthorization: Bearer {served.tokens['run']}\r\n"
                "Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{"
            )
            began = time.monotonic()
            slow.sendall(head.encode())
            answer = slow.recv(4096).decode()
            assert answer.startswith("HTTP/1.1 408")
            assert "application/problem+json" in answer
            assert 0.2 < time.monotonic() - began < 5


@pytest.mark.parametrize("breaks", ["store", "files"])
def test_what_is_away_is_told_as_such(served: Served, breaks: str) -> None:
    run_id = served.ended()
    if breaks == "store":
        served.store.close()
        for database in Path(served.files._root).parent.glob("quick.db*"):
            database.write_bytes(b"no database at all, but some bytes" * 200)
        answers = [served.get("/v1/runs"), served.get(f"/v1/runs/{run_id}")]
    else:
        folder = Path(served.files._root) / "runs" / run_id / "1"
        (folder / "result.json").unlink()
        (folder / "result.json").mkdir()
        answers = [served.get(f"/v1/runs/{run_id}/result")]
    for answer in answers:
        assert (answer.status_code, int(answer.headers["retry-after"]) > 0) == (503, True), answer.text
        assert str(Path(served.files._root).parent) not in answer.text


def test_every_answer_has_a_request_id(served: Served) -> None:
    given = served.get("/v1/runs", headers={"x-request-id": "proxy-12345678"})
    assert given.headers["x-request-id"] == "proxy-12345678"
    made = served.get("/v1/runs", headers={"x-request-id": 'a"}\n{"b'.replace("\n", " ")})
    assert made.headers["x-request-id"].startswith("req_")
    assert json.loads(served.get("/v1/runs").text)["items"] == []
