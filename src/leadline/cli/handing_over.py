"""An answer handed over: into its folder and the report there, and onto standard output."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import typer

from leadline.cli.exits import talk

if TYPE_CHECKING:
    from leadline.cli.reports import Reports
    from leadline.run.answers import DriversResult, SizingResult, SweepResult
    from leadline.run.folder import OutFolder
    from leadline.study import Study

__all__ = ["folder_beside", "hand_over"]

Given = TypeVar("Given", "DriversResult", "SizingResult", "SweepResult")


def folder_beside(path: Path | None, study: Study, seed: int, *, replace: bool) -> OutFolder | None:
    """Open the folder an answer goes into, beside whatever else it holds about the study.

    Raises
    ------
    OutputError
        It holds another study, or something else.
    """
    if path is None:
        return None
    from leadline.run.folder import OutFolder, RunLabel

    label = RunLabel(study.title, study.digest, study.option, seed, "independent")
    folder = OutFolder(path, label, replace=replace, beside=True)
    folder.put_study(study.source_text, study.resolved())
    return folder


def hand_over(
    answer: Given,
    said: Callable[[Given], str],
    folder: OutFolder | None,
    reports: Reports,
    *,
    json_output: bool,
    quiet: bool,
) -> None:
    """Write an answer into its folder, if there is one, and print it.

    Parameters
    ----------
    answer
        The document.
    said
        Makes the text for a terminal of it.
    folder
        Where it goes; the report there is made anew.
    reports
        Who writes the report.
    json_output, quiet
        Whether the document itself is printed, and whether where it is goes unsaid.
    """
    path = None if folder is None else folder.put_answer(answer, reports.result)
    typer.echo(answer.to_json() if json_output else said(answer), nl=not json_output)
    if folder is not None and not quiet:
        report = f"report {folder.report}" if folder.report.exists() else "no report: install leadline[report]"
        talk(f"Answer {path}; {report}")
