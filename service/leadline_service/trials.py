"""Small answers computed while the caller waits: a few at a time, each within a time of its own, nothing stored."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar, assert_never

from prometheus_client import Gauge

from leadline.errors import RunError
from leadline.run.answers import DriversResult, RareResult, SizingResult, SweepResult
from leadline.run.compare import compare
from leadline.run.drivers import drivers
from leadline.run.engine import Control, Request, run_study
from leadline.run.rare import rare
from leadline.run.result import CompareResult
from leadline.run.sizing import size_number
from leadline.run.sweep import sweep_numbers
from leadline.sampling import Design
from leadline.study import Study
from leadline_service.asked import flawed_at
from leadline_service.problems import SOON
from leadline_service.refusals import Refusal
from leadline_service.requests import Answer, DriversAnswer, RareAnswer, SizingAnswer, SweepAnswer
from leadline_service.schemas import CompareRequest, TrialRequest, TrialResult
from leadline_service.settings import Settings

__all__ = ["Trials", "compare_trial", "run_trial"]

T = TypeVar("T")


class Trials:
    """Computes a bounded number of trials at once, in threads, with a bounded line of others.

    Parameters
    ----------
    settings
        How many at once and in line, and how long each may take.
    under_way
        Shows how many are being computed.
    """

    def __init__(self, settings: Settings, under_way: Gauge) -> None:
        self._settings, self._under_way = settings, under_way
        self._pool = ThreadPoolExecutor(settings.trials_at_once, thread_name_prefix="trial")
        self._taken = 0

    async def run(self, compute: Callable[[Control], T]) -> T:
        """Compute something when it is its turn.

        Raises
        ------
        Refusal
            Too many are waiting, or it takes too long; 503.
        """
        if self._taken >= self._settings.trials_at_once + self._settings.trials_waiting:
            raise Refusal(503, "Too many trials are being computed. Try again shortly.", headers=SOON)
        self._taken += 1
        given_up = False
        ends = time.monotonic() + self._settings.trial_s  # what is spent in line counts

        def stopped() -> bool:
            return given_up or time.monotonic() > ends

        def computed() -> T:
            if stopped():
                raise _late(self._settings)
            with self._under_way.track_inprogress():
                return _in_time(compute, Control(stopped=stopped), self._settings)

        try:
            return await asyncio.get_running_loop().run_in_executor(self._pool, computed)
        finally:
            # Whoever asked may have gone; what is still computed for them then ends at its next look.
            given_up = True
            self._taken -= 1

    def close(self) -> None:
        """Let no more begin."""
        self._pool.shutdown(wait=False, cancel_futures=True)


def _in_time(compute: Callable[[Control], T], control: Control, settings: Settings) -> T:
    try:
        answer = compute(control)
    except RunError as error:  # stopped before there was anything to tell
        raise _late(settings) from error
    if control.stopped():
        raise _late(settings)
    return answer


def _late(settings: Settings) -> Refusal:
    detail = f"The trial was not done within {settings.trial_s:g} s. Ask for fewer cases, or start a run."
    return Refusal(503, detail, headers=SOON)


def run_trial(study: Study, request: TrialRequest, control: Control) -> TrialResult:
    """Compute a trial in this thread.

    Parameters
    ----------
    study
        Option taken, values replaced.
    request
        How many cases, from which draws, and what else is wanted.
    control
        Tells when to stop.
    """
    result = run_study(
        study, cases=request.cases, seed=request.seed, design=Design(request.design), cancel=control.stopped
    )
    further = enumerate(request.answers)
    return TrialResult(result=result, answers=tuple(_further(study, one, request, control, at) for at, one in further))


def compare_trial(study: Study, request: CompareRequest, control: Control) -> CompareResult:
    """Compare options in this thread; see `run_trial`."""
    wanted = Request(request.cases, request.seed, Design(request.design))
    return compare(study, wanted, control=control, options=request.options)


def _further(
    study: Study, answer: Answer, request: TrialRequest, control: Control, position: int
) -> DriversResult | RareResult | SizingResult | SweepResult:
    if control.stopped():
        raise RunError("stopped before every answer was found")
    with flawed_at(("answers", position), whole=True):
        match answer:
            case DriversAnswer():
                return drivers(study, answer.extent(request.seed), control=control)
            case RareAnswer():
                return rare(study, answer.question(request.seed), control)
            case SizingAnswer():
                return size_number(study, answer.question(request.seed), control)
            case SweepAnswer():
                return sweep_numbers(study, answer.question(request.seed), control)
            case _:
                assert_never(answer)
