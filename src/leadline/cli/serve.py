"""The `serve` verb, which another package provides."""

from __future__ import annotations

import inspect
from importlib.metadata import entry_points

import typer

from leadline.cli.exits import ExitCode, ends, talk

__all__ = ["serve"]

GROUP = "leadline.commands"


@ends
def serve(context: typer.Context) -> ExitCode | None:
    """Serve studies and runs over HTTP on this machine."""
    found = tuple(entry_points(group=GROUP, name="serve"))
    if not found:
        talk("Serving is not installed here; install leadline[service].")
        return ExitCode.USAGE
    try:
        verb = found[0].load()
    except ImportError as error:
        talk(f"Serving is not installed completely ({error}); install leadline[service].")
        return ExitCode.USAGE
    application = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)
    # What it does, without the part of its docstring that is for programmers.
    application.command("serve", help=(inspect.getdoc(verb) or "").partition("\n\n")[0])(verb)
    application(context.args, prog_name="leadline serve")
    return None
