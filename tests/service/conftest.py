"""One application and one client for the tests of the service."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from leadline_service.application import create_app
from leadline_service.settings import Settings


@pytest.fixture
def app() -> FastAPI:
    """Return an application that takes bodies of at most 2000 bytes."""
    return create_app(Settings(max_body_bytes=2_000))


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    """Return a client of the started application; a crash arrives as the answer a user would get."""
    with TestClient(app, raise_server_exceptions=False) as started:
        yield started
