"""What every store does with events and with records of files."""

from __future__ import annotations

import json

import pytest

from leadline_service.store.errors import NotEnded
from leadline_service.store.port import Store
from service.stepped_clock import NOON, SteppedClock
from service.store.wanted import a_file, claimed, queued

__all__ = ["EventsConformance"]


class EventsConformance:
    """What happened to a run, for whoever comes late; and its files."""

    def test_events_tell_a_run_from_its_first_day(self, store: Store, clock: SteppedClock) -> None:
        run, claim = queued(store), claimed(store)
        clock.step(1)
        store.commit_progress(run.run_id, claim.fence, b"blocks", {"cases": 5})
        store.cancel(run.run_id)
        store.forget_kept(run.run_id, claim.fence)
        store.stopped(run.run_id, claim.fence, None)
        told = [(event.number, event.kind, json.loads(event.body_json)) for event in store.events(run.run_id)]
        assert told == [
            (1, "state", {"state": "queued"}),
            (2, "state", {"state": "running"}),
            (3, "progress", {"cases": 5}),
            (4, "state", {"state": "stopping"}),
            (5, "start-over", {}),
            (6, "state", {"state": "cancelled"}),
        ]
        assert store.run(run.run_id).revision == 6
        assert store.events(run.run_id)[0].at == NOON

    def test_events_are_read_on_from_a_number(self, store: Store) -> None:
        run, claim = queued(store), claimed(store)
        for cases in range(5):
            store.commit_progress(run.run_id, claim.fence, None, {"cases": cases})
        assert [event.number for event in store.events(run.run_id, after=3, limit=2)] == [4, 5]
        assert store.events(run.run_id, after=7) == ()

    def test_a_heartbeat_is_nothing_a_reader_sees(self, store: Store) -> None:
        claim = claimed(store)
        store.heartbeat(claim.run.run_id, claim.fence, 60)
        assert store.run(claim.run.run_id).revision == claim.run.revision

    def test_old_progress_is_thinned_but_no_state(self, store: Store) -> None:
        run, claim = queued(store), claimed(store)
        for cases in range(400):
            store.commit_progress(run.run_id, claim.fence, None, {"cases": cases})
        events = store.events(run.run_id, limit=1000)
        assert [event.number for event in events[:2]] == [1, 2]
        # pinned: of 402 events, those up to 384 - 256 were thinned when the 384th was told
        assert [event.number for event in events[2:]] == list(range(129, 403))
        assert events[-1].number == store.run(run.run_id).revision

    def test_files_made_later_replace_those_of_the_same_name(self, store: Store) -> None:
        claim = claimed(store)
        run_id = claim.run.run_id
        with pytest.raises(NotEnded):
            store.add_files(run_id, [a_file()])
        store.finish(run_id, claim.fence, {}, [a_file()])
        store.add_files(run_id, [a_file("report.html", size=7), a_file(size=99)])
        assert store.files(run_id) == (a_file("report.html", size=7), a_file(size=99))
        assert store.events(run_id)[-1].body_json == '{"names":["report.html","result.json"]}'
