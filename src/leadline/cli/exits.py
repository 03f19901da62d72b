"""Exit codes, and how what went wrong is told."""

from __future__ import annotations

import functools
import json
import os
import sys
from collections.abc import Callable
from enum import IntEnum
from typing import Any, ParamSpec

import typer

from leadline.cli.tables import printable
from leadline.errors import Issue, LeadlineError, OutputError, RunError, SamplingError, StudyError, Unreachable

__all__ = ["ExitCode", "ends", "exit_text", "issues_document", "talk"]

P = ParamSpec("P")


class ExitCode(IntEnum):
    """What the command line ends with."""

    OK = 0
    UNEXPECTED = 1
    USAGE = 2
    STUDY_INVALID = 3
    CHANCE_NOT_MET = 4
    RUN_FAILED = 5
    OUT_OF_REACH = 6
    PARTIAL = 7
    INTERRUPTED = 130


_MEANINGS = {
    ExitCode.OK: "done",
    ExitCode.UNEXPECTED: "something unexpected, which is a fault of the program",
    ExitCode.USAGE: "the command was not understood",
    ExitCode.STUDY_INVALID: "the study cannot be used as written",
    ExitCode.CHANCE_NOT_MET: "the wanted chance was not shown (only with run --judge)",
    ExitCode.RUN_FAILED: "the run failed, or its files could not be written",
    ExitCode.OUT_OF_REACH: "a scheduler or server was out of reach",
    ExitCode.PARTIAL: "stopped early; what was finished is in the result",
    ExitCode.INTERRUPTED: "interrupted before anything was finished",
}


def exit_text() -> str:
    """Return the exit codes as the help shows them."""
    meanings = "; ".join(f"{code.value} {meaning}" for code, meaning in _MEANINGS.items())
    return f"Exit codes: {meanings}."


def talk(message: str) -> None:
    """Say something to the user on standard error."""
    typer.echo(message, err=True)


def issues_document(issues: tuple[Issue, ...]) -> str:
    """Return a study's issues as a JSON document."""
    listed = [
        {
            "path": list(issue.path),
            "code": issue.code,
            "message": issue.message,
            "remedy": issue.remedy,
            "line": issue.line,
            "column": issue.column,
        }
        for issue in issues
    ]
    return json.dumps({"leadline": 1, "kind": "issues", "issues": listed}, indent=2)


def _code_of(error: LeadlineError) -> ExitCode:
    match error:
        case StudyError() | SamplingError():
            return ExitCode.STUDY_INVALID
        case Unreachable():
            return ExitCode.OUT_OF_REACH
        case RunError() | OutputError():
            return ExitCode.RUN_FAILED
        case _:
            return ExitCode.UNEXPECTED


def ends(verb: Callable[P, ExitCode | None]) -> Callable[P, None]:
    """Make a verb end the program with its exit code, and tell errors in sentences.

    With ``--json`` the issues of an unusable study are printed as a document as well.
    """

    @functools.wraps(verb)
    def told(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            code = verb(*args, **kwargs) or ExitCode.OK
        except LeadlineError as error:
            _tell(error, kwargs)
            raise typer.Exit(_code_of(error)) from error
        except KeyboardInterrupt as error:
            talk("Interrupted; nothing was finished.")
            raise typer.Exit(ExitCode.INTERRUPTED) from error
        except BrokenPipeError:  # the reader of a pipe has had enough; nothing more is to be written at the end
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            code = ExitCode.OK
        raise typer.Exit(code)

    return told


def _tell(error: LeadlineError, given: dict[str, Any]) -> None:
    if isinstance(error, StudyError):
        if given.get("json_output"):
            typer.echo(issues_document(error.issues))
        number = len(error.issues)
        talk(f"The study cannot be used as written; {number} thing{'s' if number > 1 else ''} to put right:")
        for issue in error.issues:
            talk(f"  {printable(str(issue))}")
    else:
        text = printable(str(error))
        talk(f"{text[:1].upper()}{text[1:]}")
