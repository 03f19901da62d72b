"""Many at once, on a real server: everybody is accepted or told when to come back, and nothing is counted twice."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx2

from leadline_service.states import RunState
from leadline_service.store.port import Store
from service.routes.listening import listening
from service.routes.served import serving
from service.stepped_clock import SteppedClock

CALLERS, EACH = 20, 25
PER_CALLER, ROOM = 20, 330


def test_500_submissions_at_once_from_20_callers(store: Store, clock: SteppedClock, tmp_path: Path) -> None:
    limits = {"queued_per_caller": PER_CALLER, "queued_total": ROOM}
    with serving(store, clock, tmp_path, **limits) as served, listening(served.app) as address:
        study = served.stored()
        callers = [served.token(f"caller-{number}") for number in range(CALLERS)]

        def submit(number: int) -> list[httpx2.Response]:
            shown = {"authorization": f"Bearer {served.tokens[callers[number]]}"}
            with httpx2.Client(base_url=address, headers=shown, timeout=60) as client:
                bodies = [{"study": study, "cases": 10, "seed": number * EACH + one} for one in range(EACH)]
                return [client.post("/v1/runs", json=body) for body in bodies]

        with ThreadPoolExecutor(CALLERS) as pool:
            answers = [answer for many in pool.map(submit, range(CALLERS)) for answer in many]
    statuses = Counter(answer.status_code for answer in answers)
    assert statuses.total() == statuses[202] + statuses[429] + statuses[503] == CALLERS * EACH
    assert all(int(answer.headers["retry-after"]) > 0 for answer in answers)
    # A busy machine's database may say that it does not answer in time; there is room left then.
    away = sum("store does not answer" in answer.json().get("detail", "") for answer in answers)
    assert ROOM - away <= statuses[202] <= ROOM  # exact, but for that: as many as there is room for, however they come
    accepted = [answer.json() for answer in answers if answer.status_code == 202]
    assert len({run["run_id"] for run in accepted}) == len(accepted)
    assert max(Counter(run["caller"] for run in accepted).values()) <= PER_CALLER  # exact
    # What was told unavailable may have been queued all the same, as the store says of its writes.
    assert len(accepted) <= store.counts()[RunState.QUEUED] <= len(accepted) + away
