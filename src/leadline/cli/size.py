"""The `size` verb: the value of one number that gives the wanted chance."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from leadline.cli.exits import ExitCode, ends
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
from leadline.cli.stopping import unless_stopped

if TYPE_CHECKING:
    from leadline.cli.server import Server
    from leadline.run.answers import SizingResult
    from leadline.run.sizing import SizingRequest
    from leadline.study import Study

__all__ = ["ChanceOption", "ConfidenceOption", "size"]


class PreferWord(StrEnum):
    """Which value is the answer; kept here too so that the help needs no arrays."""

    SMALLEST = "smallest"
    LARGEST = "largest"


Place = Annotated[
    str, typer.Argument(metavar="PLACE", help="The number's place in the study, such as saddle.tanks.main.load.")
]
FromOption = Annotated[
    str | None,
    typer.Option("--from", metavar="VALUE", help='Smallest value looked at, such as "36 t"; else half the nominal.'),
]
ToOption = Annotated[
    str | None, typer.Option("--to", metavar="VALUE", help="Largest value looked at; else one and a half times it.")
]
PreferOption = Annotated[PreferWord, typer.Option("--prefer", help="Which of the values that give it is wanted.")]
ChanceOption = Annotated[
    str | None,
    typer.Option("--chance", metavar="SHARE", help="The wanted chance; else what the study asks for, else 95 %."),
]
ConfidenceOption = Annotated[
    str | None,
    typer.Option("--confidence", metavar="SHARE", help="How surely; else what the study asks for, else 90 %."),
]


@ends
def size(
    context: typer.Context,
    file: StudyFile,
    place: Place,
    low: FromOption = None,
    high: ToOption = None,
    prefer: PreferOption = PreferWord.SMALLEST,
    chance: ChanceOption = None,
    confidence: ConfidenceOption = None,
    cases: Annotated[int, typer.Option("--cases", min=1, help="Cases flown for each value.")] = 100_000,
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
    """Find the value of one number that gives the wanted chance, or what stands in its way."""
    from leadline.cli.answers_text import sizing_text
    from leadline.risk.sizing import Prefer
    from leadline.run.sizing import SizingRequest

    wanted, surely = (
        None if text is None else fraction_of(text, name)
        for text, name in ((chance, "--chance"), (confidence, "--confidence"))
    )
    study = study_of(file, option, replaced)
    request = SizingRequest(place, low, high, wanted, surely, Prefer(prefer), cases, seed)
    folder = folder_beside(out, study, seed, replace=replace)
    if server is None:
        found = _sized(study, request, quiet=quiet)
    else:
        with server_of(server, token_file, quiet=quiet) as there:
            found = _sized_there(Asked(study, option, replaced), request, there)
    if found is None:
        return ExitCode.INTERRUPTED
    hand_over(found, sizing_text, folder, context.obj, json_output=json_output, quiet=quiet)
    return ExitCode.OK


def _sized(study: Study, request: SizingRequest, *, quiet: bool) -> SizingResult | None:
    """Find the value; None when stopped, for half a search answers nothing."""
    from leadline.run.sizing import size_number

    return unless_stopped(lambda control: size_number(study, request, control), quiet=quiet)


def _sized_there(asked: Asked, request: SizingRequest, server: Server) -> SizingResult | None:
    from leadline.client import Sizing

    answer = Sizing(
        place=request.place,
        low=request.low,
        high=request.high,
        chance=request.chance,
        confidence=request.confidence,
        prefer=request.prefer.value,
        cases=request.cases,
    )
    return server.answer(asked, request.seed, answer, lambda handle: handle.sizing())
