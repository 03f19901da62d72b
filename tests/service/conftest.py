"""One application, one client, and databases for the tests of the service."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from leadline_service.application import create_app
from leadline_service.settings import Settings
from leadline_service.store.migrating import migrate
from leadline_service.store.opening import open_store
from leadline_service.store.port import Store
from service.postgres import Cluster, empty, running_cluster
from service.stepped_clock import SteppedClock


@pytest.fixture
def app(tmp_path: Path) -> FastAPI:
    """Return an application that takes bodies of at most 2000 bytes and computes no runs."""
    return create_app(Settings(max_body_bytes=2_000, data=tmp_path / "data"))


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    """Return a client of the started application; a crash arrives as the answer a user would get."""
    with TestClient(app, base_url="http://localhost", raise_server_exceptions=False) as started:
        yield started


@pytest.fixture(scope="session")
def postgres() -> Iterator[Cluster]:
    """Return a PostgreSQL cluster that runs as long as the tests do."""
    with running_cluster() as cluster:
        yield cluster


@pytest.fixture(scope="session")
def postgres_url(postgres: Cluster) -> str:
    """Return the URL of a PostgreSQL database with tables, which tests take turns at."""
    url = postgres.new_database()
    migrate(url)
    return url


@pytest.fixture(params=["sqlite", "postgresql"])
def store_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Return the URL of a database with tables and nothing in them: once for each kind."""
    if request.param == "postgresql":
        url: str = request.getfixturevalue("postgres_url")
        empty(url)
        return url
    url = f"sqlite:///{tmp_path}/leadline.db"
    migrate(url)
    return url


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Return the URL of a database without tables: once for each kind."""
    if request.param == "postgresql":
        cluster: Cluster = request.getfixturevalue("postgres")
        return cluster.new_database()
    return f"sqlite:///{tmp_path}/folder that is not there/50 %/leadline.db"


@pytest.fixture
def clock() -> SteppedClock:
    """Return a clock that stands still until it is stepped."""
    return SteppedClock()


@pytest.fixture
def store(store_url: str, clock: SteppedClock) -> Iterator[Store]:
    """Return an empty store that goes by `clock`: once for each kind of database."""
    opened = open_store(store_url, clock, most_attempts=3, busy_s=2.0)
    yield opened
    opened.close()
