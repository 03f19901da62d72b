"""The `drivers` verb: what drives the risk of a study, and what each change buys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from leadline.cli.exits import ExitCode, ends, talk
from leadline.cli.handing_over import folder_beside, hand_over
from leadline.cli.interrupts import stoppable
from leadline.cli.options import (
    JsonOption,
    OptionOption,
    OutOption,
    QuietOption,
    ReplaceOption,
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
from leadline.cli.server import Asked, ServerOption, TokenFileOption, no_place_besides, server_of

if TYPE_CHECKING:
    from leadline.cli.server import Server
    from leadline.run.answers import DriversResult
    from leadline.run.drivers import Extent
    from leadline.run.executors import Executor
    from leadline.study import Study

__all__ = ["drivers"]

PairsOption = Annotated[
    int, typer.Option("--pairs", min=1, help="Pairs of cases behind the indices, in pages of 16 384.")
]
CasesOption = Annotated[int, typer.Option("--cases", min=1, help="Cases behind what each change buys.")]
ShapleyOption = Annotated[
    bool, typer.Option("--shapley", help="Find Shapley effects too, which take apart numbers that depend on others.")
]


@ends
def drivers(
    context: typer.Context,
    file: StudyFile,
    pairs: PairsOption = 16_384,
    cases: CasesOption = 100_000,
    seed: SeedOption = 0,
    shapley: ShapleyOption = False,
    option: OptionOption = None,
    replaced: SetOption = None,
    workers: WorkersOption = None,
    threads: ThreadsOption = None,
    scheduler: SchedulerOption = None,
    out: OutOption = None,
    replace: ReplaceOption = False,
    json_output: JsonOption = False,
    quiet: QuietOption = False,
    server: ServerOption = None,
    token_file: TokenFileOption = None,
) -> ExitCode:
    """Find what drives the risk: what each change buys, which numbers carry failure, how failing cases differ."""
    from leadline.cli.drivers_text import drivers_text
    from leadline.run.drivers import Extent

    no_place_besides(server, workers, threads, scheduler)
    study = study_of(file, option, replaced)
    folder = folder_beside(out, study, seed, replace=replace)
    extent = Extent(pairs, cases, seed, shapley)
    if server is None:
        found = _found_here(study, extent, executor_of(workers, threads, scheduler), quiet=quiet)
    else:
        with server_of(server, token_file, quiet=quiet) as opened:
            there = _found_there(Asked(study, option, replaced), extent, opened)
        if there is None:
            return ExitCode.INTERRUPTED
        found = there
    hand_over(found, drivers_text, folder, context.obj, json_output=json_output, quiet=quiet)
    if found.partial:
        talk("Stopped early; what was finished is shown.")
        return ExitCode.PARTIAL
    return ExitCode.OK


def _found_here(study: Study, extent: Extent, executor: Executor, *, quiet: bool) -> DriversResult:
    from leadline.run.drivers import drivers as find_drivers
    from leadline.run.engine import Control

    try:
        with stoppable() as stop, progress_shown(quiet=quiet) as progress:
            return find_drivers(study, extent, executor, Control(progress=progress, stopped=stop.is_set))
    finally:
        executor.close()


def _found_there(asked: Asked, extent: Extent, server: Server) -> DriversResult | None:
    from leadline.client import Drivers

    answer = Drivers(pairs=extent.pairs, cases=extent.cases, shapley=extent.shapley)
    return server.answer(asked, extent.seed, answer, lambda handle: handle.drivers())
