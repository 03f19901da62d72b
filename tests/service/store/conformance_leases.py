"""What every store does for whoever computes runs."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta

import pytest

from leadline_service.states import MoveRefused, RunState
from leadline_service.store.errors import LeaseLost
from leadline_service.store.port import Store
from leadline_service.store.records import Claim, Failure, RunRecord
from service.stepped_clock import NOON, SteppedClock
from service.store.wanted import a_file, claimed, queued, wanted

__all__ = ["FencingConformance", "LeasesConformance"]

Write = Callable[[Store, str, int], object]


def finish(store: Store, run_id: str, fence: int) -> None:
    """End a run as its owner would."""
    store.finish(run_id, fence, {"zombie": True}, [a_file("zombie.json")])


WRITES: tuple[Write, ...] = (
    lambda store, run_id, fence: store.heartbeat(run_id, fence, 30),
    lambda store, run_id, fence: store.commit_progress(run_id, fence, b"zombie", {"cases": 13}),
    lambda store, run_id, fence: store.forget_kept(run_id, fence),
    finish,
    lambda store, run_id, fence: store.stopped(run_id, fence, {"zombie": True}),
    lambda store, run_id, fence: store.fail(run_id, fence, Failure("zombie", "z")),
    lambda store, run_id, fence: store.hand_back(run_id, fence, error="z"),
)
"""Everything that only a run's owner may do."""


