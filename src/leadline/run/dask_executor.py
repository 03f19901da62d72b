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
import json
import logging
import re
import signal
import threading
import time
import uuid
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import CancelledError
from functools import lru_cache
from typing import Any, Self, TypeVar

import dask
import distributed
from distributed.scheduler import KilledWorker

from leadline.errors import LeadlineError, NoWorkers, RunError, Unreachable, WorkerLost
from leadline.run.executors import Stopped, Task
from leadline.run.provenance import build
from leadline.run.tls_files import TlsFiles

__all__ = ["ANSWER_WITHIN_S", "DaskExecutor", "on_processes", "on_scheduler", "on_threads"]

T = TypeVar("T")

ANSWER_WITHIN_S = 10.0
"""How long a scheduler may take to answer, and then again to have its first worker."""
WORKERS_BACK_WITHIN_S = 60.0
"""How long a run waits without any worker before it gives up."""
DRAIN_S = 5.0
"""How long a stopped run waits for tasks that are under way."""
TASK_S = 1.0
SHARED_TASK_S, SHARED_DRAIN_S, SHARED_TASKS_AHEAD = 0.2, 0.5, 4
POLL_S = 0.1
FLAG_POLL_S = 0.2
COUNT_EVERY_S = 1.0
"""How often a run looks how many workers there are."""
TASKS_AHEAD = 2
GONE = "the scheduler went away before the run was done"
ADDRESS = re.compile(r"(tcp|tls|ws|wss)://[^/\s]+:\d{1,5}")


class DaskExecutor:
    """Maps tasks over a dask cluster, at most three for each of its workers at a time (five where it is shared).

    Several threads may map at once. Each gets its share: a map's first tasks go before another's later ones.

    Parameters
    ----------
    client
        A connected client.
    cluster
        The cluster to shut down on `close`; None when it is not ours.
    task_s
        How long a task should take, s.
    drain_s
        How long a stopped map waits for tasks that are under way, s.
    """

    def __init__(
        self, client: distributed.Client, cluster: Any = None, *, task_s: float = TASK_S, drain_s: float = DRAIN_S
    ) -> None:
        self.client = client
        self.cluster = cluster
        self.task_s = task_s
        self.drain_s = drain_s
        self.ahead = TASKS_AHEAD

    def shared(self) -> Self:
        """Set it up for many runs at a time: none waits long for another's tasks, and a stopped one ends soon."""
        self.task_s, self.drain_s, self.ahead = SHARED_TASK_S, SHARED_DRAIN_S, SHARED_TASKS_AHEAD
        return self

    @property
    def workers(self) -> int:
        """How many tasks run at once, that is the cluster's threads."""
        with self._named_failures():
            if self.client.status != "running":
                raise Unreachable(GONE)
            threads: dict[str, int] = self.client.nthreads()
        return max(1, sum(threads.values()))

    def map(self, task: Task[T], ranges: Iterable[range], stopped: Stopped) -> Iterator[tuple[range, T]]:
        """Yield what is done as it finishes; see `Executor.map`."""
        with self._named_failures():
            mapping = _Mapping(self.client, task, lambda: self.workers * (1 + self.ahead), self.drain_s)
            try:
                yield from mapping.run(iter(ranges), stopped)
            finally:
                mapping.close()

    @contextlib.contextmanager
    def _named_failures(self) -> Iterator[None]:
        try:
            yield
        except LeadlineError:
            raise
        except Exception as error:
            # A client that is cut off answers with whatever it stumbles over.
            if self.client.status != "running" or isinstance(error, OSError):
                raise Unreachable(GONE) from error
            if isinstance(error, CancelledError):
                said = str(error).splitlines()[-1:] or ["for no reason it gave"]
                raise Unreachable(f"the scheduler dropped the tasks: {said[0]}") from error
            raise

    def close(self) -> None:
        """Disconnect, and shut the cluster down where it is ours."""
        with contextlib.suppress(TimeoutError, OSError):
            self.client.close(timeout=2)
        if self.cluster is not None:
            with contextlib.suppress(TimeoutError, OSError):
                self.cluster.close(timeout=5)


