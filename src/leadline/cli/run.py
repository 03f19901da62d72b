"""The `run` verb: the chance that a study closes."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from leadline.cli.exits import ExitCode, ends, talk
from leadline.cli.interrupts import stoppable
from leadline.cli.options import (
    DesignOption,
    DesignWord,
    JsonOption,
    OptionOption,
    QuietOption,
    SchedulerOption,
    SeedOption,
    SetOption,
    StudyFile,
    ThreadsOption,
    WorkersOption,
    executor_of,
    study_of,
)
from leadline.cli.progress import progress_shown

if TYPE_CHECKING:
    from leadline.run.engine import Computed, Request
    from leadline.run.executors import Executor
    from leadline.run.folder import OutFolder
    from leadline.run.result import Result
    from leadline.study import Study

__all__ = ["run"]

CasesOption = Annotated[
    int | None, typer.Option("--cases", min=1, help="How many cases; 100 000, or with --until at most 100 million.")
]
UntilOption = Annotated[
    str | None,
    typer.Option("--until", metavar="HALF-WIDTH", help='Stop once the chance is known to so much, such as "0.2 %".'),
]
OutOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="Folder for result, report, study, and what to go on from."),
]
KeepOption = Annotated[bool, typer.Option("--keep-cases", help="Put every case into Parquet files under --out.")]
JudgeOption = Annotated[bool, typer.Option("--judge", help="End with 4 unless the wanted chance is shown.")]
ReplaceOption = Annotated[bool, typer.Option("--replace", help="Let --out replace another run's files.")]


@ends
def run(
    context: typer.Context,
    file: StudyFile,
    cases: CasesOption = None,
    seed: SeedOption = 0,
    until: UntilOption = None,
    design: DesignOption = DesignWord.INDEPENDENT,
    option: OptionOption = None,
    replaced: SetOption = None,
    workers: WorkersOption = None,
    threads: ThreadsOption = None,
    scheduler: SchedulerOption = None,
    out: OutOption = None,
    replace: ReplaceOption = False,
    keep_cases: KeepOption = False,
    json_output: JsonOption = False,
    quiet: QuietOption = False,
    judge: JudgeOption = False,
) -> ExitCode:
    """Compute the chance that every requirement of a study is met, and what fails first."""
    if keep_cases and out is None:
        raise typer.BadParameter("--keep-cases needs a folder: add --out DIR")
    study = study_of(file, option, replaced)
    request = _request(cases, seed, design, until)
    folder = None if out is None else _folder(out, study, request, replace=replace)
    executor = executor_of(workers, threads, scheduler)
    try:
        computed = _Running(study, request, executor, folder, keep_cases, quiet).compute()
    finally:
        executor.close()
    result = computed.result
    if folder is not None:
        if keep_cases:
            folder.keep_parts(result.provenance.blocks)
        folder.put_result(result, context.obj.result)
    _show(result, folder, json_output=json_output, quiet=quiet)
    if result.partial:
        talk(_how_to_go_on(file, request, out, option, replaced))
        return ExitCode.PARTIAL
    met = result.judgement.verdict == "yes"
    return ExitCode.CHANCE_NOT_MET if judge and not met else ExitCode.OK


def _request(cases: int | None, seed: int, design: DesignWord, until: str | None) -> Request:
    from leadline.run.engine import Request
    from leadline.sampling import Design

    half_width = None if until is None else _half_width(until)
    return Request(cases, seed, Design(design), half_width)


def _half_width(text: str) -> float:
    from leadline.units import FRACTION, QuantityError, parse_quantity

    try:
        value = parse_quantity(text, FRACTION)
    except QuantityError as error:
        raise typer.BadParameter(str(error), param_hint="--until") from error
    if not 0 < value < 1:
        raise typer.BadParameter("write a half-width between 0 and 100 %", param_hint="--until")
    return value


def _folder(path: Path, study: Study, request: Request, *, replace: bool) -> OutFolder:
    from leadline.run.folder import OutFolder, RunLabel

    label = RunLabel(study.title, study.digest, study.option, request.seed, request.design.value)
    folder = OutFolder(path, label, replace=replace)
    folder.put_study(study.source_text, study.resolved())
    return folder


@dataclass(frozen=True)
class _Running:
    """A run with the bar shown, Ctrl-C heeded and what is finished kept."""

    study: Study
    request: Request
    executor: Executor
    folder: OutFolder | None
    keep_cases: bool
    quiet: bool

    def compute(self) -> Computed:
        from leadline.run.engine import Control, compute

        keep_folder, kept = "", None
        if self.folder is not None:
            keep_folder = str(self.folder.cases) if self.keep_cases else ""
            kept = self.folder.start_from(with_cases=self.keep_cases)
        with stoppable() as stop, progress_shown(quiet=self.quiet) as progress:
            control = Control(progress=progress, stopped=stop.is_set)
            if self.folder is not None:
                control = Control(progress=progress, stopped=stop.is_set, save=self.folder.save)
            return compute(self.study, self.request, self.executor, control, start_from=kept, keep_folder=keep_folder)


def _show(result: Result, folder: OutFolder | None, *, json_output: bool, quiet: bool) -> None:
    if json_output:
        typer.echo(result.to_json(), nl=False)
    else:
        from leadline.cli.result_text import result_text

        typer.echo(result_text(result))
    if folder is not None and not quiet:
        report = f"report {folder.report}" if folder.report.exists() else "no report: install leadline[report]"
        talk(f"Result {folder.result}; {report}")


def _how_to_go_on(
    file: Path, request: Request, out: Path | None, option: str | None, replaced: list[str] | None
) -> str:
    if out is None:
        return "The run was stopped early. With --out DIR a run can be gone on with; this one cannot."
    words = ["leadline", "run", str(file), "--out", str(out), "--cases", str(request.most_cases)]
    words += ["--seed", str(request.seed), "--design", request.design.value]
    words += ["--until", f"{100 * request.until:.10g} %"] if request.until else []
    words += ["--option", option] if option is not None else []
    words += [word for pair in replaced or [] for word in ("--set", pair)]
    return f"The run was stopped early; what was finished is kept. To go on: {shlex.join(words)}"