class LeasesConformance:
    """Runs claimed, kept, handed back, lost and ended."""

    def test_nothing_to_claim(self, store: Store) -> None:
        assert store.claim("one", 30) is None

    def test_a_claim_is_a_lease_under_a_number(self, store: Store, clock: SteppedClock) -> None:
        run = queued(store)
        clock.step(2)
        claim = claimed(store)
        assert (claim.run.run_id, claim.fence, claim.stop_asked) == (run.run_id, 1, False)
        assert claim.run == store.run(run.run_id)
        assert (claim.run.state, claim.run.owner) == (RunState.RUNNING, "one")
        assert claim.run.started == NOON + timedelta(seconds=2)
        assert claim.run.lease_until == NOON + timedelta(seconds=32)
        assert store.claim("two", 30) is None

    def test_turns_go_to_who_has_least_under_way_then_to_the_oldest(self, store: Store, clock: SteppedClock) -> None:
        for number, caller in enumerate(["ann", "ann", "ann", "bob", "cat", "bob"]):
            queued(store, caller, number)
            clock.step(1)
        turns = [(claim.run.caller, claim.run.request["seed"]) for claim in (claimed(store) for _ in range(6))]
        assert turns == [("ann", 0), ("bob", 3), ("cat", 4), ("ann", 1), ("bob", 5), ("ann", 2)]

    def test_a_caller_at_the_limit_waits_while_others_pass(self, store: Store) -> None:
        for number, caller in enumerate(["ann", "ann", "bob"]):
            queued(store, caller, number)
        first, second = store.claim("one", 30, 1), store.claim("one", 30, 1)
        assert first is not None
        assert second is not None
        assert {first.run.caller, second.run.caller} == {"ann", "bob"}
        assert store.claim("one", 30, 1) is None
        ann = first if first.run.caller == "ann" else second
        store.finish(ann.run.run_id, ann.fence, {})
        assert store.claim("one", 30, 1) is not None

    def test_a_heartbeat_extends_the_lease_and_hears_of_a_stop(self, store: Store, clock: SteppedClock) -> None:
        claim = claimed(store)
        clock.step(20)
        assert store.heartbeat(claim.run.run_id, claim.fence, 30) is False
        assert store.run(claim.run.run_id).lease_until == NOON + timedelta(seconds=50)
        assert store.cancel(claim.run.run_id).state is RunState.STOPPING
        assert store.heartbeat(claim.run.run_id, claim.fence, 30) is True
        assert store.commit_progress(claim.run.run_id, claim.fence, None, {}) is True

    def test_kept_blocks_come_back_and_are_replaced(self, store: Store) -> None:
        claim = claimed(store)
        run_id, every_byte = claim.run.run_id, bytes(range(256)) * 800
        assert store.kept(run_id) is None
        assert store.commit_progress(run_id, claim.fence, every_byte, {"cases": 1}) is False
        assert store.kept(run_id) == every_byte
        store.commit_progress(run_id, claim.fence, b"", {"cases": 2})
        store.commit_progress(run_id, claim.fence, None, {"cases": 3})
        assert (store.kept(run_id), store.run(run_id).progress) == (b"", {"cases": 3})

    def test_a_finished_run_has_its_outcome_and_files_and_keeps_its_blocks(
        self, store: Store, clock: SteppedClock
    ) -> None:
        claim = claimed(store)
        run_id = claim.run.run_id
        store.commit_progress(run_id, claim.fence, b"blocks", {})
        clock.step(4)
        for _ in range(2):  # told again after an answer was lost
            store.finish(run_id, claim.fence, {"chance": 0.25}, [a_file("b.csv"), a_file()])
        run = store.run(run_id)
        assert (run.state, run.outcome, run.partial, run.failure) == (RunState.FINISHED, {"chance": 0.25}, False, None)
        assert (run.ended, run.owner, run.lease_until) == (clock.now(), None, None)
        assert store.files(run_id) == (a_file("b.csv"), a_file())
        assert store.kept(run_id) == b"blocks"
        assert [event.kind for event in store.events(run_id)] == ["state", "state", "progress", "state"]

    def test_a_stopped_run_keeps_a_partial_outcome(self, store: Store) -> None:
        claim = claimed(store)
        with pytest.raises(MoveRefused):
            store.stopped(claim.run.run_id, claim.fence, {})  # nobody asked
        store.cancel(claim.run.run_id)
        store.stopped(claim.run.run_id, claim.fence, {"chance": 0.5}, [a_file()])
        run = store.run(claim.run.run_id)
        assert (run.state, run.partial, run.outcome) == (RunState.CANCELLED, True, {"chance": 0.5})

    def test_a_stopped_run_with_nothing_done(self, store: Store) -> None:
        claim = claimed(store)
        store.cancel(claim.run.run_id)
        store.stopped(claim.run.run_id, claim.fence, None)
        assert (store.run(claim.run.run_id).partial, store.run(claim.run.run_id).outcome) == (False, None)

    def test_a_failed_run_says_why(self, store: Store) -> None:
        claim = claimed(store)
        store.fail(claim.run.run_id, claim.fence, Failure("broken", "no plan"))
        run = store.run(claim.run.run_id)
        assert (run.state, run.failure, run.has_ended) == (RunState.FAILED, Failure("broken", "no plan"), True)
        assert store.events(run.run_id)[-1].body_json == (
            '{"failure":{"code":"broken","message":"no plan"},"state":"failed"}'
        )

    def test_a_run_handed_back_costs_no_try_and_waits_its_delay(self, store: Store, clock: SteppedClock) -> None:
        claim = claimed(store)
        assert store.hand_back(claim.run.run_id, claim.fence, delay_s=5) is RunState.QUEUED
        run = store.run(claim.run.run_id)
        assert (run.attempts, run.owner, run.failure) == (0, None, None)
        assert store.claim("two", 30) is None
        clock.step(5)
        assert claimed(store, "two").run.run_id == run.run_id

    def test_a_lease_that_ran_out_is_good_until_it_is_reaped(self, store: Store, clock: SteppedClock) -> None:
        claim = claimed(store, lease_s=30)
        clock.step(29.999999)
        assert store.reap() == ()
        clock.step(0.000001)
        assert store.heartbeat(claim.run.run_id, claim.fence, 30) is False
        assert store.reap() == ()

    def test_a_reaped_run_is_claimed_again_with_what_it_kept(self, store: Store, clock: SteppedClock) -> None:
        claim = claimed(store, "one", lease_s=30)
        store.commit_progress(claim.run.run_id, claim.fence, b"blocks", {"cases": 1})
        clock.step(31)
        (reaped,) = store.reap()
        assert (reaped.state, reaped.attempts, reaped.owner) == (RunState.QUEUED, 1, None)
        assert reaped.failure == Failure("lost", "its owner one was not heard of any more")
        again = claimed(store, "two")
        assert (again.run.run_id, again.run.progress) == (claim.run.run_id, {"cases": 1})
        assert again.fence > claim.fence
        assert store.take_up(again) == b"blocks"

    def test_reaping_takes_no_more_than_it_is_told(self, store: Store, clock: SteppedClock) -> None:
        for seed in range(3):
            queued(store, seed=seed)
            claimed(store)
        clock.step(31)
        assert [len(store.reap(2)) for _ in range(3)] == [2, 1, 0]

    def test_a_run_that_loses_every_try_is_poison(self, store: Store, clock: SteppedClock) -> None:
        run = queued(store)
        for attempt in range(1, 3):
            claimed(store, "one")
            clock.step(31)
            assert [reaped.attempts for reaped in store.reap()] == [attempt]
        claim = claimed(store, "two")
        assert store.hand_back(run.run_id, claim.fence, error="worker killed") is RunState.FAILED
        failed = store.run(run.run_id)
        assert failed.failure == Failure(
            "poison", "3 tries were lost without getting on; the last error: worker killed"
        )
        assert (failed.has_ended, failed.ended) == (True, clock.now())
        assert store.claim("one", 30) is None

    def test_a_run_that_gets_on_is_no_poison(self, store: Store, clock: SteppedClock) -> None:
        queued(store)
        for attempt in range(10):
            claim = claimed(store)
            store.commit_progress(claim.run.run_id, claim.fence, f"block {attempt}".encode(), {})
            assert store.run(claim.run.run_id).failure is None
            clock.step(31)
            assert [reaped.attempts for reaped in store.reap()] == [1]

    def test_the_same_blocks_again_are_no_getting_on(self, store: Store, clock: SteppedClock) -> None:
        queued(store)
        reaped: list[RunRecord] = []
        for _ in range(3):
            claim = claimed(store)
            store.commit_progress(claim.run.run_id, claim.fence, b"the same", {})
            clock.step(31)
            reaped += store.reap()
        # The first try got on and counts 1, two more did not.
        assert [run.attempts for run in reaped] == [1, 2, 3]
        assert reaped[-1].state is RunState.FAILED

    def test_a_run_that_died_while_stopping_is_claimed_to_be_ended(self, store: Store, clock: SteppedClock) -> None:
        claim = claimed(store)
        queued(store, "bob", 5)
        store.commit_progress(claim.run.run_id, claim.fence, b"blocks", {})
        store.cancel(claim.run.run_id)
        clock.step(31)
        assert [run.state for run in store.reap()] == [RunState.STOPPING]
        again = claimed(store, "two")
        assert (again.run.run_id, again.stop_asked, again.run.state) == (claim.run.run_id, True, RunState.STOPPING)
        assert store.take_up(again) == b"blocks"
        store.stopped(again.run.run_id, again.fence, {"cases": 1})
        assert store.run(again.run.run_id).state is RunState.CANCELLED

    def test_a_stopping_run_that_loses_every_try_is_cancelled(self, store: Store, clock: SteppedClock) -> None:
        run = queued(store)
        claimed(store)
        store.cancel(run.run_id)
        for _ in range(3):
            clock.step(31)
            store.reap()
            store.claim("two", 30)
        ended = store.run(run.run_id)
        assert (ended.state, ended.failure and ended.failure.code) == (RunState.CANCELLED, "poison")

    def test_a_waiting_run_with_blocks_is_stopped_by_way_of_an_owner(self, store: Store) -> None:
        claim = claimed(store)
        store.commit_progress(claim.run.run_id, claim.fence, b"blocks", {})
        store.hand_back(claim.run.run_id, claim.fence, delay_s=600)
        assert store.cancel(claim.run.run_id).state is RunState.STOPPING
        assert claimed(store, "two").stop_asked is True

    def test_a_longer_run_starts_from_the_one_it_extends(self, store: Store) -> None:
        first = claimed(store)
        store.commit_progress(first.run.run_id, first.fence, b"blocks", {})
        store.finish(first.run.run_id, first.fence, {})
        store.submit(wanted(store, seed=1, extends=first.run.run_id))
        longer = claimed(store)
        assert store.take_up(longer) == b"blocks"
        store.commit_progress(longer.run.run_id, longer.fence, b"own", {})
        assert store.take_up(longer) == b"own"
        store.forget_kept(longer.run.run_id, longer.fence)
        store.delete(first.run.run_id)
        assert store.take_up(longer) is None


