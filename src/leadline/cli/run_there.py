"""A run of the `run` verb computed on a server: asked for, followed, and its files fetched."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from leadline.cli.server import Asked, Server

if TYPE_CHECKING:
    from leadline.cli.reports import Reports
    from leadline.client import RunHandle
    from leadline.run.answers import RareResult
    from leadline.run.engine import Request
    from leadline.run.folder import OutFolder
    from leadline.run.result import Result
    from leadline.study import Study

__all__ = ["Made", "Wanted", "computed_there"]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the verb was asked for.

    Parameters
    ----------
    study
        The study, option taken and values replaced.
    option, replaced
        What was taken and replaced, as it was given.
    request
        How many of which draws.
    rare
        Coefficient of variation to find rare failures to; None where they are not wanted.
    keep_cases
        Whether every case is kept.
    """

    study: Study
    option: str | None
    replaced: list[str] | None
    request: Request
    rare: float | None
    keep_cases: bool


@dataclass(frozen=True, slots=True)
class Made:
    """What came out; `stopped` says that it is less than was asked for, and is None where it is all."""

    result: Result
    further: RareResult | None
    stopped: str | None


def computed_there(wanted: Wanted, server: Server, folder: OutFolder | None, reports: Reports) -> Made:
    """Have it computed on a server, with the same files as a run here leaves but for what to go on from.

    Raises
    ------
    RunError
        It failed there, was refused, or was stopped before there was anything.
    """
    handle = server.ended(Asked(wanted.study, wanted.option, wanted.replaced), _fields(wanted))
    result = handle.result()
    if folder is not None:
        _fetch(handle, wanted, folder, reports, result)
    kept = f"The run was stopped early; the server keeps what was finished as {handle.run_id}."
    return Made(result, _rare(handle, wanted), kept if handle.run.partial else None)


def _fields(wanted: Wanted) -> dict[str, Any]:
    from leadline.client import Rare

    request = wanted.request
    answers = [] if wanted.rare is None else [Rare(variation=wanted.rare)]
    numbers = {"cases": request.cases, "until": request.until, "seed": request.seed, "design": request.design.value}
    return {**numbers, "keep_cases": wanted.keep_cases, "answers": answers}


def _fetch(handle: RunHandle, wanted: Wanted, folder: OutFolder, reports: Reports, result: Result) -> None:
    """Put what the run left into the folder; the report is the server's where none can be written here."""
    if wanted.keep_cases and not handle.run.partial:
        folder.forget_cases()
        handle.cases(folder.cases)
    folder.put_result(result, reports.result)
    if reports.result is None and any(each.name == folder.report.name for each in handle.files()):
        handle.report(folder.report)


def _rare(handle: RunHandle, wanted: Wanted) -> RareResult | None:
    from leadline.client import RunFailed

    if wanted.rare is None:
        return None
    try:
        return handle.rare()
    except RunFailed as error:
        if error.code != "stopped":
            raise
        return None
