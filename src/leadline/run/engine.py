"""A study computed: blocks handed out, summaries merged, an answer made of the whole.

Summaries merge exactly, so the answer depends on which blocks are in it and on nothing else:
not on the executor, the order in which blocks came back, or how often the run was stopped and
taken up again.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from leadline.errors import RunError
from leadline.run.answer import Asked, answer, chance_of
from leadline.run.blocks import Spans, checkpoints, lay_out
from leadline.run.executors import Executor, InProcess
from leadline.run.gather import Gathering
from leadline.run.provenance import stream_of
from leadline.run.result import Chance, Result
from leadline.run.summary import BlockSummary
from leadline.run.work import Prepared, Work, prepared
from leadline.sampling import Design
from leadline.study import Study

__all__ = [
    "DEFAULT_CASES",
    "MOST_CASES",
    "Computed",
    "Control",
    "Kept",
    "Progress",
    "Request",
    "RunClock",
    "compute",
    "run_study",
]

DEFAULT_CASES = 100_000
MOST_CASES = 100_000_000
"""Where a run by precision gives up unless told a number of cases."""
SAVE_EVERY_S = 2.0
MIN_BLOCKS = {Design.INDEPENDENT: 4, Design.LATIN: 16, Design.SOBOL: 16}
"""Fewest blocks before a run may stop by precision: 65 536 cases in every design, and enough
replicates for their spread to be known."""


@dataclass(frozen=True, slots=True)
class Request:
    """How much of which draws.

    Parameters
    ----------
    cases
        How many cases; None for 100 000, or for up to 100 million with `until`.
    seed, design
        Which draws.
    until
        Half-width of the chance's interval at which to stop. Looked at only after fixed
        numbers of blocks (see `leadline.run.blocks.checkpoints`), so the answer is the same
        on any machine; None to compute all cases. A run gone on with looks first where it stood.
    """

    cases: int | None = None
    seed: int = 0
    design: Design = Design.INDEPENDENT
    until: float | None = None

    def __post_init__(self) -> None:
        if self.cases is not None and not self.cases >= 1:
            raise ValueError(f"cases must be at least 1, not {self.cases}")
        if not self.seed >= 0:
            raise ValueError(f"seed must be a whole number from 0, not {self.seed}")
        if self.until is not None and not 0 < self.until < 1:
            raise ValueError(f"until must be a half-width between 0 and 1, not {self.until}")

    @property
    def most_cases(self) -> int:
        """The number of cases at which the run ends in any event."""
        if self.cases is not None:
            return self.cases
        return DEFAULT_CASES if self.until is None else MOST_CASES


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a run stands; `left_s` is None until a rate is known, `chance` where none is being found."""

    cases: int
    wanted: int
    elapsed_s: float
    rate_per_s: float
    left_s: float | None
    chance: Chance | None


@dataclass(frozen=True, slots=True)
class Kept:
    """The finished whole blocks of one stream, enough to go on from.

    `stream` says which study, seed, design and build the blocks belong to.
    """

    stream: str
    spans: Spans
    summary: BlockSummary | None


def _never() -> bool:
    return False


def _ignore(_: object) -> None:
    pass


@dataclass(frozen=True, slots=True)
class Control:
    """What a run tells and asks while it goes on.

    Parameters
    ----------
    progress
        Told where the run stands whenever something was finished.
    stopped
        Asked between blocks; True ends the run with what is done.
    save
        Given what to keep once something is finished, now and then, and at the end however the run ends.
    save_every_s
        How long to wait from one save to the next, s.
    """

    progress: Callable[[Progress], None] = _ignore
    stopped: Callable[[], bool] = _never
    save: Callable[[Kept], None] = _ignore
    save_every_s: float = SAVE_EVERY_S


@dataclass(frozen=True, slots=True)
class Computed:
    """A result, and what a later run of more cases can start from."""

    result: Result
    kept: Kept


def run_study(
    study: Study,
    *,
    cases: int | None = None,
    seed: int = 0,
    design: Design = Design.INDEPENDENT,
    until: float | None = None,
    executor: Executor | None = None,
    progress: Callable[[Progress], None] | None = None,
    cancel: threading.Event | Callable[[], bool] | None = None,
    start_from: Kept | None = None,
) -> Result:
    """Compute a study and return its result: `compute` in one call.

    Parameters
    ----------
    study
        The study, with its option and values already replaced.
    cases, seed, design, until
        As in `Request`.
    executor
        Who does the work; the calling thread when None.
    progress
        Told where the run stands whenever something was finished.
    cancel
        An event, or a function that tells whether to stop; asked between blocks.
    start_from
        What an earlier run kept.
    """
    stopped = cancel.is_set if isinstance(cancel, threading.Event) else cancel
    control = Control(progress=progress or _ignore, stopped=stopped or _never)
    request = Request(cases, seed, design, until)
    return compute(study, request, executor, control, start_from=start_from).result


