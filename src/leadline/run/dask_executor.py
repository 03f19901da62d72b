"""Dask as executor: threads or processes on this machine, or a scheduler by address.

The only module that imports dask. Traps handled here: a running task is not stopped by
cancelling its future, so it polls an event between blocks; the malloc setting that dask gives
worker processes slows array code threefold and is taken out where the workers are ours; the
dashboard, which has no authentication, stays off; tasks are bounded in number and may run
twice; a scheduler that does not answer is given up on after a stated time.
"""
# mypy: allow-untyped-calls
# distributed ships no annotations.

from __future__ import annotations

import contextlib
import logging
import re
import signal
import threading
import time
import uuid
from collections.abc import Iterable, Iterator
from concurrent.futures import CancelledError
from typing import Any, TypeVar

import dask
import distributed
from distributed.scheduler import KilledWorker

from leadline.errors import LeadlineError, RunError, Unreachable, WorkerLost
from leadline.run.executors import Stopped, Task

__all__ = ["ANSWER_WITHIN_S", "DaskExecutor", "on_processes", "on_scheduler", "on_threads"]

T = TypeVar("T")

ANSWER_WITHIN_S = 10.0
"""How long a scheduler may take to answer, and then again to have its first worker."""
WORKERS_BACK_WITHIN_S = 60.0
"""How long a run waits without any worker before it gives up."""
DRAIN_S = 5.0
"""How long a stopped run waits for tasks that are under way."""
POLL_S = 0.1
FLAG_POLL_S = 0.2
TASKS_AHEAD = 2
ADDRESS = re.compile(r"(tcp|tls|ws|wss)://[^/\s]+:\d{1,5}")


class DaskExecutor:
    """Maps tasks over a dask cluster, at most three for each of its workers at a time.

    Parameters
    ----------
    client
        A connected client.
    cluster
        The cluster to shut down on `close`; None when it is not ours.
    """

    task_s = 1.0

    def __init__(self, client: distributed.Client, cluster: Any = None) -> None:
        self.client = client
        self.cluster = cluster

    @property
    def workers(self) -> int:
        """How many tasks run at once, that is the cluster's threads."""
        threads: dict[str, int] = self.client.nthreads()
        return max(1, sum(threads.values()))

    def map(self, task: Task[T], ranges: Iterable[range], stopped: Stopped) -> Iterator[tuple[range, T]]:
        """Yield what is done as it finishes; see `Executor.map`."""
        mapping = _Mapping(self.client, task, self.workers * (1 + TASKS_AHEAD))
        try:
            yield from mapping.run(iter(ranges), stopped)
        except (CancelledError, distributed.client.FutureCancelledError, OSError) as error:
            message = "the scheduler went away before the run was done"
            raise Unreachable(message) from error
        finally:
            mapping.close()

    def close(self) -> None:
        """Disconnect, and shut the cluster down where it is ours."""
        with contextlib.suppress(TimeoutError, OSError):
            self.client.close(timeout=2)
        if self.cluster is not None:
            with contextlib.suppress(TimeoutError, OSError):
                self.cluster.close(timeout=5)


class _Mapping:
    """One map: its event, its futures under way, and when a worker was last seen."""

    def __init__(self, client: distributed.Client, task: Task[Any], ahead: int) -> None:
        self.client = client
        self.token = uuid.uuid4().hex[:12]
        self.ahead = ahead
        self.flag = distributed.Event(f"leadline-stop-{self.token}", client=client)
        # The task is a future of its own: sent once, and made again should its holder die.
        self.task = client.submit(_same, task, key=f"leadline-task-{self.token}")
        self.pending: dict[Any, range] = {}
        self.seen = time.monotonic()
        self.stopping: float | None = None

    def run(self, source: Iterator[range], stopped: Stopped) -> Iterator[tuple[range, Any]]:
        self._submit(source)
        while self.pending:
            if self.stopping is None and stopped():
                self.stopping = time.monotonic()
                self.flag.set()
            for future in self._finished():
                outcome = self._outcome(future, self.pending[future])
                if outcome is not None:
                    del self.pending[future]
                    yield outcome
            if self.stopping is None:
                self._submit(source)
            elif time.monotonic() - self.stopping > DRAIN_S:
                return

    def _submit(self, source: Iterator[range]) -> None:
        while len(self.pending) < self.ahead:
            cases = next(source, None)
            if cases is None:
                return
            key = f"leadline-{self.token}-{cases.start}-{cases.stop}"
            future = self.client.submit(_compute, self.task, cases.start, cases.stop, self.flag.name, key=key)
            self.pending[future] = cases

    def _finished(self) -> list[Any]:
        try:
            with self.client.as_current():
                done = distributed.wait(list(self.pending), timeout=POLL_S, return_when="FIRST_COMPLETED").done
        except TimeoutError:
            self._look_for_workers()
            return []
        self.seen = time.monotonic()
        return list(done)

    def _look_for_workers(self) -> None:
        """Give up when there has been no worker for a while; ask once a second at most."""
        now = time.monotonic()
        if now - self.seen < 1.0:
            return
        if self.client.status != "running":
            message = "the scheduler went away before the run was done"
            raise Unreachable(message)
        if self.client.nthreads():
            self.seen = now
        elif now - self.seen > WORKERS_BACK_WITHIN_S:
            waiting = min(self.pending.values(), key=lambda cases: cases.start)
            raise WorkerLost(
                f"no worker has been there for {WORKERS_BACK_WITHIN_S:.0f} s; {_said(waiting)}"
                " and later ones are not done"
            )

    def _outcome(self, future: Any, cases: range) -> tuple[range, Any] | None:
        """Fetch what a task came to; None when its worker died with it and it is computed again."""
        try:
            start, stop, value = future.result(timeout=ANSWER_WITHIN_S)
        except TimeoutError:
            return None
        except KilledWorker as error:
            message = f"{_said(cases)} were placed on several workers and each of them died"
            raise WorkerLost(message) from error
        except (LeadlineError, CancelledError, OSError):
            raise
        except ImportError as error:
            message = f"the workers cannot load what they need: {error}"
            raise RunError(message) from error
        return range(start, stop), value

    def close(self) -> None:
        if self.client.status != "running":  # nothing to tidy, and asking would wait for a reconnection
            return
        with contextlib.suppress(Exception):  # the scheduler may go just now
            self.client.cancel([*self.pending, self.task], force=True)
            self.flag.clear()


