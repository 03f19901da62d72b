"""What a run computes, stage by stage: the chance or a comparison, further answers, cases, files."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from leadline.errors import NoWorkers, OutputError, RunError, SamplingError, StudyError, Unreachable, WorkerLost
from leadline.run.compare import compare
from leadline.run.document import Document
from leadline.run.engine import Control, compute
from leadline.run.executors import Executor, InProcess
from leadline.run.result import CompareResult, Result
from leadline.run.work import Work, prepared
from leadline.sampling import Design
from leadline.study import Study
from leadline_service.jobs.answering import answer_names, answered
from leadline_service.jobs.cases import CaseParts, part_file
from leadline_service.jobs.endings import Dropped, Finished, Interrupted, Stopped
from leadline_service.jobs.keeper import Keeper
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.jobs.outcomes import Output, said_of
from leadline_service.jobs.patience import backoff
from leadline_service.jobs.telling import CHANCE, Telling
from leadline_service.jobs.workplace import Workplace
from leadline_service.requests import Answer, RunRequest
from leadline_service.store.records import FileRecord

__all__ = ["Computation"]

T = TypeVar("T")

CASES, FILES = "cases", "files"
SAVE_EVERY_S = 0.25
FILE_PAUSES_S = (0.2, 0.5, 1.0)
"""Pauses between tries to write a file, before the run is given back, s."""
RECONNECT_S, MOST_RECONNECT_S = 0.5, 15.0
MOST_DROPPED = 3
"""Times in a row that workers may drop a run, and nothing else, before it may be the run's fault."""


