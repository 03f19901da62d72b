"""Takes runs from the store and has them computed, several at a time, until it is told to leave."""

from __future__ import annotations

import os
import random
import secrets
import socket
import threading
import time
from typing import Self

from leadline.errors import LeadlineError
from leadline_service.clock import Clock, SystemClock
from leadline_service.files import Files
from leadline_service.jobs.executing import Execution, Tools
from leadline_service.jobs.housekeeping import Housekeeping
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.jobs.outcomes import can_draw
from leadline_service.jobs.patience import backoff
from leadline_service.jobs.workplace import Workplace, opener_for
from leadline_service.logs import logger
from leadline_service.settings import Settings
from leadline_service.store.errors import StoreUnavailable
from leadline_service.store.port import Store

__all__ = ["LEAVE_WITHIN_S", "Dispatcher"]

LOG = logger("leadline.jobs")
SHORTEST_PAUSE_S, LONGEST_PAUSE_S = 0.05, 1.0
LEAVE_WITHIN_S = 5.0
HAND_BACK_S = 1.5
"""How long before the end of its time a leaving dispatcher gives back what has not stopped by itself, s."""


class Dispatcher:
    """Computes the runs of a store.

    Parameters
    ----------
    settings
        How many runs at a time, where, and for how long leases and ended runs are kept.
    store, files
        What outlives this process; the caller closes them after this.
    clock
        Tells which runs are past their time.
    metrics
        What is counted; a new set when None.
    workplace
        Where blocks are computed; what the settings ask for when None.
    """

    def __init__(
        self,
        settings: Settings,
        store: Store,
        files: Files,
        *,
        clock: Clock | None = None,
        metrics: JobMetrics | None = None,
        workplace: Workplace | None = None,
    ) -> None:
        self.metrics = metrics or JobMetrics()
        self.workplace = workplace or Workplace(opener_for(settings), self.metrics)
        self.owner = f"{socket.gethostname()}:{os.getpid()}:{secrets.token_hex(3)}"
        self._settings = settings
        self._tools = Tools(store, files, self.workplace, self.metrics, settings.lease_s)
        self._housekeeping = Housekeeping(
            store, files, clock or SystemClock(), self.metrics, keep_days=settings.keep_days, claimable=self.wake
        )
        self._leaving, self._awake = threading.Event(), threading.Event()
        self._lock = threading.Lock()
        self._under_way: dict[Execution, threading.Thread] = {}
        self._threads = [
            threading.Thread(target=self._dispatch, name="dispatcher", daemon=True),
            threading.Thread(target=self._keep_house, name="housekeeping", daemon=True),
        ]

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def start(self) -> None:
        """Begin to look for runs; workers are started meanwhile."""
        LOG.info("dispatcher starts", owner=self.owner, runs_at_once=self._settings.runs_at_once)
        threading.Thread(target=self._warm_up, name="warming-up", daemon=True).start()
        for thread in self._threads:
            thread.start()

    def wake(self) -> None:
        """Look for runs now: one was submitted, or asked to stop."""
        self._awake.set()
        with self._lock:
            under_way = tuple(self._under_way)
        for execution in under_way:
            execution.keeper.look()

    def close(self, within_s: float = LEAVE_WITHIN_S) -> None:
        """Take no more runs, save and give back those under way, and end."""
        until = time.monotonic() + within_s
        self._leaving.set()
        self._awake.set()
        if self._threads[0].is_alive():
            self._threads[0].join(within_s / 4)  # it may be taking one just now
        with self._lock:
            under_way = dict(self._under_way)
        for execution in under_way:
            execution.keeper.leave()
        for thread in under_way.values():
            thread.join(max(0.0, until - HAND_BACK_S - time.monotonic()))
        for execution, thread in under_way.items():
            if thread.is_alive():
                execution.give_back()
        for thread in self._threads:
            if thread.is_alive():
                thread.join(max(0.0, until - time.monotonic()))
        closing = threading.Thread(target=self.workplace.close, name="closing-executor", daemon=True)
        closing.start()
        closing.join(max(0.1, until - time.monotonic()))
        LOG.info("dispatcher has left", owner=self.owner)

    @property
    def alive(self) -> bool:
        """Whether it still looks for runs."""
        return not self._leaving.is_set() and all(thread.is_alive() for thread in self._threads)

    @property
    def trouble(self) -> str | None:
        """Why nothing can be computed now; None where it can, or where nobody has tried yet."""
        return self.workplace.trouble

    # ------------------------------------------------------------------ the threads

    def _dispatch(self) -> None:
        pauses = backoff(SHORTEST_PAUSE_S, LONGEST_PAUSE_S)
        while not self._leaving.is_set():
            self._awake.clear()
            try:
                taken = self._has_room() and self._take_one()
            except StoreUnavailable as error:
                self.metrics.store_away.inc()
                LOG.warning("store unavailable", error=str(error))
                taken = False
            except Exception:
                LOG.exception("no run could be taken")
                taken = False
            if taken or self._awake.wait(next(pauses)):
                pauses = backoff(SHORTEST_PAUSE_S, LONGEST_PAUSE_S)

    def _has_room(self) -> bool:
        with self._lock:
            return len(self._under_way) < self._settings.runs_at_once

    def _take_one(self) -> bool:
        """Claim a run and have a thread compute it; tell whether there was one."""
        settings = self._settings
        claim = self._tools.store.claim(self.owner, settings.lease_s, settings.runs_at_once_per_caller)
        if claim is None:
            return False
        self.metrics.claimed.inc()
        execution = Execution(self._tools, claim)
        thread = threading.Thread(target=self._execute, args=(execution,), name=claim.run.run_id, daemon=True)
        with self._lock:
            self._under_way[execution] = thread
            self.metrics.computing.set(len(self._under_way))
        if self._leaving.is_set():  # claimed in the very moment
            execution.keeper.leave()
        thread.start()
        return True

    def _execute(self, execution: Execution) -> None:
        try:
            execution.run()
        finally:
            with self._lock:
                del self._under_way[execution]
                self.metrics.computing.set(len(self._under_way))
            self._awake.set()

    def _keep_house(self) -> None:
        """Look after the store several times a lease, out of step with other processes."""
        while not self._leaving.is_set():
            self._housekeeping.once()
            self._leaving.wait(min(5.0, self._settings.lease_s / 3) * random.uniform(0.7, 1.0))  # noqa: S311 - no secret

    def _warm_up(self) -> None:
        """Start workers and load what reports are drawn with, so that the first run need not wait for it."""
        try:
            self.workplace.executor()
            if can_draw():
                import leadline.report  # noqa: F401, PLC0415 - half a second, and optional
        except LeadlineError:
            pass  # said by the workplace, and tried again by the first run
        except Exception:
            LOG.exception("workers could not be started")
