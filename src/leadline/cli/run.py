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
    ReplaceOption,
    SchedulerOption,
    SeedOption,
    SetOption,
    StudyFile,
    ThreadsOption,
    WorkersOption,
    executor_of,
    fraction_of,
    study_of,
)
from leadline.cli.progress import progress_shown
from leadline.cli.rare import find_rare
from leadline.cli.run_there import Made, Wanted, computed_there
from leadline.cli.server import ServerOption, TokenFileOption, no_place_besides, server_of

if TYPE_CHECKING:
    from leadline.cli.reports import Reports
    from leadline.run.answers import RareResult
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
RareOption = Annotated[
    bool, typer.Option("--rare", help="Find the chance of failures too rare to be met in these cases, to 1e-9.")
]
VariationOption = Annotated[
    str,
    typer.Option("--variation", metavar="SHARE", help="With --rare: the coefficient of variation to reach."),
]
HOW_TO_GO_ON = ""
"""Stands for how to go on here, which takes the command's own words."""
SEARCH_STOPPED = "The search for rare failures was stopped early; what was finished is shown."


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
    rare: RareOption = False,
    variation: VariationOption = "10 %",
    server: ServerOption = None,
    token_file: TokenFileOption = None,
) -> ExitCode:
    """Compute the chance that every requirement of a study is met, and what fails first."""
    if keep_cases and out is None:
        raise typer.BadParameter("--keep-cases needs a folder: add --out DIR")
    no_place_besides(server, workers, threads, scheduler)
    precision = fraction_of(variation, "--variation")
    study = study_of(file, option, replaced)
    request = _request(cases, seed, design, until)
    folder = None if out is None else _folder(out, study, request, replace=replace)
    wanted = Wanted(study, option, replaced, request, precision if rare else None, keep_cases=keep_cases)
    if server is None:
        made = _computed_here(wanted, executor_of(workers, threads, scheduler), folder, context.obj, quiet=quiet)
    else:
        with server_of(server, token_file, quiet=quiet) as there:
            made = computed_there(wanted, there, folder, context.obj)
    if folder is not None and made.further is not None:
        folder.put_answer(made.further, context.obj.result)
    _show(made.result, made.further, folder, json_output=json_output, quiet=quiet)
    if made.stopped is not None:
        talk(made.stopped or _how_to_go_on(file, request, out, option, replaced))
        return ExitCode.PARTIAL
    met = made.result.judgement.verdict == "yes"
    return ExitCode.CHANCE_NOT_MET if judge and not met else ExitCode.OK


def _computed_here(
    wanted: Wanted, executor: Executor, folder: OutFolder | None, reports: Reports, *, quiet: bool
) -> Made:
    try:
        result = _Running(wanted.study, wanted.request, executor, folder, wanted.keep_cases, quiet).compute().result
    finally:
        executor.close()
    if folder is not None:
        if wanted.keep_cases:
            folder.keep_parts(result.provenance.blocks)
        folder.put_result(result, reports.result)
    if result.partial:
        return Made(result, None, HOW_TO_GO_ON)
    further = None if wanted.rare is None else find_rare(wanted.study, wanted.rare, wanted.request.seed, quiet=quiet)
    return Made(result, further, SEARCH_STOPPED if further is not None and further.partial else None)


def _request(cases: int | None, seed: int, design: DesignWord, until: str | None) -> Request:
    from leadline.run.engine import Request
    from leadline.sampling import Design

    half_width = None if until is None else fraction_of(until, "--until")
    return Request(cases, seed, Design(design), half_width)


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


def _show(
    result: Result, further: RareResult | None, folder: OutFolder | None, *, json_output: bool, quiet: bool
) -> None:
    if json_output:
        typer.echo(_document(result, further), nl=False)
    else:
        from leadline.cli.answers_text import rare_text
        from leadline.cli.result_text import result_text

        typer.echo(result_text(result))
        if further is not None:
            typer.echo(f"\n{rare_text(further)}")
    if folder is not None and not quiet:
        report = f"report {folder.report}" if folder.report.exists() else "no report: install leadline[report]"
        talk(f"Result {folder.result}; {report}")


def _document(result: Result, further: RareResult | None) -> str:
    """Return one document: the result, or both answers in one."""
    from leadline.run.answer_files import Answers

    return result.to_json() if further is None else Answers(result=result, rare=further).to_json()


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
