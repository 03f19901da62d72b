"""What other processes do in the tests of the store; each function is the whole of such a process."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable
from multiprocessing.synchronize import Barrier
from typing import Any

from sqlalchemy import insert

from leadline_service.store.engine import open_database
from leadline_service.store.migrating import migrate
from leadline_service.store.opening import open_store
from leadline_service.store.tables import studies
from service.store.wanted import queued

__all__ = ["claim_everything", "die_while_writing", "in_processes", "migrate_once"]

SPAWN = multiprocessing.get_context("spawn")


def in_processes(work: Callable[..., Any], count: int, *arguments: Any) -> list[Any]:
    """Do the same in several processes that start together, and return what each found."""
    barrier, found = SPAWN.Barrier(count), SPAWN.SimpleQueue()
    processes = [SPAWN.Process(target=_report, args=(found, work, barrier, *arguments)) for _ in range(count)]
    for process in processes:
        process.start()
    results = [found.get() for process in processes]
    for process in processes:
        process.join(30)
    return results


def _report(found: Any, work: Callable[..., Any], *arguments: Any) -> None:
    try:
        found.put(work(*arguments))
    except BaseException as error:
        found.put(error)
        raise


def claim_everything(barrier: Barrier, url: str, count: int) -> list[tuple[str, int]]:
    """Submit the same runs as the rivals, then claim whatever there is to claim; return runs and fences."""
    store = open_store(url, busy_s=20.0)
    owner = f"process {os.getpid()}"
    barrier.wait(30)
    for seed in range(count):
        queued(store, seed=seed)
    barrier.wait(30)
    taken = []
    while (claim := store.claim(owner, 60.0)) is not None:
        taken.append((claim.run.run_id, claim.fence))
    store.close()
    return taken


def migrate_once(barrier: Barrier, url: str) -> tuple[str, ...]:
    """Migrate at the same time as the rivals."""
    barrier.wait(30)
    return migrate(url)


def die_while_writing(url: str) -> None:
    """Die inside a transaction that has written."""
    with open_database(url).write() as connection:
        values = {"content_id": "half", "title": "t", "text": "x", "created": 0, "used": 0}
        connection.execute(insert(studies).values(values))
        os.kill(os.getpid(), signal.SIGKILL)
