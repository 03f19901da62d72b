"""Processes that the tests of the dispatcher start, kill and stop: dispatchers, dask schedulers, dask workers."""
# mypy: allow-untyped-calls
# distributed ships no annotations.

from __future__ import annotations

import asyncio
import logging
import multiprocessing
import os
import signal
import socket
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, Self

from leadline.run.executors import InProcess
from leadline_service.files import open_files
from leadline_service.jobs.dispatcher import Dispatcher
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.jobs.workplace import Workplace
from leadline_service.settings import Settings
from leadline_service.store.opening import open_store

__all__ = ["AS_SET", "IN_PROCESS", "Cluster", "Owner", "a_free_port", "dispatch", "kill_all", "tail", "wait_for"]

# Forked from a process that has everything imported and no threads: a new one is there in no time.
IN_PROCESS, AS_SET = "in process", "as set"
FORKED = multiprocessing.get_context("forkserver")
OWNERS: list[Owner] = []
FORKED.set_forkserver_preload(["service.jobs.owners", "distributed", "leadline.report"])


def _child_of(parent: int, work: Callable[..., None], *arguments: Any) -> None:
    """Do some work until the process of the tests is gone, however it went."""

    def watch() -> None:
        with suppress(ProcessLookupError):
            while True:
                time.sleep(1.0)
                os.kill(parent, 0)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
    work(*arguments)


def _start(work: Callable[..., None], *arguments: Any) -> Any:
    process = FORKED.Process(target=_child_of, args=(os.getpid(), work, *arguments), daemon=True)
    process.start()
    return process


def kill_all() -> None:
    """Kill every dispatcher started here that is still there; clusters see to their own."""
    while OWNERS:
        OWNERS.pop().kill()


def dispatch(settings: Settings, kind: str, said: str) -> None:
    """Dispatch until told to leave by SIGTERM; where blocks are computed is the settings' word unless in process."""
    _say_to(said)
    # Kills come faster here than machines die: many tries in a row may get nowhere, and none of them is to blame.
    store = open_store(settings.store_url, busy_s=2.0, most_attempts=100)
    files = open_files(settings.files_place)
    metrics = JobMetrics()
    workplace = Workplace(InProcess, metrics) if kind == IN_PROCESS else None
    leave = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: leave.set())
    with Dispatcher(settings, store, files, metrics=metrics, workplace=workplace):
        leave.wait()


def schedule(port: int, tls: dict[str, str] | None, allowed_failures: int) -> None:
    """Be a dask scheduler."""
    import dask
    import distributed

    async def run() -> None:
        place = f"{'tls' if tls else 'tcp'}://127.0.0.1:{port}"
        security = distributed.Security(require_encryption=True, **tls) if tls else None
        async with distributed.Scheduler(host=place, dashboard=False, security=security) as scheduler:
            await scheduler.finished()

    _quiet()
    with dask.config.set({"distributed.scheduler.allowed-failures": allowed_failures}):
        asyncio.run(run())


def work(address: str, tls: dict[str, str] | None, numpy: str | None = None) -> None:
    """Be a dask worker until its scheduler goes away, one that says it has another NumPy if told so."""
    import distributed

    from leadline.run import provenance

    if numpy is not None:
        versions = provenance._versions() | {"numpy": numpy}
        provenance._versions = lambda: versions  # type: ignore[assignment]

    async def run() -> None:
        security = distributed.Security(require_encryption=True, **tls) if tls else None
        async with distributed.Worker(address, nthreads=1, dashboard=False, security=security) as worker:
            await worker.finished()

    _quiet()
    asyncio.run(run())


def _quiet() -> None:
    logging.disable(logging.CRITICAL)
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 2)


def _say_to(path: str) -> None:
    """Send what the process says to a file, so that a test that fails can show it."""
    from leadline_service.logs import set_up_logs

    file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.dup2(file, 2)
    set_up_logs()


def a_free_port() -> int:
    """Return a port that nobody listens on just now."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
        return port


class Owner:
    """A dispatcher in a process of its own.

    Parameters
    ----------
    settings
        Its settings.
    kind
        Where blocks are computed: in the runs' own threads, or as the settings say.
    """

    def __init__(self, settings: Settings, kind: str = IN_PROCESS) -> None:
        self.said = settings.data / "said.log"
        self._process = _start(dispatch, settings, kind, str(self.said))
        OWNERS.append(self)

    def kill(self) -> None:
        """Kill it, as the kernel or a power cut would."""
        self.send(signal.SIGKILL)
        self._process.join(10)

    def send(self, number: signal.Signals) -> None:
        """Send it a signal."""
        if self._process.pid is not None and self._process.is_alive():
            os.kill(self._process.pid, number)

    def leave(self, within_s: float) -> int | None:
        """Have it leave, and return its exit code; None if it is still there."""
        self.send(signal.SIGTERM)
        self._process.join(within_s)
        code: int | None = self._process.exitcode
        return code


class Cluster:
    """A dask scheduler and workers, each started again whenever it has ended, as a supervisor would.

    Parameters
    ----------
    workers
        How many.
    tls
        Files of dask's security, by its names, or None.
    numpy
        What other NumPy the workers are to pretend, or None.
    allowed_failures
        How many workers a task may take with it before it is given up.
    """

    def __init__(
        self,
        workers: int,
        *,
        tls: dict[str, str] | None = None,
        numpy: str | None = None,
        allowed_failures: int = 3,
    ) -> None:
        self.port, self.tls = a_free_port(), tls
        self.address = f"{'tls' if tls else 'tcp'}://127.0.0.1:{self.port}"
        self._jobs: list[tuple[Callable[..., None], tuple[Any, ...]]] = [(schedule, (self.port, tls, allowed_failures))]
        self._jobs += [(work, (self.address, tls, numpy))] * workers
        self._processes = [_start(work, *given) for work, given in self._jobs]
        self.killed = 0
        self._closed = threading.Event()
        self._supervisor = threading.Thread(target=self._supervise, daemon=True)
        self._supervisor.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._closed.set()
        self._supervisor.join()
        for process in self._processes:
            process.kill()
            process.join()

    def kill(self, index: int) -> None:
        """Kill the scheduler (0) or a worker (from 1), once it is there."""
        wait_for(lambda: bool(self._processes[index].is_alive()), 20.0, "its being there")
        self._processes[index].kill()
        self.killed += 1

    def add(self, numpy: str | None = None) -> None:
        """Start one more worker."""
        job = (work, (self.address, self.tls, numpy))
        self._processes.append(_start(job[0], *job[1]))
        self._jobs.append(job)

    def _supervise(self) -> None:
        while not self._closed.wait(0.1):
            for index, process in enumerate(self._processes):
                if not process.is_alive():
                    job, given = self._jobs[index]
                    self._processes[index] = _start(job, *given)


def wait_for(happened: Callable[[], bool], within_s: float, what: str) -> float:
    """Wait until something has happened, and return how long it took; fail where it does not."""
    began = time.monotonic()
    while not happened():
        waited = time.monotonic() - began
        assert waited < within_s, f"{what} did not happen within {within_s:g} s"
        time.sleep(0.01)
    return time.monotonic() - began


def tail(path: Path, lines: int = 40) -> str:
    """Return the last lines of a log, for the message of a failure."""
    return "\n".join(path.read_text(encoding="utf-8").splitlines()[-lines:]) if path.exists() else ""
