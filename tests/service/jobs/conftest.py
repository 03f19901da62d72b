"""A desk to submit runs at, and a dispatcher that computes them in this process."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from leadline.run.executors import InProcess
from leadline_service.jobs.dispatcher import Dispatcher
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.jobs.workplace import Workplace
from service.jobs.desk import Desk, opened_desk
from service.jobs.owners import kill_all


@pytest.fixture(autouse=True)
def nothing_left_behind() -> Iterator[None]:
    """Kill what a test has left running."""
    yield
    kill_all()


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """Return a desk on SQLite, with leases that last a second."""
    opened = opened_desk(tmp_path / "desk", lease_s=1.0)
    yield opened
    opened.store.close()


@pytest.fixture
def dispatcher(desk: Desk) -> Iterator[Dispatcher]:
    """Return a dispatcher at work, each run in its own thread."""
    metrics = JobMetrics()
    workplace = Workplace(InProcess, metrics)
    with Dispatcher(desk.settings, desk.store, desk.files, metrics=metrics, workplace=workplace) as started:
        yield started
