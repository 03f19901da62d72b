"""Workers started and ended by dask's own policy, under the settings docker/compose.yaml documents."""
# mypy: allow-untyped-calls
# distributed ships no annotations.

from __future__ import annotations

import re
import time

from conftest import need
from leadline.run.placement import executor_for
from project import ROOT
from run.ferries import BLOCK, Slow

distributed = need("distributed")

TASKS, BLOCKS = 80, 5
MOST = 5
"""Workers: more than the three tasks that are sent for the one there is at first, so tasks must grow with them."""


def documented() -> dict[str, str]:
    """Return the settings as the compose file's remarks give them."""
    text = (ROOT / "docker" / "compose.yaml").read_text()
    return dict(re.findall(r"^# +DASK_DISTRIBUTED__ADAPTIVE__(\w+)=(\w+)$", text, re.MULTILINE))


def test_a_cluster_grows_with_a_run_and_shrinks_after_it() -> None:
    settings = documented()
    assert set(settings) == {"MINIMUM", "MAXIMUM", "INTERVAL", "TARGET_DURATION", "WAIT_COUNT"}
    least, policy = int(settings["MINIMUM"]), {"target_duration": settings["TARGET_DURATION"], "wait_count": 3}
    shape = {"n_workers": 1, "threads_per_worker": 1, "processes": False, "protocol": "tcp://"}
    with distributed.LocalCluster(**shape, dashboard_address="127.0.0.1:0") as cluster:
        # As documented, but it looks more often, and gives up sooner.
        cluster.adapt(minimum=least, maximum=MOST, interval="200ms", **policy)
        executor = executor_for(scheduler=cluster.scheduler_address, shared=True)
        ranges = [range(start, start + BLOCKS * BLOCK) for start in range(0, TASKS * BLOCKS * BLOCK, BLOCKS * BLOCK)]
        done, busy = [], set()
        for cases, _ in executor.map(Slow(), iter(ranges), lambda: False):
            done.append(cases)
            busy.add(sum(bool(worker.processing) for worker in cluster.scheduler.workers.values()))
        until = time.monotonic() + 20
        while executor.workers > least and time.monotonic() < until:
            time.sleep(0.1)
        left = executor.workers
        executor.close()
    assert sorted(done, key=lambda cases: cases.start) == ranges  # exact: everything once, whoever came and went
    assert max(busy) == MOST  # those that came were given work
    assert left == least
