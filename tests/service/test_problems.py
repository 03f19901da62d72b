"""Every error is a problem document (RFC 9457)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import httpx2
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from pydantic import BaseModel

from leadline_service.protection import SECURITY_HEADERS


class Tank(BaseModel):
    """A body with something to get wrong."""

    volume_m3: float
    loads_kg: dict[str, list[float]] = {}


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    """Return a client of the application with two routes that exist only here."""

    @app.post("/tanks")
    async def store(tank: Tank, at: int = 0) -> Tank:
        return tank.model_copy(update={"volume_m3": tank.volume_m3 + at})

    @app.get("/broken")
    async def broken() -> None:
        raise ZeroDivisionError("secret detail")

    with TestClient(app, raise_server_exceptions=False) as started:
        yield started


def problem(answer: httpx2.Response, status: int) -> dict[str, Any]:
    """Return the problem document after checking what all of them have in common."""
    document: dict[str, Any] = answer.json()
    assert answer.status_code == document["status"] == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert document["type"] == "about:blank"
    assert {name: answer.headers.get(name) for name in SECURITY_HEADERS} == dict(SECURITY_HEADERS)
    return document


def test_unknown_address(client: TestClient) -> None:
    document = problem(client.get("/nothing"), 404)
    assert (document["title"], document["detail"]) == ("Not Found", "There is nothing at this address.")
    assert "errors" not in document


def test_wrong_method_says_which_would_do(client: TestClient) -> None:
    answer = client.delete("/health/live")
    problem(answer, 405)
    assert answer.headers["allow"] == "GET"


def test_all_flaws_at_once_with_pointers(client: TestClient) -> None:
    answer = client.post("/tanks?at=noon", json={"volume_m3": "big", "loads_kg": {"a/b~c": [1.0, "x"]}})
    flaws = problem(answer, 422)["errors"]
    # exact: RFC 6901 sections 3 and 6 (~ becomes ~0 and / becomes ~1 in a reference token; a fragment starts with #)
    assert {(flaw.get("pointer"), flaw.get("parameter"), flaw["code"]) for flaw in flaws} == {
        (None, "at", "int-parsing"),
        ("#/volume_m3", None, "float-parsing"),
        ("#/loads_kg/a~1b~0c/1", None, "float-parsing"),
    }
    assert all(flaw["detail"] for flaw in flaws)


def test_a_body_that_is_no_json_points_at_the_whole_body(client: TestClient) -> None:
    answer = client.post("/tanks", content=b'{"volume_m3": ', headers={"content-type": "application/json"})
    assert [flaw["pointer"] for flaw in problem(answer, 422)["errors"]] == ["#"]


def test_a_good_body_passes(client: TestClient) -> None:
    assert client.post("/tanks?at=1", json={"volume_m3": 2.5}).json()["volume_m3"] == 3.5


def test_a_body_that_declares_too_much(client: TestClient) -> None:
    problem(client.post("/tanks", content=b"x" * 2_001, headers={"content-type": "application/json"}), 413)


def test_a_body_that_comes_in_pieces_and_does_not_end(client: TestClient) -> None:
    pieces_sent = 0

    def pieces() -> Iterator[bytes]:
        nonlocal pieces_sent
        for _ in range(1_000):
            pieces_sent += 1
            yield b" " * 100

    problem(client.post("/tanks", content=pieces(), headers={"content-type": "application/json"}), 413)


def test_a_body_of_just_the_limit_is_read(client: TestClient) -> None:
    body = b'{"volume_m3": 1}'
    answer = client.post(
        "/tanks", content=body + b" " * (2_000 - len(body)), headers={"content-type": "application/json"}
    )
    assert answer.status_code == 200


def test_a_crash_tells_nothing_of_its_inside(client: TestClient) -> None:
    answer = client.get("/broken")
    document = problem(answer, 500)
    assert document["title"] == "Internal Server Error"
    assert "secret" not in answer.text
    assert "ZeroDivision" not in answer.text
