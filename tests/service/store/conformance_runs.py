"""What every store does with runs that are submitted, listed, cancelled and deleted."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from leadline_service.identifiers import parse_run_id, time_of_run
from leadline_service.states import RunState
from leadline_service.store.errors import BadCursor, KeyReused, NotEnded, NotFound, TooMany
from leadline_service.store.port import Store
from leadline_service.store.records import Failure, Found, Limits, RunFilter, Submission
from service.stepped_clock import NOON, SteppedClock
from service.store.wanted import TEXT, a_file, claimed, queued, wanted

__all__ = ["RunsConformance"]


class RunsConformance:
    """Runs from outside: whoever submits, looks and deletes."""

    def test_a_new_run_waits(self, store: Store) -> None:
        submitted = store.submit(wanted(store, seed=7))
        run = submitted.run
        assert submitted.how is Found.NEW
        assert store.run(run.run_id) == run
        assert parse_run_id(run.run_id) == run.run_id
        assert time_of_run(run.run_id) == run.created == NOON
        assert (run.state, run.caller, run.request) == (RunState.QUEUED, "ann", {"seed": 7, "cases": 1000})
        assert (run.progress, run.outcome, run.failure, run.revision, run.fence) == (None, None, None, 1, 0)
        assert not run.has_ended

    def test_any_json_can_be_asked_for(self, store: Store) -> None:
        request = {"options": ["\0", "\ud800", "außen – 月"], "seed": 2**80}
        run = store.submit(replace(wanted(store), request=request)).run
        assert store.run(run.run_id).request == request

    def test_a_run_of_no_study(self, store: Store) -> None:
        with pytest.raises(NotFound, match="no study 00"):
            store.submit(Submission("ann", "00", {}, "i", 1))
        assert store.runs().items == ()

    def test_an_unknown_run(self, store: Store) -> None:
        for ask in (store.run, store.cancel, store.delete, store.kept, store.files, store.events):
            with pytest.raises(NotFound, match="no run run_0"):
                ask("run_0")

    def test_the_same_key_is_the_same_run(self, store: Store) -> None:
        first = store.submit(wanted(store), "k")
        again = store.submit(wanted(store), "k")
        assert (again.run, again.how) == (first.run, Found.SAME_KEY)

    def test_the_same_key_still_names_a_run_that_failed(self, store: Store) -> None:
        run = store.submit(wanted(store), "k").run
        store.cancel(run.run_id)
        assert store.submit(wanted(store), "k").run.state is RunState.CANCELLED

    def test_a_key_is_not_for_another_request(self, store: Store) -> None:
        run = store.submit(wanted(store), "k").run
        for other in (wanted(store, seed=1), wanted(store, extends=run.run_id)):
            with pytest.raises(KeyReused) as caught:
                store.submit(other, "k")
            assert (caught.value.key, caught.value.run_id) == ("k", run.run_id)

    def test_keys_belong_to_their_callers(self, store: Store) -> None:
        first = store.submit(wanted(store, "ann", 0), "k").run
        other = store.submit(wanted(store, "bob", 1), "k").run
        assert first.run_id != other.run_id

    def test_a_key_of_a_deleted_run_is_free(self, store: Store) -> None:
        run = store.submit(wanted(store), "k").run
        store.cancel(run.run_id)
        store.delete(run.run_id)
        assert store.submit(wanted(store, seed=3), "k").how is Found.NEW

    def test_an_identical_run_is_found_whoever_asks(self, store: Store) -> None:
        run = queued(store, "ann")
        found = store.submit(wanted(store, "bob"), "k")
        assert (found.run, found.how) == (run, Found.SAME_RUN)
        assert store.submit(wanted(store, "bob"), "k").how is Found.SAME_KEY
        claim = claimed(store)
        store.finish(run.run_id, claim.fence, {"chance": 0.5})
        assert store.submit(wanted(store, "cat")).run.outcome == {"chance": 0.5}

    @pytest.mark.parametrize("end", ["cancelled", "failed", "stopping", "deleted", "finished while stopping"])
    def test_a_run_without_a_whole_answer_is_not_found_again(self, store: Store, end: str) -> None:
        run, claim = queued(store), claimed(store)
        if end == "failed":
            store.fail(run.run_id, claim.fence, Failure("broken", "no plan"))
        elif end == "deleted":
            store.finish(run.run_id, claim.fence, {})
            store.delete(run.run_id)
        else:
            store.cancel(run.run_id)
        if end == "cancelled":
            store.stopped(run.run_id, claim.fence, None)
        anew = store.submit(wanted(store))
        assert anew.how is Found.NEW
        if end == "finished while stopping":
            store.finish(run.run_id, claim.fence, {})
            assert store.submit(wanted(store)).run.run_id == anew.run.run_id

    def test_limits_refuse_and_say_when_to_come_back(self, store: Store, clock: SteppedClock) -> None:
        limits = Limits(queued_per_caller=2, queued_total=3, retry_after_s=7)
        for seed in range(2):
            store.submit(wanted(store, "ann", seed), None, limits)
        with pytest.raises(TooMany, match="this caller has 2 runs") as caught:
            store.submit(wanted(store, "ann", 9), "k", limits)
        assert (caught.value.scope, caught.value.limit, caught.value.retry_after_s) == ("caller", 2, 7)
        assert store.submit(wanted(store, "ann", 1), None, limits).how is Found.SAME_RUN  # needs no room
        clock.step(1)
        store.submit(wanted(store, "bob", 2), None, limits)
        with pytest.raises(TooMany, match="the service has 3 runs"):
            store.submit(wanted(store, "cat", 3), None, limits)
        claimed(store)  # one of the oldest, which waits no more
        assert store.submit(wanted(store, "ann", 9), "k", limits).how is Found.NEW  # the key was not used up

    def test_listing_is_stable_while_runs_are_added(self, store: Store, clock: SteppedClock) -> None:
        made = []
        for seed in range(5):
            made.append(queued(store, seed=seed).run_id)
            clock.step(1)
        first = store.runs(limit=2)
        queued(store, seed=99)
        second = store.runs(cursor=first.next, limit=2)
        third = store.runs(cursor=second.next, limit=2)
        seen = [run.run_id for page in (first, second, third) for run in page.items]
        assert seen == made[::-1]
        assert third.next is None

    def test_listing_by_state_caller_and_study(self, store: Store) -> None:
        ann, bob = queued(store, "ann", 0), queued(store, "bob", 1)
        store.cancel(bob.run_id)
        other = store.name_study("skua", "other", "Other", "cat")
        store.name_study("tern", TEXT, "Tern", "cat")
        cat = store.submit(replace(wanted(store, "cat", 2), study_id=other.content_id)).run
        expected = {
            RunFilter(): {ann.run_id, bob.run_id, cat.run_id},
            RunFilter(state=RunState.CANCELLED): {bob.run_id},
            RunFilter(caller="ann"): {ann.run_id},
            RunFilter(study="skua"): {cat.run_id},
            RunFilter(study="tern"): {ann.run_id, bob.run_id},
            RunFilter(study=other.content_id, caller="ann"): set(),
            RunFilter(study=ann.study_id, state=RunState.QUEUED): {ann.run_id},
            RunFilter(caller="a\0n"): set(),
            RunFilter(study="\0"): set(),
        }
        for chosen, ids in expected.items():
            assert {run.run_id for run in store.runs(chosen).items} == ids, chosen

    def test_a_cursor_of_another_filter_is_refused(self, store: Store) -> None:
        for seed in range(2):
            queued(store, seed=seed)
        cursor = store.runs(limit=1).next
        with pytest.raises(BadCursor):
            store.runs(RunFilter(caller="ann"), cursor)

    def test_counts_by_state(self, store: Store, clock: SteppedClock) -> None:
        queued(store, "ann", 0)
        clock.step(1)
        queued(store, "bob", 1)
        claimed(store)
        store.cancel(queued(store, "bob", 2).run_id)
        every = dict.fromkeys(RunState, 0)
        assert store.counts() == every | {RunState.QUEUED: 1, RunState.RUNNING: 1, RunState.CANCELLED: 1}
        assert store.counts("ann") == every | {RunState.RUNNING: 1}

    def test_cancelling_a_waiting_run_ends_it(self, store: Store, clock: SteppedClock) -> None:
        run = queued(store)
        clock.step(3)
        ended = store.cancel(run.run_id)
        assert (ended.state, ended.ended, ended.partial) == (RunState.CANCELLED, clock.now(), False)
        assert store.cancel(run.run_id) == ended
        assert store.claim("one", 30) is None

    def test_only_ended_runs_are_deleted(self, store: Store) -> None:
        run = queued(store)
        with pytest.raises(NotEnded, match="is queued") as caught:
            store.delete(run.run_id)
        assert (caught.value.run_id, caught.value.state) == (run.run_id, "queued")

    def test_a_deleted_run_is_out_of_sight_until_it_is_purged(self, store: Store) -> None:
        run, claim = queued(store), claimed(store)
        store.commit_progress(run.run_id, claim.fence, b"blocks", {})
        store.purge(run.run_id)  # not deleted, so nothing happens
        store.finish(run.run_id, claim.fence, {}, [a_file()])
        store.delete(run.run_id)
        for ask in (store.run, store.kept, store.files, store.events, store.delete):
            with pytest.raises(NotFound):
                ask(run.run_id)
        assert store.runs().items == ()
        assert sum(store.counts().values()) == 0
        assert store.condemned() == (run.run_id,)
        store.purge(run.run_id)
        store.purge(run.run_id)
        assert store.condemned() == ()

    def test_what_ended_long_ago_expires(self, store: Store, clock: SteppedClock) -> None:
        old, waiting = queued(store, seed=0), queued(store, seed=1)
        store.cancel(old.run_id)
        clock.step(3600)
        young = queued(store, seed=2)
        store.cancel(young.run_id)
        assert store.expire(clock.now() - timedelta(seconds=1)) == 1
        assert {run.run_id for run in store.runs().items} == {waiting.run_id, young.run_id}
        assert store.condemned() == (old.run_id,)