@dataclass(slots=True)
class Computation:
    """The stages of one run.

    Parameters
    ----------
    request, study
        What is asked, of what.
    keeper
        Holds the lease, and is left what is finished.
    output
        Where files go.
    workplace
        Where blocks are computed.
    metrics
        Told of cases.
    """

    request: RunRequest
    study: Study
    keeper: Keeper
    output: Output
    workplace: Workplace
    metrics: JobMetrics
    answers: list[dict[str, Any]] = field(default_factory=list)
    files: list[FileRecord] = field(default_factory=list)
    skipped: bool = False
    """Whether something was left out because a stop was asked."""
    telling: Telling = field(init=False)

    def __post_init__(self) -> None:
        cases = [CASES] if self.request.keep_cases else []
        stages = (CHANCE, *answer_names(self.request.answers), *cases, FILES)
        self.telling = Telling(stages, self.keeper.tell, self.metrics)

    def ending(self) -> Finished | Stopped:
        """Compute everything, or what can be had before a stop.

        Raises
        ------
        Dropped
            Somebody else has the run.
        Interrupted
            This process is leaving.
        LeadlineError
            See `leadline_service.jobs.endings.ending_of`.
        """
        document = self._unless_stopped(self._document)
        if document is None:
            return Stopped(None, ())
        for name, answer in zip(answer_names(self.request.answers), self.request.answers, strict=True):
            self._answer(name, answer)
        if isinstance(document, Result) and self.request.keep_cases:
            self._unless_stopped(lambda: self._cases(document))
        self.telling.begin(FILES)
        self.files += self._patiently(lambda: self._put(document))
        outcome, files = said_of(document, self.answers), tuple(self.files)
        complete = not document.partial and not self.skipped
        return Finished(outcome, files) if complete else Stopped(outcome, files)

    # ------------------------------------------------------------------ the chance

    def _document(self) -> Result | CompareResult:
        return self._compared() if self.request.compare else self._chance()

    def _chance(self) -> Result:
        kept = self.keeper.kept.blocks
        self.telling.begin(CHANCE, 0 if kept is None or kept.summary is None else kept.summary.cases)
        control = Control(self.telling.progress, self.keeper.stopped, self.keeper.save, SAVE_EVERY_S)

        def computed(executor: Executor) -> Result:
            start_from = self.keeper.kept.blocks  # the newest, also when the workers were lost on the way
            return compute(self.study, self.request.engine_request, executor, control, start_from=start_from).result

        return self._on_workers(computed)

    def _compared(self) -> CompareResult:
        self.telling.begin(CHANCE)
        names, request = self.request.compare, self.request.engine_request
        return self._on_workers(lambda executor: compare(self.study, request, executor, self._control, options=names))

    # ------------------------------------------------------------------ further answers

    def _answer(self, name: str, answer: Answer) -> None:
        """Compute an answer, or say why there is none; a study that does not take it loses nothing else."""
        file = f"{name}.json"
        if self._take_up(file):
            self.answers.append({"kind": answer.kind, "file": file, "failure": None})
            return
        self.telling.begin(name)
        failure: dict[str, str] | None = None
        try:
            document = self._unless_stopped(lambda: self._answered(answer))
            if document is None:
                failure = {"code": "stopped", "message": "the run was stopped before this was answered"}
            else:
                self._keep(self._patiently(lambda: self.output.put(file, document.to_json().encode())))
        except (StudyError, SamplingError) as error:
            failure = {"code": "study", "message": str(error)}
        except RunError as error:
            if isinstance(error, WorkerLost):
                raise
            failure = {"code": "run", "message": str(error)}
        # One that was stopped may say so inside, and is not all that was asked for.
        self.skipped |= self.keeper.stop_asked
        self.answers.append({"kind": answer.kind, "file": None if failure else file, "failure": failure})

    def _answered(self, answer: Answer) -> Document:
        if self.keeper.stop_asked:
            raise RunError("stopped before it began")
        seed, control = self.request.seed, self._control
        return self._on_workers(lambda executor: answered(self.study, answer, seed, executor, control))

    @property
    def _control(self) -> Control:
        return Control(self.telling.progress, self.keeper.stopped)

    # ------------------------------------------------------------------ files

    def _cases(self, result: Result) -> None:
        """Write every case of a complete result, file by file."""
        if result.partial or self.keeper.stop_asked:
            raise RunError("stopped before cases were written")
        self.telling.begin(CASES)
        work = Work.of(self.study, self.request.seed, Design(self.request.design))
        made = result.provenance
        every = CaseParts(prepared(work), made.blocks, made.last_block_cases)
        for part in every.parts():
            if not self._take_up(part_file(part)):
                self._keep(self._patiently(lambda number=part: self._put_cases(every, number)))  # type: ignore[misc]

    def _put_cases(self, every: CaseParts, part: int) -> FileRecord:
        with tempfile.TemporaryDirectory(prefix="leadline-") as folder:
            path = Path(folder) / "part.parquet"
            every.write(part, path, self.keeper.stopped)
            return self.output.take(part_file(part), path)

    def _put(self, document: Result | CompareResult) -> tuple[FileRecord, ...]:
        if isinstance(document, Result):
            return self.output.put_result(document)
        return self.output.put_comparison(document)

    def _take_up(self, name: str) -> bool:
        """Take a file that an earlier try has finished, and tell whether there is one."""
        held = [record for record in self.keeper.kept.files if record.name == name]
        self.files += held
        return bool(held)

    def _keep(self, record: FileRecord) -> None:
        """Keep a file; one of a run that is being stopped may be less than all, and only goes with its end."""
        self.files.append(record)
        if not self.keeper.stop_asked:
            self.keeper.save_file(record)

    def _patiently(self, write: Callable[[], T]) -> T:
        for pause_s in FILE_PAUSES_S:
            try:
                return write()
            except OutputError:
                if self.keeper.wait(pause_s):
                    raise
        return write()

    # ------------------------------------------------------------------ whether to go on

    def _unless_stopped(self, action: Callable[[], T]) -> T | None:
        """Do something; None where a stop came before there was anything to show."""
        try:
            done = action()
        except RunError as error:
            self._must_go_on()
            if isinstance(error, WorkerLost) or not self.keeper.stop_asked:
                raise
            self.skipped = True
            return None
        self._must_go_on()
        self.skipped |= bool(getattr(done, "partial", False))
        return done

    def _must_go_on(self) -> None:
        """Raise `Dropped` or `Interrupted` where what was computed must not be written."""
        if self.keeper.is_lost:
            raise Dropped
        if self.keeper.is_leaving:
            raise Interrupted

    def _on_workers(self, action: Callable[[Executor], T]) -> T:
        """Do something on the workers, again from what is kept when they or their scheduler went away."""
        pauses = backoff(RECONNECT_S, MOST_RECONNECT_S)
        dropped = 0
        while not self.keeper.stopped():
            before = self.keeper.kept
            try:
                executor = self.workplace.executor(self.keeper.stopped)
            except Unreachable:
                self.keeper.wait_unless_stopped(next(pauses))
                continue
            try:
                return action(executor)
            except (Unreachable, NoWorkers) as error:
                if self.workplace.is_lost(executor, error) or isinstance(error, NoWorkers):
                    dropped = 0
                else:
                    # The workers are there, so it may be this run that they cannot compute.
                    dropped = 1 if self.keeper.kept is not before else dropped + 1
                if dropped >= MOST_DROPPED:
                    raise WorkerLost(str(error)) from error
            self.keeper.wait_unless_stopped(next(pauses))
        return action(InProcess())  # which computes nothing more, and makes a result of what is there
