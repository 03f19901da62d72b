"""Which runs are taken when, and that no run takes the dispatcher, or another run, with it."""

from __future__ import annotations

import threading
import time
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack
from datetime import timedelta
from typing import Any

import pytest

from leadline.errors import Unreachable, WorkerLost
from leadline.run.engine import Computed, compute
from leadline.run.executors import Executor, InProcess
from leadline.study import Study
from leadline_service.clock import SystemClock
from leadline_service.files import run_folder
from leadline_service.jobs import computing, endings
from leadline_service.jobs.dispatcher import Dispatcher
from leadline_service.jobs.housekeeping import Housekeeping
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.jobs.patience import backoff
from leadline_service.jobs.workplace import Workplace
from leadline_service.settings import Settings
from leadline_service.states import RunState
from leadline_service.store.errors import StoreUnavailable
from leadline_service.store.opening import open_store
from leadline_service.store.records import Claim
from run.ferries import FERRY
from service.jobs.desk import Desk, undisturbed
from service.jobs.owners import Owner, tail, wait_for

POISONED = FERRY.replace("A ferry out and back", "Poison")


def another(desk: Desk, **changes: Any) -> Dispatcher:
    """Return one more dispatcher, with a store of its own."""
    metrics = JobMetrics()
    settings = desk.settings.model_copy(update=changes)
    store = open_store(settings.store_url, busy_s=10.0)
    return Dispatcher(settings, store, desk.files, metrics=metrics, workplace=Workplace(InProcess, metrics))


def poison(error: Callable[[], Exception]) -> Callable[..., Computed]:
    """Return what computes every study but one, which raises."""

    def computed(study: Study, *given: Any, **named: Any) -> Computed:
        if study.title == "Poison":
            raise error()
        return compute(study, *given, **named)

    return computed


def test_two_dispatchers_share_the_work(desk: Desk) -> None:
    with ExitStack() as stack:
        two = [stack.enter_context(another(desk, runs_at_once=1)) for _ in range(2)]
        ids = [desk.submit(caller=f"caller {seed % 3}", cases=300_000, seed=seed) for seed in range(12)]
        for seed, run_id in enumerate(ids):
            run = desk.ended(run_id)
            assert (run.state, run.fence) == (RunState.FINISHED, 1)  # each was taken once
            assert desk.document(run_id) == undisturbed(desk.request(cases=300_000, seed=seed))
        taken = [each.metrics.claimed._value.get() for each in two]
    assert sum(taken) == 12
    assert min(taken) >= 2


def test_so_many_runs_at_a_time_and_no_more(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    at_once, most, lock, full = 0, 0, threading.Lock(), threading.Event()

    def counted(*given: Any, **named: Any) -> Computed:
        nonlocal at_once, most
        with lock:
            at_once += 1
            most = max(most, at_once)
        if most == 3:
            full.set()
        full.wait(20.0)  # the first three meet here
        time.sleep(0.1)  # and one too many would join them
        computed = compute(*given, **named)
        with lock:
            at_once -= 1
        return computed

    monkeypatch.setattr(computing, "compute", counted)
    with another(desk, runs_at_once=3):
        for run_id in [desk.submit(cases=1_000, seed=seed) for seed in range(9)]:
            desk.ended(run_id)
    assert most == 3


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (lambda: ZeroDivisionError("a slip of ours"), "ZeroDivisionError: a slip of ours"),
        (MemoryError, "MemoryError"),
        (lambda: WorkerLost("cases 0 to 16383 were placed on several workers and each of them died"), "each of them"),
    ],
)
def test_poison_is_named_while_others_go_on(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, error: Callable[[], Exception], said: str
) -> None:
    monkeypatch.setattr(computing, "compute", poison(error))
    monkeypatch.setattr(endings, "RETRY_S", 0.01)
    study = desk.store.put_study(POISONED, "Poison").content_id
    with another(desk) as dispatcher:
        bad = desk.submit_request(desk.request(cases=100_000).model_copy(update={"study": study}))
        good = [desk.submit(cases=100_000, seed=seed) for seed in range(4)]
        assert [desk.ended(run_id).state for run_id in good] == [RunState.FINISHED] * 4
        run = desk.ended(bad)
        assert dispatcher.alive
    assert run.state is RunState.FAILED
    assert run.failure is not None
    assert run.failure.code == "poison"
    assert said in run.failure.message
    assert run.attempts == 5


