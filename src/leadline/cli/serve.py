"""The verbs `serve` and `tokens`, which another package provides."""

from __future__ import annotations

import inspect
from importlib.metadata import entry_points
from typing import Any

import typer

from leadline.cli.exits import ExitCode, ends, talk

__all__ = ["serve", "tokens"]

GROUP = "leadline.commands"


@ends
def serve(context: typer.Context) -> ExitCode | None:
    """Serve studies and runs over HTTP."""
    return _passed_on("serve", context.args)


@ends
def tokens(context: typer.Context) -> ExitCode | None:
    """Make, list and revoke access tokens of the service."""
    return _passed_on("tokens", context.args)


def _passed_on(name: str, arguments: list[str]) -> ExitCode | None:
    """Find the verb by name, and let it read its own arguments."""
    found = tuple(entry_points(group=GROUP, name=name))
    if not found:
        talk("Serving is not installed here; install leadline[service].")
        return ExitCode.USAGE
    try:
        verb = found[0].load()
    except ImportError as error:
        talk(f"Serving is not installed completely ({error}); install leadline[service].")
        return ExitCode.USAGE
    _application(name, verb)(arguments, prog_name=f"leadline {name}")
    return None


def _application(name: str, verb: Any) -> typer.Typer:
    if isinstance(verb, typer.Typer):
        return verb
    application = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)
    # What it does, without the part of its docstring that is for programmers.
    application.command(name, help=(inspect.getdoc(verb) or "").partition("\n\n")[0])(verb)
    return application
