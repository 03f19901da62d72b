"""What a run is computed with goes away for a while: the database, the disk, the time of day, the dispatcher itself."""

from __future__ import annotations

import errno
import signal
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from fsspec.implementations.local import LocalFileSystem  # type: ignore[import-untyped]  # it ships no annotations

from leadline.run.executors import InProcess
from leadline_service.files import Files
from leadline_service.jobs import endings
from leadline_service.jobs.dispatcher import Dispatcher
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.jobs.workplace import Workplace
from leadline_service.states import RunState
from leadline_service.store.opening import open_store
from service.jobs.desk import Desk, opened_desk, undisturbed
from service.jobs.owners import Owner, tail, wait_for
from service.postgres import Cluster as Postgres
from service.postgres import running_cluster
from service.stepped_clock import SteppedClock

CASES, LONGER = 2_500_000, 6_000_000


def dispatching(desk: Desk, files: Files | None = None) -> Dispatcher:
    """Return a dispatcher whose runs are computed in their own threads."""
    metrics = JobMetrics()
    return Dispatcher(
        desk.settings, desk.store, files or desk.files, metrics=metrics, workplace=Workplace(InProcess, metrics)
    )


def cases_done(desk: Desk, run_id: str) -> int:
    """Return how many cases of the chance a run has told of."""
    return int((desk.run(run_id).progress or {}).get("cases", 0))


def must_be_undisturbed(desk: Desk, run_id: str, cases: int = CASES) -> None:
    """Wait for a run's end, and compare it with one that nothing has happened to."""
    run = desk.ended(run_id)
    assert run.state is RunState.FINISHED, run.failure
    assert desk.document(run_id) == undisturbed(desk.request(cases=cases))  # exact


@pytest.fixture
def frail() -> Iterator[Postgres]:
    """Return a PostgreSQL cluster that may be stopped, with what is committed brought to the disk."""
    with running_cluster({"shared_buffers": "16MB"}) as cluster:
        yield cluster


def test_a_database_that_is_restarted(frail: Postgres, tmp_path: Path) -> None:
    desk = opened_desk(tmp_path / "desk", frail.new_database(), lease_s=1.0)
    run_id = desk.submit(cases=CASES)
    with dispatching(desk) as dispatcher:
        wait_for(lambda: cases_done(desk, run_id) > 0, 20.0, "a first block")
        frail.stop()
        time.sleep(1.5)  # longer than the lease
        frail.start()
        must_be_undisturbed(desk, run_id)
        assert dispatcher.metrics.store_away._value.get() > 0  # it was missed
    desk.store.close()


def test_a_database_that_is_locked(desk: Desk) -> None:
    run_id = desk.submit(cases=CASES)
    with dispatching(desk) as dispatcher:
        wait_for(lambda: cases_done(desk, run_id) > 0, 20.0, "a first block")
        path = desk.settings.store_url.removeprefix("sqlite:///")
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            time.sleep(3.0)  # longer than the two seconds that are waited for it, and than the lease
            other.execute("ROLLBACK")
        must_be_undisturbed(desk, run_id)
        assert dispatcher.metrics.store_away._value.get() > 0


class FullDisk(LocalFileSystem):  # type: ignore[misc]  # it ships no annotations
    """A disk without room until it is given some."""

    cachable = False
    has_room = False

    def open(self, path: str, mode: str = "rb", **given: Any) -> Any:
        """Open a file, or say what the kernel says."""
        if "w" in mode and not self.has_room:
            raise OSError(errno.ENOSPC, "No space left on device")
        return super().open(path, mode, **given)


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Try again soon."""
    monkeypatch.setattr(endings, "RETRY_S", 0.02)
    monkeypatch.setattr(endings, "RETRY_FILES_S", 0.02)
    monkeypatch.setattr("leadline_service.jobs.computing.FILE_PAUSES_S", (0.01,))


def test_a_full_disk_is_waited_for(desk: Desk, impatient: None) -> None:
    disk = FullDisk()
    run_id = desk.submit(cases=200_000)
    with dispatching(desk, Files(disk, desk.settings.files_place)) as dispatcher:
        wait_for(lambda: desk.run(run_id).attempts > 0, 20.0, "a try to write")
        assert desk.run(run_id).failure is not None
        disk.has_room = True
        computed = dispatcher.metrics.cases._value.get()
        must_be_undisturbed(desk, run_id, 200_000)
        # Its blocks were in the store: only the cut one, which is never kept, is computed again.
        assert dispatcher.metrics.cases._value.get() - computed < 5 * 2**14


def test_a_disk_that_stays_full_is_named(desk: Desk, impatient: None) -> None:
    run_id = desk.submit(cases=200_000)
    with dispatching(desk, Files(FullDisk(), desk.settings.files_place)):
        run = desk.ended(run_id)
    assert run.state is RunState.FAILED
    assert run.failure is not None
    assert run.failure.code == "no-room"
    assert "no room for" in run.failure.message
    assert "No space left on device" in run.failure.message
    # Nothing is lost: whoever makes room and asks again has it at once.
    with dispatching(desk) as dispatcher:
        must_be_undisturbed(desk, desk.submit(cases=200_000, extends=run_id), 200_000)
        assert dispatcher.metrics.cases._value.get() < 2**14


@pytest.mark.parametrize("seconds", [3600.0, -3600.0], ids=["forward", "back"])
def test_a_clock_that_is_set(desk: Desk, seconds: float) -> None:
    clock = SteppedClock()
    store = open_store(desk.settings.store_url, clock)
    run_id = desk.submit(cases=LONGER)
    stepped = Desk(desk.settings, store, desk.files, desk.study)
    clock.set_by((desk.run(run_id).created - clock.now()).total_seconds() + 1.0)
    with dispatching(stepped):
        wait_for(lambda: cases_done(desk, run_id) > 0, 20.0, "a first block")
        clock.set_by(seconds)
        must_be_undisturbed(desk, run_id, LONGER)
    store.close()
    # Set forward, its lease ran out: it was taken away, and taken up again. Set back, it was left alone.
    assert desk.run(run_id).fence == (3 if seconds > 0 else 1)


def stop_between_writes(owner: Owner, desk: Desk) -> None:
    """Hold a process up, but not while it has the whole of SQLite locked: then nobody could do anything."""
    for _ in range(100):
        owner.send(signal.SIGSTOP)
        with closing(sqlite3.connect(desk.settings.store_url.removeprefix("sqlite:///"), timeout=0.0)) as other:
            try:
                other.execute("BEGIN IMMEDIATE")
            except sqlite3.OperationalError:
                owner.send(signal.SIGCONT)
                time.sleep(0.01)
            else:
                return
    raise AssertionError("it was always writing")


def test_one_that_was_thought_dead_changes_nothing(desk: Desk) -> None:
    run_id = desk.submit(cases=CASES)
    first = Owner(desk.settings)
    wait_for(lambda: cases_done(desk, run_id) > 0, 20.0, f"a first block\n{tail(first.said)}")
    stop_between_writes(first, desk)
    with dispatching(desk):
        must_be_undisturbed(desk, run_id)
    ended, files = desk.run(run_id), desk.store.files(run_id)
    first.send(signal.SIGCONT)
    wait_for(lambda: "lease lost" in tail(first.said), 20.0, "refusing the first one's writes")
    wait_for(lambda: "run let go" in tail(first.said), 20.0, "its giving up")
    assert desk.run(run_id) == ended
    assert desk.store.files(run_id) == files
    assert all(desk.files.exists(record.path) for record in files)
    assert first.leave(within_s=10.0) == 0  # and it was well all the time
