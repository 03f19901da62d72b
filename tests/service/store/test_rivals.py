"""Several processes on one database, and processes that die."""

from __future__ import annotations

import signal
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import pytest

from leadline_service.states import RunState
from leadline_service.store.engine import open_database
from leadline_service.store.errors import NotFound, TooMany
from leadline_service.store.opening import open_store
from leadline_service.store.port import Store
from leadline_service.store.records import Limits
from leadline_service.store.sql_rows import locked
from service.postgres import empty
from service.stepped_clock import SteppedClock
from service.store.rivals import SPAWN, claim_everything, die_while_writing, in_processes
from service.store.wanted import TEXT, claimed, queued, wanted

RUNS = 30


def test_processes_never_claim_the_same_run(store_url: str) -> None:
    taken = in_processes(claim_everything, 2, store_url, RUNS)
    claims = [claim for one in taken for claim in one]
    store = open_store(store_url)
    assert store.counts()[RunState.RUNNING] == RUNS  # each was queued once, though two processes submitted it
    store.close()
    assert len({run_id for run_id, _ in claims}) == len(claims) == RUNS
    assert {fence for _, fence in claims} == {1}


def test_a_process_that_dies_while_writing_leaves_nothing(store_url: str) -> None:
    rival = SPAWN.Process(target=die_while_writing, args=(store_url,))
    rival.start()
    rival.join(30)
    assert rival.exitcode == -signal.SIGKILL
    store = open_store(store_url)
    with pytest.raises(NotFound):
        store.study("half")
    assert store.put_study(TEXT, "Tern").text == TEXT  # and holds up nobody
    store.close()


def test_a_run_that_somebody_is_changing_is_not_waited_for(postgres_url: str) -> None:
    empty(postgres_url)
    clock = SteppedClock()
    store = open_store(postgres_url, clock, busy_s=2.0)
    first = queued(store, seed=0)
    clock.step(1)
    second = queued(store, seed=1)
    rival = open_database(postgres_url)
    with rival.write() as connection:
        locked(connection, first.run_id)
        assert claimed(store).run.run_id == second.run_id
        assert store.claim("one", 30.0) is None
    assert claimed(store).run.run_id == first.run_id
    rival.close()
    store.close()


def test_submissions_at_once_stay_under_their_limit(store: Store) -> None:
    every = [wanted(store, "ann", seed) for seed in range(24)]

    def submit(number: int) -> str:
        try:
            return store.submit(every[number], f"key {number}", Limits(queued_per_caller=5)).how
        except TooMany:
            return "refused"

    with ThreadPoolExecutor(12) as threads:
        answers = Counter(threads.map(submit, range(len(every))))
    assert answers == {"new": 5, "refused": 19}
    assert store.counts()[RunState.QUEUED] == 5


def test_claims_at_once_stay_under_their_limit(store: Store) -> None:
    for seed in range(12):
        queued(store, "ann", seed)
    with ThreadPoolExecutor(12) as threads:
        claims = list(threads.map(lambda owner: store.claim(str(owner), 30.0, 4), range(12)))
    assert sum(claim is not None for claim in claims) == 4
