"""Alive, ready, and ready only when started."""

from __future__ import annotations

from importlib.metadata import version

from fastapi import FastAPI
from fastapi.testclient import TestClient

from leadline_service.protection import SECURITY_HEADERS


def test_live(client: TestClient) -> None:
    answer = client.get("/health/live")
    assert (answer.status_code, answer.json()) == (200, {"status": "live"})


def test_ready_names_the_version(client: TestClient) -> None:
    answer = client.get("/health/ready")
    assert (answer.status_code, answer.json()) == (200, {"status": "ready", "version": version("leadline")})


def test_not_ready_before_start_up(app: FastAPI) -> None:
    answer = TestClient(app).get("/health/ready")  # not entered: the lifespan never ran
    assert answer.status_code == 503
    assert answer.headers["retry-after"] == "1"
    assert answer.json()["title"] == "Service Unavailable"


def test_every_answer_carries_the_security_headers(client: TestClient) -> None:
    for path in ("/health/live", "/health/ready", "/openapi.json", "/nothing"):
        answer = client.get(path)
        assert {name: answer.headers.get(name) for name in SECURITY_HEADERS} == dict(SECURITY_HEADERS), path


def test_no_page_that_loads_scripts_from_elsewhere(client: TestClient) -> None:
    assert [client.get(path).status_code for path in ("/docs", "/redoc")] == [404, 404]
