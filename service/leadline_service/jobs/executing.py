"""One run, from its claim to its end."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import TypeVar, assert_never

from leadline.errors import OutputError
from leadline_service.files import Files
from leadline_service.jobs.computing import Computation
from leadline_service.jobs.endings import Ending, Failed, Finished, GivenBack, LeftAlone, Stopped, ending_of
from leadline_service.jobs.keeper import Keeper
from leadline_service.jobs.kept import KeptRun
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.jobs.outcomes import Output
from leadline_service.jobs.patience import persist
from leadline_service.jobs.workplace import Workplace
from leadline_service.logs import logger
from leadline_service.requests import RunRequest
from leadline_service.store.errors import LeaseLost, StoreUnavailable
from leadline_service.store.port import Store
from leadline_service.store.records import Claim

__all__ = ["Execution", "Tools"]

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Tools:
    """What every run of a process is computed with.

    Parameters
    ----------
    store, files
        What outlives the process.
    workplace
        Where blocks are computed.
    metrics
        What is counted.
    lease_s
        How long a lease is good for without a heartbeat, s.
    """

    store: Store
    files: Files
    workplace: Workplace
    metrics: JobMetrics
    lease_s: float


class Execution:
    """A claimed run being computed.

    Parameters
    ----------
    tools
        With what.
    claim
        The lease.
    """

    def __init__(self, tools: Tools, claim: Claim) -> None:
        self.tools, self.claim = tools, claim
        self.keeper = Keeper(tools.store, claim, tools.lease_s, tools.metrics)
        self._output = Output(tools.files, claim.run.run_id, claim.fence)
        self._log = logger("leadline.jobs").bind(run=claim.run.run_id, fence=claim.fence)

    def run(self) -> None:
        """Compute the run and bring it to its end; raises nothing."""
        began = time.monotonic()
        self._log.info("run taken", caller=self.claim.run.caller, attempts=self.claim.run.attempts)
        try:
            with self.keeper:
                ending = self._ending()
            self._end(ending)
            how = type(ending).__name__
        except (LeaseLost, StoreUnavailable) as error:
            how = LeftAlone.__name__
            self._log.warning("run left alone", error=str(error))
        except Exception:  # noqa: BLE001 - no run may take the dispatcher with it; the log has the cause
            how = "Error"
            self._log.exception("run left alone")
        self.tools.metrics.run_s.observe(time.monotonic() - began)
        self.tools.metrics.ended.labels(how).inc()
        self._log.info("run let go", how=how, took_s=round(time.monotonic() - began, 3))

    def give_back(self) -> None:
        """Give the run back without waiting for what is still being computed of it."""
        self.keeper.lose()
        with suppress(LeaseLost, StoreUnavailable):
            self.tools.store.hand_back(self.keeper.run_id, self.keeper.fence)

    def _ending(self) -> Ending:
        try:
            ending: Ending = self._computation().ending()
            self.keeper.bring_all()
        except Exception as error:  # noqa: BLE001 - told apart there
            return self._after(error)
        return ending

    def _computation(self) -> Computation:
        request = RunRequest.of(self.claim.run.request)
        study = request.study_of(self._from_store(lambda: self.tools.store.study(request.study)).text)
        kept = KeptRun.from_bytes(self._from_store(lambda: self.tools.store.take_up(self.claim)))
        self.keeper.take_up(KeptRun(kept.blocks, tuple(filter(self._output.holds, kept.files))))
        return Computation(request, study, self.keeper, self._output, self.tools.workplace, self.tools.metrics)

    def _from_store(self, action: Callable[[], T]) -> T:
        return persist(action, self.keeper.wait, self.keeper.store_away)

    def _after(self, error: Exception) -> Ending:
        """Return how an error ends the try, once what is done has been brought to the store."""
        if self.keeper.is_lost:
            return LeftAlone()
        ending = ending_of(error, self.claim.run.attempts)
        if self.keeper.is_leaving and not isinstance(ending, LeftAlone):
            ending = GivenBack(None, 0.0, "leaving")
        if isinstance(ending, Failed | GivenBack):
            unforeseen = isinstance(ending, GivenBack) and ending.why == "error"
            self._log.warning("run broken off", error=str(error), exc_info=error if unforeseen else None)
            with suppress(StoreUnavailable):
                self.keeper.bring_all()
        return ending

    def _end(self, ending: Ending) -> None:
        """Write how the run ended, however long the store takes to answer."""
        if isinstance(ending, LeftAlone):
            with suppress(OutputError):
                self._output.clear()
            return
        self._from_store(lambda: self._written(ending))

    def _written(self, ending: Finished | Stopped | Failed | GivenBack) -> None:
        store, run_id, fence = self.tools.store, self.keeper.run_id, self.keeper.fence
        match ending:
            case Finished(outcome, files):
                store.finish(run_id, fence, outcome, files)
            case Stopped(outcome, files):
                store.stopped(run_id, fence, outcome, files)
            case Failed(failure):
                store.fail(run_id, fence, failure)
            case GivenBack(error, delay_s, why):
                state = store.hand_back(run_id, fence, error=error, delay_s=delay_s)
                self.tools.metrics.handed_back.labels(why).inc()
                self._log.info("run given back", why=why, state=state.value, delay_s=delay_s)
            case _:
                assert_never(ending)
