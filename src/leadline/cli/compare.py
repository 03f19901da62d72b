"""The `compare` verb: options side by side on common draws."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from leadline.cli.exits import ExitCode, ends, talk
from leadline.cli.interrupts import stoppable
from leadline.cli.options import (
    DesignOption,
    DesignWord,
    JsonOption,
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

__all__ = ["compare"]


@ends
def compare(
    context: typer.Context,
    file: StudyFile,
    cases: Annotated[int, typer.Option("--cases", min=1, help="How many cases for each.")] = 100_000,
    seed: SeedOption = 0,
    design: DesignOption = DesignWord.INDEPENDENT,
    options: Annotated[
        list[str] | None,
        typer.Option("--option", metavar="NAME", help="Compare only this option; may be repeated."),
    ] = None,
    replaced: SetOption = None,
    workers: WorkersOption = None,
    threads: ThreadsOption = None,
    scheduler: SchedulerOption = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Folder for document and report.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Let --out replace another comparison.")] = False,
    json_output: JsonOption = False,
    quiet: QuietOption = False,
) -> ExitCode:
    """Compare the options of a study with its base, case by case on the same draws."""
    from leadline.run.compare import compare as compare_options
    from leadline.run.compare_folder import put_comparison, require_room
    from leadline.run.engine import Control, Request
    from leadline.sampling import Design

    study = study_of(file, None, replaced)
    if out is not None:
        require_room(out, replace=replace)
    request = Request(cases, seed, Design(design))
    executor = executor_of(workers, threads, scheduler)
    try:
        with stoppable() as stop, progress_shown(quiet=quiet) as progress:
            control = Control(progress=progress, stopped=stop.is_set)
            compared = compare_options(study, request, executor, control, options=options)
    finally:
        executor.close()
    if out is not None:
        put_comparison(out, compared, context.obj.comparison)
    if json_output:
        typer.echo(compared.to_json(), nl=False)
    else:
        from leadline.cli.result_text import comparison_text

        typer.echo(comparison_text(compared))
    if compared.partial:
        talk("The comparison was stopped early; what was finished is shown.")
        return ExitCode.PARTIAL
    return ExitCode.OK
