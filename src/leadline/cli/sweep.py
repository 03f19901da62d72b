"""The `sweep` verb: the chance over one or two numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from leadline.cli.exits import ExitCode, ends, talk
from leadline.cli.handing_over import folder_beside, hand_over
from leadline.cli.options import (
    JsonOption,
    OptionOption,
    OutOption,
    QuietOption,
    ReplaceOption,
    SeedOption,
    SetOption,
    StudyFile,
    fraction_of,
    study_of,
)
from leadline.cli.server import Asked, ServerOption, TokenFileOption, server_of
from leadline.cli.size import ChanceOption, ConfidenceOption
from leadline.cli.stopping import unless_stopped

if TYPE_CHECKING:
    from leadline.cli.server import Server
    from leadline.run.answers import SweepResult
    from leadline.run.sweep import SweepRange, SweepRequest
    from leadline.study import Study

__all__ = ["sweep"]

OverOption = Annotated[
    list[str],
    typer.Option(
        "--over",
        metavar="PLACE=LOW..HIGH",
        help='A number and its range, such as "saddle.tanks.main.load=36 t..42 t"; give one or two.',
    ),
]
StepsOption = Annotated[int, typer.Option("--steps", min=2, help="How many values of each number, both ends included.")]


@ends
def sweep(
    context: typer.Context,
    file: StudyFile,
    over: OverOption,
    steps: StepsOption = 11,
    chance: ChanceOption = None,
    confidence: ConfidenceOption = None,
    cases: Annotated[int, typer.Option("--cases", min=1, help="Cases flown for each combination.")] = 20_000,
    seed: SeedOption = 0,
    option: OptionOption = None,
    replaced: SetOption = None,
    out: OutOption = None,
    replace: ReplaceOption = False,
    json_output: JsonOption = False,
    quiet: QuietOption = False,
    server: ServerOption = None,
    token_file: TokenFileOption = None,
) -> ExitCode:
    """Find the chance over one or two numbers of the study, and where it reaches what is asked."""
    from leadline.cli.answers_text import sweep_text
    from leadline.run.sweep import SweepRequest

    if len(over) > 2:
        raise typer.BadParameter("give one number or two", param_hint="--over")
    ranges = [_range(text, steps) for text in over]
    wanted, surely = (
        None if text is None else fraction_of(text, name)
        for text, name in ((chance, "--chance"), (confidence, "--confidence"))
    )
    study = study_of(file, option, replaced)
    folder = folder_beside(out, study, seed, replace=replace)
    request = SweepRequest(ranges, wanted, surely, cases, seed)
    if server is None:
        found = _swept(study, request, quiet=quiet)
    else:
        with server_of(server, token_file, quiet=quiet) as there:
            found = _swept_there(Asked(study, option, replaced), request, there)
    if found is None:
        return ExitCode.INTERRUPTED
    hand_over(found, sweep_text, folder, context.obj, json_output=json_output, quiet=quiet)
    if found.partial:
        talk("Stopped early; what was finished is shown.")
        return ExitCode.PARTIAL
    return ExitCode.OK


def _range(text: str, steps: int) -> SweepRange:
    from leadline.run.sweep import SweepRange

    place, equals, ends_given = text.partition("=")
    low, dots, high = ends_given.partition("..")
    if not (equals and dots and place.strip() and low.strip() and high.strip()):
        raise typer.BadParameter(f"write PLACE=LOW..HIGH, not {text!r}", param_hint="--over")
    return SweepRange(place.strip(), low.strip(), high.strip(), steps)


def _swept(study: Study, request: SweepRequest, *, quiet: bool) -> SweepResult | None:
    """Sweep; None when stopped before there was anything to show."""
    from leadline.run.sweep import sweep_numbers

    return unless_stopped(lambda control: sweep_numbers(study, request, control), quiet=quiet)


def _swept_there(asked: Asked, request: SweepRequest, server: Server) -> SweepResult | None:
    from leadline.client import Span, Sweep

    spans = [Span(each.place, each.low, each.high, each.steps) for each in request.ranges]
    answer = Sweep(ranges=spans, chance=request.chance, confidence=request.confidence, cases=request.cases)
    return server.answer(asked, request.seed, answer, lambda handle: handle.sweep())
