"""The verbs put together."""

from __future__ import annotations

import typer

from leadline.cli.check import check
from leadline.cli.compare import compare
from leadline.cli.drivers import drivers
from leadline.cli.exits import exit_text
from leadline.cli.replay import replay
from leadline.cli.report import report
from leadline.cli.reports import Reports
from leadline.cli.run import run
from leadline.cli.schema import schema
from leadline.cli.serve import serve, tokens
from leadline.cli.size import size
from leadline.cli.sweep import sweep

__all__ = ["build", "run_command_line"]


def build() -> typer.Typer:
    """Return the command line."""
    application = typer.Typer(
        name="leadline",
        help="How likely a spaceflight concept is to close, by how much, and what fails first.",
        epilog=exit_text(),
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
    )
    application.callback()(_version)
    for verb in (check, run, drivers, size, sweep, compare, replay, report, schema):
        application.command()(verb)
    passed_on = {"allow_extra_args": True, "ignore_unknown_options": True, "help_option_names": []}
    application.command(context_settings=passed_on)(serve)
    application.command(context_settings=passed_on)(tokens)
    return application


def _print_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(version("leadline"))
        raise typer.Exit


def _version(
    _shown: bool = typer.Option(
        False, "--version", callback=_print_version, is_eager=True, help="Print the version and end."
    ),
) -> None:
    pass


def run_command_line(reports: Reports, arguments: list[str] | None = None) -> None:
    """Run the command line and end the program.

    Parameters
    ----------
    reports
        Who writes reports.
    arguments
        What follows the program's name; None for the program's own.
    """
    build()(args=arguments, obj=reports, prog_name="leadline")
