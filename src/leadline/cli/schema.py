"""The `schema` verb: the study document's JSON Schema."""

from __future__ import annotations

import json

import typer

from leadline.cli.exits import ExitCode, ends

__all__ = ["schema"]


@ends
def schema() -> ExitCode:
    """Print the JSON Schema of a study, with which an editor completes keys."""
    from leadline.study import json_schema

    typer.echo(json.dumps(json_schema(), indent=2))
    return ExitCode.OK
