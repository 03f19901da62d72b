"""The `replay` verb: one case of a run, leg by leg."""

from __future__ import annotations

from typing import Annotated

import typer

from leadline.cli.exits import ExitCode, ends
from leadline.cli.options import (
    DesignOption,
    DesignWord,
    JsonOption,
    OptionOption,
    SeedOption,
    SetOption,
    StudyFile,
    study_of,
)

__all__ = ["replay"]


@ends
def replay(
    file: StudyFile,
    case: Annotated[int, typer.Option("--case", min=0, help="The case's number in the run, from 0.")],
    seed: SeedOption = 0,
    design: DesignOption = DesignWord.INDEPENDENT,
    option: OptionOption = None,
    replaced: SetOption = None,
    json_output: JsonOption = False,
) -> ExitCode:
    """Show one case of a run leg by leg, from the same draws."""
    from leadline.run.replay import replay as replay_case
    from leadline.sampling import Design

    replayed = replay_case(study_of(file, option, replaced), case, seed=seed, design=Design(design))
    if json_output:
        typer.echo(replayed.to_json(), nl=False)
        return ExitCode.OK
    from leadline.cli.account_text import account_lines, title_line, value_lines

    lines = [title_line(replayed.study), f"Case {case} of the run with seed {seed}, {design.value} draws."]
    typer.echo("\n".join([*lines, *value_lines(replayed.account.inputs), "", *account_lines(replayed.account)]))
    return ExitCode.OK
