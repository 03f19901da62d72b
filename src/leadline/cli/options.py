"""Arguments and options that several verbs share."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from leadline.run.executors import Executor
    from leadline.study import Study

__all__ = [
    "DesignOption",
    "DesignWord",
    "JsonOption",
    "OptionOption",
    "OutOption",
    "QuietOption",
    "ReplaceOption",
    "SchedulerOption",
    "SeedOption",
    "SetOption",
    "StudyFile",
    "ThreadsOption",
    "WorkersOption",
    "executor_of",
    "fraction_of",
    "study_of",
]


class DesignWord(StrEnum):
    """The designs by name; kept here too so that the help needs no arrays."""

    INDEPENDENT = "independent"
    LATIN = "latin-hypercube"
    SOBOL = "sobol"


StudyFile = Annotated[
    Path, typer.Argument(metavar="FILE", help="The study, YAML or JSON.", exists=True, dir_okay=False)
]
SeedOption = Annotated[int, typer.Option("--seed", min=0, help="Which draws.")]
DesignOption = Annotated[DesignWord, typer.Option("--design", help="How cases are drawn.")]
OptionOption = Annotated[
    str | None, typer.Option("--option", metavar="NAME", help="Take this option of the study instead of its base.")
]
SetOption = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="PATH=VALUE", help="Replace a value, as an option would; may be repeated."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON document, in SI units.")]
QuietOption = Annotated[bool, typer.Option("--quiet", help="Say nothing but the result.")]
OutOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="Folder of a run of this study: the answer and the report go there."),
]
ReplaceOption = Annotated[bool, typer.Option("--replace", help="Let --out replace another run's files.")]
WorkersOption = Annotated[
    int | None, typer.Option("--workers", min=1, help="Compute in so many processes on this machine.")
]
ThreadsOption = Annotated[int | None, typer.Option("--threads", min=1, help="Compute in so many threads.")]
SchedulerOption = Annotated[
    str | None, typer.Option("--scheduler", metavar="ADDRESS", help="Compute on a dask scheduler, tcp://HOST:PORT.")
]


def study_of(file: Path, option: str | None = None, replaced: list[str] | None = None) -> Study:
    """Load a study, take an option of it and replace single values, in this order.

    Raises
    ------
    StudyError
        Where it cannot be used as written.
    """
    from leadline.study import load

    study = load(file)
    if option is not None:
        study = study.with_option(option)
    return study.with_values(_values(replaced)) if replaced else study


def _values(replaced: list[str]) -> dict[str, object]:
    """Part ``path=value`` pairs; the value is a text as it would stand in a study."""
    values: dict[str, object] = {}
    for pair in replaced:
        path, equals, text = pair.partition("=")
        if not equals or not path.strip():
            raise typer.BadParameter(f"write PATH=VALUE, not {pair!r}", param_hint="--set")
        values[path.strip()] = text
    return values


def executor_of(workers: int | None, threads: int | None, scheduler: str | None) -> Executor:
    """Return who does the work; see `leadline.run.placement.executor_for`."""
    from leadline.run.placement import executor_for

    try:
        return executor_for(workers=workers, threads=threads, scheduler=scheduler)
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--workers / --threads / --scheduler") from error


def fraction_of(text: str, option: str) -> float:
    """Read a share between 0 and 100 %, such as ``95 %``, given to an option."""
    from leadline.units import FRACTION, QuantityError, parse_quantity

    try:
        value = parse_quantity(text, FRACTION)
    except QuantityError as error:
        raise typer.BadParameter(str(error), param_hint=option) from error
    if not 0 < value < 1:
        raise typer.BadParameter("write a share between 0 and 100 %", param_hint=option)
    return value
