"""Where runs are computed: one executor for all of them, kept warm, and opened again when it was lost."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from importlib.util import find_spec

from leadline.errors import RunError, Unreachable
from leadline.run.executors import Executor, InProcess, Stopped
from leadline.run.placement import executor_for
from leadline.run.tls_files import TlsFiles
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.logs import logger
from leadline_service.settings import Settings

__all__ = ["Workplace", "opener_for"]

POLL_S = 0.1


def _never() -> bool:
    return False


class _Opening:
    """An executor being opened in a thread of its own, as that may take as long as a connection is tried."""

    def __init__(self) -> None:
        self.done = threading.Event()
        self.error: Exception | None = None


class Workplace:
    """The executor that all runs of a process share.

    Parameters
    ----------
    open_executor
        Opens it.
    metrics
        Told how many workers there are.
    """

    def __init__(self, open_executor: Callable[[], Executor], metrics: JobMetrics) -> None:
        self._open, self._metrics = open_executor, metrics
        self._log = logger("leadline.jobs")
        self._lock = threading.Lock()
        self._executor: Executor | None = None
        self._opening: _Opening | None = None
        self._closed = False
        self.trouble: str | None = None
        """Why there is no executor, for whoever asks; None while there is one."""

    def executor(self, stopped: Stopped = _never) -> Executor:
        """Return the executor, opened if need be.

        Parameters
        ----------
        stopped
            Asked meanwhile whether there is any point in waiting.

        Raises
        ------
        Unreachable
            There is none to be had now.
        """
        while True:
            with self._lock:
                if self._closed:
                    raise Unreachable("this process is leaving")
                if self._executor is not None:
                    return self._executor
                opening = self._opening or self._begin()
            while not opening.done.wait(POLL_S):
                if stopped():
                    raise Unreachable("the workers are not reached yet")
            if opening.error is not None:
                raise Unreachable(str(opening.error)) from opening.error

    def is_lost(self, executor: Executor, error: Exception) -> bool:
        """Look at an executor after an error, and give it up if it does not answer: others may be using it.

        The next one who asks opens another.
        """
        try:
            self._metrics.workers.set(executor.workers)
        except RunError:
            self._give_up(executor, error)
            return True
        return False

    def _give_up(self, executor: Executor, error: Exception) -> None:
        with self._lock:
            if executor is not self._executor:
                return
            self._executor = None
        self._metrics.workplace_away.inc()
        self._metrics.workers.set(0)
        self._log.warning("workers out of reach", error=str(error), cause=repr(error.__cause__))
        # Closing one that is gone takes as long as it is waited for.
        threading.Thread(target=executor.close, name="closing-executor", daemon=True).start()

    def close(self) -> None:
        """Let go of the executor for good."""
        with self._lock:
            executor, self._executor, self._closed = self._executor, None, True
        if executor is not None:
            executor.close()

    def _begin(self) -> _Opening:
        self._opening = opening = _Opening()
        threading.Thread(target=self._try, args=(opening,), name="opening-executor", daemon=True).start()
        return opening

    def _try(self, opening: _Opening) -> None:
        executor: Executor | None = None
        try:
            executor = self._open()
            workers = executor.workers
        except Exception as error:  # noqa: BLE001 - whoever waits is told
            opening.error, self.trouble = error, str(error)
            self._log.warning("workers cannot be reached", error=str(error))
        else:
            self.trouble = None
            self._metrics.workers.set(workers)
            self._log.info("workers reached", workers=workers)
        with self._lock:
            self._opening = None
            self._executor = executor if opening.error is None and not self._closed else None
            unwanted = executor is not None and self._executor is None
        opening.done.set()
        if unwanted and executor is not None:
            executor.close()


def opener_for(settings: Settings) -> Callable[[], Executor]:
    """Return what opens the executor that the settings ask for.

    Raises
    ------
    ValueError
        Some but not all of the files for TLS are named.
    """
    tls = _tls(settings)

    def opened() -> Executor:
        if settings.scheduler is not None:
            return executor_for(scheduler=settings.scheduler, tls=tls, shared=True)
        if settings.workers is not None:
            return executor_for(workers=settings.workers, shared=True)
        if find_spec("distributed") is None:  # each run in its own thread, then
            return InProcess()
        return executor_for(threads=_cores(), shared=True)

    return opened


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _tls(settings: Settings) -> TlsFiles | None:
    ca, certificate, key = settings.scheduler_ca, settings.scheduler_cert, settings.scheduler_key
    if ca is None and certificate is None and key is None:
        return None
    if ca is None or certificate is None or key is None:
        raise ValueError("a scheduler with TLS takes three files: scheduler-ca, scheduler-cert and scheduler-key")
    return TlsFiles(ca, certificate, key)