def compute(
    study: Study,
    request: Request,
    executor: Executor | None = None,
    control: Control | None = None,
    *,
    start_from: Kept | None = None,
    keep_folder: str = "",
) -> Computed:
    """Compute a study.

    Parameters
    ----------
    study
        The study, with its option and values already replaced.
    request
        How many cases, from which draws.
    executor
        Who does the work; the calling thread when None.
    control
        What to tell and ask meanwhile.
    start_from
        What an earlier run kept; used where it is of the same stream and not beyond `request`.
    keep_folder
        Where to write every case, or empty.

    Returns
    -------
    Computed
        `result.partial` is True when the run was stopped before it was done.

    Raises
    ------
    RunError
        Stopped before the first block, or workers or scheduler were lost.
    """
    work = Work.of(study, request.seed, request.design, keep_folder)
    ready = prepared(work)
    size = ready.sampler.block_size
    layout = lay_out(request.most_cases, size, cut=request.design is Design.INDEPENDENT)
    gathering = Gathering(work, layout, executor or InProcess(), ready.case_s * size)
    run = _Run(ready, gathering, control or Control(), stream_of(work), RunClock(layout.cases))
    run.take(start_from)
    try:
        done = run.to_precision(request.until) if request.until else run.to_end()
    finally:
        run.control.save(run.kept)
    return Computed(_answer(run, request, partial=not done), run.kept)


def _answer(run: _Run, request: Request, *, partial: bool) -> Result:
    summary = run.gathering.total
    if summary is None:
        raise RunError("stopped before the first block of cases was finished; nothing to report")
    missed = request.until is not None and not partial and not run.precise(request.until)
    asked = Asked(
        seed=request.seed,
        design=request.design,
        cases=request.most_cases,
        spans=run.gathering.all_spans,
        partial=partial,
        missed_until=request.until if missed else None,
    )
    return answer(run.ready, summary, asked)


@dataclass(slots=True)
class RunClock:
    """Makes progress of what is finished; `cases_before` were there when the clock started."""

    wanted: int
    cases_before: int = 0
    began: float = field(default_factory=time.monotonic)

    def progress(self, ready: Prepared, total: BlockSummary) -> Progress:
        """Return where a run stands."""
        elapsed_s = time.monotonic() - self.began
        rate = (total.cases - self.cases_before) / max(elapsed_s, 1e-9)
        left = (self.wanted - total.cases) / rate if rate > 0 else None
        return Progress(total.cases, self.wanted, elapsed_s, rate, left, chance_of(ready, total))


@dataclass(slots=True)
class _Run:
    """A run under way, and what it tells while it goes on."""

    ready: Prepared
    gathering: Gathering[BlockSummary]
    control: Control
    stream: str
    clock: RunClock
    saved: float = -math.inf

    @property
    def kept(self) -> Kept:
        return Kept(self.stream, self.gathering.spans, self.gathering.whole)

    def take(self, kept: Kept | None) -> None:
        """Start from what an earlier run kept, where it fits."""
        if kept is None or kept.summary is None or kept.stream != self.stream:
            return
        if kept.spans[-1][1] <= self.gathering.layout.whole_blocks:
            self.gathering.spans, self.gathering.whole = kept.spans, kept.summary
            self.clock.cases_before = kept.summary.cases

    def to_end(self) -> bool:
        """Compute all cases; tell whether all are done."""
        return self.gathering.up_to_end(self.control.stopped, self.tell)

    def to_precision(self, half_width: float) -> bool:
        """Compute from checkpoint to checkpoint; tell whether the run came to its end."""
        whole = self.gathering.layout.whole_blocks
        begun = self.gathering.spans[-1][1] if self.gathering.spans else 0
        first = max(begun, MIN_BLOCKS[self.ready.sampler.design])
        for stop in checkpoints(first, whole):
            if not self.gathering.up_to(stop, self.control.stopped, self.tell):
                return False
            if self.precise(half_width):
                return True
        return self.to_end()

    def precise(self, half_width: float) -> bool:
        """Tell whether the chance is known well enough."""
        total = self.gathering.total
        if total is None:
            return False
        chance = chance_of(self.ready, total)
        return (chance.high - chance.low) / 2 <= half_width

    def tell(self) -> None:
        """Tell where the run stands, and save now and then."""
        total = self.gathering.total
        if total is not None:
            self.control.progress(self.clock.progress(self.ready, total))
        if time.monotonic() - self.saved > self.control.save_every_s:
            self.saved = time.monotonic()
            self.control.save(self.kept)