def test_a_store_that_misbehaves_does_not_end_the_dispatcher(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    claim, tries = desk.store.claim, Counter[str]()
    troubles = [StoreUnavailable("locked"), RuntimeError("a slip of ours"), StoreUnavailable("locked")]

    def claimed(*given: Any) -> Claim | None:
        tries["claim"] += 1
        if troubles:
            raise troubles.pop()
        return claim(*given)

    monkeypatch.setattr(desk.store, "claim", claimed)
    metrics = JobMetrics()
    with Dispatcher(
        desk.settings, desk.store, desk.files, metrics=metrics, workplace=Workplace(InProcess, metrics)
    ) as dispatcher:
        run_id = desk.submit(cases=1_000)
        assert desk.ended(run_id).state is RunState.FINISHED
        assert dispatcher.alive
    assert tries["claim"] >= 4
    assert not dispatcher.alive


def test_workers_out_of_reach_are_waited_for(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(computing, "RECONNECT_S", 0.01)
    tries = 0

    def opened() -> Executor:
        nonlocal tries
        tries += 1
        if tries < 5:
            raise Unreachable("no scheduler answered")
        return InProcess()

    metrics = JobMetrics()
    workplace = Workplace(opened, metrics)
    with Dispatcher(desk.settings, desk.store, desk.files, metrics=metrics, workplace=workplace) as dispatcher:
        run_id = desk.submit(cases=100_000)
        run = desk.ended(run_id)
        assert dispatcher.trouble is None
    assert (run.state, run.attempts) == (RunState.FINISHED, 0)  # which was not its fault
    assert tries == 5


def test_a_run_is_stopped_while_workers_are_out_of_reach(desk: Desk) -> None:
    def opened() -> Executor:
        raise Unreachable("no scheduler answered at tcp://192.0.2.1:8786")

    metrics = JobMetrics()
    workplace = Workplace(opened, metrics)
    with Dispatcher(desk.settings, desk.store, desk.files, metrics=metrics, workplace=workplace) as dispatcher:
        run_id = desk.submit(cases=100_000)
        wait_for(lambda: dispatcher.trouble is not None, 10.0, "saying so")
        wait_for(lambda: desk.run(run_id).state is RunState.RUNNING, 10.0, "taking it")
        desk.store.cancel(run_id)
        assert desk.ended(run_id, within_s=5.0).state is RunState.CANCELLED
        assert "192.0.2.1" in str(dispatcher.trouble)


def test_leaving_hands_runs_back_with_what_is_done(desk: Desk) -> None:
    dispatcher = another(desk)
    dispatcher.start()
    run_id = desk.submit(cases=10**11)
    wait_for(lambda: bool((desk.run(run_id).progress or {}).get("cases")), 20.0, "a first block")
    began = time.monotonic()
    dispatcher.close()
    assert time.monotonic() - began < 5.0
    run = desk.run(run_id)
    assert (run.state, run.owner, run.attempts, run.failure) == (RunState.QUEUED, None, 0, None)
    assert desk.store.kept(run_id) is not None
    assert not dispatcher.alive


def test_leaving_does_not_wait_for_what_cannot_be_stopped(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    going_on = threading.Event()

    def deaf(*given: Any, **named: Any) -> Computed:
        going_on.wait(30)
        return compute(*given, **named)

    monkeypatch.setattr(computing, "compute", deaf)
    dispatcher = another(desk)
    dispatcher.start()
    run_id = desk.submit(cases=1_000)
    wait_for(lambda: desk.run(run_id).state is RunState.RUNNING, 20.0, "taking the run")
    began = time.monotonic()
    dispatcher.close(within_s=2.0)
    assert time.monotonic() - began < 3.0
    assert desk.run(run_id).state is RunState.QUEUED
    going_on.set()  # and what it makes of it then is thrown away
    time.sleep(0.5)
    assert desk.run(run_id).state is RunState.QUEUED
    assert desk.store.files(run_id) == ()


def test_a_process_leaves_on_a_signal(desk: Desk) -> None:
    owner = Owner(desk.settings)
    run_id = desk.submit(cases=10**11)
    wait_for(lambda: bool((desk.run(run_id).progress or {}).get("cases")), 20.0, f"a block\n{tail(owner.said)}")
    began = time.monotonic()
    assert owner.leave(within_s=10.0) == 0
    assert time.monotonic() - began < 5.5
    assert desk.run(run_id).state is RunState.QUEUED


def test_a_run_submitted_here_is_taken_at_once(desk: Desk) -> None:
    with another(desk) as dispatcher:
        time.sleep(1.5)  # long idle: it looks once a second by now
        asked: list[float] = []
        for seed in range(2):
            began = time.monotonic()
            run_id = desk.submit(cases=1_000, seed=seed)
            dispatcher.wake()
            wait_for(lambda run_id=run_id: desk.run(run_id).fence > 0, 10.0, "taking it")  # type: ignore[misc]
            asked.append(time.monotonic() - began)
            desk.ended(run_id)
            time.sleep(0.8)
    assert min(asked) < 0.2  # most of it is the submission itself


def test_an_idle_dispatcher_asks_seldom(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    claim, asked = desk.store.claim, []

    def claimed(*given: Any) -> Claim | None:
        asked.append(time.monotonic())
        return claim(*given)

    monkeypatch.setattr(desk.store, "claim", claimed)
    metrics = JobMetrics()
    with Dispatcher(desk.settings, desk.store, desk.files, metrics=metrics, workplace=Workplace(InProcess, metrics)):
        time.sleep(2.5)
    # pauses of 50 ms doubling to 1 s, each between half and the whole: five to get there, then one or two a second
    assert 4 <= len(asked) <= 12


def test_pauses_grow_and_are_not_in_step() -> None:
    pauses = backoff(0.1, 5.0)
    first = [next(pauses) for _ in range(12)]
    for n, pause_s in enumerate(first):
        whole_s = min(0.1 * 2**n, 5.0)
        assert 0.5 * whole_s <= pause_s <= whole_s
    assert first != [next(pauses) for _ in range(12)]


def test_ended_runs_go_after_their_time_with_their_files(desk: Desk, dispatcher: Dispatcher) -> None:
    run_id, kept_id = desk.submit(cases=1_000), desk.submit(cases=1_000, seed=1)
    desk.ended(run_id)
    (record, *_) = desk.store.files(run_id)
    assert desk.files.exists(record.path)
    desk.store.delete(run_id)
    metrics = JobMetrics()
    house = Housekeeping(desk.store, desk.files, SystemClock(), metrics, keep_days=1.0)
    house.once()
    wait_for(lambda: not desk.files.exists(record.path), 5.0, "removing the files")
    wait_for(lambda: desk.store.condemned() == (), 5.0, "purging the run")
    assert desk.ended(kept_id).state is RunState.FINISHED  # ended less than a day ago

    class Tomorrow(SystemClock):
        def now(self) -> Any:
            return super().now() + timedelta(days=1.1)

    Housekeeping(desk.store, desk.files, Tomorrow(), metrics, keep_days=1.0).once()
    wait_for(lambda: desk.store.condemned() == (), 5.0, "purging the other")
    assert desk.store.runs().items == ()
    assert not desk.files.exists(f"{run_folder(kept_id)}/1/result.json")


def test_tls_takes_all_three_files() -> None:
    from leadline_service.jobs.workplace import opener_for

    with pytest.raises(ValueError, match="takes three files"):
        opener_for(Settings.model_validate({"scheduler": "tls://127.0.0.1:1", "scheduler_ca": "ca.pem"}))
