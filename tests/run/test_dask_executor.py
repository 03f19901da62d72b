"""The same bytes on threads, processes and a scheduler; workers and schedulers that go away."""

from __future__ import annotations

import os
import signal
import socket
import time
from collections.abc import Iterator
from typing import Any

import pytest

from conftest import need
from leadline.errors import Unreachable, WorkerLost
from leadline.run.engine import Control, Progress, Request, compute
from leadline.run.placement import executor_for
from leadline.run.result import Result
from run.ferries import BLOCK, Dies, Slow, computed, ferry

need("distributed")

from leadline.run import dask_executor  # noqa: E402 - only where dask is installed
from leadline.run.dask_executor import DaskExecutor  # noqa: E402

CASES = 300_000  # eighteen blocks and a cut one


@pytest.fixture(scope="module")
def whole() -> Result:
    return computed(Request(CASES)).result


@pytest.fixture(scope="module")
def two() -> Iterator[DaskExecutor]:
    """Two worker processes."""
    executor = dask_executor.on_processes(2)
    yield executor
    executor.close()


def never() -> bool:
    return False


def test_two_processes_give_the_same_bytes(whole: Result, two: DaskExecutor) -> None:
    assert two.workers == 2
    assert computed(Request(CASES), two).result.to_json() == whole.to_json()


def test_one_process_gives_the_same_bytes(whole: Result) -> None:
    executor = executor_for(workers=1)
    try:
        assert computed(Request(CASES), executor).result.to_json() == whole.to_json()
    finally:
        executor.close()


def test_threads_give_the_same_bytes(whole: Result) -> None:
    executor = executor_for(threads=2)
    try:
        assert executor.workers == 2
        assert computed(Request(CASES), executor).result.to_json() == whole.to_json()
    finally:
        executor.close()


def test_a_scheduler_by_address_gives_the_same_bytes(whole: Result, two: DaskExecutor) -> None:
    executor = executor_for(scheduler=two.cluster.scheduler_address)
    try:
        assert computed(Request(CASES), executor).result.to_json() == whole.to_json()
    finally:
        executor.close()
    assert two.workers == 2  # a cluster that is not ours is left running


def test_a_run_goes_on_elsewhere(whole: Result, two: DaskExecutor) -> None:
    kept = computed(Request(100_000), two).kept
    assert compute(ferry(), Request(CASES), start_from=kept).result.to_json() == whole.to_json()


def test_workers_keep_their_memory(two: DaskExecutor) -> None:
    # The setting that slows array code is taken out where the workers are ours.
    assert set(two.client.run(os.environ.get, "MALLOC_TRIM_THRESHOLD_").values()) == {None}
    assert set(two.client.run(os.environ.get, "OMP_NUM_THREADS").values()) == {"1"}


def test_nothing_is_served_but_to_this_machine(two: DaskExecutor) -> None:
    psutil = need("psutil")
    listening = [
        connection.laddr.ip
        for process in (psutil.Process(), *psutil.Process().children(recursive=True))
        for connection in process.net_connections("inet")
        if connection.status == psutil.CONN_LISTEN
    ]
    assert listening
    assert set(listening) == {"127.0.0.1"}


def test_a_worker_killed_in_the_run_changes_nothing(two: DaskExecutor) -> None:
    request = Request(2_000_000)
    pids = list(two.client.run(os.getpid).values())
    killed: list[int] = []

    def kill_once(_: Progress) -> None:
        if not killed:
            killed.append(pids[0])
            os.kill(pids[0], signal.SIGKILL)

    result = computed(request, two, Control(progress=kill_once)).result
    assert killed
    assert result.to_json() == computed(request).result.to_json()


def test_a_stopped_task_hands_in_what_is_done(two: DaskExecutor) -> None:
    began = time.monotonic()
    stopped = two.map(Slow(), [range(400 * BLOCK)], lambda: time.monotonic() - began > 0.5)
    (done, value), *more = list(stopped)
    assert not more
    assert 0 < done.stop == value < 400 * BLOCK  # the whole would take 20 s
    assert time.monotonic() - began < 3.0  # within a second, with room for a busy machine


def test_few_tasks_are_under_way_at_once(two: DaskExecutor) -> None:
    taken = 0

    def ranges() -> Iterator[range]:
        nonlocal taken
        for start in range(40):
            taken += 1
            yield range(start * BLOCK, (start + 1) * BLOCK)

    handed_in = 0
    for _ in two.map(Slow(), ranges(), never):
        handed_in += 1
        # at most three for each of two workers, and those that finished with this one
        assert taken - handed_in <= 6
    assert handed_in == 40


def test_a_task_that_kills_every_worker_is_named() -> None:
    dask = need("dask")
    with dask.config.set({"distributed.scheduler.allowed-failures": 0}):
        executor = dask_executor.on_processes(1)
    try:
        with pytest.raises(WorkerLost, match="cases 0 to 16383 .* died"):
            list(executor.map(Dies(), [range(BLOCK)], never))
    finally:
        executor.close()


@pytest.fixture
def cluster() -> Iterator[Any]:
    """Give a scheduler of someone else's, without workers."""
    distributed = need("distributed")
    with distributed.LocalCluster(
        n_workers=0, processes=False, protocol="tcp", dashboard_address="127.0.0.1:0", silence_logs=50
    ) as made:
        yield made


def test_workers_that_do_not_come_back_are_told(cluster: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dask_executor, "WORKERS_BACK_WITHIN_S", 1.0)
    cluster.scale(1)
    executor = dask_executor.on_scheduler(cluster.scheduler_address)
    ranges = [range(n * BLOCK, (n + 1) * BLOCK) for n in range(100)]
    done = executor.map(Slow(), ranges, never)
    try:
        next(done)
        cluster.scale(0)
        with pytest.raises(WorkerLost, match=r"no worker has been there for 1 s; cases \d+ to \d+ and later"):
            list(done)
    finally:
        executor.close()


def test_a_scheduler_that_goes_away_is_told(cluster: Any) -> None:
    cluster.scale(1)
    executor = dask_executor.on_scheduler(cluster.scheduler_address)
    done = executor.map(Slow(), [range(n * BLOCK, (n + 1) * BLOCK) for n in range(100)], never)
    try:
        next(done)
        cluster.close()
        with pytest.raises(Unreachable, match="the scheduler went away"):
            list(done)
    finally:
        executor.close()


def test_no_scheduler_is_out_of_reach_in_time() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))  # bound, but nobody listens
        began = time.monotonic()
        with pytest.raises(Unreachable, match=r"no scheduler answered at .* within 0\.5 s"):
            dask_executor.on_scheduler(f"tcp://127.0.0.1:{taken.getsockname()[1]}", within_s=0.5)
    assert time.monotonic() - began < 3.0


def test_a_scheduler_without_workers_is_out_of_reach(cluster: Any) -> None:
    with pytest.raises(Unreachable, match="had no worker"):
        dask_executor.on_scheduler(cluster.scheduler_address, within_s=0.5)


@pytest.mark.parametrize("address", ["10.0.0.5:8786", "tcp://10.0.0.5", "http://10.0.0.5:8786"])
def test_addresses_of_another_form_are_refused(address: str) -> None:
    with pytest.raises(ValueError, match="looks like tcp://"):
        executor_for(scheduler=address)


def test_only_one_kind_of_executor_at_a_time() -> None:
    with pytest.raises(ValueError, match="give one of"):
        executor_for(workers=1, threads=1)