class _Mapping:
    """One map: its event, its futures under way, and when a worker was last seen."""

    def __init__(self, client: distributed.Client, task: Task[Any], ahead: Callable[[], int], drain_s: float) -> None:
        self.client = client
        self.drain_s = drain_s
        self.token = uuid.uuid4().hex[:12]
        self.ahead, self.most, self.counted = ahead, ahead(), time.monotonic()
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
            elif time.monotonic() - self.stopping > self.drain_s:
                return

    def _submit(self, source: Iterator[range]) -> None:
        while len(self.pending) < self._most():
            cases = next(source, None)
            if cases is None:
                return
            told = (self.task, cases.start, cases.stop, self.flag.name, _build())
            key = f"leadline-{self.token}-{cases.start}-{cases.stop}"
            future = self.client.submit(_compute, *told, key=key, priority=-len(self.pending))
            self.pending[future] = cases

    def _most(self) -> int:
        """Return how many tasks may be under way, by the workers there are: they come and go while a run goes on."""
        now = time.monotonic()
        if now - self.counted > COUNT_EVERY_S:
            self.most, self.counted = self.ahead(), now
        return self.most

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
            raise Unreachable(GONE)
        if self.client.nthreads():
            self.seen = now
        elif now - self.seen > WORKERS_BACK_WITHIN_S:
            waiting = min(self.pending.values(), key=lambda cases: cases.start)
            raise NoWorkers(
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


def _compute(task: Task[T], start: int, stop: int, flag_name: str, expected: str) -> tuple[int, int, T]:
    """Compute a range of cases on a worker of the build expected, looking at the event now and then."""
    if expected != _build():  # it may have joined after the others were looked at
        raise Unreachable(_other_build(json.loads(expected), build()))
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


@lru_cache(maxsize=1)
def _build() -> str:
    """Return this process's build as a text to be compared."""
    return json.dumps(build())


def _other_build(ours: dict[str, str], theirs: dict[str, str]) -> str:
    """Say in what a worker's build differs."""
    differing = [
        f"{name} {theirs.get(name)} instead of {value}" for name, value in ours.items() if theirs.get(name) != value
    ]
    return f"workers of another build would give other bits; they have {', '.join(differing)}"


def on_threads(threads: int) -> DaskExecutor:
    """Return an executor with so many threads in this process."""
    return _local(processes=False, n_workers=1, threads_per_worker=threads)


def on_processes(workers: int) -> DaskExecutor:
    """Return an executor with so many worker processes on this machine.

    A script that calls this needs an ``if __name__ == "__main__"`` guard, as any that
    starts processes.
    """
    return _local(processes=True, n_workers=workers, threads_per_worker=1)


def on_scheduler(address: str, *, within_s: float | None = None, tls: TlsFiles | None = None) -> DaskExecutor:
    """Return an executor on a running scheduler.

    Parameters
    ----------
    address
        Such as ``tcp://10.0.0.5:8786``.
    within_s
        How long the scheduler may take to answer, and then again to have its first worker, s;
        `ANSWER_WITHIN_S` when None.
    tls
        What a ``tls://`` scheduler is spoken to by; None takes it from dask's configuration.

    Raises
    ------
    ValueError
        The address is not of this form.
    Unreachable
        Nothing answers in time, a certificate is not accepted, or the workers have another build.
    """
    if not ADDRESS.fullmatch(address):
        raise ValueError(f"a scheduler's address looks like tcp://10.0.0.5:8786, not {address!r}")
    within_s = ANSWER_WITHIN_S if within_s is None else within_s
    _hush()
    try:
        client = distributed.Client(address, timeout=within_s, set_as_default=False, security=_security(tls))
    except (OSError, TimeoutError, MemoryError) as error:  # the last when no scheduler but something else answers
        raise Unreachable(f"no scheduler answered at {address} within {within_s:g} s") from error
    try:
        _look_over(client, address, within_s)
    except Unreachable:
        client.close(timeout=2)
        raise
    return DaskExecutor(client)


def _security(tls: TlsFiles | None) -> distributed.Security | None:
    if tls is None:
        return None
    if missing := tls.missing():
        raise Unreachable(f"the scheduler cannot be spoken to without {missing[0]}, which is no file")
    paths = {"tls_ca_file": tls.ca, "tls_client_cert": tls.certificate, "tls_client_key": tls.key}
    return distributed.Security(require_encryption=True, **{name: str(path) for name, path in paths.items()})


def _look_over(client: distributed.Client, address: str, within_s: float) -> None:
    """Wait for workers, and refuse those that would compute other bits."""
    try:
        client.wait_for_workers(1, timeout=within_s)
        client.run_on_scheduler(build)  # which reads what it hands on, so it has to have the same packages
        found = client.run(build)
    except TimeoutError as error:
        raise Unreachable(f"the scheduler at {address} had no worker within {within_s:g} s") from error
    except ImportError as error:
        raise Unreachable(f"the scheduler at {address} or its workers lack what they need: {error}") from error
    except Exception as error:  # the scheduler or a worker may go just now, or not understand us
        raise Unreachable(f"the scheduler at {address} or its workers do not answer: {error}") from error
    for theirs in found.values():
        if theirs != build():
            raise Unreachable(_other_build(build(), theirs))


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
