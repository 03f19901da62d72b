"""Work given to a server: how it is reached, and a run there followed, stopped and fetched."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from leadline.cli.exits import talk
from leadline.cli.interrupts import stoppable
from leadline.cli.progress import progress_shown

if TYPE_CHECKING:
    from leadline.client import Client, Run, RunHandle
    from leadline.client.asked import Answer, StudyLike
    from leadline.run.answers import DriversResult, SizingResult, SweepResult
    from leadline.run.engine import Progress
    from leadline.study import Study

__all__ = ["TOKEN", "Asked", "Server", "ServerOption", "TokenFileOption", "no_place_besides", "server_of"]

Given = TypeVar("Given", "DriversResult", "SizingResult", "SweepResult")

TOKEN = "LEADLINE_TOKEN"  # noqa: S105 - the name of a variable, no secret
LOOK_EVERY_S = 0.25
"""How often a run is looked at, and with it whether Ctrl-C was pressed, s."""

ServerOption = Annotated[
    str | None,
    typer.Option("--server", metavar="URL", help=f"Compute on a Leadline server; a token is taken from {TOKEN}."),
]
TokenFileOption = Annotated[
    Path | None,
    typer.Option("--token-file", metavar="FILE", help="With --server: the file the token stands in.", dir_okay=False),
]


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be computed.

    Parameters
    ----------
    study
        The study, option taken and values replaced.
    option, replaced
        What was taken and replaced, as it was given.
    """

    study: Study
    option: str | None
    replaced: list[str] | None

    def sent(self) -> tuple[StudyLike | str, dict[str, Any]]:
        """Return the study as it is sent, and what is to be done to it there.

        It is sent as it was written, unless it takes columns from files beside it: then as it was resolved.
        """
        if self.study.folder.columns or not self.study.source_text:
            return self.study, {}
        pairs = [pair.partition("=") for pair in self.replaced or []]
        fields: dict[str, Any] = {} if self.option is None else {"option": self.option}
        return self.study.source_text, fields | ({"set": {p.strip(): text for p, _, text in pairs}} if pairs else {})


@dataclass(frozen=True, slots=True)
class Server:
    """A server that work is given to.

    Parameters
    ----------
    client
        Talks to it.
    url
        Its address, for what is said.
    quiet
        Whether nothing but the answer is said.
    """

    client: Client
    url: str
    quiet: bool

    def ended(self, asked: Asked, fields: Mapping[str, Any]) -> RunHandle:
        """Ask for a run and follow it to its end; Ctrl-C cancels it, and what is done is kept."""
        study, done_there = asked.sent()
        with stoppable() as stop, progress_shown(quiet=self.quiet) as progress:
            handle = self.client.submit(study, **done_there, **fields)
            if not self.quiet:
                talk(f"Run {handle.run_id} on {self.url}{_FOUND.get(handle.found, '')}")
            handle.wait(told=_Following(handle, stop, progress), every_s=LOOK_EVERY_S)
        return handle

    def answer(self, asked: Asked, seed: int, answer: Answer, fetch: Callable[[RunHandle], Given]) -> Given | None:
        """Have one question answered; None where it was stopped before there was an answer."""
        from leadline.client import RunFailed

        handle = self.ended(asked, {"seed": seed, "answers": [answer]})
        if handle.run.outcome is None and handle.run.failure is None:
            talk("Interrupted; nothing was finished.")
            return None
        try:
            return fetch(handle)
        except RunFailed as error:
            if error.code != "stopped":
                raise
            talk("Interrupted; nothing was finished.")
            return None


_FOUND = {"same-run": ", which was asked for before"}


@dataclass(slots=True)
class _Following:
    """Shows how a run stands, and passes on once that it is to be stopped."""

    handle: RunHandle
    stop: Event
    show: Callable[[Progress], None]
    passed_on: bool = False

    def __call__(self, run: Run) -> None:
        if self.stop.is_set() and not self.passed_on:
            self.passed_on = True
            self.handle.cancel()
        if run.progress is not None and run.progress.wanted:
            from leadline.run.engine import Progress

            at = run.progress
            self.show(Progress(at.cases, at.wanted, at.elapsed_s, at.rate_per_s, at.left_s, at.chance))


@contextmanager
def server_of(url: str, token_file: Path | None, *, quiet: bool) -> Iterator[Server]:
    """Give the server at an address, spoken to with the token of a file or of the environment.

    Raises
    ------
    RunError
        httpx2 is not installed.
    """
    from leadline.client import Client

    try:
        client = Client(url, _token(token_file))
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--server") from error
    with client:
        yield Server(client, url, quiet)


def no_place_besides(server: str | None, *places: object) -> None:
    """Refuse another place to compute beside a server."""
    if server is not None and any(place is not None for place in places):
        raise typer.BadParameter("give one of --server, --workers, --threads and --scheduler", param_hint="--server")


def _token(file: Path | None) -> str | None:
    if file is None:
        return os.environ.get(TOKEN, "").strip() or None
    try:
        text = file.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise typer.BadParameter(f"{file} cannot be read", param_hint="--token-file") from error
    if not text:
        raise typer.BadParameter(f"{file} holds no token", param_hint="--token-file")
    return text
