"""The application served on both kinds of store, or on the quicker one where it makes no difference."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from leadline_service.store.migrating import migrate
from leadline_service.store.opening import open_store
from leadline_service.store.port import Store
from service.routes.served import Served, serving
from service.stepped_clock import SteppedClock


@pytest.fixture(scope="session")
def empty_database(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the bytes of an SQLite database with tables and nothing in them."""
    path = tmp_path_factory.mktemp("empty") / "leadline.db"
    migrate(f"sqlite:///{path}")
    return path.read_bytes()


@pytest.fixture
def quick_store(empty_database: bytes, tmp_path: Path, clock: SteppedClock) -> Iterator[Store]:
    """Return an empty store in SQLite."""
    path = tmp_path / "quick.db"
    path.write_bytes(empty_database)
    opened = open_store(f"sqlite:///{path}", clock)
    yield opened
    opened.close()


@pytest.fixture
def served(quick_store: Store, clock: SteppedClock, tmp_path: Path) -> Iterator[Served]:
    """Return the application on SQLite."""
    with serving(quick_store, clock, tmp_path) as made:
        yield made


@pytest.fixture
def served_on_both(store: Store, clock: SteppedClock, tmp_path: Path) -> Iterator[Served]:
    """Return the application on SQLite, then on PostgreSQL."""
    with serving(store, clock, tmp_path) as made:
        yield made