def _said(cases: range) -> str:
    return f"cases {cases.start} to {cases.stop - 1}"


def _same(task: Task[T]) -> Task[T]:
    return task


def _compute(task: Task[T], start: int, stop: int, flag_name: str) -> tuple[int, int, T]:
    """Compute a range of cases on a worker, looking at the event now and then."""
    done, value = task(range(start, stop), _Flag(flag_name))
    return done.start, done.stop, value


class _Flag:
    """Asks the scheduler whether the run is stopped, at most five times a second."""

    def __init__(self, name: str) -> None:
        self.event = distributed.Event(name)
        self.asked = time.monotonic()
        self.up = False

    def __call__(self) -> bool:
        now = time.monotonic()
        if not self.up and now - self.asked > FLAG_POLL_S:
            self.asked = now
            self.up = bool(self.event.is_set())
        return self.up


def on_threads(threads: int) -> DaskExecutor:
    """Return an executor with so many threads in this process."""
    return _local(processes=False, n_workers=1, threads_per_worker=threads)


def on_processes(workers: int) -> DaskExecutor:
    """Return an executor with so many worker processes on this machine.

    A script that calls this needs an ``if __name__ == "__main__"`` guard, as any that
    starts processes.
    """
    return _local(processes=True, n_workers=workers, threads_per_worker=1)


def on_scheduler(address: str, *, within_s: float | None = None) -> DaskExecutor:
    """Return an executor on a running scheduler.

    Parameters
    ----------
    address
        Such as ``tcp://10.0.0.5:8786``; ``tls://`` takes its keys from dask's configuration.
    within_s
        How long the scheduler may take to answer, and then again to have its first worker, s;
        `ANSWER_WITHIN_S` when None.

    Raises
    ------
    ValueError
        The address is not of this form.
    Unreachable
        Nothing answers in time.
    """
    if not ADDRESS.fullmatch(address):
        raise ValueError(f"a scheduler's address looks like tcp://10.0.0.5:8786, not {address!r}")
    within_s = ANSWER_WITHIN_S if within_s is None else within_s
    _hush()
    try:
        client = distributed.Client(address, timeout=within_s, set_as_default=False)
    except (OSError, TimeoutError, MemoryError) as error:  # the last when no scheduler but something else answers
        raise Unreachable(f"no scheduler answered at {address} within {within_s:g} s") from error
    try:
        client.wait_for_workers(1, timeout=within_s)
    except TimeoutError as error:
        client.close(timeout=2)
        raise Unreachable(f"the scheduler at {address} had no worker within {within_s:g} s") from error
    return DaskExecutor(client)


def _local(**shape: Any) -> DaskExecutor:
    spawn = dict(dask.config.get("distributed.nanny.pre-spawn-environ"))
    spawn.pop("MALLOC_TRIM_THRESHOLD_", None)
    settings = {
        "distributed.nanny.pre-spawn-environ": spawn,
        "distributed.scheduler.http.routes": [],
        "distributed.worker.http.routes": [],
    }
    _hush()
    with dask.config.set(settings), _interrupts_ignored():
        cluster = distributed.LocalCluster(
            dashboard_address="127.0.0.1:0",  # None would still open a port, and on every interface
            scheduler_kwargs={"dashboard": False},
            silence_logs=logging.CRITICAL,
            **shape,
        )
        client = distributed.Client(cluster, set_as_default=False)
    return DaskExecutor(client, cluster)


def _hush() -> None:
    """Keep dask's talk of comings and goings from the user; what matters is raised as an error.

    Before a cluster is made, because closing one brings back the level found when it was made.
    """
    logging.getLogger("distributed").setLevel(logging.CRITICAL)


@contextlib.contextmanager
def _interrupts_ignored() -> Iterator[None]:
    """Start processes that ignore Ctrl-C: a terminal sends it to them too, and we stop them.

    Only the main thread may change how signals are handled.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
