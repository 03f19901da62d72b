"""What has to be done now and then: runs of dead owners, runs past their time, files of deleted runs."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import timedelta

from leadline.errors import LeadlineError
from leadline_service.clock import Clock
from leadline_service.files import Files, run_folder
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.logs import logger
from leadline_service.store.errors import StoreUnavailable
from leadline_service.store.port import Store

__all__ = ["Housekeeping"]

LOG = logger("leadline.jobs")
EXPIRE_EVERY_S = 600.0
PURGE_AT_ONCE = 20


class Housekeeping:
    """Keeps the store and the files in order; any number of processes may do so at once.

    Parameters
    ----------
    store, files
        What is kept in order.
    clock
        Tells which runs are old.
    metrics
        What is counted.
    keep_days
        How long ended runs are kept, days; None for ever.
    claimable
        Told when a run was set free.
    """

    def __init__(
        self,
        store: Store,
        files: Files,
        clock: Clock,
        metrics: JobMetrics,
        *,
        keep_days: float | None = None,
        claimable: Callable[[], None] = lambda: None,
    ) -> None:
        self._store, self._files, self._clock, self._metrics = store, files, clock, metrics
        self._keep_days, self._claimable = keep_days, claimable
        self._expired_at = -float("inf")

    def once(self) -> None:
        """Do what is to be done now; raises nothing."""
        for chore in (self._reap, self._expire, self._purge):
            try:
                chore()
            except StoreUnavailable as error:
                self._metrics.store_away.inc()
                LOG.warning("store unavailable", chore=chore.__name__, error=str(error))
                return
            except LeadlineError as error:
                LOG.warning("chore put off", chore=chore.__name__, error=str(error))
            except Exception:
                LOG.exception("chore failed", chore=chore.__name__)

    def _reap(self) -> None:
        for run in self._store.reap():
            self._metrics.reaped.inc()
            LOG.warning("run taken from its owner", run=run.run_id, state=run.state.value, attempts=run.attempts)
            self._claimable()

    def _expire(self) -> None:
        if self._keep_days is None or time.monotonic() - self._expired_at < EXPIRE_EVERY_S:
            return
        expired = self._store.expire(self._clock.now() - timedelta(days=self._keep_days))
        self._expired_at = time.monotonic()
        if expired:
            LOG.info("runs past their time deleted", runs=expired)

    def _purge(self) -> None:
        """Remove the files of deleted runs, then the runs, so that one who dies meanwhile leaves no file behind."""
        for run_id in self._store.condemned(PURGE_AT_ONCE):
            self._files.delete(run_folder(run_id))
            self._store.purge(run_id)
            self._metrics.purged.inc()
            LOG.info("run purged", run=run_id)