class FencingConformance:
    """Whoever was thought dead and comes back changes nothing."""

    @pytest.mark.parametrize(
        "meanwhile",
        [
            "reaped",
            "reaped while stopping",
            "claimed",
            "ended",
            "handed back",
            "deleted",
            "stepped on",
        ],
    )
    def test_a_zombie_is_refused_and_changes_nothing(self, store: Store, clock: SteppedClock, meanwhile: str) -> None:
        zombie = claimed(store, "zombie")
        run_id = zombie.run.run_id
        store.commit_progress(run_id, zombie.fence, b"good", {"cases": 1})
        current = _lose(store, clock, zombie, meanwhile)
        before = None if meanwhile == "deleted" else (store.run(run_id), store.kept(run_id), store.events(run_id))
        for write in WRITES:
            with pytest.raises(LeaseLost) as caught:
                write(store, run_id, zombie.fence)
            assert (caught.value.run_id, caught.value.fence) == (run_id, zombie.fence)
        if before is not None:
            assert (store.run(run_id), store.kept(run_id), store.events(run_id)) == before
            assert store.files(run_id) == ()
        if current is not None:
            store.finish(run_id, current.fence, {"good": True})
            assert store.run(run_id).outcome == {"good": True}

    def test_an_ended_run_is_out_of_its_owners_hands(self, store: Store) -> None:
        claim = claimed(store)
        run_id = claim.run.run_id
        store.finish(run_id, claim.fence, {"good": True}, [a_file()])
        before = store.run(run_id), store.events(run_id), store.files(run_id)
        for write in WRITES:
            # Ending it as it has ended is taken for a repetition, and changes nothing either.
            with suppress(LeaseLost):
                write(store, run_id, claim.fence)
                assert write is finish
        assert (store.run(run_id), store.events(run_id), store.files(run_id)) == before
        assert store.kept(run_id) is None

    def test_a_clock_set_back_delays_reaping(self, store: Store, clock: SteppedClock) -> None:
        claim = claimed(store, lease_s=30)
        clock.set_by(-3600)
        clock.step(31)
        assert store.reap() == ()  # by the clock the lease ends in an hour
        clock.step(3600)
        assert [run.run_id for run in store.reap()] == [claim.run.run_id]

    def test_a_heartbeat_under_a_clock_set_back_puts_the_lease_right(self, store: Store, clock: SteppedClock) -> None:
        claim = claimed(store, lease_s=30)
        clock.set_by(-3600)
        store.heartbeat(claim.run.run_id, claim.fence, 30)
        clock.step(31)
        assert [run.run_id for run in store.reap()] == [claim.run.run_id]


def _lose(store: Store, clock: SteppedClock, claim: Claim, meanwhile: str) -> Claim | None:
    """Take a run from its owner; return the claim of the next one, where there is one."""
    run_id = claim.run.run_id
    if meanwhile == "handed back":
        store.hand_back(run_id, claim.fence)
        return None
    if meanwhile == "reaped while stopping":
        store.cancel(run_id)
    if meanwhile == "stepped on":
        clock.set_by(86_400)  # no time has passed, and yet every lease is over
    else:
        clock.step(31)
    store.reap()
    if meanwhile.startswith("reaped"):
        return None
    heir = store.claim("heir", 30)
    assert heir is not None
    if meanwhile in {"ended", "deleted"}:
        store.finish(run_id, heir.fence, {"good": True})
        if meanwhile == "deleted":
            store.delete(run_id)
        return None
    return heir
