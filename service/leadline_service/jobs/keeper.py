"""Keeps the lease on a run, and brings to the store what is finished of it, while another thread computes.

The computing thread never waits for the store: it leaves here what is newest, and asks here whether to stop. When the
store does not answer, what is newest is brought there once it does.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Self

from leadline.run.blocks import count_blocks
from leadline.run.engine import Kept
from leadline_service.jobs.kept import KeptRun
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.jobs.patience import backoff, persist
from leadline_service.logs import logger
from leadline_service.states import LEASED, RunState
from leadline_service.store.errors import LeaseLost, NotFound, StoreUnavailable
from leadline_service.store.port import Store
from leadline_service.store.records import Claim, FileRecord

__all__ = ["COMMIT_EVERY_S", "Keeper"]

ROUND_S = 0.2
COMMIT_EVERY_S = 0.75
"""How long to wait from one commit to the next, s; the first block is committed at once."""
ASK_EVERY_S = 0.4
"""How often to ask whether the run is to be stopped, s."""
BEATS_PER_LEASE = 4


class Keeper:
    """Holds one lease; use it as a context manager around all that is done for the run.

    Parameters
    ----------
    store
        Where the run is.
    claim
        The lease.
    lease_s
        How long a heartbeat is good for, s.
    metrics
        Told of commits.
    """

    def __init__(self, store: Store, claim: Claim, lease_s: float, metrics: JobMetrics) -> None:
        self.run_id, self.fence = claim.run.run_id, claim.fence
        self.kept = KeptRun()
        self._store, self._lease_s, self._metrics = store, lease_s, metrics
        self._log = logger("leadline.jobs").bind(run=self.run_id, fence=self.fence)
        self._progress: Mapping[str, Any] = claim.run.progress or {}
        self._brought: tuple[object, object] = (self.kept, self._progress)
        self._blocks_brought = 0
        self._has_committed = False
        self._stop, self._lost, self._leaving = threading.Event(), threading.Event(), threading.Event()
        self._hopeless, self._wake, self._closed = threading.Event(), threading.Event(), threading.Event()
        self._bringing = threading.Lock()
        self._committed_at = self._asked_at = -float("inf")
        self._beaten_at = time.monotonic()
        self._thread = threading.Thread(target=self._keep, name=f"keeper-{self.run_id}", daemon=True)
        if claim.stop_asked:
            self._stop.set()

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Stop keeping the lease; whoever ends the run does so first."""
        self._closed.set()
        self._wake.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(timeout=ROUND_S)

    # ------------------------------------------------------------------ what the computing thread leaves and asks

    def take_up(self, kept: KeptRun) -> None:
        """Start from what an earlier try kept, which need not be brought back."""
        self.kept = kept
        self._brought = (kept, self._progress)
        self._blocks_brought = _blocks(kept)

    def save(self, blocks: Kept) -> None:
        """Leave the finished blocks to be committed."""
        if blocks.summary is not None:
            self.kept = KeptRun(blocks, self.kept.files)
            if not self._has_committed:  # at once, so that a try that dies early was not for nothing
                self._committed_at = -float("inf")
                self._wake.set()

    def save_file(self, record: FileRecord) -> None:
        """Leave the record of an answer's file to be committed."""
        self.kept = self.kept.with_file(record)

    def tell(self, progress: Mapping[str, Any]) -> None:
        """Leave where the run stands to be committed."""
        self._progress = progress

    def stopped(self) -> bool:
        """Tell whether to stop computing, for whatever reason."""
        return self._stop.is_set() or self._hopeless.is_set()

    @property
    def stop_asked(self) -> bool:
        """Whether the run is to be ended with what is done."""
        return self._stop.is_set()

    @property
    def is_lost(self) -> bool:
        """Whether the run belongs to somebody else by now: nothing more may be written for it."""
        return self._lost.is_set()

    @property
    def is_leaving(self) -> bool:
        """Whether this process gives its runs back."""
        return self._leaving.is_set()

    def wait(self, seconds: float) -> bool:
        """Wait; True, at once, when there is nothing to wait for any more."""
        return self._hopeless.wait(seconds)

    def wait_unless_stopped(self, seconds: float) -> bool:
        """Wait, as `wait`, but no longer than until a stop is asked."""
        until = time.monotonic() + seconds
        while not self.stopped() and (left := until - time.monotonic()) > 0:
            self._hopeless.wait(min(left, ROUND_S))
        return self.stopped()

    # ------------------------------------------------------------------ what others say

    def leave(self) -> None:
        """Have the run stopped, to be given back."""
        self._leaving.set()
        self._hopeless.set()

    def lose(self) -> None:
        """Have the run dropped: whatever is still computed of it is thrown away."""
        self._lost.set()
        self._hopeless.set()

    def look(self) -> None:
        """Ask at once whether the run is to be stopped."""
        self._asked_at = -float("inf")
        self._wake.set()

    # ------------------------------------------------------------------ what goes to the store

    def bring_all(self) -> None:
        """Commit what is left, however long the store takes to answer.

        Raises
        ------
        LeaseLost
            Somebody else has the run.
        StoreUnavailable
            The store does not answer, and this process is leaving.
        """
        persist(self._commit, self.wait, self.store_away)

    def store_away(self, error: StoreUnavailable) -> None:
        """Take note that the store did not answer."""
        self._metrics.store_away.inc()
        self._log.warning("store unavailable", error=str(error))

    def _keep(self) -> None:
        pauses = backoff()
        while not self._closed.is_set():
            pause_s = ROUND_S
            try:
                self._round()
                pauses = backoff()
            except LeaseLost:
                self._lose_lease()
                return
            except StoreUnavailable as error:
                self.store_away(error)
                pause_s = next(pauses)
            except Exception:  # noqa: BLE001 - a lease is kept whatever happens, and the log has the cause
                self._log.exception("the lease could not be kept")
                pause_s = next(pauses)
            self._wake.wait(pause_s)
            self._wake.clear()

    def _lose_lease(self) -> None:
        if not self._closed.is_set():
            self._metrics.lost.inc()
            self._log.warning("lease lost")
        self.lose()

    def _round(self) -> None:
        now = time.monotonic()
        if now - self._beaten_at >= self._lease_s / BEATS_PER_LEASE:
            with self._answered():
                self._heard(stop=self._store.heartbeat(self.run_id, self.fence, self._lease_s))
            self._beaten_at = now
        if now - self._committed_at >= COMMIT_EVERY_S:
            self._commit()
        if now - self._asked_at >= ASK_EVERY_S:
            self._ask()

    def _commit(self) -> None:
        """Bring what is newest to the store, if it has not got it."""
        with self._bringing:
            kept, progress = newest = self.kept, self._progress
            if newest[0] is self._brought[0] and newest[1] is self._brought[1]:
                return
            data = None if kept is self._brought[0] else kept.to_bytes()
            with self._answered(), self._metrics.commit_s.time():
                self._heard(stop=self._store.commit_progress(self.run_id, self.fence, data, progress))
            self._committed_at = time.monotonic()
            self._brought = newest
            self._has_committed |= data is not None
        blocks, before = _blocks(kept), self._blocks_brought
        self._blocks_brought = blocks
        self._metrics.blocks.inc(max(0, blocks - before))
        self._log.debug("committed", blocks=blocks, bytes=0 if data is None else len(data))

    def _ask(self) -> None:
        with self._answered():
            record = self._store.run(self.run_id)
        if record.fence != self.fence or record.state not in LEASED:
            raise LeaseLost(self.run_id, self.fence)
        self._heard(stop=record.state is RunState.STOPPING)

    def _heard(self, *, stop: bool) -> None:
        self._asked_at = time.monotonic()
        if stop:
            self._stop.set()

    @contextmanager
    def _answered(self) -> Iterator[None]:
        """Take a run that is not there any more as one that somebody else has."""
        try:
            yield
        except NotFound as error:
            raise LeaseLost(self.run_id, self.fence) from error


def _blocks(kept: KeptRun) -> int:
    return 0 if kept.blocks is None else count_blocks(kept.blocks.spans)
