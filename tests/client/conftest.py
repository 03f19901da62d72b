"""One service for all tests of the client, and clients of it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from client.serving import serving
from leadline.client import Client


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Return the address of a service that asks nobody for a token."""
    with serving(tmp_path_factory.mktemp("service")) as address:
        yield address


@pytest.fixture
def client(server: str) -> Iterator[Client]:
    """Return a client of it."""
    with Client(server) as opened:
        yield opened
