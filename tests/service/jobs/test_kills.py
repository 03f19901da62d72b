"""Dispatchers, workers and schedulers killed at random moments: every run ends, with the undisturbed run's bytes.

Eight kills of dispatchers here, and four of schedulers and workers in turn; LEADLINE_KILLS=50 makes it fifty of each.
"""

from __future__ import annotations

import os
import random
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from conftest import need
from leadline_service.jobs.dispatcher import Dispatcher
from leadline_service.states import RunState
from service.jobs.desk import Desk, opened_desk, undisturbed
from service.jobs.owners import Cluster, Owner, tail, wait_for

need("distributed")

KILLS = int(os.environ.get("LEADLINE_KILLS", "8"))
CASES = 4_000_000  # 244 blocks and a cut one, more than a second on one core
CASES_ON_CLUSTER = 1_500_000
ENDS_WITHIN_S = 60.0
LEASE_S = 0.5
SCHEDULER, WORKERS = (0,), (1, 2)
SHORT = KILLS <= 8
VICTIMS = [SCHEDULER + WORKERS] if SHORT else [SCHEDULER, WORKERS]


class Runs:
    """Runs of growing seeds, one at a time, so that there is always one to be disturbed."""

    def __init__(self, desk: Desk, cases: int = CASES) -> None:
        self.desk, self.cases = desk, cases
        self.ids: list[str] = []

    @property
    def current(self) -> str:
        """The run under way; a new one when the last has ended."""
        if not self.ids or self.desk.run(self.ids[-1]).has_ended:
            self.ids.append(self.desk.submit(cases=self.cases, seed=len(self.ids)))
        return self.ids[-1]

    def must_be_undisturbed(self) -> None:
        """Wait for the last one's end, and compare all with runs that nothing has happened to."""
        for seed, run_id in enumerate(self.ids):
            run = self.desk.ended(run_id, ENDS_WITHIN_S)
            assert run.state is RunState.FINISHED, run.failure
            # exact: blocks merge without rounding, so what happened on the way cannot show
            assert self.desk.document(run_id) == undisturbed(self.desk.request(cases=self.cases, seed=seed))


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return opened_desk(tmp_path / "desk", lease_s=LEASE_S)


def taken(desk: Desk, run_id: str, fence: int) -> Callable[[], bool]:
    """Return what tells whether a run has been taken since its fencing number was seen."""

    def was_taken() -> bool:
        run = desk.run(run_id)
        return run.has_ended or (run.fence > fence and run.state is RunState.RUNNING)

    return was_taken


def test_dispatchers_killed_at_random_moments(desk: Desk) -> None:
    chance, runs = random.Random(20330405), Runs(desk)  # noqa: S311 - no secret
    for _ in range(KILLS):
        run_id = runs.current
        fence = desk.run(run_id).fence
        owner = Owner(desk.settings)
        wait_for(taken(desk, run_id, fence), ENDS_WITHIN_S, f"taking the run\n{tail(owner.said)}")
        time.sleep(chance.uniform(0.0, 0.5))
        owner.kill()
    last = Owner(desk.settings)
    runs.must_be_undisturbed()
    last.kill()
    # Taken and lost again makes two of a fencing number: most kills have hit a run under way.
    assert sum((desk.run(run_id).fence - 1) // 2 for run_id in runs.ids) >= KILLS // 2


@pytest.mark.parametrize("victims", VICTIMS)
def test_a_cluster_killed_at_random_moments(desk: Desk, victims: tuple[int, ...]) -> None:
    chance, runs = random.Random(20330406), Runs(desk, CASES_ON_CLUSTER)  # noqa: S311 - no secret
    kills = KILLS // 2 if SHORT else KILLS
    with Cluster(workers=2) as cluster:
        settings = desk.settings.model_copy(update={"scheduler": cluster.address})
        with Dispatcher(settings, desk.store, desk.files) as dispatcher:
            for _ in range(kills):
                run_id = runs.current
                dispatcher.wake()
                wait_for(moving(desk, run_id), ENDS_WITHIN_S, "getting on")
                time.sleep(chance.uniform(0.0, 0.5))
                cluster.kill(chance.choice(victims))
            runs.must_be_undisturbed()
            assert cluster.killed == kills


def moving(desk: Desk, run_id: str) -> Callable[[], bool]:
    """Return what tells whether a run has got on since now."""
    before = desk.run(run_id).revision

    def has_moved() -> bool:
        run = desk.run(run_id)
        return run.has_ended or (run.revision > before and bool(run.progress and run.progress["cases"]))

    return has_moved
